"""My bike: a first answer from a few figures, and everything the answers are computed from."""

from __future__ import annotations

from dashboard.pages.my_bike import build, evidence, start
from dashboard.pages.page import Page

PAGE = Page(
    path="/",
    name="My bike",
    lead="What it is, what was measured, and what the answers rest on.",
    sections=(start.SECTION, build.SECTION, evidence.SECTION),
)
