"""What goes over the wire: compressed where the browser takes it, and scripts kept by the browser until they change."""

from __future__ import annotations

import gzip
import threading
from functools import lru_cache
from pathlib import Path

import dash
import dash_ag_grid
import dash_mantine_components
import plotly
from flask import Flask, Response, request

WORTH_IT = 1400  # bytes: what goes into one packet anyway gains nothing
_TEXTS = ("text/html", "text/css", "text/javascript", "application/javascript", "application/json", "image/svg+xml")
_FILES = ("/_dash-component-suites/", "/assets/")
_LONG = "private, max-age=31536000, immutable"
_LARGE = (  # what a page loads that takes more than a moment to compress
    (plotly, "package_data/plotly.min.js"),
    (dash_mantine_components, "dash_mantine_components.js"),
    (dash_ag_grid, "dash_ag_grid.min.js"),
    (dash_ag_grid, "async-community.js"),
    (dash, "dash-renderer/build/dash_renderer.min.js"),
    (dash, "dcc/dash_core_components.js"),
)

for _script in dash_ag_grid._js_dist[:1]:
    _script["async"] = True  # no page waits for it: assets/long_table.js asks for it where a long table is


@lru_cache(maxsize=64)
def _file(data: bytes) -> bytes:
    """A script or a style, compressed once."""
    return gzip.compress(data, 6, mtime=0)


def stand(server: Flask) -> None:
    """Compress every answer that gains by it, and say how long it keeps."""

    @server.after_request
    def pack(response: Response) -> Response:
        file = request.path.startswith(_FILES)
        if file and response.status_code == 200 and _named_for_its_content():
            response.headers["Cache-Control"] = _LONG
        elif file:
            response.headers.setdefault("Cache-Control", "no-cache")
        else:
            response.headers.setdefault("Cache-Control", "no-store")
        if response.mimetype not in _TEXTS or response.status_code != 200 or "Content-Encoding" in response.headers:
            return response
        response.vary.add("Accept-Encoding")
        if not request.accept_encodings.quality("gzip") or request.method == "HEAD":
            return response
        response.direct_passthrough = False
        data = response.get_data()
        if len(data) > WORTH_IT:
            response.set_data(_file(data) if file else gzip.compress(data, 1))
            response.headers["Content-Encoding"] = "gzip"
        return response


def _named_for_its_content() -> bool:
    """Whether another content would have another address: the page library writes the time of the file into it."""
    return "m" in request.args or ".v" in request.path.rpartition("/")[2]


def begin() -> None:
    """Compress what every page loads while the first answer is worked out."""

    def work() -> None:
        for package, path in _LARGE:
            _file(Path(package.__path__[0], path).read_bytes())

    threading.Thread(target=work, daemon=True).start()
