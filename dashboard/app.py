"""The app: made, guarded, and served on this machine alone unless asked otherwise."""

from __future__ import annotations

import contextlib
import errno
import html
import logging
import socket
import sys
import tempfile
import threading
import webbrowser
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urljoin

from dash import Dash
from flask import Flask, Response, redirect, request

from dashboard import compression, layout, open_logs, pages
from dashboard.first_paint import FirstPaintDash
from dashboard.pages.garage import garage_files
from dashboard.pages.road import log_upload
from dashboard.security import checks, payloads
from dashboard.security import phone as phones
from dashboard.security.access_key import Door, chosen_key
from dashboard.url_state import State, garage_text, to_query
from ridesim.buildfile.io import parse
from ridesim.errors import InputError

# an icon whose address does not say that it keeps (m) is asked for again at every change of a page's address
_PAGE = """<!DOCTYPE html>
<html lang="en">
  <head>
    {%metas%}
    <meta name="viewport" content="width=device-width, initial-scale=1">
    <meta name="color-scheme" content="light dark">
    <title>{%title%}</title>
    <link rel="icon" type="image/svg+xml" href="/assets/mark.svg?m=1">
    <script src="/assets/early.js"></script>
    {%css%}
  </head>
  <body>
    <noscript>
      <style>.served .chart-card { display: none; }</style>
      <p class="notice">What you read is up to date. To change anything and to see it drawn, please let JavaScript run.</p>
    </noscript>
    {%app_entry%}
    {%config%}{%scripts%}{%renderer%}
    <script src="/assets/first_paint.js"></script>
  </body>
</html>
"""


def create_app(*, allowed: frozenset[str] | None = None, door: Door | None = None, garage: Path | None = None) -> Dash:
    """The app; `allowed` are the names it answers to (any when None), `door` lets its rider in (everyone when None), and
    `garage` is the garage file it may open (none when None).
    """
    app = FirstPaintDash(
        "dashboard",
        assets_folder=str(Path(__file__).parent / "assets"),
        assets_ignore=r"early\.js|first_paint\.js",
        title="ridesim",
        update_title="",
        serve_locally=True,
        index_string=_PAGE,
        include_pages_meta=False,
        # The browser would otherwise be sent every page at once to check the wiring anew at each start: the tests check it.
        suppress_callback_exceptions=True,
        on_error=layout.fault,
    )
    garage_text.stand(app.server, garage)
    app.layout = layout.layout()
    layout.register(app)
    garage_files.register(app.server)
    log_upload.register(app.server)
    app.enable_dev_tools(debug=False)
    checks.stand(
        app.server,
        allowed=allowed,
        door=door,
        page=pages.known,
        script_hashes=app.csp_hashes(),
    )
    _lead_on(app.server)
    payloads.stand(app)
    compression.stand(app.server)
    return app


def _lead_on(server: Flask) -> None:
    """Lead the addresses of older links to where their pages have gone; an address that is none is not found."""

    @server.before_request
    def lead_on() -> Any:
        place = pages.OLD.get(pages.tidy(request.path))
        if place is None or request.method != "GET":
            return None
        path, _, anchor = place.partition("#")
        query = request.query_string.decode("ascii", "ignore")
        return redirect(f"{path}{'?' if query else ''}{query}#{anchor}")

    @server.after_request
    def not_found(response: Response) -> Response:
        if (
            response.status_code == 200
            and request.endpoint == "/<path:path>"
            and pages.at(request.path) is pages.NOWHERE
        ):
            response.status_code = 404
        return response


