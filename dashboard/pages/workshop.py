"""The pages of the bench and the garage, in the order in which a rider comes to them."""

from __future__ import annotations

from dashboard.pages import garage, idle, intake, jets, needle, symptoms, trials
from dashboard.pages.page import Page

BENCH: tuple[Page, ...] = (jets.PAGE, symptoms.PAGE, needle.PAGE, intake.PAGE, idle.PAGE)
KEPT: tuple[Page, ...] = (trials.PAGE, garage.PAGE)
