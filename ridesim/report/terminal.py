"""Answers on a terminal: sentences, figures with their bands, tables that fit its width, working, assumptions, cautions."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from rich.console import Console
from rich.padding import Padding
from rich.table import Table as Grid

from ridesim.answers.answer import Answer, Change, Figure, Table
from ridesim.answers.compare import compare, label
from ridesim.answers.solved import Solved
from ridesim.answers.text import band_words, change_words, figure_words, sentence, verdict
from ridesim.report.columns import Cells, columns_of, text
from ridesim.statements import in_units

GAP = 2  # between columns
NARROWEST = 40
CAUTION = "Estimates: the maker's manual and local law come first, and a qualified mechanic before a guess."
FULL = "Tables, assumptions, notes and cautions: --full."


class _Output(Console):
    """Standard output, which leaves it to the command what to do when its reader has gone."""

    def on_broken_pipe(self) -> None:
        raise BrokenPipeError


def console() -> Console:
    """Standard output, as wide as COLUMNS says, else as the terminal is, else 80."""
    width = max(NARROWEST, shutil.get_terminal_size((80, 24)).columns)
    return _Output(width=width, highlight=False, markup=False, emoji=False, soft_wrap=False)


def print_answer(
    answer: Answer, system: str, *, lines: Iterable[str] = (), most_rows: int | None = 60, working: bool = False
) -> None:
    """One answer in full, then what else there is to say.

    Parameters
    ----------
    answer : Answer
        Its sentence, figures with their bands, tables, assumptions, notes and cautions are printed, in this order.
    system : str
        "metric" or "us".
    lines : iterable of str
        Texts between the tables and what was assumed.
    most_rows : int or None
        Of each table; None prints all.
    working : bool
        Whether the steps are printed.

    Examples
    --------
    >>> from ridesim.answers.answer import Answer, Figures
    >>> found = Answer(question="How far?", say=("As far as the tank.",), figures=Figures(), notes=("no more than that",))
    >>> print_answer(found, "us")
    How far?
    As far as the tank.
    <BLANKLINE>
    Note
    - no more than that
    """
    out = console()
    _print_one(out, answer, system, set(), full=True, working=working, most_rows=most_rows)
    for line in lines:
        print_text(out, line)
    print_lists(out, answer.assumptions, answer.notes, answer.cautions, system)


def print_answers(
    answers: Iterable[Answer], solved: Solved, system: str, *, full: bool = True, working: bool = False
) -> None:
    """Every answer with its figures, each figure once; in full with tables and what was assumed, noted and cautioned.

    Parameters
    ----------
    answers : iterable of Answer
        All of one bike.
    solved : Solved
        That bike, which is named at the head.
    system : str
        "metric" or "us".
    full : bool
        Otherwise sentences and figures with a band alone, and how to see the rest.
    working : bool
        Whether the steps are printed.
    """
    out = console()
    out.print(label(solved), style="bold")
    answers, seen = tuple(answers), set[tuple[str, ...]]()
    for answer in answers:
        out.print()
        _print_one(out, answer, system, seen, full=full, working=working)
    _print_end(out, answers, system, full=full)


def print_comparison(now: Solved, planned: Solved, system: str, *, full: bool = True, working: bool = False) -> None:
    """What changes from one set-up to the other; in full every figure, and what was assumed, noted and cautioned.

    Parameters
    ----------
    now, planned : Solved
        Two bikes, or one twice, each with its ride.
    system : str
        "metric" or "us".
    full : bool
        Otherwise only the figures that change when they are read.
    working : bool
        Whether the steps of both are printed.
    """
    out = console()
    both = compare(now, planned)
    print_table(out, (text("", ("now", "planned")), text("", (both.now_name, both.planned_name))))
    out.print("; ".join(both.differs) if both.differs else "The two do not differ.")
    for answer in both.swaps:
        out.print()
        tables = answer.tables if full else answer.tables[:2] if answer is both.tune else ()
        _print_one(out, answer, system, set(), full=full, working=working, tables=tables)
    alike, seen = [], set[tuple[str, ...]]()
    for pair in both.pairs:
        rows = [
            row
            for change in pair.changes
            if (row := _change_row(change, system)) not in seen and (full or (row[1] != row[2] and row[-1] != "same"))
        ]
        seen.update(rows)
        if rows:
            out.print()
            print_title(out, pair.question)
            headings = zip(("", "now", "planned", "change", ""), (True, False, False, False, True), strict=True)
            columns = zip(*rows, strict=True)
            print_table(
                out, [Cells(heading=h, cells=c, left=left) for (h, left), c in zip(headings, columns, strict=True)]
            )
        else:
            alike.append(pair.question)
        if working:
            for which, answer in (("now", pair.now), ("planned", pair.planned)):
                print_steps(out, answer.steps, f"{which}: ")
    if alike:
        out.print()
        out.print(f"Nothing changes in: {' '.join(alike)}")
    answers = [one for pair in both.pairs for one in (pair.now, pair.planned)]
    _print_end(out, [*answers, *both.swaps], system, both.assumptions, full=full)


def _change_row(change: Change, system: str) -> tuple[str, ...]:
    """One figure now and as planned, with its change and whether it is for the better."""
    labels = dict.fromkeys((change.now.label, change.planned.label))
    return (
        " / ".join(labels),
        figure_words(change.now, system),
        figure_words(change.planned, system),
        change_words(change, system),
        verdict(change),
    )


def print_title(out: Console, title: str) -> None:
    """What the lines below are about."""
    out.print(title, style="bold underline")


def print_table(out: Console, columns: Sequence[Cells], title: str = "", *, indent: int = 0) -> None:
    """Columns side by side if they fit; else on their side, if that fits; else in pieces that each begin with the first column.

    >>> print_table(console(), [text("Pair", ["14/41", "15/41"]), Cells(heading="Links", cells=("102", "104"))], "To order")
    To order
    Pair   Links
    14/41    102
    15/41    104
    """
    if title:
        out.print(title, style="italic")
    room = out.width - indent
    for n, piece in enumerate(_fitted(tuple(columns), room)):
        grid = Grid(box=None, pad_edge=False, header_style="dim", padding=(0, GAP, 0, 0))
        grid.show_header = any(column.heading for column in piece)
        for column, width in zip(piece, _widths(piece, room), strict=True):
            justify = "left" if column.left else "right"
            grid.add_column(column.heading, justify=justify, width=width, overflow="fold")  # type: ignore[arg-type]
        for row in zip(*(column.cells for column in piece), strict=True):
            grid.add_row(*row)
        if n:
            out.print()
        out.print(Padding(grid, (0, 0, 0, indent), expand=False))


def _fitted(columns: tuple[Cells, ...], room: int) -> Iterator[tuple[Cells, ...]]:
    first, *others = columns
    if _least(columns) <= room:
        yield columns
        return
    cells = zip(*(one.cells for one in others), strict=True)
    turned = (
        text(first.heading, (one.heading for one in others)),
        *(Cells(heading=heading, cells=row) for heading, row in zip(first.cells, cells, strict=True)),
    )
    if _least(turned) <= room:
        yield turned
        return
    piece = [first]
    for one in others:
        if len(piece) > 1 and _least((*piece, one)) > room:
            yield tuple(piece)
            piece = [first]
        piece.append(one)
    yield tuple(piece)


def _least(columns: Sequence[Cells]) -> int:
    return sum(one.least for one in columns) + GAP * (len(columns) - 1)


def _widths(columns: Sequence[Cells], room: int) -> list[int]:
    """The width of each column: at least what it needs, and what is left over to those that want least of it."""
    widths, spare = [one.least for one in columns], room - _least(columns)
    for n in sorted(range(len(columns)), key=lambda n: columns[n].most - widths[n]):
        more = max(0, min(spare, columns[n].most - widths[n]))
        widths[n], spare = widths[n] + more, spare - more
    return widths


def _print_one(
    out: Console,
    answer: Answer,
    system: str,
    seen: set[tuple[str, ...]],
    *,
    full: bool,
    working: bool,
    most_rows: int | None = None,
    tables: Sequence[Table] | None = None,
) -> None:
    """The sentence of an answer and its figures; in full with its tables, unless others are named, cut where they are longer than
    is asked for."""
    print_title(out, answer.question)
    out.print(sentence(answer, system))
    _print_figures(out, answer.figures.values(), system, seen, full=full)
    for table in (answer.tables if full else ()) if tables is None else tables:
        rows = table.rows[:most_rows]
        if rows:
            out.print()
            print_table(out, columns_of(replace(table, rows=rows), system), table.title)
        if len(rows) < len(table.rows):
            out.print(f"The first {len(rows)} of {len(table.rows)} rows; --json gives all.", style="dim")
    if working:
        print_steps(out, answer.steps)


def _print_figures(
    out: Console, figures: Iterable[Figure], system: str, seen: set[tuple[str, ...]], *, full: bool
) -> None:
    """Figures with their bands, each once; those without a band in full, or where none has any. What is judged stands
    also where its band is too narrow to be read."""
    rows, told = [], []
    for figure in figures:
        if figure.value is not None:
            rows.append((figure.label, figure_words(figure, system), band_words(figure, system, unit=False)))
            if full or rows[-1][2] or (figure.better and figure.low is not None):
                told.append(rows[-1])
    rows = told or rows
    rows = [row for row in dict.fromkeys(rows) if row not in seen]
    seen.update(rows)
    if rows:
        labels, values, bands = zip(*rows, strict=True)
        print_table(out, (text("", labels), Cells(heading="", cells=values), text("", bands)), indent=2)


def print_text(out: Console, text: str) -> None:
    """A text whose further lines stand two places further in than its first."""
    indent = " " * (len(text) - len(text.lstrip()) + 2)
    out.print(textwrap.fill(text, out.width, subsequent_indent=indent, break_on_hyphens=False))


def print_steps(out: Console, steps: Iterable[object], before: str = "") -> None:
    """The working, line by line."""
    for step in steps:
        print_text(out, f"  {before}{step}")


def print_lists(
    out: Console,
    assumptions: Iterable[str] = (),
    notes: Iterable[str] = (),
    cautions: Iterable[str] = (),
    system: str = "metric",
) -> None:
    """What was assumed, noted and cautioned, each once."""
    for title, texts in (("Assumed", assumptions), ("Note", notes), ("Take care", cautions)):
        print_list(out, title, (in_units(one, system) for one in texts))


def print_list(out: Console, title: str, texts: Iterable[str]) -> None:
    """Texts one below the other, each once, under a title; nothing where there is none.

    >>> print_list(console(), "Note", ["look at the chain", "look at the chain"])
    <BLANKLINE>
    Note
    - look at the chain
    """
    for n, one in enumerate(dict.fromkeys(texts)):
        if not n:
            out.print()
            print_title(out, title)
        print_text(out, f"- {one}")


def _print_end(
    out: Console, answers: Sequence[Answer], system: str, assumptions: Iterable[str] = (), *, full: bool
) -> None:
    """What stands behind the answers, or how to see it."""
    if full:
        print_lists(
            out,
            (*assumptions, *(t for a in answers for t in a.assumptions)),
            (t for a in answers for t in a.notes),
            (CAUTION, *(t for a in answers for t in a.cautions)),
            system,
        )
    else:
        print_short_end(out)


def print_short_end(out: Console) -> None:
    """How to see the rest, and the one caution that stands with every answer."""
    out.print()
    out.print(FULL, style="dim")
    out.print(CAUTION)
