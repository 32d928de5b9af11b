"""Road: what logs of a ride say of the bike."""

from __future__ import annotations

from dashboard.pages.page import Page
from dashboard.pages.road import coast_down, own_ride, pull_log, ratios

PAGE = Page(
    path="/road",
    name="Road",
    lead="Your own rides, logged with a phone: resistance, power, gears, and your own ride with another set-up.",
    sections=(coast_down.SECTION, pull_log.SECTION, ratios.SECTION, own_ride.SECTION),
)
