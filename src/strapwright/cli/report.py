"""What commands print for people and for programs: tables, findings, progress, JSON."""

from __future__ import annotations

import sys
from collections.abc import Callable  # noqa: TC003 - part of a dataclass's signature
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from rich.console import Console

    from strapwright.findings import Finding
    from strapwright.nesting.layout import Layout
    from strapwright.nesting.nest import NestProgress
    from strapwright.nesting.remnant import Remnant

PLAIN_WIDTH = 110
"""Columns of a table that goes to a file or another program, where its figures fit them."""

_BETWEEN = 3
"""Columns a table takes up beside each of its own."""


def console(*, stderr: bool = False, width: int | None = None) -> Console:
    """Return a console that never cuts text off: a narrow terminal wraps it."""
    from rich.console import Console

    stream = sys.stderr if stderr else sys.stdout
    if width is None and not stream.isatty():
        width = PLAIN_WIDTH
    return Console(stderr=stderr, width=width, highlight=False, soft_wrap=False)


def print_table(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a table; columns whose every cell is a number stand to the right.

    Figures and words are never broken: where a terminal is too narrow for them, each row is printed as a
    list of its own. A list of two columns, a name and free text, is broken anywhere. A table whose
    columns have no names has no head.
    """
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
        table.add_row(*(_plain(cell) for cell in row))
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
        whole = cells if _is_numeric(cells) else [word for line in lines for word in line.split()]
        least.append(max(cell_len(text) for text in ("", *whole, *column.split())) + _BETWEEN)
        most.append(max(cell_len(line) for line in ("", *lines)) + _BETWEEN)
    return least, most


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
    click.echo(f"{title}\n")
    for row in rows:
        click.echo(f"{columns[0]} {row[0]}")
        for column, cell in zip(columns[1:], row[1:], strict=True):
            for number, line in enumerate(cell.splitlines()):
                click.echo(f"  {column if not number else '':<{broad}}  {line}")
        click.echo()


def _plain(text: str) -> str:
    """Return text with nothing in it that the table would take for markup."""
    from rich.markup import escape

    return escape(text)


def print_findings(findings: Sequence[Finding], *, stderr: bool = False) -> None:
    """Print findings, one paragraph each; those that differ only in what they are about, together."""
    alike: dict[tuple[str, str, str], dict[str, None]] = {}
    for finding in findings:
        key = str(finding.severity), finding.what, finding.do
        alike.setdefault(key, {})[finding.subject] = None
    for (severity, what, do), subjects in alike.items():
        about = ", ".join(subject for subject in subjects if subject)
        click.echo(f"{severity}: {about + ': ' if about else ''}{what} {do}", err=stderr)


def print_json(data: Any) -> None:
    """Print data as JSON; beyond ASCII only where the stream can carry it whole."""
    import json

    unicode = (getattr(sys.stdout, "encoding", None) or "").casefold().replace("-", "") == "utf8"
    click.echo(json.dumps(data, ensure_ascii=not unicode, indent=1))


def write_remnants(folder: Path | None, layout: Layout, *, force: bool) -> list[Path]:
    """Write a layout's remnants where a folder was named, and name on stderr those that are none any more."""
    from strapwright import api

    if folder is None:
        return []
    written, old = api.write_remnants(folder, layout, force=force)
    for path in old:
        text = (
            f"caution: {path} is from an earlier nest of that hide and is no remnant of this one; delete it"
        )
        click.echo(text, err=True)
    return written


def remnant_rows(remnants: Sequence[Remnant]) -> list[tuple[str, str, str]]:
    """Return for a table each remnant's name, area and how it is cut off."""
    return [(left.hide.name, f"{left.area / 1e6:.3f}", left.why) for left in remnants]


@dataclass(frozen=True)
class Progress:
    """Where the work reports how far it is.

    Args:
        nesting: takes how far the search for a layout is.
        stage: takes what is done now, in words.
    """

    nesting: Callable[[NestProgress], None]
    stage: Callable[[str], None]


@contextmanager
def showing_progress(hides: int) -> Iterator[Progress]:
    """Show on stderr how far a nest and what follows it are: live on a terminal, a line a stage elsewhere."""
    what = f"laying the parts on {hides} {'hide' if hides == 1 else 'hides'}"
    if not sys.stderr.isatty():
        told: set[str] = set()

        def tell(stage: str) -> None:
            if stage not in told:
                click.echo(f"{stage} …", err=True)
                told.add(stage)

        yield Progress(lambda _: tell(what), tell)
        return
    with console(stderr=True).status("reading the parts") as status:
        yield Progress(
            lambda p: status.update(f"{what}: {p.placed} of {p.asked} placed, {p.elapsed:.0f} s"),
            status.update,
        )


def length(mm: float, units: str, digits: int = 1) -> str:
    """Return a length for a table: mm with a digit, or inches with three.

    Example:
        >>> length(1015.8, "mm"), length(25.4, "in")
        ('1015.8', '1.000')
    """
    return f"{mm:.{digits}f}" if units == "mm" else f"{mm / 25.4:.3f}"
