"""The commands by family, read only when they are asked for, so that every command starts quickly."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from itertools import pairwise
from typing import Any

from typer import BadParameter
from typer.core import TyperGroup

from ridesim.commands.streams import told_apart
from ridesim.errors import InputError

# name of the command -> its module here, and the name of its app there
FAMILIES = {
    "choose": ("choose", "app"),
    "jets": ("bench", "jets_app"),
    "needle": ("needle", "app"),
    "circuit": ("bench", "circuit_app"),
    "intake": ("intake", "app"),
    "idle": ("bench", "idle_app"),
    "garage": ("garage", "app"),
    "trial": ("trial", "app"),
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
        with told_apart():
            return super().make_context(info_name, args, *rest, **extra)

    def invoke(self, ctx: Any) -> Any:
        """Read the rest of the line and run the command."""
        with told_apart(), _with_its_value(self._line):
            return super().invoke(ctx)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """One command; its module is imported now and no sooner."""
        if cmd_name not in FAMILIES:
            return super().get_command(ctx, cmd_name)
        return _family(cmd_name)


@contextmanager
def _with_its_value(line: tuple[str, ...]) -> Iterator[None]:
    """A value that an option cannot take is refused as any other: its place, the value, what is wrong, and the mend."""
    try:
        yield
    except BadParameter as error:
        if type(error) is not BadParameter or error.param is None or error.ctx is None:
            raise  # nothing was given, which is told well enough
        names = error.param.opts
        written = [after for before, after in pairwise(line) if before in names]
        written += [one.partition("=")[2] for one in line if one.startswith(tuple(f"{name}=" for name in names))]
        problem = error.message.removeprefix("Value error, ").rstrip(".")
        raise InputError(
            " / ".join(names),
            written[0] if len(written) == 1 else None,
            f"cannot be used: {problem[:1].lower()}{problem[1:]}",
            f"See: {error.ctx.command_path} --help",
        ) from None


@cache
def _family(name: str) -> Any:
    from importlib import import_module

    from typer.main import get_command

    module, app = FAMILIES[name]
    found = get_command(getattr(import_module(f"ridesim.commands.{module}"), app))
    found.name = name
    return found
