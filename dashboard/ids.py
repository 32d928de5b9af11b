"""The names of everything a callback touches, so that a slip is an error of the program and not a silent nothing."""

from __future__ import annotations

PLACE = "place"  # the browser's address
LINK = "link"  # a query to open: from the address, a page, or a button
REPLACE = "replace"  # a query with another build, opened once the rider agrees to lose an unsaved one
QUERY = "query"  # the query of the state that is shown
THEME = "theme"  # "light" or "dark", kept by the browser
PAGE = "page"
MAIN = "main"
NOTICE = "notice"  # what of a link could not be used
FAULT = "fault"  # a fault of the program
SUMMARY = "summary"
SET_UPS = "set-ups"
DESK = "desk"  # the set-ups beside the page
SAME = "same"
TAKE_OVER = "take-over"
SWAP = "swap"
UNDO = "undo"
REDO = "redo"
UNITS = "units"
THEME_SWITCH = "theme-switch"
COPY = "copy"
COPIED = "copied"
SINK = "sink"  # where clientside callbacks without a result write
SET_UP = ("front", "rear", "rear-tire", "front-tire", "tune", "luggage")
RIDE = ("cruise", "grade", "head-wind", "surface")
FIELDS = (*(which + key for key in SET_UP for which in ("", "planned-")), *RIDE)


def field(key: str) -> str:
    """The field of a value of the state."""
    return f"field-{key}"


def slider(key: str) -> str:
    """The slider beside a field."""
    return f"slider-{key}"


def part(page: str, name: str) -> str:
    """A part of a page."""
    return f"{page}-{name}"
