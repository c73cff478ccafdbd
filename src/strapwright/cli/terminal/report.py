"""What commands print for people and for programs: tables, findings, progress, JSON."""

from __future__ import annotations

import re
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from strapwright.core.text import printable, printable_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from rich.console import Console
    from rich.status import Status

    from strapwright.cli.terminal.options import Common
    from strapwright.core.findings import Finding
    from strapwright.core.units import Units
    from strapwright.nesting.layout.types import Layout
    from strapwright.nesting.solver.nest import NestProgress
    from strapwright.rules.safety import CutterKind

PLAIN_WIDTH = 110
"""Columns of a table that goes to a file or another program, where its figures fit them."""

_SOON = 1.0
"""Work that takes longer says how far it is, s."""

_ABOUT_WIDTH = 24
"""Columns for what a finding is about."""

_MOST_NAMED = 8
"""A finding about more belts or parts than this names the first few; JSON has them all."""

_BETWEEN = 3
"""Columns a table takes up beside each of its own."""


def say(text: str = "", *, err: bool = False, nl: bool = True) -> None:
    """Print lines; whatever a name or a path in them holds, a terminal gets no control characters of it."""
    click.echo(printable_lines(text), err=err, nl=nl)


def say_lacking(picture: Path | None, *names: str) -> None:
    """Say which letters of names a PDF's font lacks; another picture may be shown in other fonts too."""
    if picture is None or picture.suffix.lower() != ".pdf":
        return
    from strapwright.drawing.text import usual_font

    if lacking := usual_font().lacking_where(" ".join(names)):
        say(
            f"caution: {picture}: its font lacks {lacking}; they print without accents, or as ?. Take .svg, "
            "which is shown in any font your machine has.",
            err=True,
        )


def console(*, stderr: bool = False, width: int | None = None) -> Console:
    """Return a console that never cuts text off: a narrow terminal wraps it."""
    from rich.console import Console

    stream = sys.stderr if stderr else sys.stdout
    if width is None and not stream.isatty():
        width = PLAIN_WIDTH
    return Console(stderr=stderr, width=width, highlight=False, soft_wrap=False)


def print_table(title: str, rows: Sequence[Mapping[str, str]]) -> None:
    """Print a table, each row's cells by the names of their columns, which are alike in all.

    Figures and words are never broken: where a terminal is too narrow for them, each row is printed as a
    list of its own.
    """
    if rows:
        _print_table(title, tuple(rows[0]), [tuple(row.values()) for row in rows])


def print_pairs(title: str, pairs: Sequence[tuple[str, str]]) -> None:
    """Print a list of two columns, a name and free text, without a head."""
    _print_table(title, ("", ""), pairs)


