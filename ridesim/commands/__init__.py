"""The commands by family. Each module keeps its heavy imports inside its functions, so that every command starts quickly."""

from __future__ import annotations

import typer


def register(app: typer.Typer) -> None:
    """Hang the commands of bench, garage and trials onto the program."""
    from ridesim.commands import bench, garage, trial

    bench.register(app)
    app.add_typer(garage.app, name="garage")
    app.add_typer(trial.app, name="trial")
