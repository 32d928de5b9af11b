"""What to do next with a carburetor, in words: a change with its reasons, a ride again, a question, or leave it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from ridesim.answers.answer import Answer, Figures, Sentence, Step, Table, table_from
from ridesim.answers.solved import Solved
from ridesim.fueling import JETTING, MECHANIC, ROOM
from ridesim.fueling.jets import LAW
from ridesim.fueling.mixture_power import mixture_worth, worth_assumptions
from ridesim.garage.changes import values_of, what_changed, worded
from ridesim.garage.richness import (
    JETS,
    ORDER,
    Margin,
    Obtainable,
    Stock,
    air_richness,
    jet_richness,
    not_in_the_figures,
    richness_step,
    stepped,
    too_lean,
)
from ridesim.garage.trials import OPENINGS, Settings, Trial, TrialAir

CAUTIONS = (*JETTING, ROOM, MECHANIC)
PRACTICE = (
    "which setting rules at which throttle opening, the order of work (main jet, idle, needle, slide; rich from 1/4 up the clip "
    "before the main jet) and one change a trial are common practice, no source",
    "what is lean is mended before what is rich: rich costs fuel and plugs, lean can cost the engine",
)
DAMAGING = ("three_quarters_to_full", "quarter_to_three_quarters")  # where lean runs hot
_HOW = {
    "main jet": "shut off the fuel, drain the float bowl into a closed can, and change the main jet",
    "pilot jet": "shut off the fuel, drain the float bowl into a closed can, and change the pilot jet",
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
# Why a setting goes before the others that are asked for. Common practice, no source.
_FIRST = {
    "main jet": "its fuel reaches down into the openings below",
    "mixture screw": "with the throttle shut neither needle nor main jet has a say",
    "pilot jet": "with the throttle shut neither needle nor main jet has a say",
    "needle clip": "it takes no part, it reaches up towards full throttle, and a leaner main jet is the change that can do harm",
    "slide cutaway": "nothing else that is asked for can be done",
}
_EVERYWHERE = {
    "rich": "Rich at every opening: look at choke, air filter and float level first, since no one part makes it rich everywhere.",
    "lean": "Lean at every opening: look for an air leak behind the carburetor, a low float level or a starved fuel line first.",
}


Rows = tuple[Mapping[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """What to do next.

    kind            "change": one setting; "ask": a verdict is wanted before anything is changed; "repeat": ride again before
                    anything is changed; "stop": what is wished for is past a limit or can't be had; "done": leave it
    thing, before, after    the setting and what it goes from and to, in words; None without a change
    settings        all settings of the next trial
    opening         the throttle opening it is about, a key of trials.OPENINGS; None where it is about none
    why             reasons, the most telling first
    openings        every throttle opening: its verdict, the setting that rules there, and what becomes of it: now, after it, or why not
    settles         what each result of the next ride would settle
    asks            the openings without a verdict, keys of trials.OPENINGS
    richness        flow of the jet proposed over that of the jet fitted; None where it is no jet [-]
    working         formulas with the numbers in
    to_do           what to do, in order
    put_back        how to undo it
    """

    kind: Literal["change", "ask", "repeat", "stop", "done"]
    says: str
    settings: Settings
    thing: str | None = None
    before: str | None = None
    after: str | None = None
    opening: str | None = None
    why: tuple[str, ...] = ()
    openings: Rows = ()
    settles: Rows = ()
    asks: tuple[str, ...] = ()
    richness: float | None = None
    working: tuple[Step, ...] = ()
    to_do: tuple[str, ...] = ()
    put_back: str = ""
    assumptions: tuple[str, ...] = PRACTICE
    cautions: tuple[str, ...] = CAUTIONS


@dataclass(frozen=True, kw_only=True)
class Case:
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


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What a verdict asks for at an opening."""

    opening: str
    richer: bool
    reason: str


