"""The drawing of a draft: blanks and keepers with dimensions, hole tables, the fold's section, findings."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from strapwright.core.units import Units, format_length
from strapwright.drawing.belt.blank import draw_blank
from strapwright.drawing.belt.ends import draw_ends
from strapwright.drawing.belt.fold_section import WIDTH as SECTION_WIDTH, draw_section
from strapwright.drawing.belt.grading import draw_run
from strapwright.drawing.belt.hole_table import hole_table
from strapwright.drawing.belt.keeper import keeper_and_notes
from strapwright.drawing.belt.other_strap import draw_goods, goods_notes
from strapwright.drawing.belt.strap import LEFT
from strapwright.drawing.pattern_pieces import orders_of
from strapwright.drawing.sheet_frame import (
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
    tied,
    with_unit,
)
from strapwright.drawing.table import draw_table, table_width
from strapwright.drawing.text import wrapped
from strapwright.job.grading import findings_of, grouped
from strapwright.job.strap_draft import BeltDraft

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from strapwright.drawing.canvas import Canvas
    from strapwright.drawing.dimension_lines import Board
    from strapwright.drawing.pattern_pieces import Order
    from strapwright.job.draft import Draft
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.parts.part import Part

    Units = Units

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
    orders = {order.id: order for order in orders_of(drafted, units)}
    for belts in grouped(drafted.belts):
        pieces = [part for part in drafted.parts if part.belt_id == belts[0].id] if ends_only else []
        y = _belts(board, belts, y + 14, units, pieces, orders)
    for strap in drafted.straps:
        y = _goods(board, strap, y + 14, units, orders)
    return document(board, foot(board, y + 18, units), drafted.name)


def drawing_pages(drafted: Draft, *, units: Units = "mm", ends_only: bool = False) -> tuple[Canvas, ...]:
    """Return the drawing a page at a time: each belt, graded belt or strap a drawing of its own.

    Args:
        drafted: the draft.
        units: of the figures.
        ends_only: as for :func:`drawing`.
    """
    orders = {order.id: order for order in orders_of(drafted, units)}
    pages = []
    for belts in grouped(drafted.belts):
        board = new_board()
        pieces = [part for part in drafted.parts if part.belt_id == belts[0].id] if ends_only else []
        y = _belts(board, belts, job_title(board, drafted.name) + 14, units, pieces, orders)
        pages.append(document(board, foot(board, y + 18, units), drafted.name))
    for strap in drafted.straps:
        board = new_board()
        y = _goods(board, strap, job_title(board, drafted.name) + 14, units, orders)
        pages.append(document(board, foot(board, y + 18, units), drafted.name))
    return tuple(pages)


def piece_drawing(item: StrapDraft, *, units: Units = "mm") -> Canvas:
    """Return the drawing of one belt or strap by itself: dimensions and section, no tables and no findings.

    Args:
        item: the belt or strap.
        units: of the figures.
    """
    board = new_board()
    if isinstance(item, BeltDraft):
        y, scale = draw_blank(board, item, 0.0, units)
        y = keeper_and_notes(board, item, y + 8, scale, units)
        y = draw_section(board, item, MARGIN, y + 16, units)
    else:
        y = _goods_and_notes(board, item, 0.0, units)
    return document(board, y + 12, item.id)


def _belts(
    board: Board,
    belts: Sequence[BeltDraft],
    y: float,
    units: Units,
    ends: Sequence[Part],
    orders: Mapping[str, Order],
) -> float:
    """Draw a belt, or the sizes of a graded one, or just the two ends; return where room begins below, px."""
    belt, got, graded = belts[0], belts[0].figures, len(belts) > 1
    strap = f"strap {format_length(got.width, units)} wide · leather {with_unit(got.layers.strap, units)}"
    if ends:
        y = heading(board, belt.run or belt.id, f"the two ends, to try in scrap · {strap}", y)
        y = draw_ends(board, belt, ends, y + 10, units)
        return _findings(board, belts, y, units, graded=graded)
    if graded:
        sizes = f"{len(belts)} sizes, {belt.run_size} to {belts[-1].run_size}"
        y = heading(board, belt.run, f"make {belt.quantity} of each · {sizes} · {strap}", y)
        y += LINE + 6
        board.text(f"What all sizes share, and size {belt.run_size} in full", MARGIN, y, size=TEXT)
    else:
        blank = f"blank {with_unit(belt.blank_length, units)} long"
        y = heading(board, belt.id, f"make {belt.quantity} · {strap} · {blank}", y)
    y, scale = draw_blank(board, belt, y + 10, units)
    if graded:
        y = draw_run(board, belts, y + 8, units)
    together = replace(belt, quantity=sum(one.quantity for one in belts))  # they share one keeper
    y = keeper_and_notes(board, together, y + 8, scale, units)
    if graded:  # each size has holes of its own; they share the fold
        y = draw_section(board, belt, MARGIN, y + 12, units)
    else:
        y = _section_and_holes(board, belt, orders[belt.id], y + 12, units)
    return _findings(board, belts, y, units, graded=graded)


def _findings(board: Board, belts: Sequence[BeltDraft], y: float, units: Units, *, graded: bool) -> float:
    """Write the findings of a belt, or of the sizes of a graded one; return where room begins below, px."""
    for one in (found.in_units(units) for found in findings_of(belts)):
        about = one.subject.removeprefix(f"{belts[0].run}, ") if graded else ""
        size = f"Size {about}: " if about not in ("", "all sizes") else ""
        y = finding(board, str(one.severity), f"{size}{one.what} {one.do}", y + 4)
    return y


def _goods(board: Board, strap: StrapDraft, y: float, units: Units, orders: Mapping[str, Order]) -> float:
    """Draw a strap that is no belt; return where free room begins below, px."""
    facts = [
        f"make {strap.quantity}",
        f"strap {format_length(strap.width, units)} wide"
        if len(strap.ends) == 2
        else f"{with_unit(strap.width, units)} across",
        f"leather {with_unit(strap.thickness, units)}",
        f"blank {with_unit(strap.blank_length, units)} long",
    ]
    y = heading(board, strap.id, " · ".join(facts), y)
    y = _goods_and_notes(board, strap, y + 10, units)
    y = _hole_table(board, orders[strap.id], LEFT, y + 6, units)
    for one in (found.in_units(units) for found in strap.findings):
        y = finding(board, str(one.severity), f"{one.what} {one.do}", y + 4)
    return y


def _goods_and_notes(board: Board, strap: StrapDraft, y: float, units: Units) -> float:
    y = draw_goods(board, strap, y, units) + 25
    for note in goods_notes(strap, units):
        for line in wrapped(tied(note), WIDTH - MARGIN - LEFT, TEXT):
            board.text(line, LEFT, y, size=TEXT)
            y += LINE
    return y - 6


def _hole_table(board: Board, order: Order, left: float, y: float, units: Units) -> float:
    """Write the table of a strap's holes; return where free room begins below, px."""
    columns, rows = hole_table(order.pieces[0], units)
    return draw_table(board, f"Holes, {units}", columns, rows, left, y) if rows else y


def _section_and_holes(board: Board, belt: BeltDraft, order: Order, y: float, units: Units) -> float:
    """Draw the section of the fold and write the table of holes, beside it where there is room."""
    bottom = draw_section(board, belt, MARGIN, y, units)
    left = MARGIN + SECTION_WIDTH + _BETWEEN
    if left + table_width(*hole_table(order.pieces[0], units)) <= WIDTH - MARGIN:
        return max(bottom, _hole_table(board, order, left, y, units))
    return _hole_table(board, order, MARGIN, bottom + 8, units)
