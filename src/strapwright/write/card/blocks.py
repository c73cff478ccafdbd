"""What a bench card is made of, whatever it is written as: sheets of facts, tables, ticks and drawings."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal, get_args

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.drawing.canvas import Canvas

_FIGURE: Final = re.compile(r"[−±⌀ ]*\d[\d ./×]*( ?(mm|in|m²|%|h|min))?")


@dataclass(frozen=True)
class Facts:
    """What is what, a line each.

    Args:
        rows: name and words.
    """

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Table:
    """A table.

    Args:
        title: over it.
        columns: its head.
        rows: its cells, as many as there are columns.
        note: under it; may be empty.
        ticks: whether each row begins with a box to tick.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    ticks: bool = False

    @cached_property
    def figures(self) -> tuple[bool, ...]:
        """Whether each column holds nothing but figures, which stand to the right.

        Example:
            >>> Table("", ("size", "at"), (("5 mm", "−51.5"), ("6 mm, round", "0")),).figures
            (False, True)
        """
        return tuple(
            bool(self.rows) and all(_FIGURE.fullmatch(row[k]) for row in self.rows)
            for k in range(len(self.columns))
        )


@dataclass(frozen=True)
class Ticks:
    """Steps in their order, each with a box to tick.

    Args:
        title: over them.
        steps: what to do, and the caution that belongs to it; an empty one for none.
    """

    title: str
    steps: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Words:
    """Lines under a heading.

    Args:
        title: over them.
        lines: a paragraph each.
        grave: whether they warn.
    """

    title: str
    lines: tuple[str, ...]
    grave: bool = False


@dataclass(frozen=True)
class Blanks:
    """Places to write in by hand.

    Args:
        labels: what goes where.
    """

    labels: tuple[str, ...]


@dataclass(frozen=True)
class Drawing:
    """A picture.

    Args:
        title: over it.
        canvas: what is drawn.
        words: what it shows, for whoever cannot see it.
    """

    title: str
    canvas: Canvas
    words: str


@dataclass(frozen=True)
class Beside:
    """Two blocks side by side.

    Args:
        left: what is what.
        right: a table; it has the broader half.
    """

    left: Facts
    right: Table


Paper = Literal["a4", "letter"]
"""What a card is printed on."""

Block = Facts | Table | Ticks | Words | Blanks | Drawing | Beside


@dataclass(frozen=True)
class Sheet:
    """What goes to one belt, or to the shop: in print it begins a page.

    Args:
        key: short and its own, to be linked to.
        title: its heading.
        subtitle: one line under it.
        blocks: from top to bottom.
        brief: whether it goes on below another on the same page, where it fits there whole.
    """

    key: str
    title: str
    subtitle: str
    blocks: tuple[Block, ...]
    brief: bool = False


@dataclass(frozen=True)
class Card:
    """A bench card.

    Args:
        title: the job's name.
        subtitle: what it is of, in a line.
        sheets: the shop's first, then one a belt or strap.
        foot: at the foot of every page: what made it, and from which job.
    """

    title: str
    subtitle: str
    sheets: tuple[Sheet, ...]
    foot: str

    @property
    def text(self) -> str:
        """Every word of it, for what a font must have."""
        return " ".join(_words_of(self))


def _words_of(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, (tuple, Card, Sheet, *get_args(Block))):
        for one in value if isinstance(value, tuple) else vars(value).values():
            yield from _words_of(one)
