"""The drawing of a draft: blanks and keepers with dimensions, hole tables, the fold's section, findings."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from strapwright.core.units import Units, format_length
from strapwright.drawing.belt.blank import draw_blank
from strapwright.drawing.belt.end_pieces import draw_ends
from strapwright.drawing.belt.fold_section import WIDTH as SECTION_WIDTH, draw_section
from strapwright.drawing.belt.grading import draw_run
from strapwright.drawing.belt.hole_table import hole_table
from strapwright.drawing.belt.keeper import keeper_and_notes
from strapwright.drawing.belt.strap import LEFT
from strapwright.drawing.pattern_pieces import orders_of
from strapwright.drawing.table import draw_table, table_width
from strapwright.drawing.title_block import (
    LINE,
    MARGIN,
    TEXT,
    WIDTH,
    document,
    finding,
    foot,
    heading,
    job_title,
    new_board,
    with_unit,
)
from strapwright.job.grading import findings_of, grouped
from strapwright.job.strap_draft import BeltDraft

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.drawing.canvas import Canvas
    from strapwright.drawing.dimension_lines import Board
    from strapwright.drawing.pattern_pieces import Order
    from strapwright.job.draft import Draft
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.parts.part import Part


_BETWEEN: Final = 30.0
"""Between the section and the table of holes, px."""


def drawing(drafted: Draft, *, units: Units = "mm", ends_only: bool = False) -> Canvas:
    """Return a drawing of every belt's blank and keeper, one below the other, and then of every other strap.

    Each is drawn at true proportion, to a scale of its own, with the middle of the strap left out; the
    sizes of a graded belt are drawn on one another.

    Args:
        drafted: the draft.
        units: of the figures.
        ends_only: the draft's parts are just the two ends of every belt; each is drawn as a piece of its own.

    Returns:
        A canvas 1000 px wide.
    """
    board = new_board()
    y = job_title(board, drafted.name)
    for sizes, ends, order in _items(drafted, units, ends_only=ends_only):
        y = _item(board, sizes, y + 14, units, ends, order)
    return document(board, foot(board, y + 18, units), drafted.name)


def drawing_pages(drafted: Draft, *, units: Units = "mm", ends_only: bool = False) -> tuple[Canvas, ...]:
    """Return the drawing a page at a time: each belt, graded belt or strap a drawing of its own.

    Args:
        drafted: the draft.
        units: of the figures.
        ends_only: as for :func:`drawing`.
    """
    pages = []
    for sizes, ends, order in _items(drafted, units, ends_only=ends_only):
        board = new_board()
        y = _item(board, sizes, job_title(board, drafted.name) + 14, units, ends, order)
        pages.append(document(board, foot(board, y + 18, units), drafted.name))
    return tuple(pages)


def _items(
    drafted: Draft, units: Units, *, ends_only: bool
) -> Iterator[tuple[Sequence[StrapDraft], Sequence[Part], Order]]:
    """Yield a draft's belts and straps, a graded belt's sizes together, each with its end pieces if any."""
    orders = {order.id: order for order in orders_of(drafted, units)}
    for sizes in grouped(drafted.items):
        ends = [part for part in drafted.parts if part.belt_id == sizes[0].id] if ends_only else []
        yield sizes, ends, orders[sizes[0].id]


def piece_drawing(item: StrapDraft, *, units: Units = "mm") -> Canvas:
    """Return the drawing of one belt or strap by itself: dimensions and section, no tables and no findings.

    Args:
        item: the belt or strap.
        units: of the figures.
    """
    board = new_board()
    y, scale = draw_blank(board, item, 0.0, units)
    y = keeper_and_notes(board, item, y + 8, scale, units)
    if isinstance(item, BeltDraft):
        y = draw_section(board, item, MARGIN, y + 16, units)
    return document(board, y + 12, item.id)


def _item(
    board: Board, sizes: Sequence[StrapDraft], y: float, units: Units, ends: Sequence[Part], order: Order
) -> float:
    """Draw a belt or strap, the sizes of a graded belt, or just two ends; return where room begins, px."""
    item, graded = sizes[0], len(sizes) > 1
    belts = [one for one in sizes if isinstance(one, BeltDraft)]
    strap = f"strap {format_length(item.width, units)} wide"
    if not item.strap.ends:
        strap = f"{with_unit(item.width, units)} across"
    strap += f" · leather {with_unit(item.thickness, units)}"
    if ends:
        y = heading(board, item.run or item.id, f"the two ends, to try in scrap · {strap}", y)
        return _findings(board, sizes, draw_ends(board, belts[0], ends, y + 10, units), units)
    if graded:
        run = f"{len(sizes)} sizes, {item.run_size} to {sizes[-1].run_size}"
        y = heading(board, item.run, f"make {item.quantity} of each · {run} · {strap}", y)
        y += LINE + 6
        board.text(f"What all sizes share, and size {item.run_size} in full", MARGIN, y, size=TEXT)
    else:
        blank = f"blank {with_unit(item.blank_length, units)} long"
        y = heading(board, item.id, f"make {item.quantity} · {strap} · {blank}", y)
    y, scale = draw_blank(board, item, y + 10, units)
    if graded:
        y = draw_run(board, belts, y + 8, units)
    together = replace(item, quantity=sum(one.quantity for one in sizes))  # they share one keeper
    y = keeper_and_notes(board, together, y + 8, scale, units)
    columns, rows = hole_table(order.pieces[0], units)
    left, top = LEFT, y + 6
    if belts:  # its table stands beside the section where there is room
        y = draw_section(board, belts[0], MARGIN, y + 12, units)
        left, top = MARGIN + SECTION_WIDTH + _BETWEEN, top + 6
        if left + table_width(columns, rows) > WIDTH - MARGIN:
            left, top = MARGIN, y + 8
    if rows and not graded:  # else each size has holes of its own
        y = max(y, draw_table(board, f"Holes, {units}", columns, rows, left, top))
    return _findings(board, sizes, y, units)


def _findings(board: Board, sizes: Sequence[StrapDraft], y: float, units: Units) -> float:
    """Write the findings of a belt or strap, or of a graded belt's sizes; return where room begins, px."""
    for one in (found.in_units(units) for found in findings_of(sizes)):
        about = one.subject.removeprefix(f"{sizes[0].run}, ") if len(sizes) > 1 else ""
        size = f"Size {about}: " if about not in ("", "all sizes") else ""
        y = finding(board, str(one.severity), f"{size}{one.what} {one.do}", y + 4)
    return y
