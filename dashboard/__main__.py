"""python -m dashboard: the command `ridesim app`, which leaves the browser alone."""

import sys

from ridesim.cli.main import main

main(["app", "--no-browser", *sys.argv[1:]])
