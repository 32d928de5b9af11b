"""The pages that begin with a log from the road."""

from __future__ import annotations

from dashboard.pages import coastdown, own_ride, pull_log, ratios
from dashboard.pages.page import Page

PAGES: tuple[Page, ...] = (coastdown.PAGE, pull_log.PAGE, ratios.PAGE, own_ride.PAGE)
