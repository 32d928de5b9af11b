"""The app, made once, and its callbacks posted as a browser posts them."""

from __future__ import annotations

from typing import Any

import pytest
from support.posted import Posted

from dashboard.app import create_app
from dashboard.pages.road import log_upload


@pytest.fixture(scope="session")
def app() -> Any:
    return create_app()


@pytest.fixture(scope="session")
def posted(app: Any) -> Posted:
    return Posted(app)


@pytest.fixture(scope="session")
def sent(posted: Posted) -> Any:
    """What the app answers to a log that is handed over: what the browser keeps of it, or why it is refused."""

    def answered(raw: bytes, name: str = "ride.csv", **hand: str) -> Any:
        answer = posted.client.post(log_upload.PATH, query_string={"name": name, **hand}, data=raw)
        assert answer.status_code == 200 and set(answer.json) in ({"kept", "name"}, {"error"})
        return answer.json

    return answered
