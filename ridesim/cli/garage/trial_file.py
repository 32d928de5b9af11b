"""A file of trials in TOML. It may also say what stock is, which parts are available and how far to the lean side a proposal
may go:

    [stock.settings]            # and [stock.air]
    [obtainable]                # main_jets = [...], pilot_jets, slide_cutaways, clip_grooves, least_turns, most_turns
    [margin]                    # richness, grooves, turns, cutaway
    [[trial]]                   # ridden_at, [trial.air], [trial.settings], [trial.verdicts], fuel_used, distance, note ...
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ridesim.cli.given import demo_or_file, read_text
from ridesim.errors import InputError, placed

if TYPE_CHECKING:
    from ridesim.garage.richness import Margin, Obtainable, Stock

MOST_TRIALS = 1000


@dataclass(frozen=True, kw_only=True)
class TrialFile:
    """The trials of a file as tables, and what else it says, or is usual."""

    trials: tuple[Mapping[str, Any], ...]
    stock: Stock | None
    obtainable: Obtainable
    margin: Margin


def read_trials(path: Path | None) -> TrialFile:
    """The tables of a file of trials; a demo name will do. What is usual where there is none."""
    from ridesim.buildfile.toml_text import tables_of
    from ridesim.garage.richness import STOCK_AIR, Margin, Obtainable, Stock
    from ridesim.garage.written import air_of, as_table, only, settings_of

    if path is None:
        return TrialFile(trials=(), stock=None, obtainable=Obtainable(), margin=Margin())
    where = demo_or_file(path)
    data = tables_of(read_text(where), where.name)

    def record(kind: Any, name: str) -> Any:
        """A record of plain numbers from the table of that name."""
        table = as_table(data.get(name, {}), name)
        only(table, tuple(one.name for one in fields(kind)), f"{name}.")
        return kind(**table)

    with placed(f"{where.name}: "):
        only(data, ("trial", "stock", "obtainable", "margin"), "")
        stock = None
        if "stock" in data:
            table = as_table(data["stock"], "stock")
            only(table, ("settings", "air"), "stock.")
            with placed("stock."):
                settings = settings_of(as_table(table.get("settings", {}), "settings"), None)
                air = air_of(as_table(table["air"], "air")) if "air" in table else STOCK_AIR
            stock = Stock(settings=settings, air=air)
        obtainable, margin = record(Obtainable, "obtainable"), record(Margin, "margin")
        trials = data.get("trial", [])
        if not isinstance(trials, list) or len(trials) > MOST_TRIALS:
            problem = f"is not a list of at most {MOST_TRIALS} trials"
            raise InputError("trial", None, problem, "Write [[trial]] before each.")
    tables = tuple(as_table(one, f"{where.name}: trial {n}") for n, one in enumerate(trials, start=1))
    return TrialFile(trials=tables, stock=stock, obtainable=obtainable, margin=margin)
