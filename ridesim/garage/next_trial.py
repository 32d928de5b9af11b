"""What to try next, as an answer: why this and not the others, how, what it is worth, and what would settle it."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.answers.answer import Answer, Column, Figures, Table
from ridesim.answers.solved import Solved
from ridesim.fueling.mixture_power import mixture_worth, worth_assumptions
from ridesim.garage.proposal import Proposal
from ridesim.garage.trials import OPENINGS


def next_trial_answer(found: Proposal, solved: Solved | None = None, assumed: tuple[str, ...] = ()) -> Answer:
    """A proposal as an answer; with the bike worked out, what a step of the main jet is worth in its roll-on too.

    >>> from ridesim.garage.trials import Settings
    >>> print(next_trial_answer(Proposal(kind="done", says="Leave it.", settings=Settings())))
    Leave it.
    """
    worth = None
    if found.richness is not None and found.thing == "main jet":
        worth = mixture_worth(1.0 / found.richness, solved)
    return Answer(
        question="What to try next?",
        say=(found.says, *(() if worth is None else worth.say(f" If {found.after} is right, {found.before} "))),
        figures=Figures(*(worth.figures() if worth else ())),
        tables=tuple(_tables(found)),
        assumptions=(*assumed, *found.assumptions, *(worth_assumptions() if worth else ())),
        steps=found.working,
        notes=tuple(f"Nobody has said how it ran at {OPENINGS[one]}." for one in found.asks),
        cautions=found.cautions,
    )


def _tables(found: Proposal) -> Iterator[Table]:
    """Why this, why not the others, what to do, what would settle it, and the way back; each where there is anything."""
    openings = tuple(
        {"opening": OPENINGS[one.opening], "says": one.says or "not given", "thing": one.thing, "then": one.then}
        for one in found.openings
    )
    steps = tuple({"step": n, "do": one} for n, one in enumerate(found.to_do, start=1))
    settles = tuple({"result": one.result, "then": one.then} for one in found.settles)
    for title, names, rows in (
        ("Why", {"why": ""}, tuple({"why": one} for one in found.why)),
        (
            "Opening by opening",
            {"opening": "Opening", "says": "Verdict", "thing": "Part", "then": "What of it"},
            openings,
        ),
        ("What to do", {"step": "", "do": ""}, steps),
        ("What the next ride would settle", {"result": "If it is", "then": "then"}, settles),
        ("To put it back", {"how": ""}, ({"how": found.put_back},) if found.put_back else ()),
    ):
        if rows:
            columns = (
                Column(key=key, label=label, reading="number" if key == "step" else "text")
                for key, label in names.items()
            )
            yield Table(title=title, columns=tuple(columns), rows=rows)
