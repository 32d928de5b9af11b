"""A build of a few lines, for tests that need a bike of a file and none of the demos."""

from __future__ import annotations

from typing import Any

from ridesim.buildfile.io import Build, parse

TEXT = """
name = "Small single"
[masses]
bike = "140 kg"
rider = "80 kg"
[gearbox]
primary = 3.0
gears = [2.6, 1.7, 1.2, 1.0]
[final_drive]
front = 14
rear = 44
[tires.rear]
size = "110/90-17"
[tune.first]
points = [[2500, 20], [5000, 26], [7500, 22], [8500, 18]]
points_are = "N*m"
"""


def small(changes: dict[str, Any] | None = None) -> Build:
    """The build, with changes by their paths."""
    return parse(TEXT).changed(changes) if changes else parse(TEXT)