def as_it_is(
    case: Case, kind: Literal["stop", "done"], says: str, why: tuple[str, ...], held_back: Mapping[str, str]
) -> Proposal:
    """The settings of the latest trial, and why nothing more is to be changed; what was held back is told by opening."""
    openings = _openings(case, held_back)
    return Proposal(kind=kind, settings=case.latest.settings, says=says, why=why, openings=openings)


def not_given(case: Case) -> tuple[str, ...]:
    """The openings for which nobody has said anything yet."""
    return tuple(opening for opening in OPENINGS if case.latest.verdicts.at(opening).says is None)


def ask(case: Case, held_back: Mapping[str, str]) -> Proposal:
    """Ask for the verdicts that are not given: of the last ride if they are remembered, else of another."""
    asks = not_given(case)
    where = " and at ".join(OPENINGS[opening] for opening in asks)
    return Proposal(
        kind="ask",
        settings=case.latest.settings,
        opening=asks[0],
        says=f"Say first how it ran at {where}: lean, right, rich, or can't tell. Nothing is written down there.",
        why=came_from(case),
        openings=_openings(case, held_back),
        asks=asks,
        to_do=(
            "Correct the latest trial with what you remember of it. If you don't, ride again with nothing changed:",
            *(f"{_LOOK[opening].capitalize()}." for opening in asks),
        ),
    )


def _openings(case: Case, held_back: Mapping[str, str], now: str = "", things: Mapping[str, str] | None = None) -> Rows:
    """What becomes of every opening: the one worked on now, the ones after it, and why not the others."""
    found = []
    for opening in tuple(OPENINGS)[::-1]:
        says = case.latest.verdicts.at(opening).says
        if opening == now:
            then = f"now, for {held_back[now]}" if now in held_back else "now"
        elif opening in held_back:
            then = f"not: {held_back[opening]}"
        elif says is None:
            then = "say how it ran there"
        elif says == "can't tell":
            then = "look at it on the next ride"
        elif says == "right":
            then = "leave it"
        else:
            then = f"after it, if it is still {says} there"
        thing = (things or {}).get(opening, ORDER[opening][0])
        found.append({"opening": OPENINGS[opening], "says": says or "not given", "thing": thing, "then": then})
    return tuple(found)


def change(
    case: Case, thing: str, found: Settings, wish: Wish, later: Sequence[Wish], held_back: Mapping[str, str]
) -> Proposal:
    """To set one thing one step richer or leaner: why this one, why first, what it takes, and what each result would settle.

    Parameters
    ----------
    thing : str
        What is set otherwise in `found`.
    found : Settings
        All settings of the next trial.
    wish, later : Wish, sequence of Wish
        What the step is for, and what is asked for besides.
    held_back : mapping
        Why nothing was done at an opening, by its key.
    """
    now, opening = case.latest.settings, wish.opening
    before, after = (worded(thing, values_of(one, thing)) for one in (now, found))
    jet = thing in JETS
    steps = (richness_step(thing, one, case.stock, case.air) for one in (now, found) if jet)
    asks = not_given(case)
    return Proposal(
        kind="change",
        settings=found,
        thing=thing,
        before=before,
        after=after,
        opening=opening,
        says=f"Go from {thing} {before} to {after}: {wish.reason}.{_then(later)}",
        why=(*_why_first(case, thing, wish, later), *came_from(case), *air_says(case, thing, found)),
        openings=_openings(case, held_back, opening, {opening: thing}),
        settles=_settles(case, thing, found, wish, later),
        asks=asks,
        richness=jet_richness(thing, found, now) if jet else None,
        working=tuple(step for step in steps if step),
        to_do=(
            "Let the engine cool down, and work in the open or with the doors open, with no flame or spark near.",
            f"{_HOW[thing].capitalize()}: {before} out, {after} in. Leave everything else as it is.",
            "Turn the fuel on and look for leaks before the engine is started.",
            f"Ride the same road as before: {_LOOK[opening]}.",
            *(f"No verdict yet at {OPENINGS[one]}: {_LOOK[one]}." for one in asks),
            "Write down the air, the verdict at every throttle opening, and the fuel used.",
        ),
        put_back=f"Set the {thing} back to {before}; keep the old part with the bike.",
        assumptions=(*PRACTICE, *((LAW,) if jet else ()), *not_in_the_figures([found], case.stock)),
    )


