"""The app, made once, and its callbacks posted as a browser posts them."""

from __future__ import annotations

from typing import Any

import pytest
from support.posted import Posted

from dashboard.app import create_app


@pytest.fixture(scope="session")
def app() -> Any:
    return create_app()


@pytest.fixture(scope="session")
def posted(app: Any) -> Posted:
    return Posted(app)
