"""python -m dashboard: serve the pages on this machine."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from dashboard.app import serve
from dashboard.security.access_key import never_on_the_line
from ridesim.buildfile.io import read
from ridesim.errors import InputError


def main() -> int:
    """Read the options and serve; 2 when they are refused."""
    options = argparse.ArgumentParser(prog="python -m dashboard", description="Serve the pages of ridesim.")
    options.add_argument(
        "--host", default="127.0.0.1", help="address to listen on (any but this machine's own needs an access key)"
    )
    options.add_argument("--port", type=int, default=8050)
    options.add_argument(
        "--key-file", type=Path, help="file with an access key of your choice; RIDESIM_KEY may hold it instead"
    )
    options.add_argument("--key", help=argparse.SUPPRESS)
    options.add_argument("--build", help="a build file to begin with")
    options.add_argument("--garage", type=Path, help="garage file (default: your own, on this machine's address only)")
    options.add_argument(
        "--phone", action="store_true", help="let your phone in over the local network, by an address that works once"
    )
    given = options.parse_args()
    try:
        never_on_the_line(given.key)
        serve(
            given.host,
            given.port,
            given.key_file,
            read(given.build).text if given.build else None,
            garage=given.garage,
            phone=given.phone,
        )
    except InputError as error:
        print(error, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 0
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
