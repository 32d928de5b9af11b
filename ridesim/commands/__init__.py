"""The commands by family, read only when they are asked for, so that every command starts quickly."""

from __future__ import annotations

from functools import cache
from typing import Any

from typer.core import TyperGroup

from ridesim.commands.streams import told_apart

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

    def make_context(self, *args: Any, **extra: Any) -> Any:
        """Read the line; the help is printed here."""
        with told_apart():
            return super().make_context(*args, **extra)

    def invoke(self, ctx: Any) -> Any:
        """Run the command."""
        with told_apart():
            return super().invoke(ctx)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """One command; its module is imported now and no sooner."""
        if cmd_name not in FAMILIES:
            return super().get_command(ctx, cmd_name)
        return _family(cmd_name)


@cache
def _family(name: str) -> Any:
    from importlib import import_module

    from typer.main import get_command

    module, app = FAMILIES[name]
    found = get_command(getattr(import_module(f"ridesim.commands.{module}"), app))
    found.name = name
    return found
