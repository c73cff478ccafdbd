"""The drawing of a draft: blanks and keepers with dimensions, notes, hole tables, sections, findings."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from strapwright.core.units import Units, format_length
from strapwright.drawing.belt.blank import draw_blank, draw_ends, girth_figure, girth_play
from strapwright.drawing.belt.fold_section import WIDTH as SECTION_WIDTH, draw_section
from strapwright.drawing.belt.grading import draw_run
from strapwright.drawing.belt.strap import LEFT, View, draw_feature
from strapwright.drawing.canvas import polyline
from strapwright.drawing.dimension_lines import Along, across, dimensions
from strapwright.drawing.drawing_sheet import (
    LINE,
    MARGIN,
    TEXT,
    WIDTH,
    document,
    draw_table,
    finding,
    foot,
    heading,
    job_title,
    new_board,
    table_width,
    tied,
    with_unit,
)
from strapwright.drawing.pattern_pieces import hole_table, orders_of
from strapwright.drawing.text import Box, figure, wrapped
from strapwright.job.grading import findings_of, grouped
from strapwright.job.strap_draft import BeltDraft

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from strapwright.drawing.canvas import Canvas
    from strapwright.drawing.dimension_lines import Board
    from strapwright.drawing.pattern_pieces import Order
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.dimensions.turned_end import EndFigures
    from strapwright.job.draft import Draft
    from strapwright.job.spec.fittings import Stitch
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.parts.keeper import KeeperStrip
    from strapwright.parts.part import Part

    _OnSheet = tuple[Sequence[StrapDraft], Sequence[Part], Order]

_NOTES_FROM: Final = 430.0
"""Notes stand beside the keeper from here on, or further right where it is longer, px."""

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
    return _sheet(drafted, _items(drafted, units, ends_only=ends_only), units)


def drawing_pages(drafted: Draft, *, units: Units = "mm", ends_only: bool = False) -> tuple[Canvas, ...]:
    """Return the drawing a page at a time: each belt, graded belt or strap a drawing of its own.

    Args:
        drafted: the draft.
        units: of the figures.
        ends_only: as for :func:`drawing`.
    """
    return tuple(_sheet(drafted, [one], units) for one in _items(drafted, units, ends_only=ends_only))


def _sheet(drafted: Draft, items: Iterable[_OnSheet], units: Units) -> Canvas:
    """Return a sheet with some of a draft's belts and straps, one below the other."""
    board = new_board()
    y = job_title(board, drafted.name)
    for sizes, ends, order in items:
        y = _item(board, sizes, y + 14, units, ends, order)
    return document(board, foot(board, y + 18, units), drafted.name)


def _items(drafted: Draft, units: Units, *, ends_only: bool) -> Iterator[_OnSheet]:
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


def keeper_and_notes(board: Board, item: StrapDraft, y: float, scale: float, units: Units) -> float:
    """Draw the keeper of a belt, if it has one, and write the notes of a belt or other strap.

    Args:
        board: the drawing.
        item: the belt or strap.
        y: free room begins here, px.
        scale: of the keeper, px per mm.
        units: of the figures.

    Returns:
        Where free room begins below, px.
    """
    notes_x, bottom, top = LEFT, y, y
    if item.keeper is not None:
        bottom, right = _keeper(board, item, item.keeper, y, scale, units)
        notes_x = max(_NOTES_FROM, right + 48)
        if notes_x > WIDTH - MARGIN - 300:
            notes_x, top = LEFT, bottom + 4
    top += 17
    for note in _notes(item, units):
        for line in wrapped(tied(note), WIDTH - MARGIN - notes_x, TEXT):
            board.text(line, notes_x, top, size=TEXT)
            top += LINE
    return max(bottom, top - 6)


