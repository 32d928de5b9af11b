"""The next trial: one change, the reason for it and for its turn, and when to stop; and the way back to stock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from ridesim.answers.answer import Answer, Figure, Figures, table_from
from ridesim.errors import InputError
from ridesim.fueling.mixture_power import mixture_worth
from ridesim.garage.changes import area_worded, changes_between, holes_worded, values_of, worded
from ridesim.garage.proposal import (
    CAUTIONS,
    DAMAGING,
    Case,
    Proposal,
    Wish,
    air_says,
    as_it_is,
    ask,
    came_from,
    change,
    left_lean,
    not_given,
    repeat,
)
from ridesim.garage.richness import (
    JETS,
    ORDER,
    Margin,
    Obtainable,
    Stock,
    jet_richness,
    not_richer,
    stepped,
    too_lean,
)
from ridesim.garage.trials import OPENINGS, Settings, Trial, TrialAir
from ridesim.statements import Note, many


def propose_next(
    trials: Sequence[Trial],
    stock: Stock,
    *,
    air: TrialAir,
    sizes_obtainable: Obtainable,
    margin: Margin,
) -> Proposal:
    """Propose one next change, or to repeat, to stop, or to leave it be; and say why.

    Parameters
    ----------
    trials : sequence of Trial
        Oldest first; the last one holds the settings as they are. [-]
    stock : Stock
        The maker's settings and the air they are right in. [-]
    air : TrialAir
        The air of the next ride. [-]
    sizes_obtainable : Obtainable
        Available jets and slides. [-]
    margin : Margin
        How far to the lean side of stock, corrected for the air, a proposal may go. [-]

    Returns
    -------
    Proposal

    Examples
    --------
    >>> day = TrialAir(altitude_m=250.0, temperature_k=291.15, humidity=0.55)
    >>> from ridesim.garage.trials import RangeVerdict, Verdicts
    >>> ridden = Trial(ridden_at="2031-05-04T09:30:00Z", air=day, settings=Settings(main_jet=120),
    ...                verdicts=Verdicts(three_quarters_to_full=RangeVerdict(says="lean")))
    >>> print(propose_next([ridden], Stock(settings=Settings(main_jet=120)), air=day,
    ...                    sizes_obtainable=Obtainable(main_jets=(115, 117.5, 120, 122.5, 125)), margin=Margin()).says)
    Go from main jet 120 to 122.5: it is lean at 3/4 to full throttle.
    """
    if not trials:
        return repeat(None, stock.settings, None, "Ride it once as the maker set it, and write down how it runs.", ())
    case = Case(trials=trials, stock=stock, air=air, sizes=sizes_obtainable, margin=margin)
    return next(_contradictions(case), None) or _step(case)


def _step(case: Case) -> Proposal:
    """The first change that may be made of those the verdicts ask for, or why there is none."""
    held_back: dict[str, str] = {}
    still_lean: list[str] = []
    wishes = _wishes(case)
    for place, wish in enumerate(wishes):  # what is lean comes first
        if still_lean and not wish.richer:
            break  # nothing is made leaner while it is lean where that does damage
        for thing in ORDER[wish.opening]:
            found = _tried_step(case, thing, wish.richer, wish.opening)
            if isinstance(found, Settings):
                above = case.latest.verdicts.at("three_quarters_to_full").says
                if above is None and not wish.richer and wish.opening == "quarter_to_three_quarters":
                    return ask(case, held_back)  # a leaner needle reaches up to where lean does damage
                return change(case, thing, found, wish, wishes[place + 1 :], held_back)
            before = f"{held_back[wish.opening]}; " if wish.opening in held_back else ""
            held_back[wish.opening] = f"{before}{found}"
        if wish.richer and wish.opening in DAMAGING:
            still_lean.append(wish.reason)
    if still_lean:
        return left_lean(case, still_lean, held_back)
    return _no_step(case, held_back)


def _no_step(case: Case, held_back: Mapping[str, str]) -> Proposal:
    """Where nothing is left to change: ask where no verdict is, look again, stop short of a limit, or leave it be."""
    settings, why = case.latest.settings, came_from(case)
    if not_given(case):
        return ask(case, held_back)
    unseen = [opening for opening in ORDER if case.latest.verdicts.at(opening).says == "can't tell"]
    if unseen:
        where = ", ".join(OPENINGS[opening] for opening in unseen)
        says = f"Ride again with nothing changed and look at {where}: it could not be told there."
        return repeat(case, settings, unseen[0], says, why, held_back)
    if held_back:
        says = "Stop here: what the verdicts still ask for is past a limit, can't be had or is not written down."
        return as_it_is(case, "stop", says, why, held_back)
    says = "Leave it: it is right at every throttle opening. Write down how to get back to it."
    return as_it_is(case, "done", says, (*why, *air_says(case)), held_back)


def _contradictions(case: Case) -> Iterator[Proposal]:
    """To ride again for each of the verdicts that cannot all be true."""
    for opening, things in ORDER.items():
        verdict = case.latest.verdicts.at(opening).says
        if verdict not in ("lean", "rich"):
            continue
        for thing in things:
            for trial in _differing_by(case, thing):
                if _at_odds(case, trial, thing, opening) and not _confirmed_since(case, trial, opening):
                    was, now = (worded(thing, values_of(one.settings, thing)) for one in (trial, case.latest))
                    says = (
                        f"Ride again with nothing changed: at {OPENINGS[opening]} it was {trial.verdicts.at(opening).says} with "
                        f"the {thing} at {was} and is {verdict} with {now}, and both can't be so."
                    )
                    yield repeat(case, case.latest.settings, opening, says, came_from(case))
        yield from _overtaken_by_air(case, opening, things, verdict)


def _at_odds(case: Case, trial: Trial, thing: str, opening: str) -> bool:
    """Whether one of two trials was called rich and the other lean, though the rich one was set no richer."""
    latest = case.latest
    says = (trial.verdicts.at(opening).says, latest.verdicts.at(opening).says)
    if set(says) != {"lean", "rich"}:
        return False
    rich, lean = (trial, latest) if says[0] == "rich" else (latest, trial)
    return bool(not_richer(thing, (rich.settings, rich.air), (lean.settings, lean.air), case.stock))


def _confirmed_since(case: Case, trial: Trial, opening: str) -> bool:
    """Whether the latest verdict has been given twice, for the same settings, since a trial: then that trial is outvoted."""
    since = case.trials[case.trials.index(trial) + 1 : -1]
    return any(
        changes_between(one.settings, case.latest.settings) == ((), ())
        and one.verdicts.at(opening).says == case.latest.verdicts.at(opening).says
        for one in since
    )


def _overtaken_by_air(case: Case, opening: str, things: Sequence[str], verdict: str) -> Iterator[Proposal]:
    """Where today's air alone does as much as the step that would be taken, the verdict of that day is no guide."""
    jet = next((thing for thing in things if thing in JETS), None)
    size = _step_size(case, jet, richer=verdict == "lean") if jet else None
    shift = case.day_shift()
    if size is not None and shift * size > 0 and abs(shift) >= abs(size):
        says = (
            f"Ride again with nothing changed: it was {verdict} at {OPENINGS[opening]} on the day, and today's air alone "
            f"makes it {100 * abs(shift):.1f} % {'richer' if shift > 0 else 'leaner'}, as much as the next {jet} would."
        )
        yield repeat(case, case.latest.settings, opening, says, came_from(case))


