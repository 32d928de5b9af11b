"""`ridesim choose`: every sprocket pair at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

import typer

from ridesim.cli.given import demo_or_file, placed
from ridesim.cli.options import BuildFile, Given, JsonOption, Riding, Units, UnitsOption, grouped
from ridesim.cli.output import csv_text, tell_json
from ridesim.errors import InputError
from ridesim.units import quantity

if TYPE_CHECKING:
    from ridesim.buildfile.schema import LimitsSection
    from ridesim.selection import Candidate, Choice, Verdict

app = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)
SHOWN = 24  # rows on a terminal; --csv and --json give all


def limit(name: str, text: str) -> Any:
    """An option for a limit; an empty text takes the file's limit away."""
    return typer.Option(name, help=text, show_default="the file's")


@dataclass(frozen=True, kw_only=True)
class Considered(Given):
    """What there is to choose from."""

    AT: ClassVar[Mapping[str, str]] = {"tire": "tires.rear.size"}

    front: Annotated[
        str | None,
        typer.Option(
            help="Front sprockets that can be had, such as 13:18 or 14,15,16.", show_default="near the file's"
        ),
    ] = None
    rear: Annotated[
        str | None, typer.Option(help="Rear sprockets that can be had, such as 40:50.", show_default="near the file's")
    ] = None
    tire: Annotated[
        list[str] | None, typer.Option(help="A rear tire to consider; may be given again.", show_default="the file's")
    ] = None
    tune: Annotated[
        list[str] | None, typer.Option(help="A tune to consider; may be given again.", show_default="the active one")
    ] = None
    goal: Annotated[
        list[str] | None,
        typer.Option(help="What to choose by; given twice or more.", show_default="cruise_speed, first_force"),
    ] = None


@dataclass(frozen=True, kw_only=True)
class LimitsWritten:
    """The limits as they are written, by their names in the file."""

    cruise_engine_speed_most: Annotated[
        str | None, limit("--cruise-engine-speed-most", "Engine speed at cruise at most.")
    ] = None
    first_gear_climb_least: Annotated[str | None, limit("--climb-least", "Grade climbed in first at least.")] = None
    first_gear_lift_ratio_least: Annotated[str | None, limit("--lift-least", "Lift ratio in first at least.")] = None
    walking_speed_most: Annotated[
        str | None, limit("--walking-speed-most", "Slowest walking speed at most, at --walking-engine-speed.")
    ] = None
    walking_engine_speed: Annotated[
        str | None, limit("--walking-engine-speed", "Engine speed of the walking speed.")
    ] = None
    top_speed_least: Annotated[str | None, limit("--top-speed-least", "Top speed at least.")] = None
    time_0_100_most: Annotated[str | None, limit("--time-0-100-most", "Standstill to 100 km/h at most.")] = None
    roll_on_60_100_most: Annotated[str | None, limit("--roll-on-most", "60 to 100 km/h in top gear at most.")] = None
    keep_chain: Annotated[bool, typer.Option("--keep-chain", help="Only pairs for which the fitted chain will do.")] = (
        False
    )

    def beside(self, filed: LimitsSection) -> LimitsSection:
        """The limits of the file with those of the line in their place."""
        from ridesim.selection import held_to

        with placed(_OPTIONS):
            return held_to(filed, **asdict(self) | {"keep_chain": self.keep_chain or None})


_OPTIONS = {one.name: f"--{one.name.replace('_', '-')}" for one in fields(LimitsWritten)} | {
    "first_gear_climb_least": "--climb-least",
    "first_gear_lift_ratio_least": "--lift-least",
    "roll_on_60_100_most": "--roll-on-most",
}


