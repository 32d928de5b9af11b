"""The next trial: one change, the reason for it, how to make it, and when to stop."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from ridesim.answers.answer import Step
from ridesim.fueling.jets import CAUTIONS as JET_CAUTIONS
from ridesim.fueling.jets import LAW
from ridesim.garage.changes import changes_between, values_of, what_changed, worded
from ridesim.garage.richness import (
    JETS,
    ORDER,
    Margin,
    Obtainable,
    Stock,
    air_richness,
    jet_richness,
    not_in_the_figures,
    not_richer,
    richness_step,
    stepped,
    too_lean,
)
from ridesim.garage.trials import OPENINGS, Settings, Trial, TrialAir

CAUTIONS = (
    *JET_CAUTIONS,
    "Work with the engine cold and the room open to the air: fuel vapor burns, and exhaust gas kills in a closed room.",
    "At the first sign of running lean (hot, pinging, hanging idle, white plug) stop and go back to the richer setting.",
    "Where any of this is new to you, have a qualified mechanic do it.",
)
PRACTICE = (
    "which setting rules at which throttle opening, the order of work (main jet, idle, needle, slide) and one change a trial "
    "are common practice, no source",
    "what is lean is mended before what is rich: rich costs fuel and plugs, lean can cost the engine",
)
DAMAGING = ("three_quarters_to_full", "quarter_to_three_quarters")  # where lean runs hot
_HOW = {
    "main jet": "close the fuel tap, drain the float bowl into a closed can, and change the main jet",
    "pilot jet": "close the fuel tap, drain the float bowl into a closed can, and change the pilot jet",
    "needle clip": "lift the needle out and move its clip",
    "mixture screw": "count the turns of the mixture screw as you seat it gently, then set it",
    "slide cutaway": "change the slide, and see that it moves freely and shuts by itself",
}
_LOOK = {
    "three_quarters_to_full": "pull hard at full throttle in a high gear on a closed course or a dynamometer, shut off, and look "
    "at the plug",
    "closed_to_eighth": "with the engine warm, look at idle, at the return to idle, and at pulling away",
    "quarter_to_three_quarters": "hold half throttle up a long hill, and roll on from a quarter to three quarters",
    "eighth_to_quarter": "ride steadily on a trailing throttle, and open from an eighth to a quarter",
}


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """What to do next.

    kind            "change": one setting; "repeat": ride again before anything is changed; "stop": what is wished for is past
                    a limit or can't be had; "done": nothing asks for a change
    thing, before, after    the setting and what it goes from and to, in words; None without a change
    settings        all settings of the next trial
    opening         the throttle opening it is about, a key of trials.OPENINGS; None where it is about none
    why             reasons, the most telling first
    held_back       what was asked for by a verdict and not proposed, and why
    working         formulas with the numbers in
    to_do           what to do, in order
    put_back        how to undo it
    """

    kind: Literal["change", "repeat", "stop", "done"]
    says: str
    settings: Settings
    thing: str | None = None
    before: str | None = None
    after: str | None = None
    opening: str | None = None
    why: tuple[str, ...] = ()
    held_back: tuple[str, ...] = ()
    working: tuple[Step, ...] = ()
    to_do: tuple[str, ...] = ()
    put_back: str = ""
    assumptions: tuple[str, ...] = PRACTICE
    cautions: tuple[str, ...] = CAUTIONS


@dataclass(frozen=True, kw_only=True)
class _Case:
    """Everything a proposal is made from."""

    trials: Sequence[Trial]
    stock: Stock
    air: TrialAir
    sizes: Obtainable
    margin: Margin

    @property
    def latest(self) -> Trial:
        return self.trials[-1]

    def day_shift(self) -> float:
        """How much richer today's air makes the settings of the latest trial, as a share. [-]"""
        return air_richness(self.air, self.latest.air) - 1.0


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
        return _repeat(stock.settings, None, "Ride it once as the maker set it, and write down how it runs.", ())
    case = _Case(trials=trials, stock=stock, air=air, sizes=sizes_obtainable, margin=margin)
    contradiction = next(_contradictions(case), None)
    if contradiction:
        return _repeat(case.latest.settings, contradiction.opening, contradiction.says, _came_from(case))
    return _step(case)


def _step(case: _Case) -> Proposal:
    """The first change that may be made of those the verdicts ask for, or why there is none."""
    held_back: list[str] = []
    still_lean: list[str] = []
    for opening, richer, reason in _wishes(case):  # what is lean comes first
        if still_lean and not richer:
            break  # nothing is made leaner while it is lean where that does damage
        for thing in ORDER[opening]:
            found = _tried_step(case, thing, richer, opening)
            if isinstance(found, Settings):
                return _change(case, thing, found, opening, reason, held_back)
            held_back.append(f"{OPENINGS[opening].capitalize()}: {found}.")
        if richer and opening in DAMAGING:
            still_lean.append(reason)
    if still_lean:
        return _left_lean(case, still_lean, held_back)
    return _no_step(case, held_back)


