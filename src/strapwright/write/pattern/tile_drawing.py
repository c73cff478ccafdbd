"""The drawing of one tile of a pattern piece: its holes, lines, labels, joins and breaks.

A strip is drawn in its piece's own frame, mm, but y down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PaperError
from strapwright.core.units import Units, format_length
from strapwright.drawing.canvas import Line, Path, Text, cross, polyline, turned_over
from strapwright.drawing.pattern_pieces import hole_words
from strapwright.drawing.text import Box
from strapwright.geometry.intervals import within_x
from strapwright.parts.marks import MARK
from strapwright.parts.part import Operation, PartKind
from strapwright.rules.punches import AWL_HOLE
from strapwright.write.pattern.paper_frame import words
from strapwright.write.pattern.tiles import OVERLAP

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.drawing.canvas import Item
    from strapwright.drawing.pattern_pieces import PatternPiece
    from strapwright.drawing.text import Font
    from strapwright.parts.part import Feature
    from strapwright.write.pattern.tiles import Tile

SIZE: Final = 2.6
"""Size of labels, mm: about 7.4 points, as small as one reads at a bench."""

LEAD: Final = 4.0
"""Room kept at both ends of a tile for what runs on beyond it, mm."""

_TIER: Final = 4.0
_FIRST: Final = 2.7
_CLEAR: Final = 0.8
_MOST_TIERS: Final = 10
_MOST_TRIES: Final = 3000
_TITLE: Final = 3.2
_LEADING: Final = 1.2
"""Between two lines of a caption, mm."""

_LEAST_WIDTH: Final = 74.0
"""Of a strip's caption, however short the strip is, mm."""

_CROSS_BEYOND: Final = 1.5
_FOLD_BEYOND: Final = 2.0
_CENTRE_BEYOND: Final = 3.0
_LEAST_CENTRE: Final = 12.0
"""Shorter pieces of centre line than this look like part of the letters beside them, mm."""

_JOIN_MARK: Final = 5.0
_JOIN_ARM: Final = 2.5

_BEFORE: Final = "sheet 000"
_AFTER: Final = "sheet 111"
"""Stand for a neighbour's sheet while room is sought: on which it comes is not yet known then."""


@dataclass(frozen=True)
class DrawnTile:
    """A tile ready to be drawn.

    Args:
        order: the belt or strap it belongs to.
        piece: the piece.
        tile: what of it is shown.
        caption: what is shown and what there is to know of it: lines with their sizes.
        labels: in their places, with their leaders.
        width: of everything drawn.
        top: how far up it reaches, the caption included; y, below 0.
        bottom: how far down it reaches.
    """

    order: str
    piece: PatternPiece
    tile: Tile
    caption: tuple[tuple[str, float], ...]
    labels: tuple[Text | Path, ...]
    width: float
    top: float
    bottom: float

    @property
    def left(self) -> float:
        """Where it begins, x."""
        return self.tile.x0 - LEAD

    @property
    def height(self) -> float:
        """How much of the sheet's height it takes, mm."""
        return self.bottom - self.top

    def items(self, before: int | None, after: int | None) -> Iterator[Item]:
        """Yield what it shows.

        Args:
            before: number of the sheet that shows the tile before; None where there is none.
            after: number of the sheet that shows the next one.
        """
        y = self.top
        for line, size in self.caption:
            y += size + _LEADING
            yield words(line, self.left, y - 0.8, size)
        yield from _tile_items(self.piece, self.tile)
        for label in self.labels:
            if isinstance(label, Text):
                named = label.words.replace(_BEFORE, f"sheet {before}").replace(_AFTER, f"sheet {after}")
                yield replace(label, words=named)
            else:
                yield label


