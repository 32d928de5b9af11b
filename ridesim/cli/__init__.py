"""The commands by family, read only when they are asked for, so that every command starts quickly."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

from typer import BadParameter
from typer.core import TyperGroup

from ridesim.cli.output import told_apart
from ridesim.errors import LONGEST_VALUE, InputError, short

UsageError: Any = BadParameter.__base__  # the command library gives its name nowhere in public

# matrices are small here: threads for them wait for each other longer than they work
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# name of the command -> its module here, and the name of its function there, or of the app of several
FAMILIES = {
    "choose": ("choose", "choose"),
    "fit": ("evidence", "fit"),
    "measure-next": ("evidence", "measure_next"),
    "jets": ("fueling", "jets_app"),
    "altitude": ("fueling", "altitude"),
    "needle": ("needle", "needle"),
    "circuit": ("fueling", "circuit"),
    "intake": ("fueling", "intake"),
    "idle": ("fueling", "idle"),
    "garage": ("garage.logs", "app"),  # which adds the logs to the rest
    "trial": ("garage.trials", "app"),
    "log": ("log", "app"),
}


class Families(TyperGroup):
    """The program's own commands, and those of FAMILIES behind them."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Every command there is, in the order of the help."""
        return [*super().list_commands(ctx), *FAMILIES]

    def make_context(self, info_name: str | None, args: list[str], *rest: Any, **extra: Any) -> Any:
        """Begin to read the line; the help is printed here."""
        self._line = tuple(args)
        with told_apart(), _in_short(self._line):
            return super().make_context(info_name, args, *rest, **extra)

    def invoke(self, ctx: Any) -> Any:
        """Read the rest of the line and run the command."""
        with told_apart(), _in_short(self._line):
            return super().invoke(ctx)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """One command; its module is imported now and no sooner."""
        if cmd_name not in FAMILIES:
            return super().get_command(ctx, cmd_name)
        return _family(cmd_name)


@contextmanager
def _in_short(line: tuple[str, ...]) -> Iterator[None]:
    """What the line has too much or too little of is told without all that stands there.

    A value that an option cannot take is refused as any other: its place, the value, what is wrong, and the mend.
    """
    try:
        yield
    except UsageError as error:
        if type(error) is BadParameter and error.param is not None and error.ctx is not None:
            given = _written(error.ctx, error.param.name, line)
            where, fix = " / ".join(error.param.opts), f"See: {error.ctx.command_path} --help"
            raise InputError(where, given, _wrong(error.message, given), fix) from None
        if error.ctx is None or error.message != error.ctx.get_help():  # which is told where there is nothing on it
            error.message = short(error.message, 2 * LONGEST_VALUE)
        raise


def _written(context: Any, name: str | None, line: tuple[str, ...]) -> str | None:
    """What stands on the line for a parameter, as the command itself takes the line apart."""
    depth, above = 0, context.parent
    while above is not None:
        depth, above = depth + 1, above.parent
    values, *_ = context.command.make_parser(context).parse_args(list(line[depth:]))
    value = values.get(name)
    return value if isinstance(value, str) else None


_KINDS = (
    (re.compile(r"(?i)\bvalid (?:int|integer)\b"), "is not a whole number"),
    (re.compile(r"(?i)\bvalid (?:float|number)\b"), "is not a number"),
    (re.compile(r"(?i)\bless than or equal to (\d+)"), r"must be at most \1"),
    (re.compile(r"(?i)\bgreater than or equal to (\d+)"), r"must be at least \1"),
)


def _wrong(message: str, given: str | None) -> str:
    """What is wrong with the value of an option, without saying the value again."""
    for said, problem in _KINDS:
        if found := said.search(message):
            return found.expand(problem)
    plain = message.removeprefix("Value error, ").rstrip(".")
    if given is not None:
        plain = plain.removeprefix(repr(given)).lstrip()
    return plain if plain.startswith("is ") else f"cannot be used: {plain[:1].lower()}{plain[1:]}"


@cache
def _family(name: str) -> Any:
    from importlib import import_module

    from typer import Typer
    from typer.main import get_command

    module, called = FAMILIES[name]
    app = getattr(import_module(f"ridesim.cli.{module}"), called)
    if not isinstance(app, Typer):
        command, app = app, Typer(rich_markup_mode=None, add_completion=False)
        app.command()(command)
    found = get_command(app)
    found.name = name
    return found
