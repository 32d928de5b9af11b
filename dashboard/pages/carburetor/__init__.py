"""Carburetor: from a symptom to the next trial, jets, needle, intake and idle."""

from __future__ import annotations

from dashboard.pages.carburetor import altitude, idle, intake, jets, needle, symptoms, trials
from dashboard.pages.page import Page

PAGE = Page(
    path="/carburetor",
    name="Carburetor",
    lead="From what the engine says to the next change, one at a time, and back.",
    sections=(
        symptoms.SECTION,
        trials.SECTION,
        jets.SECTION,
        altitude.SECTION,
        needle.SECTION,
        intake.SECTION,
        idle.SECTION,
    ),
    set_ups=False,
)
