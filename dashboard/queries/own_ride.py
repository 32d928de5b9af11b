"""The rider's own ride for the choice of sprockets: the log opened on the Road page, or the logs kept in the garage with the bike."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from typing import Concatenate, ParamSpec, TypeVar

from dashboard import open_logs, queries
from dashboard.url_state import State, garage_text
from dashboard.url_state.fields import place
from dashboard.url_state.limits_form import GARAGE
from ridesim.errors import InputError
from ridesim.garage.parts import PartsKept, parts_kept
from ridesim.garage.store import default_path
from ridesim.logs.log import Log, part_of
from ridesim.logs.reader import read_log_bytes
from ridesim.units import quantity

P = ParamSpec("P")
T = TypeVar("T")
Made = Callable[Concatenate[State, P], T]
ENDS = "\n"  # parts the word of a log from the ends of its stretch
KEPT = re.compile(rf"{GARAGE} [\w-]+(?: [\w-]+)*")


def settled(state: State) -> State:
    """The state with its rides named in full, so that an answer is remembered of these and no others: the logs of the garage one
    by one, the log of the Road page with the stretch of it that is used there."""
    word = state.limits_form.ride
    if word != GARAGE:
        ends = [getattr(state.fields, place(f"own-ride-{end}-s")) or "" for end in ("from", "to")]
        if not word or not any(ends):
            return state
        return replace(state, limits_form=replace(state.limits_form, ride=ENDS.join((word, *ends))))
    with garage_text.opened() as garage:
        bike = garage.revision(state.revision).bike if state.revision else queries.loaded(state).name
        known = {one.name for one in garage.bikes()}
        kept = garage.logs(bike) if bike in known else ()
    if not kept:
        fix = "Keep one with the command: ridesim garage log add. Or open one on the Road page."
        raise InputError("ride", None, "is none yet: the garage keeps no log of this bike", fix)
    form = replace(state.limits_form, ride=" ".join((GARAGE, *(one.id for one in kept))))
    return replace(state, limits_form=form)


def rides(state: State) -> tuple[Log, ...]:
    """The rides of a settled state."""
    word = state.limits_form.ride
    if not word:
        return ()
    if KEPT.fullmatch(word):
        return tuple(_kept(str(garage_text.path()), one) for one in word.split()[1:])
    log, ends = _opened(word).log, word.split(ENDS)[1:]
    if log is None:
        raise InputError("ride", None, "is no longer here", "Open it again on the Road page, or take it out.")
    span = (float(quantity(end, "time", "s", "ride")) if end else None for end in ends or ("", ""))
    return (part_of(log, *span),)


def _opened(word: str) -> open_logs.Opened:
    word = word.split(ENDS)[0]
    demo = word.removeprefix("demo ")
    (found,) = open_logs.opened_by([{"demo": demo} if demo != word else {"kept": word, "name": "your ride"}])
    return found


@lru_cache(maxsize=8)
def _kept(where: str, log: str) -> Log:
    with garage_text.opened() as garage:
        return read_log_bytes(garage.log_content(log), "a log of the garage")


def remembered(size: int) -> Callable[[Made[P, T]], Made[P, T]]:
    """Remember what is made of settled states; what is made of an open log goes when that log does."""

    def of(make: Made[P, T]) -> Made[P, T]:
        plain: Made[P, T] = lru_cache(maxsize=size)(make)

        def ask(state: State, /, *more: P.args, **named: P.kwargs) -> T:
            word = state.limits_form.ride
            if not word or KEPT.fullmatch(word):
                return plain(state, *more, **named)
            question = (make, state, *more, *named.items())
            found: T = open_logs.remembered((_opened(word),), question, lambda: make(state, *more, **named))
            return found

        return ask

    return of


def parts(state: State) -> PartsKept:
    """The tires and tunes that lie in the garage, if there is one."""
    where = garage_text.path()
    if where is None or (where == default_path() and not where.is_file()):
        return PartsKept(tires={}, tunes=())
    with garage_text.opened() as garage:
        return parts_kept(garage, queries.loaded(state))
