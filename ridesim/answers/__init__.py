"""One file a question, each returning a frozen answer with its assumptions and steps."""

from ridesim.answers.answer import Answer, Change, Column, Figure, Figures, Step, Table
from ridesim.answers.chain import chain
from ridesim.answers.compare import QUESTIONS, Comparison, Pair, compare, everything, pair
from ridesim.answers.contract import contract
from ridesim.answers.cruising import cruising
from ridesim.answers.front_wheel import front_wheel
from ridesim.answers.front_wheel.lift import front_lift
from ridesim.answers.front_wheel.moves import what_moves_it
from ridesim.answers.pull import climbing, power, pull
from ridesim.answers.solved import Solved, ride_with, solve
from ridesim.answers.speeds import speeds, wanted_ratio
from ridesim.answers.standing_run import standing_run
from ridesim.answers.tires import tires
from ridesim.answers.tires.swap import tire_swap
from ridesim.answers.tune_gain import tune_gain

__all__ = [
    "QUESTIONS",
    "Answer",
    "Change",
    "Column",
    "Comparison",
    "Figure",
    "Figures",
    "Pair",
    "Solved",
    "Step",
    "Table",
    "chain",
    "climbing",
    "compare",
    "contract",
    "cruising",
    "everything",
    "front_lift",
    "front_wheel",
    "pair",
    "power",
    "pull",
    "ride_with",
    "solve",
    "speeds",
    "standing_run",
    "tire_swap",
    "tires",
    "tune_gain",
    "wanted_ratio",
    "what_moves_it",
]
