"""Commands run in this process: what they print, how they refuse, and what a garage holds afterwards."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from ridesim.cli.main import main
from ridesim.garage import Garage


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


def refused(capsys, *arguments: object) -> str:
    """What a command says that refuses: exit 2, nothing on standard output, no traceback."""
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert err.strip() and "Traceback" not in err
    return err


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
