"""`python -m ridesim`."""

from ridesim.cli.main import main

main()