def drawn_tile(
    order: str,
    piece: PatternPiece,
    tile: Tile,
    tiles: int,
    room: float,
    font: Font,
    units: Units,
    notes: Sequence[str] = (),
) -> DrawnTile:
    """Return a tile ready to be drawn, its labels placed, with its width and height.

    Labels keep to the tile's own length, so that another strip has room beside it, unless they take less
    paper beside it.

    Args:
        order: id of the belt or strap it belongs to.
        piece: the piece.
        tile: of the piece.
        tiles: how many there are of its stretch.
        room: between the left and the right end of the sheet's drawing area, mm.
        font: of the labels.
        units: of the lengths shown.
        notes: what else its caption says.

    Raises:
        PaperError: a label has no room on this sheet.
    """
    _, low, _, high = piece.part.outline.bounding_box
    top, bottom, left = -high, -low, tile.x0 - LEAD
    aside, beyond = _JOIN_ARM + 0.4, _JOIN_MARK + _JOIN_ARM + 0.6
    taken = [
        Box(x - aside, y, x + aside, y + beyond) for x in _shown(tile.joins) for y in (top - beyond, bottom)
    ]
    wanted = [*_hole_labels(piece, tile, units), *_break_labels(piece, tile, bottom, units)]
    wanted += [*_name_labels(piece, tile, top), *_join_labels(tile, bottom)]
    least = max(tile.x1 - tile.x0 + 2 * LEAD, _LEAST_WIDTH)
    found: list[DrawnTile] = []
    for limit in dict.fromkeys((min(room, least), room)):
        try:
            labels = [
                label
                for over in (False, True)
                for label in _placed(
                    [one for one in wanted if one.over is over], top, bottom, left, left + limit, taken, font
                )
            ]
        except PaperError:
            if limit == room and not found:
                raise
            continue
        boxes = [label.box for label in labels]
        width = max([least, *(min(room, box.x1 - _CLEAR - left) for box in boxes)])
        caption = tuple(
            (line, size)
            for text, size in _caption(order, piece, tile, tiles, notes)
            for line in font.wrapped(text, width, size)
        )
        reach = min([top - _FOLD_BEYOND, *(box.y0 for box in (*boxes, *taken))])
        reach -= 1.5 + sum(size + _LEADING for _, size in caption)
        bottom_reach = max([bottom + _FOLD_BEYOND, *(box.y1 for box in (*boxes, *taken))])
        items = tuple(item for label in labels for item in label.items)
        found.append(DrawnTile(order, piece, tile, caption, items, width, reach, bottom_reach))
    return min(found, key=lambda strip: strip.width * strip.height)


def _caption(
    order: str, piece: PatternPiece, tile: Tile, tiles: int, notes: Sequence[str]
) -> Iterator[tuple[str, float]]:
    title = f"{order}: {piece.title}"
    begin, end = tile.stretch.breaks
    if begin is not None or end is not None:
        where = "left end" if begin is None else "right end"
        if folds := [name.x for name in piece.names if name.text == "fold line"]:
            folded = any(tile.stretch.x0 <= x <= tile.stretch.x1 for x in folds)
            where = "folded end" if folded else "tip end"
        title += f", {where}"
    if tiles > 1:
        title += f", part {tile.number} of {tiles}"
    yield title, _TITLE
    lies = "as it is under the strap" if piece.part.kind is PartKind.LINING else "grain side up"
    whole = begin is None and tile.number == 1
    yield f"{piece.cut if whole else 'the same piece'} · {lies}", SIZE
    for note in notes:
        yield note, SIZE


# --- labels -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Wanted:
    """A label that is wanted.

    Args:
        x: what it is about, mm along the piece.
        y: where its leader begins.
        text: the words.
        over: whether it stands over the piece, or under it.
        plain: set over its place without a leader, where there is room.
        bare: set beside its place, and never with a leader.
        sides: where it may stand, as seen from its place, the side first that is tried first.
    """

    x: float
    y: float
    text: str
    over: bool = False
    plain: bool = False
    bare: bool = False
    sides: tuple[str, ...] = ("middle", "right", "left")


def _join_labels(tile: Tile, bottom: float) -> Iterator[_Wanted]:
    begin, end = tile.joins
    if begin is not None:
        text = f"join {tile.number - 1}: cut here, lay on {_BEFORE}"
        yield _Wanted(begin + 2.6, bottom, text, bare=True)
    if end is not None:
        text = f"join {tile.number}: lay {_AFTER} on this line"
        yield _Wanted(end - 2.6, bottom, text, bare=True, sides=("left", "right"))


def _break_labels(piece: PatternPiece, tile: Tile, bottom: float, units: Units) -> Iterator[_Wanted]:
    datum, name = piece.datum
    for x, letter in zip(reversed(tile.stretch.breaks), "MN", strict=True):
        if x is not None and tile.x0 <= x <= tile.x1:
            beyond, where = abs(x - datum), name
            if letter == "N" and piece.graded:
                beyond, where = piece.part.outline.bounding_box[2] - x, "the tip"
            text = f"line {letter}: {format_length(beyond, units)} from {where}"
            if letter == "N" and not piece.graded:
                text += f", {format_length(tile.stretch.left_out, units)} from line M"
            yield _Wanted(x, bottom, text)


def _name_labels(piece: PatternPiece, tile: Tile, top: float) -> Iterator[_Wanted]:
    elsewhere = [_middle(feature) for feature in piece.part.features if _on_the_neighbour(feature, tile)]
    for name in sorted(piece.names, key=lambda one: (len(one.text) > 3, one.x)):
        if tile.x0 <= name.x <= tile.x1 and all(abs(name.x - x) >= 0.5 for x in elsewhere):
            yield _Wanted(_beside_joins(name.x, tile), top, name.text, over=True, plain=True)


