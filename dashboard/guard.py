"""What keeps the app to one machine and one rider: names it answers to, a key for other addresses, headers, sizes."""

from __future__ import annotations

import contextlib
import hmac
import ipaddress
import secrets
from urllib.parse import urlsplit

from flask import Flask, Request, Response, abort, redirect, request

from ridesim.errors import InputError

LARGEST_REQUEST = 2_000_000  # bytes: a build file of 1 MB as an upload, and its wrapping
SHORTEST_KEY = 12
COOKIE = "ridesim-door"
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
    """Refuse to open the app to others without a key."""
    if not 1 <= port <= 65535:
        raise InputError("--port", port, "must be from 1 to 65535", "Leave it out for 8050.")
    if key is not None and len(key) < SHORTEST_KEY:
        raise InputError("--key", None, f"is shorter than {SHORTEST_KEY} characters", "Choose a longer one.")
    if not is_loopback(host) and key is None:
        raise InputError(
            "--host", host, "opens the app to other machines", "Give --key with an access key too, or leave --host out."
        )


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
    import socket

    found = {socket.gethostname(), socket.getfqdn()}
    with contextlib.suppress(OSError):
        found |= {str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None)}
    probe = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        probe.connect(("192.0.2.1", 9))  # nothing is sent: it only asks which of its addresses would be used
        found.add(str(probe.getsockname()[0]))
    except OSError:
        pass
    finally:
        probe.close()
    return {f"[{name}]" if ":" in name else name for name in found if name}


def stand(server: Flask, *, allowed: frozenset[str] | None, key: str | None, script_hashes: list[str]) -> None:
    """Put the checks before every request and the headers on every response."""
    server.config["MAX_CONTENT_LENGTH"] = LARGEST_REQUEST
    token = secrets.token_urlsafe(32)
    policy = _policy(script_hashes)

    @server.before_request
    def check() -> Response | None:
        if allowed is not None and request.host.lower() not in allowed:
            abort(421)
        if request.method not in ("GET", "HEAD", "OPTIONS", "POST"):
            abort(405)
        if request.method == "POST" and not _from_here(request):
            abort(403)
        return None if key is None else _door(request, key, token)

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
    return origin is None or urlsplit(origin).netloc.lower() == asked.host.lower()


def _door(asked: Request, key: str, token: str) -> Response | None:
    if hmac.compare_digest(asked.cookies.get(COOKIE, ""), token):
        return None
    given = asked.args.get("key", "")
    if asked.method == "GET" and hmac.compare_digest(given.encode(), key.encode()):
        response = redirect(asked.path if asked.path.startswith("/") and not asked.path.startswith("//") else "/")
        response.set_cookie(COOKIE, token, httponly=True, samesite="Strict", max_age=30 * 24 * 3600)
        return response  # type: ignore[return-value]
    return Response(
        "This needs the access key: open the address with ?key=... at its end.\n", 401, mimetype="text/plain"
    )