def _no_step(case: _Case, held_back: list[str]) -> Proposal:
    """Where nothing is left to change: look again where no verdict is, or stop short of a limit, or leave it be."""
    settings, why = case.latest.settings, _came_from(case)
    unseen = [opening for opening in ORDER if case.latest.verdicts.at(opening).says == "can't tell"]
    if unseen:
        where = ", ".join(OPENINGS[opening] for opening in unseen)
        says = f"Ride again with nothing changed and look at {where}: no verdict there yet."
        return _repeat(settings, unseen[0], says, why, held_back)
    if held_back:
        says = "Stop here: what the verdicts still ask for is past a limit, can't be had or is not written down."
        return Proposal(kind="stop", settings=settings, held_back=tuple(held_back), why=why, says=says)
    says = "Leave it: it is right at every throttle opening. Write down how to get back to it."
    return Proposal(kind="done", settings=settings, why=why, says=says)


@dataclass(frozen=True, kw_only=True)
class _Contradiction:
    opening: str
    says: str


def _contradictions(case: _Case) -> Iterator[_Contradiction]:
    """Verdicts that cannot all be true, each with what to look at again."""
    for opening, things in ORDER.items():
        verdict = case.latest.verdicts.at(opening).says
        if verdict not in ("lean", "rich"):
            continue
        for thing in things:
            for trial in _differing_by(case, thing):
                if _at_odds(case, trial, thing, opening) and not _confirmed_since(case, trial, opening):
                    yield _Contradiction(
                        opening=opening,
                        says=f"Ride again with nothing changed: at {OPENINGS[opening]} it was "
                        f"{trial.verdicts.at(opening).says} with the {thing} at "
                        f"{worded(thing, values_of(trial.settings, thing))} and is {verdict} with "
                        f"{worded(thing, values_of(case.latest.settings, thing))}, and both can't be so.",
                    )
        yield from _overtaken_by_air(case, opening, things, verdict)


def _at_odds(case: _Case, trial: Trial, thing: str, opening: str) -> bool:
    """Whether one of two trials was called rich and the other lean, though the rich one was set no richer."""
    latest = case.latest
    says = (trial.verdicts.at(opening).says, latest.verdicts.at(opening).says)
    if set(says) != {"lean", "rich"}:
        return False
    rich, lean = (trial, latest) if says[0] == "rich" else (latest, trial)
    return bool(not_richer(thing, (rich.settings, rich.air), (lean.settings, lean.air), case.stock))


def _confirmed_since(case: _Case, trial: Trial, opening: str) -> bool:
    """Whether the latest verdict has been given twice, for the same settings, since a trial: then that trial is outvoted."""
    since = case.trials[case.trials.index(trial) + 1 : -1]
    return any(
        changes_between(one.settings, case.latest.settings) == ((), ())
        and one.verdicts.at(opening).says == case.latest.verdicts.at(opening).says
        for one in since
    )


def _overtaken_by_air(case: _Case, opening: str, things: Sequence[str], verdict: str) -> Iterator[_Contradiction]:
    """Where today's air alone does as much as the step that would be taken, the verdict of that day is no guide."""
    jet = next((thing for thing in things if thing in JETS), None)
    size = _step_size(case, jet, richer=verdict == "lean") if jet else None
    shift = case.day_shift()
    if size is not None and shift * size > 0 and abs(shift) >= abs(size):
        yield _Contradiction(
            opening=opening,
            says=f"Ride again with nothing changed: it was {verdict} at {OPENINGS[opening]} on the day, and today's air alone "
            f"makes it {abs(shift):.1%} {'richer' if shift > 0 else 'leaner'}, as much as the next {jet} would.",
        )


def _step_size(case: _Case, jet: str, richer: bool) -> float | None:
    """What the next jet does to the richness, as a share with its sign; None where there is none."""
    now = case.latest.settings
    found = stepped(jet, now, richer, case.sizes)
    ratio = None if isinstance(found, str) else jet_richness(jet, found, now)
    return None if ratio is None else ratio - 1.0


def _differing_by(case: _Case, thing: str) -> Iterator[Trial]:
    """The trials that differ from the latest in nothing but one thing, or in nothing."""
    for trial in case.trials[:-1]:
        changes, unknown = changes_between(trial.settings, case.latest.settings)
        if not unknown and {change.thing for change in changes} <= {thing}:
            yield trial


