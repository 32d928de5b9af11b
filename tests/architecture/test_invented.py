"""No example is of a former demo bike: figures that only it had stay away, from tests and docstrings too."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
KINDS = {".py", ".toml", ".json", ".md", ".js"}
FORMER = [
    r"[Tt]rail[- ]single",
    r"(?<![\d.,])1[.,]?462(?!\d)",  # wheelbase
    r"(?<![\d.])2[.,]075(?!\d)",  # way rolled in a turn
    r"\b16 ?/ ?45\b|\b45 ?[:/] ?16\b",  # final drive
    r"\[32, ?13\]|\b32 ?/ ?13\b|\b27 ?/ ?15\b|\[68, ?30\]|\b68 ?/ ?30\b",  # gears and primary
    r"\b130/80-18\b|\b120/90-18 M/C 65S\b",
    r"\b541(?: ?cc|e-6)\b",
    r"\b161 kg\b|(?<![\d.])0[.,](?:6132|6169|6396|7547)(?!\d)",
    r"\b2000(?:\.0)?(?:[,;]|\\t) ?33\b",  # where its curve starts
    r"\bjets?\b\D{0,12}\b1[4-9]\d\b|(?<![\d.])1(?:42|47|52)\.5(?!\d)",  # main jets lie from 110 to 130
    r"\b(?:main|pilot)_jets?\W{1,6}(?:1[4-9]\d|4[3-9]|5\d)\b",  # pilot jets from 35 to 42
]


def test_no_example_is_of_a_former_demo_bike():
    places = [ROOT / "README.md", ROOT / "DEVELOPERS.md"]
    for folder in ("ridesim", "dashboard", "data/demo", "tests"):
        places += [path for path in sorted((ROOT / folder).rglob("*")) if path.suffix in KINDS]
    found = []
    for path in places:
        if path == Path(__file__):
            continue
        text = path.read_text(encoding="utf-8")
        for one in FORMER:
            for hit in re.finditer(one, text):
                found.append(f"{path.relative_to(ROOT)}:{text.count(chr(10), 0, hit.start()) + 1}: {hit[0]}")
    assert not found, "\n".join(found)
