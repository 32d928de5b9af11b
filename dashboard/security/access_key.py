"""The door of the app: whoever gives the key once comes in, and a browser that did comes in by its cookie after that."""

from __future__ import annotations

import hmac
import ipaddress
import os
import secrets
import stat
import threading
import time
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlencode
from zlib import crc32

from flask import Request, Response, after_this_request, redirect

from ridesim.errors import InputError

SHORTEST_KEY = 12  # characters
LARGEST_KEY_FILE = 1000  # bytes
VARIABLE = "RIDESIM_KEY"
_COOKIE_S = 30 * 24 * 3600
_TOLD = "This app is open to its rider only: open the address that it printed when it was started, the one with ?key= in it."
_USED = "This address has been used, and it works once: stop ridesim app and start it again for another."
_PAGE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>ridesim</title>{again}</head><body><p>{told}</p></body></html>
"""


class Tries:
    """Wrong keys, by the address they come from: `at_once` of them, then one every `every_s`; nobody else waits for it.

    >>> tries = Tries(clock=lambda: 0.0)
    >>> for _ in range(12): tries.wrong("192.0.2.7")
    >>> tries.wait_s("192.0.2.7"), tries.wait_s("192.0.2.8")
    (12.0, 0.0)
    """

    def __init__(
        self, at_once: int = 10, every_s: float = 6.0, most: int = 1000, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._every_s, self._ahead_s, self._most, self._clock = every_s, at_once * every_s, most, clock
        self._until: dict[str, float] = {}
        self._lock = threading.Lock()

    def wait_s(self, who: str) -> float:
        """How long this address has to wait before its next key is looked at. [s]"""
        return max(0.0, self._until.get(_network(who), 0.0) - self._clock() - self._ahead_s)

    def wrong(self, who: str) -> None:
        """Count a wrong key; of very many addresses the one that was counted longest ago is forgotten."""
        with self._lock:
            name, now = _network(who), self._clock()
            self._until[name] = max(now, self._until.pop(name, now)) + self._every_s
            if len(self._until) > self._most:
                del self._until[next(iter(self._until))]


def _network(address: str) -> str:
    """One machine may have any number of IPv6 addresses of its network: they count as one."""
    try:
        return str(ipaddress.IPv6Network((address.partition("%")[0], 64), strict=False))
    except ValueError:
        return address


class Door:
    """Lets in whoever gives the key, at every address: this machine may have other users too.

    Parameters
    ----------
    port
        The port of the app; browsers keep the cookies of one machine together, whatever the port.
    chosen
        A key of the rider's choice, beside the random one that stands in the printed address.
    start
        Where a key leads that works once, for a phone; without it there is no such key.
    """

    def __init__(self, port: int, chosen: str | None = None, start: str | None = None) -> None:
        self.cookie = f"ridesim-{port}"
        self._again = f"{self.cookie}-again"  # the page that was asked for once more
        self.key = secrets.token_urlsafe(24)
        self.once = secrets.token_urlsafe(18) if start else None
        self._start, self._used = start or "/", threading.Lock()
        self._chosen = chosen
        self._session = secrets.token_urlsafe(32)
        self._tries = Tries()

    def check(self, asked: Request, page: Callable[[str], str]) -> Response | None:
        """None for who is in; else the answer: into the app for who gives the key, and outside for all others.

        `page` makes the path of one of the app's own pages of any path: nobody is led anywhere else.
        """
        inside = _same(asked.cookies.get(self.cookie, ""), self._session)
        given = asked.args.get("key")
        if inside and self._again in asked.cookies:
            after_this_request(self._once_more)
        if given is None or asked.method != "GET":
            return None if inside else self._outside(asked)
        if self.once is not None and _same(given, self.once):
            return self._by_phone(asked, inside=inside)
        refusal = None if inside else self._refusal(asked, given)
        return refusal or self._inside(_address(page(asked.path), asked))

    def _by_phone(self, asked: Request, *, inside: bool) -> Response:
        """In by the key that works once; a browser that is in does not use it up."""
        if inside or self._used.acquire(blocking=False):
            return self._inside(self._start)
        return self._outside(asked, _USED)

    def _refusal(self, asked: Request, given: str) -> Response | None:
        """Why a key does not open; the random one is never made to wait, so that others' guesses lock nobody out."""
        if _same(given, self.key):
            return None
        who = asked.remote_addr or ""
        if wait_s := self._tries.wait_s(who):
            retry = {"Retry-After": str(int(wait_s) + 1)}
            return Response("Too many wrong keys: wait a little.\n", 429, retry, mimetype="text/plain")
        if self._chosen is not None and _same(given, self._chosen):
            return None
        self._tries.wrong(who)
        return self._outside(asked)

    def _inside(self, address: str) -> Response:
        response = redirect(address)
        response.headers["Cache-Control"] = "no-store"
        response.set_cookie(self.cookie, self._session, httponly=True, samesite="Strict", max_age=_COOKIE_S)
        return self._once_more(response)  # type: ignore[arg-type]

    def _once_more(self, response: Response) -> Response:
        response.delete_cookie(self._again, httponly=True, samesite="Lax")
        return response

    def _outside(self, asked: Request, told: str = _TOLD) -> Response:
        """A browser that follows a link from elsewhere keeps its cookie back: a page of our own asks once more, with it."""
        if asked.method != "GET" or "text/html" not in asked.headers.get("Accept", ""):
            return Response(told + "\n", 401, mimetype="text/plain")
        this = str(crc32(asked.full_path.encode(errors="backslashreplace")))
        first = asked.cookies.get(self._again) != this
        refresh = '<meta http-equiv="refresh" content="0">' if first else ""
        response = Response(_PAGE.format(again=refresh, told=told), 401, {"Cache-Control": "no-store"})
        if first:
            response.set_cookie(self._again, this, httponly=True, samesite="Lax", max_age=3)
        return response