def _then(later: Sequence[Wish]) -> str:
    """What comes after a change, in a sentence."""
    if not later:
        return ""
    one = later[0]
    return f" The {ORDER[one.opening][0]} after it, if it is still {'lean' if one.richer else 'rich'} at {OPENINGS[one.opening]}."


def _why_first(case: Case, thing: str, wish: Wish, later: Sequence[Wish]) -> Iterator[str]:
    """Why this setting, and why before the others."""
    says = {case.latest.verdicts.at(opening).says for opening in OPENINGS}
    everywhere = _EVERYWHERE.get(str(next(iter(says)))) if len(says) == 1 else None
    if everywhere:
        yield everywhere
    yield f"The {thing} rules at {OPENINGS[wish.opening]}."
    if wish.richer and any(not one.richer for one in later):
        yield f"The {thing} first: what is lean is mended before what is rich, for lean can cost the engine."
    elif later:
        yield f"The {thing} first: {_FIRST[thing]}."


def _settles(case: Case, thing: str, found: Settings, wish: Wish, later: Sequence[Wish]) -> Rows:
    """What each verdict of the next ride at that opening would mean."""
    where, now = OPENINGS[wish.opening], case.latest.settings
    said, other = ("lean", "rich") if wish.richer else ("rich", "lean")
    before, after = (worded(thing, values_of(one, thing)) for one in (now, found))
    further = stepped(thing, found, wish.richer, case.sizes)
    if isinstance(further, Settings) and not wish.richer:
        further = too_lean(thing, further, case.stock, case.air, case.margin) or further
    again = (
        f"go on to {worded(thing, values_of(further, thing))}"
        if isinstance(further, Settings)
        else f"stop with this one: {further}"
    )
    rest = _then(later).strip() or "Leave it, if the other openings are right too."
    between = "the best lies between, and the richer of the two stays"
    back = f"{after} stays: {between}." if wish.richer else f"put back {before}: {between}."
    return (
        {"result": f"Right at {where}", "then": f"{after[:1].upper()}{after[1:]} is settled. {rest}"},
        {"result": f"Still {said} at {where}", "then": f"{again[:1].upper()}{again[1:]}."},
        {"result": f"{other.capitalize()} at {where}", "then": f"{back[:1].upper()}{back[1:]}"},
    )


def air_says(case: Case, thing: str | None = None, found: Settings | None = None) -> Iterator[str]:
    """What the air has to do with it: today against the day of the trial, and against the air of stock."""
    shift = case.day_shift()
    if abs(shift) >= 0.01:
        worth = mixture_worth(1.0 + shift)
        felt = "" if worth.can_be_felt or shift < 0 else ", which is too small to feel"
        yield (
            f"Today's air makes the same settings {100 * abs(shift):.1f} % {'richer' if shift > 0 else 'leaner'} than on that day{felt}."
        )
    ratio = jet_richness(thing, found, case.stock.settings) if thing in JETS and found is not None else None
    if thing is not None and ratio is not None and ratio < 1.0 - case.margin.richness:
        yield (
            f"In the air of stock this {thing} makes {ratio:.3f} of stock's richness, which is past the limit there: put "
            f"back the {worded(thing, values_of(case.stock.settings, thing))} before you ride where the air is denser."
        )


def came_from(case: Case) -> tuple[str, ...]:
    """What the latest trial changed against the one it builds on."""
    base = next((trial for trial in case.trials if trial.id == case.latest.builds_on), None)
    return () if base is None else (f"The latest trial: {what_changed(case.latest, base)}",)