def _hole_labels(piece: PatternPiece, tile: Tile, units: Units) -> list[_Wanted]:
    """Return a label for each sort of hole on the tile, the rightmost first."""
    found: dict[str, _Wanted] = {}
    for feature in piece.part.features:
        text, middle = hole_words(feature, units), _middle(feature)
        if not text or not tile.x0 <= middle <= tile.x1 or _on_the_neighbour(feature, tile):
            continue
        x0, low, x1, _ = feature.contour.bounding_box
        # Beside the middle of a slot: there the fold line runs. And beside a join, for its marks.
        x = _beside_joins(middle if x1 - x0 < 12.0 else min(x0 + 0.75 * (x1 - x0), tile.x1), tile)
        if text not in found or (x, -low) > (found[text].x, found[text].y):
            found[text] = _Wanted(x, -low, text)
    return sorted(found.values(), key=lambda one: -one.x)


def _middle(feature: Feature) -> float:
    x0, _, x1, _ = feature.contour.bounding_box
    return (x0 + x1) / 2


def _beside_joins(x: float, tile: Tile) -> float:
    """Return x, or where the marks of a join stand there the nearest place beside them on the tile."""
    for join in _shown(tile.joins):
        if abs(x - join) < _JOIN_ARM + 0.8:
            x = join + math.copysign(_JOIN_ARM + 0.8, (tile.x0 + tile.x1) / 2 - join)
    return x


def _shown(places: tuple[float | None, float | None]) -> list[float]:
    return [x for x in places if x is not None]


@dataclass(frozen=True)
class _Label:
    """A label in a place.

    Args:
        items: its words, and its leader where it has one.
        box: of its words.
        line: of the leader's upright part.
    """

    items: tuple[Text | Path, ...]
    box: Box
    line: Box | None = None

    def clear_of(self, other: _Label) -> bool:
        """Whether neither's words lie on the other's words or leader."""
        return not (
            self.box.meets(other.box)
            or (self.line is not None and self.line.meets(other.box))
            or (other.line is not None and self.box.meets(other.line))
        )


def _placed(
    wanted: Sequence[_Wanted],
    top: float,
    bottom: float,
    left: float,
    right: float,
    taken: Sequence[Box],
    font: Font,
) -> list[_Label]:
    """Return labels that keep clear of each other and of what is taken, in as few tiers as it takes.

    One label after the other is given the nearest place that is free; where one finds none, those before it
    move.

    Args:
        wanted: the labels over or under a piece; those named first get the nearer places.
        top: upper edge of the piece.
        bottom: its lower edge.
        left: no words begin before it.
        right: no words end behind it.
        taken: boxes that words and leaders keep clear of.
        font: of the words.

    Raises:
        PaperError: a label has no room.
    """
    held, most = [_Label((), box) for box in taken], 0
    for tiers in range(1, _MOST_TIERS + 1):
        choices = [
            [
                label
                for label in _choices(one, tiers, top, bottom, font.width(one.text, SIZE))
                if left <= label.box.x0 + _CLEAR and label.box.x1 - _CLEAR <= right
            ]
            for one in wanted
        ]
        found: list[_Label] = []
        tried = [0] * len(wanted)
        for _ in range(_MOST_TRIES):
            at = len(found)
            if at == len(wanted):
                return found
            for label in choices[at][tried[at] :]:
                tried[at] += 1
                if all(label.clear_of(other) for other in (*held, *found)):
                    found.append(label)
                    break
            else:
                if at == 0:
                    break
                tried[at] = 0
                found.pop()
        most = max(most, len(found))
    raise PaperError(f'no space beside it for the label "{wanted[most].text}"')


def _choices(one: _Wanted, tiers: int, top: float, bottom: float, wide: float) -> Iterator[_Label]:
    """Yield the places a label may have, nearest first."""
    for tier, side in product(range(tiers), one.sides):
        if side == "middle" and not one.plain:
            continue
        y = top - _FIRST - tier * _TIER if one.over else bottom + _FIRST + SIZE * 0.6 + tier * _TIER
        x = one.x + {"middle": -wide / 2, "right": 1.2, "left": -1.2 - wide}[side]
        text = words(one.text, x, y, SIZE)
        box = Box(x - _CLEAR, y - SIZE, x + wide + _CLEAR, y + 0.26 * SIZE + 0.2)
        if one.bare or (side == "middle" and not tier):
            yield _Label((text,), box)
            continue
        beside = y - 0.35 * SIZE
        end = beside if side != "middle" else y + 0.3 * SIZE if one.over else y - 1.1 * SIZE
        leader = [(one.x, one.y), (one.x, end)]
        if side != "middle":
            leader.append((one.x + (0.9 if side == "right" else -0.9), beside))
        begin = top if one.over else bottom
        line = Box(one.x - 0.2, min(begin, end), one.x + 0.2, max(begin, end))
        yield _Label((polyline("print-fine", *leader), text), box, line)