def _address(path: str, asked: Request) -> str:
    """A page with all of the query but the key."""
    rest = urlencode([(name, text) for name, text in asked.args.items(multi=True) if name != "key"])
    return f"{path}?{rest}" if rest else path


def _same(given: str, wanted: str) -> bool:
    """Whether two secrets are the same, in a time that does not tell how much of them is."""
    return hmac.compare_digest(given.encode(errors="backslashreplace"), wanted.encode())


def chosen_key(file: Path | None) -> str | None:
    """The rider's own key: the first line of the file, else what the environment says, else none.

    It is taken out of the environment, where a browser that is started from here would find it.
    """
    said = os.environ.pop(VARIABLE, None)
    where, key = ("--key-file", _first_line(file)) if file is not None else (VARIABLE, said)
    if key is not None and len(key) < SHORTEST_KEY:
        raise InputError(where, None, f"holds a key shorter than {SHORTEST_KEY} characters", "Choose a longer one.")
    return key


def never_on_the_line(key: str | None) -> None:
    """Refuse a key that is an argument of the command."""
    if key is not None:
        raise InputError(
            "--key",
            None,
            "shows the key to every user of this machine",
            f"Put it into {VARIABLE} or a file named by --key-file.",
        )


def _first_line(file: Path) -> str:
    try:
        mode = file.stat().st_mode
        if not stat.S_ISREG(mode):
            raise InputError("--key-file", str(file), "is not a plain file", "Write the key into a file of its own.")
        if os.name == "posix" and mode & (stat.S_IRWXG | stat.S_IRWXO):
            raise InputError(
                "--key-file", str(file), "is open to other users of this machine", "Make it yours alone: chmod 600."
            )
        with file.open("rb") as opened:
            text = opened.read(LARGEST_KEY_FILE).decode()
    except OSError as error:
        raise InputError("--key-file", str(file), f"cannot be read: {error.strerror}", "Name another file.") from None
    except UnicodeDecodeError:
        raise InputError("--key-file", str(file), "is not UTF-8 text", "Write the key on its first line.") from None
    return text.partition("\n")[0].strip()