def _step_size(case: Case, jet: str, richer: bool) -> float | None:
    """What the next jet does to the richness, as a share with its sign; None where there is none."""
    now = case.latest.settings
    found = stepped(jet, now, richer, case.sizes)
    ratio = None if isinstance(found, str) else jet_richness(jet, found, now)
    return None if ratio is None else ratio - 1.0


def _differing_by(case: Case, thing: str) -> Iterator[Trial]:
    """The trials that differ from the latest in nothing but one thing, or in nothing."""
    for trial in case.trials[:-1]:
        changes, unknown = changes_between(trial.settings, case.latest.settings)
        if not unknown and {change.thing for change in changes} <= {thing}:
            yield trial


def _wishes(case: Case) -> list[Wish]:
    """What the verdicts ask for: lean before rich, else in the order of work; rich from 1/4 up, the clip before the main jet."""
    says = {opening: case.latest.verdicts.at(opening).says for opening in ORDER}
    clip_first = all(says[opening] == "rich" for opening in DAMAGING)
    wishes = []
    for place, (opening, things) in enumerate(ORDER.items()):
        verdict = says[opening]
        if verdict in ("lean", "rich"):
            if opening in DAMAGING and all(says[one] == verdict for one in DAMAGING):
                reason = f"it is {verdict} from 1/4 throttle up"
            else:
                reason = f"it is {verdict} at {OPENINGS[opening]}"
            first = clip_first and opening == "quarter_to_three_quarters"
            wish = Wish(opening=opening, richer=verdict == "lean", reason=reason)
            wishes.append((verdict == "rich", -1 if first else place, wish))
        elif verdict == "right":
            for richer in _asked_by_air(case, things):
                reason = (
                    f"it was right at {OPENINGS[opening]} on the day, and today's air makes it "
                    f"{100 * (abs(case.day_shift())):.1f} % {'leaner' if richer else 'richer'}, as much as a step of the jet or more"
                )
                wishes.append((not richer, place, Wish(opening=opening, richer=richer, reason=reason)))
    return [wish for _, _, wish in sorted(wishes, key=lambda one: one[:2])]


