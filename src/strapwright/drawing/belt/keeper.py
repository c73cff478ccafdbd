"""The keeper strip with its dimensions, and what is to be said beside the drawing of a belt or strap."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.core.units import Units, format_length
from strapwright.drawing.belt.blank import girth_figure, girth_play
from strapwright.drawing.belt.strap import LEFT, View, draw_feature
from strapwright.drawing.canvas import polyline
from strapwright.drawing.dimension_lines import Along, across, dimensions
from strapwright.drawing.text import Box, figure, wrapped
from strapwright.drawing.title_block import LINE, MARGIN, TEXT, WIDTH, tied, with_unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.drawing.dimension_lines import Board
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.dimensions.turned_end import EndFigures
    from strapwright.job.spec.fittings import Stitch
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.parts.keeper import KeeperStrip

_NOTES_FROM: Final = 430.0
"""Notes stand beside the keeper from here on, or further right where it is longer, px."""


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
