"""`ridesim choose`: every sprocket pair at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, get_args, get_type_hints

import typer

from ridesim.cli.given import demo_or_file, placed
from ridesim.cli.options import BuildFile, FullOption, Given, JsonOption, Riding, Units, UnitsOption, grouped
from ridesim.cli.output import csv_text, tell_json
from ridesim.errors import InputError
from ridesim.units import quantity

if TYPE_CHECKING:
    from ridesim.buildfile.schema import LimitsSection
    from ridesim.selection import Candidate, Choice, Verdict

app = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)
SHOWN, SHOWN_IN_FULL = 12, 60  # rows on a terminal; --csv and --json give all
NEAREST = 5  # misses that are told where nothing meets the limits
HEADINGS = {
    "cruise_speed": "Cruise",
    "first_force": "First pushes",
    "first_climb": "First climbs",
    "first_lift": "Lift ratio",
    "walking": "Walks",
    "top_speed": "Top speed",
    "time_0_100": "0 to 100",
    "roll_on": "Roll-on",
    "fuel": "Fuel",
}


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
        str | None, limit("--max-cruise-engine-speed", "Engine speed at cruise at most.")
    ] = None
    first_gear_climb_least: Annotated[str | None, limit("--min-climb", "Grade climbed in first at least.")] = None
    first_gear_lift_ratio_least: Annotated[str | None, limit("--min-lift", "Lift ratio in first at least.")] = None
    walking_speed_most: Annotated[
        str | None, limit("--max-walking-speed", "Slowest walking speed at most, at --walking-engine-speed.")
    ] = None
    walking_engine_speed: Annotated[
        str | None, limit("--walking-engine-speed", "Engine speed of the walking speed.")
    ] = None
    top_speed_least: Annotated[str | None, limit("--min-top-speed", "Top speed at least.")] = None
    time_0_100_most: Annotated[str | None, limit("--max-time-0-100", "Standstill to 100 km/h at most.")] = None
    roll_on_60_100_most: Annotated[str | None, limit("--max-roll-on", "60 to 100 km/h in top gear at most.")] = None
    keep_chain: Annotated[bool, typer.Option("--keep-chain", help="Only pairs for which the fitted chain will do.")] = (
        False
    )

    def beside(self, filed: LimitsSection) -> LimitsSection:
        """The limits of the file with those of the line in their place."""
        from ridesim.selection import held_to

        with placed(_OPTIONS):
            return held_to(filed, **asdict(self) | {"keep_chain": self.keep_chain or None})


_OPTIONS = {
    name: option.default  # the name it is spelt by
    for name, hint in get_type_hints(LimitsWritten, include_extras=True).items()
    for option in get_args(hint)[1:]
}


@app.command(help="Every sprocket pair at once: what to order, which pairs meet your limits, why the others fall.")
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
    full: FullOption = False,
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
    others = chooser.other_ways(filed, decided)
    if as_json:
        more = {"not_told_apart": list(chooser.too_close(choice)), "other_ways": list(others)}
        return tell_json(chooser.contract(choice, decided) | more)
    return _print(decided, others, units, full=full)


def _teeth(text: str | None, where: str) -> tuple[int, ...] | None:
    from ridesim.selection import teeth

    return None if text is None else teeth(text, where)


def _rank(decided: Verdict, c: Candidate) -> tuple[Any, ...]:
    """Those that meet the limits, as sure as is asked and unbeaten first, by what is wished for; then the nearest misses."""
    from ridesim.selection import GOALS, WISHES

    wish = GOALS[WISHES[decided.wish]]
    value = c.figures[wish.key]
    unsure = decided.certainty.names and (_certainty(decided, c) or 0.0) < decided.sure
    return not c.meets_limits, c.miss, unsure, not c.unbeaten, value is None, -wish.better * (value or 0.0)


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


def _print(decided: Verdict, others: tuple[str, ...], units: Units, *, full: bool) -> None:
    """The verdict with what stands behind it, the pairs that meet the limits, and in full those that do not, and why."""
    from ridesim.report import terminal
    from ridesim.selection import CHECKS, indistinguishable
    from ridesim.selection import verdict_words as words

    out, choice = terminal.console(), decided.choice
    out.print(words.sentence(decided, units), style="bold")
    limited = bool(decided.certainty.names) and not decided.relax and decided.action == "none"
    common = words.common_limits(choice, units) if limited else ()
    for title, texts in (*words.behind(decided, units, others), ("Common limits", common)):
        terminal.print_list(out, title, texts)
    ranked = sorted(choice.candidates, key=partial(_rank, decided))
    meeting = [c for c in ranked if c.meets_limits]
    out.print()
    out.print(f"{choice.name}: {choice.sentence}")
    most = SHOWN_IN_FULL if full else SHOWN
    if meeting:
        out.print()
        _print_table(decided, _grouped(meeting, indistinguishable(choice))[:most], units, full=full)
    missing = ranked[len(meeting) :]
    nearest = missing[: SHOWN_IN_FULL if full else 0 if meeting else NEAREST]
    terminal.print_list(out, "Outside the limits", (_miss(choice, c, units) for c in nearest))
    if len(meeting) > most or len(nearest) < len(missing):
        out.print()
        out.print(f"{len(ranked)} combinations in all: --csv or --json prints every one.", style="dim")
    if full:
        terminal.print_list(out, "Before ordering", CHECKS)
        terminal.print_lists(out, choice.assumptions, choice.notes_in(units), (terminal.CAUTION,))
    else:
        terminal.print_short_end(out)


def _grouped(
    ranked: Sequence[Candidate], alike: Sequence[tuple[Candidate, Candidate]]
) -> tuple[tuple[Candidate, bool], ...]:
    """The candidates in order, but those that cannot be told apart from one below it, and marked."""
    partners: dict[int, set[int]] = {}
    for one, other in alike:
        partners.setdefault(one.n, set()).add(other.n)
        partners.setdefault(other.n, set()).add(one.n)
    left, rows = list(ranked), []
    while left:
        first = left.pop(0)
        same = [c for c in left if c.n in partners.get(first.n, ())]
        left = [c for c in left if c not in same]
        rows += [(first, False), *((c, True) for c in same)]
    return tuple(rows)


def _print_table(decided: Verdict, rows: Sequence[tuple[Candidate, bool]], units: Units, *, full: bool) -> None:
    from ridesim.report.columns import Cells, figures, text
    from ridesim.report.terminal import console, print_table
    from ridesim.selection import GOALS

    out, choice = console(), decided.choice
    ones = [c for c, _ in rows]
    keys = list(
        dict.fromkeys(
            [*(g.key for g in choice.goals), "first_climb", "top_speed", "time_0_100", *(["fuel"] if full else [])]
        )
    )
    chains = [c.chain or {} for c in ones]
    columns = [
        text("Pair", (f"{'≈' if same else ''}{c.front}/{c.rear}" for c, same in rows)),
        *(
            text(heading, values)
            for heading, values in (("Rear tire", [c.rear_tire for c in ones]), ("Tune", [c.tune for c in ones]))
            if len(set(values)) > 1
        ),
        *(figures(HEADINGS[key], (c.figures[key] for c in ones), GOALS[key].reading, units) for key in keys),
        Cells(heading="Links", cells=tuple(_links(chain) for chain in chains)),
        figures("Axle", (chain.get("axle_shift_m") for chain in chains), "small length", units),
    ]
    if decided.certainty.names:
        columns.append(Cells(heading="Sure", cells=tuple(_sure(decided, c) for c in ones)))
    if len({c.unbeaten for c in ones}) > 1:
        columns.append(text("", ("unbeaten" if c.unbeaten else "" for c in ones)))
    print_table(out, columns, "Within the limits")
    if any(same for _, same in rows):
        by = " or ".join(goal.label for goal in choice.goals)
        out.print(f"≈ cannot be told apart from the pair above by {by}", style="dim")


def _links(chain: Mapping[str, Any]) -> str:
    links = chain.get("links_to_order")
    return "—" if links is None else f"{links}" if chain["fitted_chain_will_do"] else f"new {links}"


def _sure(decided: Verdict, c: Candidate) -> str:
    """How sure all limits are to be met, in whole percent."""
    share = _certainty(decided, c)
    return "" if share is None else "> 99 %" if share > 0.99 else f"{100 * share:.0f} %"


def _certainty(decided: Verdict, c: Candidate) -> float | None:
    found = decided.certainty
    places = (found.rows == c.n).nonzero()[0]
    return float(found.overall[places[0]]) if places.size else None


def _miss(choice: Choice, c: Candidate, units: Units) -> str:
    """Why a combination is outside the limits, in a line."""
    from ridesim.selection import name

    return f"{name(choice, c.n)}: {'; '.join(fall.says for fall in choice.falls(c.n, units))}"