def serve(
    host: str = "127.0.0.1",
    port: int = 8050,
    key_file: Path | None = None,
    build_text: str | None = None,
    open_browser: bool = False,
    garage: Path | None = None,
    phone: bool = False,
) -> None:
    """Serve the app until stopped; on an address other than this machine's own it needs an access key of the rider's choice.

    Parameters
    ----------
    host, port
        Where to listen.
    key_file
        A file with the access key that other machines must give; when None, the variable RIDESIM_KEY may hold it.
    build_text
        A build file to begin with, as text; it goes into the link that is printed and nowhere else.
    open_browser
        Whether to open that link in the browser of this machine.
    garage
        The garage file; when None, the rider's own on this machine's address, and none on any other.
    phone
        Let the rider's phone in too, over the local network, by an address that works once.

    Raises
    ------
    InputError
        The address cannot be listened on, the key will not do, or there is no network for the phone.
    """
    chosen = chosen_key(key_file)
    on_network = phones.address(host) if phone else ""
    host = "0.0.0.0" if phone and checks.is_loopback(host) else host
    checks.check_address(host, port, "works once" if phone else chosen)
    local = checks.is_loopback(host)
    first = State(own=parse(build_text).text) if build_text is not None else State()
    listener = _listener(host, port)
    door = Door(port, chosen, start=_start(first) if phone else None)
    app = create_app(
        allowed=checks.names(host, port), door=door, garage=garage_text.chosen(garage, local=local or phone)
    )
    server = _server(app, listener)
    compression.begin()
    address = checks.url(host, port) + _entrance(first, door.key)
    _warm_up(app, address, first)
    print(f"ridesim: {address}", flush=True)
    if phone:
        print(phones.spoken(f"{checks.url(on_network, port)}/?key={door.once}", sys.stdout.encoding), flush=True)
        print(phones.CAUTION, file=sys.stderr, flush=True)
    elif not local:
        print(_WARNING.format(host=host, port=port, garage=_GARAGE if garage else ""), file=sys.stderr, flush=True)
    with _opened(address) if open_browser else contextlib.nullcontext():
        server.run()


_WARNING = """\
This opens the app to every machine that can reach {host} port {port}, in plain HTTP: whoever has the key (?key=...) can use it.
{garage}Nothing else of your files can be read or written. Stop it with Ctrl-C."""
_GARAGE = "The garage named can be read and added to through it; "


def _warm_up(app: Dash, address: str, first: State) -> None:
    """Answer every page of the first bike before the address is told: what a process works out only once, no rider waits for."""
    with app.server.test_client() as rider:
        rider.get(address)
        for page in pages.PAGES:
            rider.get(urljoin(address, page.path + to_query(first)))


def _start(first: State) -> str:
    """The page that the app begins with."""
    return f"/{to_query(first)}"


def _entrance(first: State, key: str) -> str:
    """The path and query of the printed address."""
    start = _start(first)
    return f"{start}{'&' if '?' in start else '?'}key={key}"


def _listener(host: str, port: int) -> socket.socket:
    """The place to listen, which is nobody else's from here on."""
    try:
        family, *_, place = socket.getaddrinfo(host.strip("[]"), port, type=socket.SOCK_STREAM)[0]
        return socket.create_server(place[:2], family=family, backlog=1024)
    except PermissionError:
        raise InputError(
            "--port", port, "is not yours to listen on", "Choose one from 1024 up, or leave it out for 8050."
        ) from None
    except (OSError, ValueError) as error:  # a name that cannot be looked up is a ValueError
        if isinstance(error, OSError) and error.errno == errno.EADDRINUSE:
            raise InputError(
                "--port", port, "is in use by another program", "Stop that one, or choose another port."
            ) from None
        raise InputError("--host", host, "is no address of this machine", "Leave it out for 127.0.0.1.") from None


def _server(app: Dash, listener: socket.socket) -> Any:
    import waitress

    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    return waitress.create_server(
        app.server,
        sockets=[listener],
        ident=None,
        threads=16,  # a browser has six requests under way at most: a few slow ones leave room for the others
        connection_limit=500,  # half-sent requests hold a connection and no thread; below the 1,024 of select()
        channel_timeout=15,  # [s] of silence in the middle of a request, or between two
        cleanup_interval=5,  # [s]
        max_request_header_size=65_536,  # bytes: the longest link, with a build in it, is 40,000
        # what is no log is held to the smaller limit by the app itself
        max_request_body_size=max(checks.LARGEST_REQUEST, open_logs.LARGEST + 1000),  # bytes
    )


@contextlib.contextmanager
def _opened(address: str) -> Iterator[None]:
    """Open the browser at the address by way of a file of the rider's own: every user can read what programs are started with."""
    with tempfile.TemporaryDirectory(prefix="ridesim-", ignore_cleanup_errors=True) as folder:
        door = Path(folder) / "open.html"
        link = html.escape(address)
        door.write_text(
            f'<!DOCTYPE html><meta charset="utf-8"><meta http-equiv="refresh" content="0; url={link}">'
            f'<title>ridesim</title><a href="{link}">ridesim</a>',
            encoding="utf-8",
        )
        # a browser of the terminal would hold up the server
        threading.Thread(target=webbrowser.open, args=(door.as_uri(),), daemon=True).start()
        yield
