"""What stands behind an answer: from the foot of each to the equations and printed figures it goes back to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html

from dashboard.static_html import internal_link
from ridesim.proof import TOPICS

PATH = "/how-we-know"
# the topics behind each answer, by the key of its page
BEHIND: Mapping[str, tuple[str, ...]] = {
    "gears": ("gears", "tires"),
    "cruise": ("road", "gears", "fuel"),
    "pull": ("gears", "power", "road"),
    "hills": ("lift", "gears", "road"),
    "lift": ("lift", "steering", "gears"),
    "front": ("lift", "gears"),
    "run": ("gears", "lift", "road"),
    "chain": ("chain",),
    "tires": ("tires", "steering"),
    "engine": ("power", "air"),
    "sprockets": ("gears", "lift", "chain", "road"),
    "coast-down": ("logs", "road", "air"),
    "road-pull": ("logs", "road", "gears"),
    "ratios": ("logs", "gears"),
    "own-ride": ("logs", "gears", "lift"),
    "jets": ("carburetor", "air", "fuel"),
    "altitude": ("carburetor", "air", "gears"),
    "symptoms": ("carburetor",),
    "needle": ("carburetor",),
    "intake": ("carburetor", "air"),
    "idle": ("carburetor",),
    "trials": ("carburetor", "air"),
}
_TITLES = {topic.key: topic.title for topic in TOPICS}


def links(page: str) -> Any:
    """The way to what stands behind the answers of a page."""
    keys = BEHIND.get(page, ())
    if not keys:
        return None
    parts: list[Any] = ["How we know: "]
    for key in keys:
        parts += [internal_link(_TITLES[key], f"{PATH}#{key}"), " · "]
    return html.P(parts[:-1], className="quiet unprinted")
