"""The app: made, guarded, and served on this machine alone unless asked otherwise."""

from __future__ import annotations

import logging
import sys
from pathlib import Path

from dash import Dash

from dashboard import ask, guard, kept, shell
from dashboard.road import log_files, logs
from dashboard.state import State, to_query
from dashboard.workshop import garage_files
from ridesim.build import parse

_PAGE = """<!DOCTYPE html>
<html lang="en">
  <head>
    {%metas%}
    <meta name="viewport" content="width=device-width, initial-scale=1">
    <meta name="color-scheme" content="light dark">
    <title>{%title%}</title>
    <link rel="icon" type="image/svg+xml" href="/assets/mark.svg">
    <script src="/assets/early.js"></script>
    {%css%}
  </head>
  <body>
    <noscript>These pages draw themselves with JavaScript: please let it run.</noscript>
    {%app_entry%}
    <footer>{%config%}{%scripts%}{%renderer%}</footer>
  </body>
</html>
"""


def create_app(*, allowed: frozenset[str] | None = None, key: str | None = None, garage: Path | None = None) -> Dash:
    """The app; `allowed` are the names it answers to (any when None), `key` opens the door to other machines, and
    `garage` is the garage file it may open (none when None).
    """
    app = Dash(
        "dashboard",
        assets_folder=str(Path(__file__).parent / "assets"),
        assets_ignore=r"early\.js",
        title="ridesim",
        update_title="",
        serve_locally=True,
        index_string=_PAGE,
        include_pages_meta=False,
        # The browser would otherwise be sent every page at once to check the wiring anew at each start: the tests check it.
        suppress_callback_exceptions=True,
        on_error=shell.fault,
    )
    kept.stand(app.server, garage)
    app.layout = shell.layout()
    shell.register(app)
    garage_files.register(app.server)
    log_files.register(app.server)
    app.enable_dev_tools(debug=False)
    guard.stand(app.server, allowed=allowed, key=key, script_hashes=app.csp_hashes())
    return app


def serve(
    host: str = "127.0.0.1",
    port: int = 8050,
    key: str | None = None,
    build_text: str | None = None,
    open_browser: bool = False,
    garage: Path | None = None,
) -> None:
    """Serve the app until stopped; on an address other than this machine's own it needs an access key.

    Parameters
    ----------
    host, port
        Where to listen.
    key
        The access key that other machines must give.
    build_text
        A build file to begin with, as text; it goes into the link that is printed and nowhere else.
    open_browser
        Whether to open that link in the browser of this machine.
    garage
        The garage file; when None, the rider's own on this machine's address, and none on any other.
    """
    import waitress

    guard.check_address(host, port, key)
    first = State(own=parse(build_text).text) if build_text is not None else State()
    start = to_query(first)
    ask.now(first)  # what the first answer of a process has to read is read before the door opens
    app = create_app(
        allowed=guard.names(host, port), key=key, garage=kept.chosen(garage, local=guard.is_loopback(host))
    )
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    local = guard.is_loopback(host)
    shown = "localhost" if host in ("0.0.0.0", "::") else host
    address = f"http://{shown}:{port}/{start and 'gears' + start}"
    print(f"ridesim: {address}", flush=True)
    if not local:
        print(
            f"This opens the app to every machine that can reach {host} port {port}, in plain HTTP: whoever has the key (?key=...) can use it.\n"
            + ("The garage named can be read and added to through it; " if garage else "")
            + "Nothing else of your files can be read or written. Stop it with Ctrl-C.",
            file=sys.stderr,
            flush=True,
        )
    if open_browser:
        _open_soon(address)
    # what is no log is held to the smaller limit by the app itself
    largest = max(guard.LARGEST_REQUEST, logs.LARGEST + 1000)
    waitress.serve(app.server, host=host, port=port, threads=4, ident=None, max_request_body_size=largest)


def _open_soon(address: str) -> None:
    """Open the browser once the server, which starts after this, has had a moment to listen."""
    import threading
    import webbrowser

    timer = threading.Timer(0.7, webbrowser.open, args=(address,))
    timer.daemon = True
    timer.start()
