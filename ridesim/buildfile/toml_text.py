"""TOML text read with bounds: no depth and no length of a name that would cost the program its stack or its time."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from ridesim.errors import InputError

LARGEST_FILE = 1_000_000  # bytes; a build with a hundred tunes is a tenth of it
DEEPEST = 24  # tables within tables; a build file needs four
MOST_DOTS = 300  # in one name; the TOML reader's time grows with their square
_DOT_IN_A_NAME = re.compile(r"""[\w"'][ \t]*\.[ \t]*(?=[\w"'])""")


def tables_of(text: str, where: str) -> dict[str, Any]:
    """The tables of a TOML text.

    Raises
    ------
    InputError
        It is no TOML, or nested deeper than any file of ours.

    Examples
    --------
    >>> tables_of("[final_drive]\\nrear = 45", "build file")
    {'final_drive': {'rear': 45}}
    """
    if any(len(_DOT_IN_A_NAME.findall(piece)) > MOST_DOTS for piece in re.split(r"[=,{\[\n]", text)):
        raise InputError(
            where, None, f"has a line with more than {MOST_DOTS} dots in a row of names", "Shorten the line."
        )
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        fix = "Mend the line named here; no key or heading may stand twice."
        raise InputError(where, None, f"is not valid TOML ({str(error)[:120]})", fix) from None
    except RecursionError:
        raise InputError(where, None, "is nested too deeply", "Take out the brackets within brackets.") from None
    except (ValueError, OverflowError):  # Python reads no whole numbers of thousands of digits
        raise InputError(where, None, "has a number of thousands of digits", "Is this the right file?") from None
    level: list[Any] = [tables]
    for _ in range(DEEPEST):
        inside = (one.values() if isinstance(one, dict) else one for one in level)
        level = [inner for outer in inside for inner in outer if isinstance(inner, dict | list)]
        if not level:
            return tables
    raise InputError(where, None, f"is nested more than {DEEPEST} deep", "Take out the tables within tables.")
