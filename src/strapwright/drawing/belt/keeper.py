"""The keeper strip with its dimensions, and what is to be said beside the drawing of a belt."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.core.units import Units, format_length
from strapwright.drawing.belt.blank import girth_figure, girth_play
from strapwright.drawing.belt.strap import LEFT, View, draw_feature
from strapwright.drawing.canvas import polyline
from strapwright.drawing.dimension_lines import Along, across, dimensions
from strapwright.drawing.sheet_frame import LINE, MARGIN, TEXT, WIDTH, tied, with_unit
from strapwright.drawing.text import Box, figure, wrapped

if TYPE_CHECKING:
    from strapwright.drawing.dimension_lines import Board
    from strapwright.job.strap_draft import BeltDraft
    from strapwright.parts.keeper import KeeperStrip

_NOTES_FROM: Final = 430.0
"""Notes stand beside the keeper from here on, or further right where it is longer, px."""


def keeper_and_notes(board: Board, belt: BeltDraft, y: float, scale: float, units: Units) -> float:
    """Draw a belt's keeper and write its notes.

    Args:
        board: the drawing.
        belt: the belt.
        y: free room begins here, px.
        scale: of the keeper, px per mm.
        units: of the figures.

    Returns:
        Where free room begins below, px.
    """
    notes_x, bottom, top = LEFT, y, y
    if belt.keeper is not None:
        bottom, right = _keeper(board, belt, belt.keeper, y, scale, units)
        notes_x = max(_NOTES_FROM, right + 48)
        if notes_x > WIDTH - MARGIN - 300:
            notes_x, top = LEFT, bottom + 4
    top += 17
    for note in _notes(belt, units):
        for line in wrapped(tied(note), WIDTH - MARGIN - notes_x, TEXT):
            board.text(line, notes_x, top, size=TEXT)
            top += LINE
    return max(bottom, top - 6)


def _keeper(
    board: Board, belt: BeltDraft, keeper: KeeperStrip, y: float, scale: float, units: Units
) -> tuple[float, float]:
    """Draw the keeper strip; return its lower and its right end, px."""
    board.text(f"keeper, make {belt.quantity}, {keeper.join} join", LEFT, y + 17, size=TEXT)
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
    wanted = [Along(LEFT, view.x(marks[0]), upper - 14, upper, upper, inset, 1)]
    if keeper.join == "butt":
        end = (figure(keeper.length - marks[1], units, exact=True),)
        wanted.append(Along(view.x(marks[1]), view.x(keeper.length), upper - 14, upper, upper, end, 1))
    length = figure(keeper.length, units)
    if keeper.spare:
        length += f" + {figure(keeper.spare, units)} spare"
    wanted.append(Along(LEFT, right, lower + 22, lower, lower, (length,)))
    dimensions(board, wanted)
    width = figure(keeper.width, units, exact=True)
    across(board, LEFT - 26, upper, lower, LEFT, (width,))
    return max(lower + 34, max(box.y1 for box in board.texts)), right


def _notes(belt: BeltDraft, units: Units) -> list[str]:
    got, keeper = belt.figures, belt.figures.keeper
    notes = ["Grain side up: mark and cut from the grain."]
    if len(got.end.rows) == 1:
        notes.append("Fastener row A meets A′ when the turn-back is folded round the bar.")
    elif got.end.rows:
        names = "ABC"[: len(got.end.rows)]
        mates = ", ".join(f"{name}′" for name in names)
        notes.append(f"Rows {', '.join(names)} meet {mates} when the turn-back is folded round the bar.")
    if got.end.dee:
        notes.append(
            f"The dee ring's bar is between the layers {with_unit(got.end.dee, units)} from the fold."
        )
    if belt.posts:
        sizes = ", ".join(post.words() for post in belt.posts)
        notes.append(f"Fasteners, through {with_unit(belt.posts[0].stack, units)} of leather: {sizes}.")
    if belt.strap.buckle_end.stitching:
        first, second = belt.strap.buckle_end.stitching.runs[0][:2]
        inset = format_length(belt.strap.buckle_end.stitching.inset, units)
        notes.append(
            f"Stitches {with_unit(second - first, units)} apart, {inset} from the edge, never across."
        )
    if belt.lining:
        notes.append(f"Lined from {with_unit(belt.lining.start, units)} behind the fold line to the tip.")
    if got.layers.fold != got.layers.strap:
        notes.append(f"Fold and turn-back are {with_unit(got.layers.fold, units)} thick.")
    if belt.strap.crease:
        notes.append(f"Crease line {format_length(belt.strap.crease, units)} from the edge, all round.")
    if belt.strap.marks:
        notes.append("The lettering on the turn-back is scored; on the closed belt it is hidden.")
    if keeper is not None and got.layers.keeper != got.layers.outer:
        notes.append(f"The keeper's leather is {with_unit(got.layers.keeper, units)} thick.")
    if keeper is not None and keeper.skive:
        notes.append(f"Both ends of the keeper are skived to nothing over {with_unit(keeper.lap, units)}.")
    if not belt.run:  # the sizes of a graded belt have a table of theirs
        least, most, used = (girth_figure(girth, units) for girth in (*sorted(got.girths), got.girth_in_use))
        told = f"Fits waists or girths of {least} to {most} {units}; at the hole in use {used} {units}"
        notes.append(f"{told}, {girth_play(units)}.")
    return notes
