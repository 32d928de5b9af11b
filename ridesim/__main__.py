"""`python -m ridesim`."""

from ridesim.cli import main

main()