def _keeper(
    board: Board, item: StrapDraft, keeper: KeeperStrip, y: float, scale: float, units: Units
) -> tuple[float, float]:
    """Draw the keeper strip; return its lower and its right end, px."""
    board.text(f"keeper, make {item.quantity}, {keeper.join} join", LEFT, y + 17, size=TEXT)
    half = scale * keeper.width / 2
    view = View(scale, 0.0, (0.0, 0.0), y + 58 + half)
    upper, lower, right = view.middle - half, view.middle + half, view.x(keeper.length + keeper.spare)
    board.add(view.path("leather cut", keeper.outline, tip=False))
    for feature in keeper.features():
        draw_feature(board, feature, view)
    board.add(polyline("centre", (LEFT - 8, view.middle), (right + 8, view.middle)))
    board.solids.append(Box(LEFT, upper, right, lower))
    marks = [f.contour.bounding_box[0] for f in keeper.features() if f.name == "join mark"]
    word = "lap" if keeper.join == "lap" else "join mark"
    inset = (f"{word} {figure(marks[0], units, exact=True)}",)
    wanted = [Along(LEFT, view.x(marks[0]), upper - 14, upper, upper, inset, 1, "keeper join")]
    if keeper.join == "butt":
        end = (figure(keeper.length - marks[1], units, exact=True),)
        last = view.x(marks[1]), view.x(keeper.length)
        wanted.append(Along(*last, upper - 14, upper, upper, end, 1, "keeper join"))
    length = figure(keeper.length, units)
    if keeper.spare:
        length += f" + {figure(keeper.spare, units)} spare"
    wanted.append(Along(LEFT, right, lower + 22, lower, lower, (length,), figure="keeper length"))
    dimensions(board, wanted)
    width = figure(keeper.width, units, exact=True)
    across(board, LEFT - 26, upper, lower, LEFT, (width,), "keeper width")
    return max(lower + 34, max(box.y1 for box in board.texts)), right


def _notes(item: StrapDraft, units: Units) -> Iterator[str]:
    """Yield what is to be said beside the drawing: how the strap is measured and put together."""
    yield "Grain side up: mark and cut from the grain."
    if not item.strap.ends:
        what = "drawing" if item.spec.drawing is not None else "sketch"
        yield f"Drawn by {item.ends[0].spec.words}, a {what} of your own."
        return
    notes = [
        [] if got.figures is None else list(_end_notes(item, got.figures, got.spec.stitch, units))
        for got in item.ends
    ]
    if item.figures is not None:
        yield from (
            f"{note[0].upper()}{note[1:]}".replace("Row A m", "Fastener row A m") for note in notes[0]
        )
        yield from _belt_notes(item, item.figures, units)
        return
    first, second = (end.spec.words for end in item.ends)
    said = f"Both ends: {first}." if first == second else f"First end: {first}; second end: {second}."
    between = " to ".join("the bar's middle" if end.figures else "the tip's point" for end in item.ends)
    yield f"{said} Finished {format_length(item.length, units)} long, from {between}."
    if notes[0] == notes[1]:
        yield from (f"Either end: {note}" for note in notes[0])
        return
    for name, of_end in zip(("First end", "Second end"), notes, strict=True):
        yield from (f"{name}: {note}" for note in of_end)


def _end_notes(item: StrapDraft, got: EndFigures, stitch: Stitch, units: Units) -> Iterator[str]:
    """Yield what is to be said of a turned end."""
    if got.rows:
        names = "ABC"[: len(got.rows)]
        rows, meet = ("rows", "meet") if len(names) > 1 else ("row", "meets")
        mates = ", ".join(f"{name}′" for name in names)
        yield f"{rows} {', '.join(names)} {meet} {mates} when the turn-back is folded round the bar."
    if got.dee:
        yield f"the dee ring's bar is between the layers {with_unit(got.dee, units)} from the fold."
    if got.posts:
        sizes = ", ".join(post.words() for post in got.posts)
        yield f"fasteners, through {with_unit(got.posts[0].stack, units)} of leather: {sizes}."
    if got.stitches:
        first, second = got.stitches[0][:2]
        inset = format_length(stitch.inset, units)
        yield f"stitches {with_unit(second - first, units)} apart, {inset} from the edge, never across."
    if item.lining is not None:
        yield f"lined from {with_unit(item.lining.start, units)} behind the fold line to the tip."
    if got.layers.fold != got.layers.strap:
        yield f"fold and turn-back are {with_unit(got.layers.fold, units)} thick."


def _belt_notes(item: StrapDraft, got: BeltFigures, units: Units) -> Iterator[str]:
    """Yield what is to be said of a belt besides its buckle end."""
    keeper, strap = got.keeper, item.strap
    if strap.crease:
        yield f"Crease line {format_length(strap.crease, units)} from the edge, all round."
    if strap.marks:
        yield "The lettering on the turn-back is scored; on the closed belt it is hidden."
    if keeper is not None and got.layers.keeper != got.layers.outer:
        yield f"The keeper's leather is {with_unit(got.layers.keeper, units)} thick."
    if keeper is not None and keeper.skive:
        yield f"Both ends of the keeper are skived to nothing over {with_unit(keeper.lap, units)}."
    if not item.run:  # the sizes of a graded belt have a table of theirs
        least, most, used = (girth_figure(girth, units) for girth in (*sorted(got.girths), got.girth_in_use))
        fits = f"Fits waists or girths of {least} to {most} {units}; at the hole in use {used} {units}"
        yield f"{fits}, {girth_play(units)}."