# --- the piece --------------------------------------------------------------------------------------------


def _tile_items(piece: PatternPiece, tile: Tile) -> Iterator[Item]:
    """Yield what a tile shows of a piece, with its joins and breaks."""
    _, low, _, high = piece.part.outline.bounding_box
    top, bottom = -high, -low
    for contour in within_x(piece.part.outline, tile.x0, tile.x1):
        yield Path((turned_over(contour),), "print-cut")
    for feature in piece.part.features:
        if feature.name != "fold line" and not _on_the_neighbour(feature, tile):
            yield from _feature(feature, tile)
    for x0, x1 in _beside_lettering(piece, tile):
        yield Line(x0, 0.0, x1, 0.0, "print-centre")
    for name in piece.names:
        if name.text == "fold line" and tile.x0 <= name.x <= tile.x1:
            yield Line(name.x, bottom + _FOLD_BEYOND, name.x, top - _FOLD_BEYOND, "print-fold")
    for x in _shown(tile.stretch.breaks):
        if tile.x0 <= x <= tile.x1:
            yield Line(x, bottom, x, top, "print-fine")
    for x, line, end in zip(
        (tile.x0, tile.x1), tile.stretch.breaks, (tile.stretch.x0, tile.stretch.x1), strict=True
    ):
        if line is not None and x == end:
            yield _torn_edge(x, bottom + 1.5, top - 1.5)
    for x in _shown(tile.joins):
        yield from _join(x, top, bottom)


def _on_the_neighbour(feature: Feature, tile: Tile) -> bool:
    """Whether a hole lies whole on the neighbouring tile only: a part of one here would but puzzle."""
    x0, _, x1, _ = feature.contour.bounding_box
    return x1 - x0 <= OVERLAP and feature.contour.closed and not (tile.x0 <= x0 and x1 <= tile.x1)


def _feature(feature: Feature, tile: Tile) -> Iterator[Item]:
    scored = feature.operation is Operation.SCORE
    look = "hole" if not scored or feature.name == MARK else "score"
    look = "stitch" if feature.name == "stitch line" and scored else look
    for contour in within_x(feature.contour, tile.x0, tile.x1):
        yield Path((turned_over(contour),), f"print-{look}")
    _, low, _, high = feature.contour.bounding_box
    x, y = _middle(feature), -(low + high) / 2
    if scored or not tile.x0 <= x <= tile.x1:
        return
    circle, contour = feature.contour.as_circle(1e-6), feature.contour
    across = high - low if circle is None else circle[2]
    beyond = _CROSS_BEYOND if circle is None or across >= AWL_HOLE else 0.0
    yield cross("print-fine", x, y, across / 2 + beyond)
    if circle is None and len(contour) == 4 and int(contour.is_arc.sum()) == 2:
        for at_x, at_y in contour.centres[contour.is_arc]:  # punched at both ends, cut between
            yield cross("print-fine", float(at_x), -float(at_y), 1.2)


def _beside_lettering(piece: PatternPiece, tile: Tile) -> Iterator[tuple[float, float]]:
    """Yield the runs of the centre line that do not strike through a mark's letters."""
    boxes = [feature.contour.bounding_box for feature in piece.part.features if feature.name == MARK]
    start, stop = tile.x0 - _CENTRE_BEYOND, tile.x1 + _CENTRE_BEYOND
    for x0, x1 in sorted((x0 - 1.0, x1 + 1.0) for x0, y0, x1, y1 in boxes if y0 < 0.5 and y1 > -0.5):
        if start + _LEAST_CENTRE < x0 < stop:
            yield start, x0
        start = max(start, x1)
    if start < stop:
        yield start, stop


def _torn_edge(x: float, y0: float, y1: float) -> Path:
    """Return the edge of torn paper where the strap goes on but is left out."""
    steps = max(4, 2 * round(abs(y1 - y0) / 8.0))
    aside = (0.0, 1.2, 0.0, -1.2)
    points = [(x + aside[k % 4] * (k < steps), y0 + (y1 - y0) * k / steps) for k in range(steps + 1)]
    return polyline("print-fine", *points)


def _join(x: float, top: float, bottom: float) -> Iterator[Item]:
    """Yield the line on which two sheets meet, and the two crosses that complete each other there."""
    ends, d = (bottom + _JOIN_MARK, top - _JOIN_MARK), 0.6 * _JOIN_ARM
    yield Line(x, ends[0], x, ends[1], "print-trim")
    for y in ends:
        yield cross("print-hole", x, y, _JOIN_ARM)
        yield polyline("print-hole", (x - d, y), (x, y - d), (x + d, y), (x, y + d), (x - d, y))
