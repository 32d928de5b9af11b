"""What keeps the app to one machine and one rider: names it answers to, its door, headers, sizes."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
from collections.abc import Callable
from urllib.parse import urlsplit

from dash.exceptions import DependencyException
from flask import Flask, Request, Response, abort, request

from dashboard.security.access_key import VARIABLE, Door
from dashboard.security.phone import outward_address
from ridesim.errors import InputError

LARGEST_REQUEST = 2_000_000  # bytes: a build file of 1 MB as an upload, and its wrapping
LOCAL = ("127.0.0.1", "localhost", "[::1]")


def is_loopback(host: str) -> bool:
    """Whether an address is this machine's own."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def check_address(host: str, port: int, key: str | None) -> None:
    """Refuse to open the app to others without a key of the rider's choice."""
    if not 1 <= port <= 65535:
        raise InputError("--port", port, "must be from 1 to 65535", "Leave it out for 8050.")
    if not is_loopback(host) and key is None:
        raise InputError(
            "--host",
            host,
            "opens the app to other machines",
            f"Put an access key into {VARIABLE} or a file named by --key-file too, or leave --host out.",
        )


def url(host: str, port: int) -> str:
    """The address of the app as this machine's browser asks for it.

    >>> url("0.0.0.0", 8050), url("::1", 8050)
    ('http://localhost:8050', 'http://[::1]:8050')
    """
    name = "localhost" if host in ("0.0.0.0", "::") else host.strip("[]")
    return f"http://[{name}]:{port}" if ":" in name else f"http://{name}:{port}"


def names(host: str, port: int) -> frozenset[str]:
    """What a browser may call this app: anything else is another site that resolves to this machine."""
    if is_loopback(host):
        own = {*LOCAL, host if ":" not in host else f"[{host.strip('[]')}]"}
    elif host in ("0.0.0.0", "::"):
        own = {*LOCAL, *_own_addresses()}
    else:
        own = {host}
    return frozenset({f"{name}:{port}" for name in own} | (own if port == 80 else set()))


def _own_addresses() -> set[str]:
    found = {socket.gethostname(), socket.getfqdn()}
    with contextlib.suppress(OSError):
        found |= {str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None)}
    found.add(outward_address() or "")
    return {f"[{name}]" if ":" in name else name for name in found if name}


def stand(
    server: Flask,
    *,
    allowed: frozenset[str] | None,
    door: Door | None,
    page: Callable[[str], str],
    script_hashes: list[str],
) -> None:
    """Put the checks before every request and the headers on every response; `page` makes a page's path of any path."""
    server.config["MAX_CONTENT_LENGTH"] = LARGEST_REQUEST
    policy = _policy(script_hashes)

    @server.before_request
    def check() -> Response | None:
        if allowed is not None and request.host.lower() not in allowed:
            abort(421)
        if not request.path.isprintable():
            abort(404)
        if request.method not in ("GET", "HEAD", "OPTIONS", "POST"):
            abort(405)
        if request.method == "POST" and not _from_here(request):
            abort(403)
        return None if door is None else door.check(request, page)

    @server.errorhandler(DependencyException)
    @server.errorhandler(FileNotFoundError)
    def nothing_there(_: Exception) -> tuple[str, int]:
        """The page library takes a script that it does not have for a fault of the program."""
        return "", 404

    @server.after_request
    def headers(response: Response) -> Response:
        response.headers.update(
            {
                "Content-Security-Policy": policy,
                "X-Content-Type-Options": "nosniff",
                "X-Frame-Options": "DENY",
                "Referrer-Policy": "no-referrer",
                "Cross-Origin-Opener-Policy": "same-origin",
                "Cross-Origin-Resource-Policy": "same-origin",
                "Permissions-Policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
            }
        )
        return response


def _policy(script_hashes: list[str]) -> str:
    # The layout library and the charts write their styles into the page as they go: styles may be inline, scripts not.
    rules = {
        "default-src": "'self'",
        "script-src": " ".join(["'self'", *script_hashes]),
        "style-src": "'self' 'unsafe-inline'",
        "img-src": "'self' data: blob:",
        "font-src": "'self' data:",
        "connect-src": "'self'",
        "worker-src": "'self' blob:",
        "object-src": "'none'",
        "base-uri": "'none'",
        "form-action": "'self'",
        "frame-ancestors": "'none'",
    }
    return "; ".join(f"{name} {value}" for name, value in rules.items())


def _from_here(asked: Request) -> bool:
    """A form or script of another site may not post here."""
    origin = asked.headers.get("Origin")
    try:
        return origin is None or urlsplit(origin).netloc.lower() == asked.host.lower()
    except ValueError:  # no address at all
        return False
