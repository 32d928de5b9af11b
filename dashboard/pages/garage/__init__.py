"""Garage: the bikes and their history, and the decision as a sheet of paper."""

from __future__ import annotations

from dashboard.pages.garage import garage, sheet
from dashboard.pages.page import Page

PAGE = Page(
    path="/garage",
    name="Garage",
    lead="What is kept, and what goes on the wall.",
    sections=(garage.SECTION, sheet.SECTION),
)