def left_lean(case: Case, reasons: Sequence[str], held_back: Mapping[str, str]) -> Proposal:
    """What is lean and cannot be made richer by a step that is known: the one case that is not to be ridden on with."""
    says = f"Stop here: {'; '.join(dict.fromkeys(reasons))}, and no richer step is known. Do not ride on like that: lean at large "
    return as_it_is(case, "stop", says + "openings can ruin an engine.", came_from(case), held_back)


def repeat(
    case: Case | None,
    settings: Settings,
    opening: str | None,
    says: str,
    why: tuple[str, ...],
    held_back: Mapping[str, str] = MappingProxyType({}),
) -> Proposal:
    """To ride again with nothing changed; of an opening what to look at there, and what either result would mean."""
    look = _LOOK.values() if opening is None else (_LOOK[opening],)
    again: Rows = ()
    if (
        case is not None
        and opening is not None
        and (verdict := case.latest.verdicts.at(opening).says) in ("lean", "rich")
    ):
        at = OPENINGS[opening]
        again = (
            {"result": f"{verdict.capitalize()} at {at} again", "then": "Then it counts, and a change follows."},
            {"result": f"Not {verdict} at {at}", "then": "Then that verdict is dropped, and the new one counts."},
        )
    return Proposal(
        kind="repeat",
        settings=settings,
        opening=opening,
        says=says,
        why=why,
        openings=() if case is None else _openings(case, held_back),
        settles=again,
        asks=() if case is None else not_given(case),
        to_do=(
            "Change nothing.",
            "Ride the same road as before, with the engine warm.",
            *(f"{one.capitalize()}." for one in look),
            "Write down the air and the verdict at every throttle opening.",
        ),
    )


def next_trial_answer(found: Proposal, solved: Solved | None = None, assumed: tuple[str, ...] = ()) -> Answer:
    """A proposal as an answer; with the bike worked out, what a step of the main jet is worth in its roll-on too.

    >>> from ridesim.garage.trials import Settings
    >>> print(next_trial_answer(Proposal(kind="done", says="Leave it.", settings=Settings())))
    Leave it.
    """
    worth = None
    said: Sentence = (found.says,)
    if found.richness is not None and found.thing == "main jet":
        worth = mixture_worth(1.0 / found.richness, solved)
        said = (found.says, *worth.say(f" If {found.after} is right, {found.before} "))
    elif found.thing:
        said = (
            f"{found.says} What that is worth can't be said: the published curves are of full throttle, where this part hardly counts.",
        )
    return Answer(
        question="What to try next?",
        say=said,
        figures=Figures(*(worth.figures() if worth else ())),
        tables=tuple(_tables(found)),
        assumptions=(*assumed, *found.assumptions, *(worth_assumptions() if worth else ())),
        steps=found.working,
        notes=tuple(f"Nobody has said how it ran at {OPENINGS[one]}." for one in found.asks),
        cautions=found.cautions,
    )


def _tables(found: Proposal) -> Iterator[Table]:
    """Why this, why not the others, what to do, what would settle it, and the way back; each where there is anything."""
    steps = [{"step": n, "do": one} for n, one in enumerate(found.to_do, start=1)]
    for title, columns, rows in (
        ("Why", [("why", "")], [{"why": one} for one in found.why]),
        (
            "Opening by opening",
            [("opening", "Opening"), ("says", "Verdict"), ("thing", "Part"), ("then", "What of it")],
            found.openings,
        ),
        ("What to do", [("step", ""), ("do", "")], steps),
        ("What the next ride would settle", [("result", "If it is"), ("then", "then")], found.settles),
        ("To put it back", [("how", "")], [{"how": found.put_back}] if found.put_back else []),
    ):
        if rows:
            yield table_from(title, rows, *((*one, "number" if one[0] == "step" else "text") for one in columns))