def _asked_by_air(case: Case, things: Sequence[str]) -> Iterator[bool]:
    """Whether the air of today asks for a richer (True) or a leaner jet, for settings that were right on the day.

    Leaner by a step of the jet asks for a richer one; richer has to cost so much that a rider may feel it.
    """
    jet = next((thing for thing in things if thing in JETS), None)
    shift = case.day_shift()
    size = _step_size(case, jet, richer=shift < 0) if jet and shift else None
    if size is not None and abs(shift) >= abs(size) and (shift < 0 or mixture_worth(1.0 + shift).can_be_felt):
        yield shift < 0


def _tried_step(case: Case, thing: str, richer: bool, opening: str) -> Settings | str:
    """The settings after one step, or why the step is not proposed."""
    found = stepped(thing, case.latest.settings, richer, case.sizes)
    if richer or isinstance(found, str):
        return found
    reason = too_lean(thing, found, case.stock, case.air, case.margin)
    if reason:
        return reason
    for trial in _differing_by(case, thing):
        was_lean = trial.verdicts.at(opening).says == "lean"
        outvoted = _at_odds(case, trial, thing, opening)  # such a one left by now has been ridden again and denied
        if was_lean and not outvoted:
            tried = (trial.settings, trial.air)
            if not_richer(thing, (found, case.air), tried, case.stock):
                return (
                    f"the {thing} {worded(thing, values_of(trial.settings, thing))} has been tried and was lean, so the "
                    "best lies between; the richer of the two stays"
                )
    return found


# ---- the way back