@app.command(
    help="Every sprocket pair at once: which meet your limits, which nothing else beats, why each other one falls."
)
@grouped
def choose(
    build: BuildFile,
    considered: Considered,
    riding: Riding,
    limits: LimitsWritten,
    wish: Annotated[
        str, typer.Option(help="What decides among the pairs that meet the limits: pull, calm, economy or quick.")
    ] = "pull",
    sure: Annotated[str, typer.Option(help="How sure every limit must be, such as '90 %'.")] = "90 %",
    as_csv: Annotated[bool, typer.Option("--csv", help="Print every combination as CSV.")] = False,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    from ridesim import selection as chooser
    from ridesim.answers import ride_with
    from ridesim.bike import make_bike
    from ridesim.buildfile.io import read
    from ridesim.evidence import with_evidence

    if as_csv and as_json:
        raise InputError("--csv", None, "and --json do not go together", "Leave out one of the two.")
    filed = with_evidence(read(demo_or_file(build)))
    held = limits.beside(filed.record.limits)
    own = make_bike(filed)
    with placed(riding.places() | considered.places() | {"walking_engine_speed": "--walking-engine-speed"}):
        ride = ride_with(own, cruise=riding.cruise, grade=riding.grade, headwind=riding.headwind)
        choice = chooser.choose(
            filed,
            fronts=_teeth(considered.front, "--front"),
            rears=_teeth(considered.rear, "--rear"),
            rear_tires=considered.tire,
            tunes=considered.tune,
            ride=ride,
            limits=held,
            goals=considered.goal or chooser.DEFAULT_GOALS,
        )
    if as_csv:
        return _print_csv(choice)
    with placed({"wish": "--wish", "sure": "--sure"}):
        decided = chooser.verdict(choice, wish=wish, sure=float(quantity(sure, "ratio", "%", "--sure")))
    alike = chooser.too_close(choice)
    if as_json:
        return tell_json(chooser.contract(choice, decided) | {"not_told_apart": list(alike)})
    _print_verdict(decided, units)
    return _print_table(choice, units, alike)


def _teeth(text: str | None, where: str) -> tuple[int, ...] | None:
    from ridesim.selection import teeth

    return None if text is None else teeth(text, where)


def _rank(c: Candidate) -> tuple[Any, ...]:
    """Those that nothing beats, those that meet the limits, then the nearest misses."""
    return (not (c.unbeaten and c.meets_limits), not c.meets_limits, c.miss, c.front, c.rear)


def _print_csv(choice: Choice) -> None:
    from ridesim.selection import GOALS

    head = ["front", "rear", "rear_tire", "tune", *(f"{key}_si" for key in GOALS)]
    chained = ["links_to_order", "axle_shift_m", "fitted_chain_will_do"]
    rows: list[list[object]] = [[*head, *chained, "meets_limits", "unbeaten", "falls"]]
    for c in choice.candidates:
        chain = c.chain or {}
        rows.append(
            [
                c.front,
                c.rear,
                c.rear_tire,
                c.tune,
                *(c.figures[key] for key in GOALS),
                *(chain.get(key) for key in chained),
                c.meets_limits,
                c.unbeaten,
                "; ".join(fall.says for fall in c.falls),
            ]
        )
    typer.echo(csv_text(rows), nl=False)


def _print_verdict(decided: Verdict, units: Units) -> None:
    """The sentence, and what stands behind it."""
    from ridesim.report.terminal import console
    from ridesim.selection import verdict_words as words

    out = console()
    out.print(words.sentence(decided, units), style="bold")
    measure = words.measure_first(decided)
    limited = bool(decided.certainty.names) and not decided.relax and decided.action == "none"
    for title, texts in (
        ("Why", words.reasons(decided, units)),
        ("Runners-up", words.runners_up(decided, units)),
        ("To order", words.order_list(decided)),
        ("Measure first", () if measure is None else (f"{measure[0]}: {measure[1]}",)),
        ("Common limits", words.common_limits(decided.choice, units) if limited else ()),
    ):
        if texts:
            out.print(title)
            for text in texts:
                out.print(f"- {text}")
    out.print()


def _print_table(choice: Choice, units: Units, alike: tuple[str, ...]) -> None:
    from rich.table import Table as Grid

    from ridesim.report.terminal import console
    from ridesim.selection import CHECKS, GOALS

    out = console()
    out.print(choice.name, style="bold")
    out.print(choice.sentence)
    ranked = sorted(choice.candidates, key=_rank)
    keys = list(dict.fromkeys([*(g.key for g in choice.goals), "first_climb", "top_speed", "time_0_100", "fuel"]))
    several = {
        "rear_tire": len({c.rear_tire for c in choice.candidates}) > 1,
        "tune": len({c.tune for c in choice.candidates}) > 1,
    }
    grid = Grid(box=None, pad_edge=False, header_style="dim")
    for title in (
        "Pair",
        *(t for t, used in (("Rear tire", several["rear_tire"]), ("Tune", several["tune"])) if used),
        *(GOALS[k].label.capitalize() for k in keys),
        "Links",
        "Axle",
        "",
    ):
        grid.add_column(
            title, justify="left" if title in ("Pair", "Rear tire", "Tune", "") else "right", overflow="fold"
        )
    for c in ranked[:SHOWN]:
        grid.add_row(*_cells(choice, c, keys, several, units))
    out.print(grid)
    if len(ranked) > SHOWN:
        out.print(f"... and {len(ranked) - SHOWN} more: --csv or --json prints them all")
    for title, texts in (
        ("Before ordering", CHECKS),
        ("Note", (*alike, *choice.notes_in(units))),
        ("Assumed", choice.assumptions),
    ):
        if texts:
            out.print()
            out.print(title, style="bold underline")
            for text in texts:
                out.print(f"- {text}")


def _cells(choice: Choice, c: Candidate, keys: list[str], several: dict[str, bool], units: Units) -> list[str]:
    """One combination as a row of the terminal's table."""
    from ridesim.answers.words import shown
    from ridesim.selection import GOALS

    chain = c.chain or {}
    links, kept = chain.get("links_to_order"), "kept" if chain.get("fitted_chain_will_do") else "new"
    falls = "; ".join(fall.says for fall in choice.falls(c.n, units))
    return [
        f"{c.front}/{c.rear}",
        *([c.rear_tire] if several["rear_tire"] else []),
        *([c.tune] if several["tune"] else []),
        *(shown(c.figures[k], GOALS[k].reading, units) for k in keys),
        "—" if links is None else f"{links} {kept}",
        shown(chain.get("axle_shift_m"), "small length", units),
        falls or ("unbeaten" if c.unbeaten else "meets"),
    ]