def _wishes(case: _Case) -> list[tuple[str, bool, str]]:
    """What the verdicts ask for: (opening, richer or leaner, the reason), lean before rich, else in the order of work."""
    wishes = []
    for place, (opening, things) in enumerate(ORDER.items()):
        verdict = case.latest.verdicts.at(opening).says
        if verdict in ("lean", "rich"):
            wishes.append(
                (verdict == "rich", place, (opening, verdict == "lean", f"it is {verdict} at {OPENINGS[opening]}"))
            )
        elif verdict == "right":
            for richer in _asked_by_air(case, things):
                way = "leaner" if richer else "richer"
                reason = (
                    f"it was right at {OPENINGS[opening]} on the day, and today's air makes it "
                    f"{abs(case.day_shift()):.1%} {way}, as much as a step of the jet or more"
                )
                wishes.append((not richer, place, (opening, richer, reason)))
    return [wish for _, _, wish in sorted(wishes, key=lambda one: one[:2])]


def _asked_by_air(case: _Case, things: Sequence[str]) -> Iterator[bool]:
    """Whether the air of today asks for a richer (True) or a leaner jet, for settings that were right on the day."""
    jet = next((thing for thing in things if thing in JETS), None)
    shift = case.day_shift()
    size = _step_size(case, jet, richer=shift < 0) if jet and shift else None
    if size is not None and abs(shift) >= abs(size):
        yield shift < 0


def _tried_step(case: _Case, thing: str, richer: bool, opening: str) -> Settings | str:
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


def _change(case: _Case, thing: str, found: Settings, opening: str, reason: str, held_back: Sequence[str]) -> Proposal:
    now = case.latest.settings
    before, after = (worded(thing, values_of(one, thing)) for one in (now, found))
    working = tuple(
        step for one in (now, found) if thing in JETS and (step := richness_step(thing, one, case.stock, case.air))
    )
    return Proposal(
        kind="change",
        settings=found,
        thing=thing,
        before=before,
        after=after,
        opening=opening,
        says=f"Go from {thing} {before} to {after}: {reason}.",
        why=(f"The {thing} rules at {OPENINGS[opening]}.", *_came_from(case), *_air_says(case, thing, found)),
        held_back=tuple(held_back),
        working=working,
        to_do=(
            "Let the engine cool down, and work in the open or with the doors open, with no flame or spark near.",
            f"{_HOW[thing].capitalize()}: {before} out, {after} in. Leave everything else as it is.",
            "Open the tap and look for leaks before the engine is started.",
            f"Ride the same road as before: {_LOOK[opening]}.",
            "Write down the air, the verdict at every throttle opening, and the fuel used.",
        ),
        put_back=f"Set the {thing} back to {before}; keep the old part with the bike.",
        assumptions=(*PRACTICE, *((LAW,) if thing in JETS else ()), *not_in_the_figures([found], case.stock)),
    )


def _air_says(case: _Case, thing: str, found: Settings) -> Iterator[str]:
    """What the air has to do with it: today against the day of the trial, and against the air of stock."""
    shift = case.day_shift()
    if abs(shift) >= 0.01:
        yield f"Today's air makes the same settings {abs(shift):.1%} {'richer' if shift > 0 else 'leaner'} than on that day."
    ratio = jet_richness(thing, found, case.stock.settings) if thing in JETS else None
    if ratio is not None and ratio < 1.0 - case.margin.richness:
        yield (
            f"In the air of stock this {thing} makes {ratio:.3f} of stock's richness, which is past the limit there: put "
            f"back the {worded(thing, values_of(case.stock.settings, thing))} before you ride where the air is denser."
        )


def _came_from(case: _Case) -> tuple[str, ...]:
    """What the latest trial changed against the one it builds on."""
    base = next((trial for trial in case.trials if trial.id == case.latest.builds_on), None)
    return () if base is None else (f"The latest trial: {what_changed(case.latest, base).says}",)


def _left_lean(case: _Case, reasons: Sequence[str], held_back: Sequence[str]) -> Proposal:
    """What is lean and cannot be made richer by a step that is known: the one case that is not to be ridden on with."""
    return Proposal(
        kind="stop",
        settings=case.latest.settings,
        held_back=tuple(held_back),
        why=_came_from(case),
        says=f"Stop here: {'; '.join(reasons)}, and no richer step is known. Do not ride on like that: lean at large "
        "openings can ruin an engine.",
    )


def _repeat(
    settings: Settings, opening: str | None, says: str, why: tuple[str, ...], held_back: Sequence[str] = ()
) -> Proposal:
    look = _LOOK.values() if opening is None else (_LOOK[opening],)
    return Proposal(
        kind="repeat",
        settings=settings,
        opening=opening,
        says=says,
        why=why,
        held_back=tuple(held_back),
        to_do=(
            "Change nothing.",
            "Ride the same road as before, with the engine warm.",
            *(f"{one.capitalize()}." for one in look),
            "Write down the air and the verdict at every throttle opening.",
        ),
    )
