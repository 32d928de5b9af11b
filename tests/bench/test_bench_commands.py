"""What every command costs from its start to its answer, in processor time: reported, not asserted.

python -m pytest tests/bench/test_bench_commands.py -q -s
The least of three runs of a process of its own, user and system; beside it the same as a multiple of a process that loads numpy alone.
"""

from __future__ import annotations

import os
import resource
import shlex
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
LOGS = "data/demo/logs"
NEEDLE = "--straight 2.515 --taper-start 28 --length 70 --end 1.6 --needle-jet 2.6 --main-jet 120 --seat-to-jet 30 --full-lift 30 --clip 3"
COMMANDS = (
    "answers coast-single",
    "answers coast-single --json",
    "compare coast-single --front 15",
    "compare coast-single plateau-single",
    "sheet coast-single --front 15 -o {folder}/sheet.pdf --replace",
    "wanted coast-single --engine-speed 4500 --speed 95",
    "check coast-single",
    "schema",
    "choose coast-single",
    "choose coast-single --json",
    "fit coast-single",
    "measure-next coast-single",
    "jets change 120 125 --numbering bore",
    "jets air 125 --numbering bore --from-altitude 20 --to-altitude 1950 --step 2.5",
    f"needle {NEEDLE}",
    "circuit --opening 1/2 --verdict rich",
    "intake --stock 'circle 40 mm' --wanted '+40 %' --saws 25,32",
    "idle 0.5:1100 1:1200 1.5:1260 2:1250 2.5:1190",
    "garage save coast-single",
    "trial add 'Coast single (invented)' --from trials",
    "garage list",
    "garage history 'Coast single (invented)'",
    "trial list 'Coast single (invented)'",
    "trial trend 'Coast single (invented)'",
    "trial next 'Coast single (invented)' --parts trials",
    "trial undo 'Coast single (invented)'",
    f"log show {LOGS}/coast-down.csv",
    f"log coastdown {LOGS}/coast-down.csv --build coast-single",
    f"log pull {LOGS}/pulls-after.csv --build coast-single --gear 3",
    f"log compare --before {LOGS}/pulls-before.csv --after {LOGS}/pulls-after.csv --build coast-single --gear 3",
    f"log ratios {LOGS}/gears.csv --build coast-single",
    f"log ride {LOGS}/ride.gpx --build coast-single --front 13:16 --rear 38:44",
)


def processor_s(command: list[str], environment: dict[str, str]) -> float:
    """Least processor time of three runs. [s]"""
    spent = []
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, env=environment, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        assert done.returncode == 0, (command, done.stderr)
        spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(spent)


def test_what_a_command_costs(tell, tmp_path):
    environment = os.environ | {"XDG_DATA_HOME": str(tmp_path)}
    alone = processor_s([sys.executable, "-c", "import numpy"], environment)
    tell(f"processor time of a command: {alone:.2f} s for a process that loads numpy alone")
    for command in COMMANDS:
        line = shlex.split(command.format(folder=tmp_path))
        cost = processor_s([sys.executable, "-m", "ridesim", *line], environment)
        tell(f"{cost:6.2f} s {cost / alone:5.1f} x  {command[:70]}")
