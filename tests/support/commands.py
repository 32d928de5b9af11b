"""Commands run in this process: what they print, how they refuse, and what a garage holds afterwards."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from ridesim.cli.main import main
from ridesim.garage import Garage

# commands of the carburetor that answer as they stand
NEEDLE = (
    "needle", "--straight", "2.515 mm", "--taper-start", "26 mm", "--length", "66 mm", "--end", "1.6 mm", "--clip", "3",
    "--needle-jet", "2.6 mm", "--main-jet", "125", "--seat-to-jet", "26 mm", "--full-lift", "36 mm",
)  # fmt: skip
AIR = ("jets", "air", "125", "--numbering", "bore", "--from-altitude", "20 m", "--from-temperature", "22 degC",
       "--from-humidity", "70 %", "--to-altitude", "1950 m", "--to-temperature", "10 degC", "--to-humidity", "40 %")  # fmt: skip
INTAKE = ("intake", "--stock", "rectangle 42 x 40 mm", "--wanted", "+85 %", "--saws", "22,30,38", "--most", "6")


def run(capsys, *arguments: object) -> tuple[int, str, str]:
    """Exit code, standard output, standard error of a command."""
    with pytest.raises(SystemExit) as caught:
        main([str(one) for one in arguments])
    out = capsys.readouterr()
    return int(caught.value.code or 0), out.out, out.err


def answered(capsys, *arguments: object) -> str:
    """What a command prints that answers and has nothing to complain of."""
    code, out, err = run(capsys, *arguments)
    assert (code, err) == (0, "")
    return out


def asked(capsys, *arguments: object) -> dict:
    """The JSON object of a command."""
    return json.loads(answered(capsys, *arguments, "--json"))


def refused(capsys, *arguments: object) -> str:
    """What a command says that refuses: exit 2, nothing on standard output, no traceback."""
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert err.strip() and "Traceback" not in err
    return err


def python(code: str) -> list[str]:
    """The lines that a bit of Python prints in a process of its own."""
    place = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, env=place)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


# each command in a process of its own, forked from one that has done the imports, so that they meet at the file
_AT_ONCE = """
import json, os, sys
import ridesim.bike, ridesim.buildfile.io, ridesim.garage
from ridesim.cli.main import main
children = []
for line in json.loads(sys.argv[1]):
    children.append(os.fork())
    if not children[-1]:
        try:
            main(line)
        except SystemExit as ended:
            os._exit(ended.code or 0)
        finally:
            os._exit(99)
print(json.dumps([os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]))
"""


def at_once(*lines: list[object]) -> tuple[list[int], str]:
    """Exit codes of commands run side by side, and what they complained of."""
    asked = json.dumps([[str(one) for one in line] for line in lines])
    done = subprocess.run([sys.executable, "-c", _AT_ONCE, asked], capture_output=True, text=True, check=True)
    return json.loads(done.stdout.splitlines()[-1]), done.stderr


def held(file: Path) -> object:
    """Everything a garage holds, for "nothing has changed"."""
    if not file.exists():
        return None
    with Garage.open(file) as garage:
        bikes = garage.bikes() + garage.bikes(archived=True)
        return bikes, [
            (garage.history(b.name), garage.trials(b.name), garage.trials(b.name, archived=True)) for b in bikes
        ]


@contextmanager
def an_ordinary_user() -> Iterator[None]:
    """root may do everything, so permissions are tried as someone else."""
    if os.geteuid():
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)