def _print_table(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a table; columns of numbers stand to the right, and a list of two is broken anywhere."""
    from rich import box
    from rich.table import Table

    screen = console()
    widths: Sequence[int | None] = [None] * len(columns)
    if len(columns) > 2:
        least, most = _widths_needed(columns, rows)
        if sum(least) > screen.width and sys.stdout.isatty():
            _print_lists(title, columns, rows)
            return
        screen = console(width=max(screen.width, sum(least)))
        widths = _shared_out(least, most, screen.width)
    table = Table(
        title=title, title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False, show_header=any(columns)
    )
    for index, (column, width) in enumerate(zip(columns, widths, strict=True)):
        table.add_column(
            column,
            justify="right" if _is_numeric([row[index] for row in rows]) else "left",
            overflow="fold",
            width=None if width is None else width - _BETWEEN,
        )
    for row in rows:
        table.add_row(*(_without_markup(cell) for cell in row))
    screen.print(table)


def _is_numeric(cells: Sequence[str]) -> bool:
    return bool(cells) and all(cell[:1].isdigit() or cell[:1] in "−-–" for cell in cells)


def _widths_needed(
    columns: Sequence[str], rows: Sequence[Sequence[str]]
) -> tuple[Sequence[int], Sequence[int]]:
    """Return the width of each column that breaks no figure and no word, and the one that breaks no line."""
    from rich.cells import cell_len

    least, most = [], []
    for index, column in enumerate(columns):
        cells = [row[index] for row in rows]
        lines = [column, *(line for cell in cells for line in cell.splitlines())]
        whole = cells if _is_numeric(cells) else [word for line in lines for word in _unbroken(line)]
        least.append(max(cell_len(text) for text in ("", *whole, *column.split())) + _BETWEEN)
        most.append(max(cell_len(line) for line in ("", *lines)) + _BETWEEN)
    return least, most


def _unbroken(line: str) -> list[str]:
    """Return what of a line stays together: its words, or all of it where a fraction could be torn apart.

    Example:
        >>> _unbroken("english point"), _unbroken("B′ −2 1/32")
        (['english', 'point'], ['B′ −2 1/32'])
    """
    return [line] if re.search(r"\d \d+/\d|/\d+ in", line) else line.split()


def _shared_out(least: Sequence[int], most: Sequence[int], room: int) -> list[int]:
    """Return each column's width: at least the least; what room is over goes to all alike, up to the most.

    Example:
        >>> _shared_out([5, 5, 5], [6, 20, 20], 30)
        [6, 12, 12]
    """
    widths = list(least)
    over = room - sum(least)
    waiting = sorted(range(len(least)), key=lambda k: most[k] - least[k])
    for count, k in enumerate(waiting):
        more = max(0, min(most[k] - least[k], over // (len(waiting) - count)))
        widths[k] += more
        over -= more
    return widths


def _print_lists(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print each row as lines of name and cell, under its first cell."""
    broad = max(len(column) for column in columns)
    say(f"{title}\n")
    for row in rows:
        say(f"{columns[0]} {printable(row[0])}")
        for column, cell in zip(columns[1:], row[1:], strict=True):
            for number, line in enumerate(cell.splitlines()):
                say(f"  {column if not number else '':<{broad}}  {printable(line)}")
        say()


def _without_markup(text: str) -> str:
    """Return a cell's text with no markup in it and no control characters."""
    from rich.markup import escape

    return escape(printable_lines(text))


def print_findings(findings: Iterable[Finding], *, units: Units = "mm") -> None:
    """Print findings as a table; those that differ only in what they are about, together.

    A terminal wraps the sentences in their column; elsewhere each finding stays on one line, to be searched.
    """
    from itertools import zip_longest
    from textwrap import wrap

    from strapwright.core.findings import grouped_findings

    told = [
        (str(found.severity), few(subjects), f"{found.what} {found.do}")
        for found, subjects in grouped_findings(one.in_units(units) for one in findings)
    ]
    if not told:
        return
    rows = [("severity", "of", "what was seen, and what to do"), *told]
    first = max(len(row[0]) for row in rows)
    second = min(max(len(row[1]) for row in rows), _ABOUT_WIDTH)
    screen = console().width if sys.stdout.isatty() else 0
    room = max(screen - first - second - 5, 30) if screen else 0
    say("findings\n")
    for severity, about, text in rows:
        abouts = wrap(about, second) if screen else [about]
        texts = wrap(text, room) if screen else [text]
        for number, (left, right) in enumerate(zip_longest(abouts, texts, fillvalue="")):
            line = f" {'' if number else severity:<{first}}  {left:<{second}}  {right}"
            say(line.rstrip())
    say()


def few(subjects: Sequence[str]) -> str:
    """Return names in one line, the first few of many.

    Example:
        >>> few(["ann", "bo"]), few([f"b{n}" for n in range(500)])
        ('ann, bo', 'b0, b1, b2, b3, b4, b5 and 494 more')
    """
    subjects = [printable(one) for one in subjects]
    if len(subjects) <= _MOST_NAMED:
        return ", ".join(subjects)
    kept = subjects[: _MOST_NAMED - 2]
    return f"{', '.join(kept)} and {len(subjects) - len(kept)} more"


def print_unplaced(layout: Layout) -> None:
    """Print on stderr what was not placed and why, those with one reason together; JSON names them all."""
    for reason, ids in layout.reasons.items():
        say(f"not placed: {few(ids)}: {printable(reason)}", err=True)


def emit(common: Common, data: Callable[[], Mapping[str, Any]], report: Callable[[], None]) -> None:
    """Print a result: as JSON for programs, or as text for people.

    Args:
        common: says which of the two.
        data: returns it as plain JSON values.
        report: prints it as tables and sentences.
    """
    if common.as_json:
        print_json({"version": 1, **data()})
    else:
        report()


def written(paths: Iterable[Path]) -> None:
    """Print which files were written."""
    for path in paths:
        say(f"written: {path}")


def print_json(data: Any) -> None:
    """Print data as JSON; beyond ASCII only where the stream can carry it whole."""
    import json

    unicode = (getattr(sys.stdout, "encoding", None) or "").casefold().replace("-", "") == "utf8"
    text = json.dumps(data, ensure_ascii=not unicode, indent=1)
    say(text if printable_lines(text) == text else json.dumps(data, indent=1))


def print_numbered(lines: Iterable[str]) -> None:
    """Print numbered steps."""
    for number, line in enumerate(lines, 1):
        say(f"{number}. {line}")


def cautions_at(kind: CutterKind) -> None:
    """Print what to heed at a machine."""
    from strapwright.rules.safety import cautions

    say("At the machine: " + " ".join(cautions(kind)))


def write_layout(
    files: Mapping[Path, str | bytes],
    layout: Layout,
    remnants: Path | None,
    picture: Mapping[Path, str | bytes],
    *,
    force: bool,
) -> list[Path]:
    """Write the files of a layout, and what is left of its hides where a folder for that is given.

    Args:
        files: to be written with it: all of them, or none.
        layout: the layout.
        remnants: the folder; what an earlier nest left in it, and is none any more, is named on stderr.
        picture: a file more.
        force: overwrite what stands in their place.

    Returns:
        The paths of all files.
    """
    from strapwright import api

    left = {} if remnants is None else api.remnant_files(layout)
    every = {**files, **{remnants / name: text for name, text in left.items() if remnants}, **picture}
    api.write_whole(every, force=force)
    for path in () if remnants is None else api.old_remnants(remnants, layout, list(every)):
        text = "is from an earlier nest of that hide and is not a remnant of this one; delete it"
        say(f"caution: {path} {text}", err=True)
    return list(every)


@contextmanager
def showing(first: str = "") -> Iterator[Callable[..., None]]:
    """Yield a function that shows a stage on stderr: each once on a line of its own, or live on a terminal.

    Args:
        first: what is done as it begins, on a terminal; empty shows nothing before the first stage.
    """
    live: Status | None = None
    told: set[str] = set()

    def show(stage: str, now: str = "") -> None:
        nonlocal live
        if not sys.stderr.isatty():
            if stage not in told:
                say(f"{stage} …", err=True)
                told.add(stage)
        elif live is None:
            live = console(stderr=True).status(now or stage)
            live.start()
        else:
            live.update(now or stage)

    try:
        if first and sys.stderr.isatty():
            show(first)
        yield show
    finally:
        if live is not None:
            live.stop()


@contextmanager
def drafting() -> Iterator[Callable[[int, int], None]]:
    """Show on stderr how many belts are drafted, once that has taken a second."""
    from time import monotonic

    soon = monotonic() + _SOON
    with showing() as show:

        def tell(done: int, count: int) -> None:
            nonlocal soon
            if not soon or monotonic() >= soon:
                soon = 0.0
                show(f"drafting {count} belts", f"drafting: {done} of {count} belts")

        yield tell


@contextmanager
def showing_progress(hides: int) -> Iterator[dict[str, Any]]:
    """Show on stderr how far a nest and what follows it are; yield what the nest calls for that."""
    what = f"laying the parts on {hides} {'hide' if hides == 1 else 'hides'}"
    with showing("reading the parts") as show:

        def nesting(p: NestProgress) -> None:
            show(what, f"{what}: {p.placed} of {p.asked} placed, {p.elapsed:.0f} s")

        yield {"progress": nesting, "stage": show}


def length(mm: float, units: Units, digits: int = 1, finest: int = 32) -> str:
    """Return a length for a table: mm with so many decimals, or inches as fractions.

    Args:
        mm: the length.
        units: ``"mm"`` or ``"in"``.
        digits: decimals of mm.
        finest: smallest part of an inch.

    Example:
        >>> length(1015.8, "mm"), length(25.4, "in"), length(1015.8, "in")
        ('1015.8', '1', '40')
    """
    from strapwright.core.units import format_length

    if units == "mm":
        return f"{mm:.{digits}f}"
    return format_length(mm, "in", finest).removesuffix(" in")
