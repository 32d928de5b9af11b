"""The rider's phone, let in over the local network: an address that works once, as text and as a QR code for its camera."""

from __future__ import annotations

import ipaddress
import socket

import segno

from ridesim.errors import InputError

_SPOKEN = """\
On your phone, on the same network, scan this or open the address. It works once, for one phone:
{drawn}{link}"""
CAUTION = """\
Anyone on this network could see that address, and what is sent to and from the phone: it is plain HTTP. Use a network you trust.
The phone can read your garage and add to it; nothing else of your files can be read or written. Stop it with Ctrl-C."""
_HERE = ("localhost", "0.0.0.0", "::", "::1")
_SQUARES = " ▄▀█"
_BLACK_ON_WHITE, _AS_BEFORE = "\x1b[30;107m", "\x1b[0m"


def address(host: str) -> str:
    """The address that a phone can reach: the one that was asked for, or that of this machine on its local network.

    Raises
    ------
    InputError
        It is on none.
    """
    bare = host.strip("[]")
    found = outward_address() if bare in _HERE or bare.startswith("127.") else host
    if found is None:
        raise InputError(
            "--phone",
            None,
            "finds no network on this machine",
            "Join the network that the phone is on, and start again.",
        )
    return found


def outward_address() -> str | None:
    """The address that this machine would use to reach others, or None without a network."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # nothing is sent: it only asks which of its addresses would be used
            found = ipaddress.ip_address(probe.getsockname()[0])
        except OSError:
            return None
    return None if found.is_loopback or found.is_unspecified else str(found)


def spoken(link: str, encoding: str | None = "utf-8") -> str:
    """What the rider reads and scans; without the code where the terminal has no signs to draw it with."""
    try:
        _SQUARES.encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return _SPOKEN.format(drawn="", link=link)
    return _SPOKEN.format(drawn=qr_code(link) + "\n", link=link)


def qr_code(text: str) -> str:
    """The QR code of a text for a terminal, two rows of squares to a line, in the margin of four squares of ISO/IEC 18004.

    >>> lines = qr_code("http://192.0.2.7:8050/").splitlines()
    >>> len(lines), len(lines[0]) - len(_BLACK_ON_WHITE) - len(_AS_BEFORE)
    (17, 33)
    """
    rows = [tuple(row) for row in segno.make_qr(text, error="m").matrix_iter(border=4)]
    rows += [(0,) * len(rows[0])] * (len(rows) % 2)
    lines = (
        "".join(_SQUARES[2 * upper + lower] for upper, lower in zip(*pair, strict=True))
        for pair in zip(rows[::2], rows[1::2], strict=True)
    )
    return "\n".join(f"{_BLACK_ON_WHITE}{line}{_AS_BEFORE}" for line in lines)