def back_to_stock(trials: Sequence[Trial], stock: Stock, assumed: tuple[str, ...] = ()) -> Answer:
    """What to undo to be back at stock, in reverse order, and which parts that takes.

    Parameters
    ----------
    trials : sequence of Trial
        Oldest first; the last one holds the settings as they are. [-]
    stock : Stock
        The maker's settings. [-]

    assumed : tuple of str
        What was assumed of stock.

    Returns
    -------
    Answer
        A row for each thing to put back, the latest change first. A note is about each thing that is not written down on both
        sides.

    Raises
    ------
    InputError
        No trial at all.

    Examples
    --------
    >>> from ridesim.garage.trials import TrialAir
    >>> day = TrialAir(altitude_m=250.0, temperature_k=291.15, humidity=0.55)
    >>> ridden = [Trial(ridden_at="2031-05-04T09:30:00Z", air=day, settings=Settings(main_jet=size)) for size in (120, 125)]
    >>> print(back_to_stock(ridden, Stock(settings=Settings(main_jet=120))).tables[0].rows[0]["how"])
    Put the main jet back from 125 to 120.
    """
    if not trials:
        raise InputError("trials", None, "there is none, so nothing is known to be changed", "Give at least one trial.")
    now = trials[-1].settings
    changes, unknown = changes_between(stock.settings, now)
    undo = [
        {
            "thing": change.thing,
            "now": worded(change.thing, change.after),
            "stock": worded(change.thing, change.before),
            "changed_in": _last_moved(trials, change.thing),
            "part": _part(change.thing, stock.settings, now),
            "how": _how(change.thing, stock.settings, now),
        }
        for change in changes
    ]
    undo.sort(key=lambda one: -(one["changed_in"] or 0))  # type: ignore[operator]  # stable: within a trial as in the list
    columns = (
        ("how", "What to do", "text"),
        ("part", "Part needed", "text"),
        ("changed_in", "Changed in trial", "number"),
    )
    return Answer(
        question="What is the way back to stock?",
        say=(_says(len(undo), unknown),),
        figures=Figures(Figure("count", "Things to put back", len(undo), "number")),
        tables=(table_from("The latest change first", undo, *columns),),
        assumptions=assumed,
        notes=tuple(Note(one, "not written down on both sides, so look") for one in unknown),
        cautions=CAUTIONS,
    )


def _says(count: int, unknown: Sequence[str]) -> str:
    """How much there is to put back, and what has to be looked at."""
    said = f"{many(count, 'thing')} to put back" if count else "Everything written down is as stock"
    if unknown:
        said += f"; not written down on both sides, so look: {', '.join(unknown)}"
    return f"{said}."


def _last_moved(trials: Sequence[Trial], thing: str) -> int | None:
    """Number of the last trial whose setting of a thing differs from that of the trial before it."""
    for number in range(len(trials), 1, -1):
        if values_of(trials[number - 1].settings, thing) != values_of(trials[number - 2].settings, thing):
            return number
    return None


def _part(thing: str, stock: Settings, now: Settings) -> str | None:
    """The part needed, or None where a hand and a screwdriver do."""
    if thing in ("needle clip", "mixture screw"):
        return None
    if thing == "intake":
        return _plugs(stock, now)
    return f"{thing} {worded(thing, values_of(stock, thing))}"


def _how(thing: str, stock: Settings, now: Settings) -> str:
    if thing == "intake":
        plugs = _plugs(stock, now)
        return (
            f"Close the intake with {plugs}."
            if plugs
            else "Open the intake again as stock: " + worded(thing, values_of(stock, thing)) + "."
        )
    return (
        f"Put the {thing} back from {worded(thing, values_of(now, thing))} to {worded(thing, values_of(stock, thing))}."
    )


def _plugs(stock: Settings, now: Settings) -> str | None:
    """Plugs for the holes drilled since stock, by size; by area where the holes are not written down."""
    if now.intake_holes_m is not None:
        drilled = Counter(now.intake_holes_m) - Counter(stock.intake_holes_m or ())
        if drilled:
            return "plugs for " + holes_worded(tuple(drilled.elements()))
    if now.intake_open_area_m2 is None or stock.intake_open_area_m2 is None:
        return None
    area = now.intake_open_area_m2 - stock.intake_open_area_m2
    return f"plugs for {area_worded(area)} of holes" if area > 0 else None
