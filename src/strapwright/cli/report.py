"""What commands print for people: tables, findings, progress."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from rich.console import Console

    from strapwright.findings import Finding
    from strapwright.nesting.nest import NestProgress

PLAIN_WIDTH = 110
"""Columns of a table that goes to a file or another program."""


def console(*, stderr: bool = False) -> Console:
    """Return a console that never cuts text off: a narrow terminal wraps it."""
    from rich.console import Console

    stream = sys.stderr if stderr else sys.stdout
    return Console(
        stderr=stderr, width=None if stream.isatty() else PLAIN_WIDTH, highlight=False, soft_wrap=False
    )


def print_table(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a table; columns whose every cell is a number stand to the right."""
    from rich import box
    from rich.table import Table

    table = Table(title=title, title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False)
    for index, column in enumerate(columns):
        cells = [row[index] for row in rows]
        numbers = bool(cells) and all(cell[:1].isdigit() or cell[:1] in "−-–" for cell in cells)
        table.add_column(column, justify="right" if numbers else "left", overflow="fold")
    for row in rows:
        table.add_row(*(_plain(cell) for cell in row))
    console().print(table)


def _plain(text: str) -> str:
    """Return text with nothing in it that the table would take for markup."""
    from rich.markup import escape

    return escape(text)


def print_findings(findings: Sequence[Finding], *, stderr: bool = False) -> None:
    """Print findings, one paragraph each."""
    for line in dict.fromkeys(str(finding) for finding in findings):
        click.echo(line, err=stderr)


@contextmanager
def nesting_progress(hides: int) -> Iterator[Callable[[NestProgress], None]]:
    """Show how far a nest is: live on a terminal, one line elsewhere."""
    hide_word = "hide" if hides == 1 else "hides"
    what = f"laying the parts on {hides} {hide_word}"
    if not sys.stderr.isatty():
        click.echo(f"{what} …", err=True)
        yield lambda _: None
        return
    screen = console(stderr=True)
    with screen.status(what) as status:
        yield lambda p: status.update(f"{what}: {p.placed} of {p.asked} placed, {p.elapsed:.0f} s")


def length(mm: float, units: str, digits: int = 1) -> str:
    """Return a length for a table: mm with a digit, or inches with three.

    Example:
        >>> length(1015.8, "mm"), length(25.4, "in")
        ('1015.8', '1.000')
    """
    return f"{mm:.{digits}f}" if units == "mm" else f"{mm / 25.4:.3f}"
