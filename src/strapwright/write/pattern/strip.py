"""One strip of a pattern sheet: a tile of a piece with its holes, lines, labels, joins and breaks."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PaperError
from strapwright.core.units import Units, format_length
from strapwright.drawing.pattern_pieces import hole_words
from strapwright.drawing.pdf import CENTRE, CUT, FINE, FOLD, HOLE, SCORE, STITCH, TRIM
from strapwright.parts.marks import MARK
from strapwright.parts.part import Operation, PartKind
from strapwright.trade.punches import AWL_HOLE
from strapwright.write.pattern.tiles import OVERLAP, between

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from typing import Literal

    from strapwright.drawing.pattern_pieces import Piece
    from strapwright.drawing.pdf import PdfSheets
    from strapwright.drawing.text import Font
    from strapwright.parts.part import Feature
    from strapwright.write.pattern.tiles import Tile

    Box = tuple[float, float, float, float]

SIZE: Final = 2.6
"""Size of labels, mm: about 7.4 points, as small as one reads at a bench."""

_TIER: Final = 4.0

_FIRST: Final = 2.7

_CLEAR: Final = 0.8

_MOST_TIERS: Final = 10

_MOST_TRIES: Final = 3000

LEAD: Final = 4.0
"""Room kept at both ends of a tile for what runs on beyond it, mm."""


_TITLE: Final = 3.2


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
class Strip:
    """A tile ready to be drawn; y from the piece's centre line, mm.

    Args:
        order: the belt or strap it belongs to.
        piece: the piece.
        tile: what of it is shown.
        caption: what is shown and what there is to know of it: lines with their sizes.
        labels: placed.
        width: of everything drawn.
        low: how low it reaches.
        high: how high it reaches, the caption included.
        shift: what is added to the piece's x to get millimetres from the strip's left end.
    """

    order: str
    piece: Piece
    tile: Tile
    caption: tuple[tuple[str, float], ...]
    labels: tuple[Placed, ...]
    width: float
    low: float
    high: float
    shift: float

    @property
    def height(self) -> float:
        """How much of the sheet's height it takes, mm."""
        return self.high - self.low


def strip_of(
    order: str,
    piece: Piece,
    tile: Tile,
    tiles: int,
    room: float,
    font: Font,
    units: Units,
    notes: Sequence[str] = (),
) -> Strip:
    """Make a strip: place its labels and see how wide and how high it becomes.

    Labels keep to the tile's own length, so that another strip has room beside it, unless they take less
    paper beside it.

    Args:
        order: id of the belt or strap it belongs to.
        piece: the piece.
        tile: of the piece.
        tiles: how many there are of its window.
        room: between the left and the right end of the sheet's drawing area, mm.
        font: of the labels.
        units: of the lengths told.
        notes: what else its caption says.

    Raises:
        PaperError: a label has no room on this sheet.
    """
    shift = LEAD - tile.x0
    _, y0, _, y1 = piece.part.outline.bounding_box
    taken: list[Box] = []
    for x in tile.joins:
        if x is not None:
            reach = _JOIN_MARK + _JOIN_ARM + 0.6
            taken.append((x + shift - _JOIN_ARM - 0.4, y1, x + shift + _JOIN_ARM + 0.4, y1 + reach))
            taken.append((x + shift - _JOIN_ARM - 0.4, y0 - reach, x + shift + _JOIN_ARM + 0.4, y0))
    wanted = [*_hole_labels(piece, tile, shift, units), *_break_labels(piece, tile, shift, (y0, y1), units)]
    wanted += [*_name_labels(piece, tile, shift, y1), *_join_labels(tile, shift, (y0, y1))]
    length = tile.x1 - tile.x0 + 2 * LEAD
    limits = dict.fromkeys((min(room, max(length, _LEAST_WIDTH)), room))
    found: list[Strip] = []
    for limit in limits:
        try:
            labels, low, high = place(wanted, (y0, y1), (0.0, limit), taken, font.width)
        except PaperError:
            if limit == room and not found:
                raise
            continue
        ends = (label.x + font.width(label.text, SIZE) for label in labels)
        width = min(room, max(length, _LEAST_WIDTH, *ends)) if labels else max(length, _LEAST_WIDTH)
        for box in taken:
            low, high = min(low, box[1]), max(high, box[3])
        low, high = min(low, y0 - _FOLD_BEYOND), max(high, y1 + _FOLD_BEYOND)
        caption = tuple(
            (line, size)
            for text, size in _caption(order, piece, tile, tiles, notes)
            for line in font.wrapped(text, width, size)
        )
        high += 1.5 + sum(_line_height(size) for _, size in caption)
        found.append(Strip(order, piece, tile, caption, labels, width, low, high, shift))
    return min(found, key=lambda strip: strip.width * strip.height)


def _line_height(size: float) -> float:
    return size + 1.2


def _caption(
    order: str, piece: Piece, tile: Tile, tiles: int, notes: Sequence[str]
) -> Iterator[tuple[str, float]]:
    words = f"{order}: {piece.title}"
    begin, end = tile.window.breaks
    if begin is not None or end is not None:
        where = "left end" if begin is None else "right end"
        if any(name.text == "fold line" for name in piece.names):
            low, high = tile.window.x0, tile.window.x1
            folded = any(name.text == "fold line" and low <= name.x <= high for name in piece.names)
            where = "folded end" if folded else "tip end"
        words += f", {where}"
    if tiles > 1:
        words += f", part {tile.number} of {tiles}"
    yield words, _TITLE
    lies = "as it is under the strap" if piece.part.kind is PartKind.LINING else "grain side up"
    yield f"{piece.cut} · {lies}", SIZE
    for note in notes:
        yield note, SIZE


def _join_labels(tile: Tile, shift: float, edges: tuple[float, float]) -> Iterator[Wanted]:
    begin, end = tile.joins
    if begin is not None:
        text = f"join {tile.number - 1}: cut here, lay on {_BEFORE}"
        yield Wanted(begin + shift + 2.6, edges[0], text, up=False, bare=True)
    if end is not None:
        text = f"join {tile.number}: lay {_AFTER} on this line"
        yield Wanted(end + shift - 2.6, edges[0], text, up=False, bare=True, first="left")


def _break_labels(
    piece: Piece, tile: Tile, shift: float, edges: tuple[float, float], units: Units
) -> Iterator[Wanted]:
    datum, words = piece.datum
    for x, letter in zip(reversed(tile.window.breaks), "MN", strict=True):
        if x is not None and tile.x0 <= x <= tile.x1:
            text = f"line {letter}: {format_length(abs(x - datum), units)} from {words}"
            if letter == "N":
                text += f", {format_length(tile.window.left_out, units)} from line M"
            yield Wanted(x + shift, edges[0], text, up=False)


def _name_labels(piece: Piece, tile: Tile, shift: float, edge: float) -> Iterator[Wanted]:
    elsewhere = [f for f in piece.part.features if _on_the_neighbour(f, tile)]
    middles = [(f.contour.bounding_box[0] + f.contour.bounding_box[2]) / 2 for f in elsewhere]
    for name in sorted(piece.names, key=lambda one: (len(one.text) > 3, one.x)):
        if any(abs(name.x - middle) < 0.5 for middle in middles):
            continue
        if tile.x0 <= name.x <= tile.x1:
            yield Wanted(_beside_joins(name.x, tile) + shift, edge, name.text, up=True, plain=True)


def _beside_joins(x: float, tile: Tile) -> float:
    """Return x, or where the marks of a join stand there the nearest place beside them on the tile."""
    for join in tile.joins:
        if join is not None and abs(x - join) < _JOIN_ARM + 0.8:
            x = join + math.copysign(_JOIN_ARM + 0.8, (tile.x0 + tile.x1) / 2 - join)
    return x


def _hole_labels(piece: Piece, tile: Tile, shift: float, units: Units) -> list[Wanted]:
    """Return a label for each sort of hole on the tile, the rightmost first."""
    found: dict[str, Wanted] = {}
    for feature in piece.part.features:
        words = hole_words(feature, units)
        x0, low, x1, _ = feature.contour.bounding_box
        if not words or not tile.x0 <= (x0 + x1) / 2 <= tile.x1 or _on_the_neighbour(feature, tile):
            continue
        # Beside the middle of a slot: there the fold line runs. And beside a join, for its marks.
        x = (x0 + x1) / 2 if x1 - x0 < 12.0 else min(x0 + 0.75 * (x1 - x0), tile.x1)
        x = _beside_joins(x, tile)
        held = found.get(words)
        if held is None or (x + shift, -low) > (held.x, -held.y):
            found[words] = Wanted(x + shift, low, words, up=False)
    return sorted(found.values(), key=lambda one: -one.x)


def draw_strip(
    sheets: PdfSheets,
    strip: Strip,
    x: float,
    y: float,
    neighbours: tuple[int | None, int | None],
) -> None:
    """Draw a strip.

    Args:
        sheets: the pages.
        strip: what to draw.
        x: of its left end on the page, mm.
        y: of the piece's centre line on the page, mm.
        neighbours: numbers of the sheets that show the tile before and the tile after; None where there is
            none.
    """
    piece, tile = strip.piece, strip.tile
    dx, (_, y0, _, y1) = x + strip.shift, piece.part.outline.bounding_box
    top = y + strip.high
    for line, size in strip.caption:
        top -= _line_height(size)
        sheets.text(line, x, top + 0.8, size)
    for part in between(piece.part.outline, tile.x0, tile.x1):
        sheets.contour(part, dx, y, CUT)
    for feature in piece.part.features:
        if feature.name != "fold line" and not _on_the_neighbour(feature, tile):
            _feature(sheets, feature, tile, dx, y)
    for x0, x1 in _beside_lettering(piece, tile):
        sheets.line(x0 + dx, y, x1 + dx, y, CENTRE)
    for name in piece.names:
        if name.text == "fold line" and tile.x0 <= name.x <= tile.x1:
            sheets.line(name.x + dx, y + y0 - _FOLD_BEYOND, name.x + dx, y + y1 + _FOLD_BEYOND, FOLD)
    for at in tile.window.breaks:
        if at is not None and tile.x0 <= at <= tile.x1:
            sheets.line(at + dx, y + y0, at + dx, y + y1, FINE)
    _break_edges(sheets, strip, dx, y)
    for at in tile.joins:
        if at is not None:
            _join(sheets, at + dx, y, (y0, y1))
    for label in strip.labels:
        _label(sheets, label, x, y, neighbours)


def _beside_lettering(piece: Piece, tile: Tile) -> Iterator[tuple[float, float]]:
    """Yield the runs of the centre line that do not strike through a mark's letters."""
    marks = sorted(
        (x0 - 1.0, x1 + 1.0)
        for x0, y0, x1, y1 in (f.contour.bounding_box for f in piece.part.features if f.name == MARK)
        if y0 < 0.5 and y1 > -0.5
    )
    start, stop = tile.x0 - _CENTRE_BEYOND, tile.x1 + _CENTRE_BEYOND
    for x0, x1 in marks:
        if start + _LEAST_CENTRE < x0 < stop:
            yield start, x0
        start = max(start, x1)
    if start < stop:
        yield start, stop


def _on_the_neighbour(feature: Feature, tile: Tile) -> bool:
    """Whether a hole lies whole on the neighbouring tile only: a part of one here would but puzzle."""
    x0, _, x1, _ = feature.contour.bounding_box
    return x1 - x0 <= OVERLAP and feature.contour.closed and not (tile.x0 <= x0 and x1 <= tile.x1)


def _feature(sheets: PdfSheets, feature: Feature, tile: Tile, dx: float, y: float) -> None:
    style = HOLE
    if feature.operation is Operation.SCORE:
        style = STITCH if feature.name == "stitch line" else SCORE if feature.name != MARK else HOLE
    for part in between(feature.contour, tile.x0, tile.x1):
        sheets.contour(part, dx, y, style)
    if feature.operation is Operation.SCORE:
        return
    x0, y0, x1, y1 = feature.contour.bounding_box
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    if not tile.x0 <= cx <= tile.x1:
        return
    circle = feature.contour.as_circle(1e-6)
    if circle is not None:
        arm = circle[2] / 2 + (_CROSS_BEYOND if circle[2] >= AWL_HOLE else 0.0)
        sheets.cross(cx + dx, cy + y, arm)
        return
    sheets.cross(cx + dx, cy + y, (y1 - y0) / 2 + _CROSS_BEYOND)
    contour = feature.contour
    if len(contour) == 4 and int(contour.is_arc.sum()) == 2:  # punched at both ends, cut between
        for index in range(4):
            if contour.is_arc[index]:
                ex, ey = contour.centres[index]
                sheets.cross(float(ex) + dx, float(ey) + y, 1.2)


def _break_edges(sheets: PdfSheets, strip: Strip, dx: float, y: float) -> None:
    """Draw the edge of torn paper where the strap goes on but is left out."""
    _, y0, _, y1 = strip.piece.part.outline.bounding_box
    for at, line in zip((strip.tile.x0, strip.tile.x1), strip.tile.window.breaks, strict=True):
        if line is None or at not in (strip.tile.window.x0, strip.tile.window.x1):
            continue
        low, high = y + y0 - 1.5, y + y1 + 1.5
        steps = max(4, 2 * round((high - low) / 8.0))
        points = [
            (at + dx + (0.0, 1.2, 0.0, -1.2)[k % 4] * (0 < k < steps), low + (high - low) * k / steps)
            for k in range(steps + 1)
        ]
        sheets.polyline(points, FINE)


def _join(sheets: PdfSheets, x: float, y: float, edges: tuple[float, float]) -> None:
    """Draw the line on which two sheets meet, and the two crosses that complete each other there."""
    sheets.line(x, y + edges[0] - _JOIN_MARK, x, y + edges[1] + _JOIN_MARK, TRIM)
    for mark in (edges[0] - _JOIN_MARK, edges[1] + _JOIN_MARK):
        sheets.cross(x, y + mark, _JOIN_ARM, HOLE)
        d = 0.6 * _JOIN_ARM
        corners = [
            (x - d, y + mark),
            (x, y + mark + d),
            (x + d, y + mark),
            (x, y + mark - d),
            (x - d, y + mark),
        ]
        sheets.polyline(corners, HOLE)


def _label(
    sheets: PdfSheets, label: Placed, x: float, y: float, neighbours: tuple[int | None, int | None]
) -> None:
    text = label.text
    for stand_in, number in zip((_BEFORE, _AFTER), neighbours, strict=True):
        text = text.replace(stand_in, f"sheet {number}")
    if label.leader:
        sheets.polyline([(px + x, py + y) for px, py in label.leader], FINE)
    sheets.text(text, label.x + x, label.y + y, SIZE)


@dataclass(frozen=True)
class Wanted:
    """A label that is wanted.

    Args:
        x: what it is about, mm along the sheet.
        y: where its leader begins, mm over the centre line.
        text: the words.
        up: whether it stands over the piece, or under it.
        plain: set over its place without a leader, where there is room.
        bare: set beside its place, and never with a leader.
        first: the side that is tried first.
    """

    x: float
    y: float
    text: str
    up: bool
    plain: bool = False
    bare: bool = False
    first: Literal["right", "left"] = "right"


@dataclass(frozen=True)
class Placed:
    """A label that found its place.

    Args:
        text: the words.
        x: left end of the text, mm.
        y: of its base line, mm over the centre line.
        leader: from what it is about to the text, points, mm; empty for none.
    """

    text: str
    x: float
    y: float
    leader: tuple[tuple[float, float], ...]


def place(
    wanted: Sequence[Wanted],
    edges: tuple[float, float],
    limits: tuple[float, float],
    taken: Sequence[Box],
    width: Callable[[str, float], float],
) -> tuple[tuple[Placed, ...], float, float]:
    """Place labels in tiers over and under a piece.

    Args:
        wanted: the labels; those named first get the nearer places.
        edges: lower and upper edge of the piece, mm over the centre line.
        limits: the texts stay between these two x.
        taken: boxes that texts and leaders keep clear of.
        width: of a text at a size.

    Returns:
        The labels, and how low and how high they reach, mm over the centre line.

    Raises:
        PaperError: a label longer than the sheet is wide.
    """
    placed: list[Placed] = []
    low, high = edges
    for up in (False, True):
        band = [one for one in wanted if one.up is up]
        for label, box, _ in _search(band, edges, limits, taken, width):
            placed.append(label)
            low, high = min(low, box[1]), max(high, box[3])
    return tuple(placed), low, high


Choice = tuple[Placed, "Box", "Box | None"]


def _search(
    band: Sequence[Wanted],
    edges: tuple[float, float],
    limits: tuple[float, float],
    taken: Sequence[Box],
    width: Callable[[str, float], float],
) -> list[Choice]:
    """Return places for all labels of a band that keep clear of each other, in as few tiers as it takes.

    One label after the other is given the nearest place that is free; where one finds none, those before it
    move.
    """
    best: list[Choice] = []
    for tiers in range(1, _MOST_TIERS + 1):
        choices = [list(_choices(one, tiers, edges, limits, width(one.text, SIZE))) for one in band]
        found: list[Choice] = []
        tried = [0] * len(band)
        for _ in range(_MOST_TRIES):
            at = len(found)
            if at == len(band):
                return found
            while tried[at] < len(choices[at]) and not _free(choices[at][tried[at]], found, taken):
                tried[at] += 1
            if tried[at] < len(choices[at]):
                found.append(choices[at][tried[at]])
                tried[at] += 1
                if at + 1 < len(band):
                    tried[at + 1] = 0
            elif at == 0:
                break
            else:
                found.pop()
        best = max(best, found, key=len)
    raise PaperError(f'no space beside it for the label "{band[len(best)].text}"')


def _choices(
    one: Wanted, tiers: int, edges: tuple[float, float], limits: tuple[float, float], wide: float
) -> Iterator[Choice]:
    """Yield the places a label may have, nearest first."""
    sides = ("over", "right", "left") if one.first == "right" else ("over", "left", "right")
    for tier, side in product(range(tiers), sides):
        if side == "over" and not one.plain:
            continue
        y = edges[1] + _FIRST + tier * _TIER if one.up else edges[0] - _FIRST - SIZE * 0.6 - tier * _TIER
        x = one.x - wide / 2 if side == "over" else one.x + 1.2 if side == "right" else one.x - 1.2 - wide
        if x < limits[0] or x + wide > limits[1]:
            continue
        box = (x - _CLEAR, y - 0.26 * SIZE - 0.2, x + wide + _CLEAR, y + SIZE)
        if one.bare or (side == "over" and not tier):
            yield Placed(one.text, x, y, ()), box, None
            continue
        middle = y + 0.35 * SIZE
        stop = middle if side != "over" else y - 0.3 * SIZE if one.up else y + 1.1 * SIZE
        leader: tuple[tuple[float, float], ...] = ((one.x, one.y), (one.x, stop))
        if side != "over":
            leader += ((one.x + (0.9 if side == "right" else -0.9), middle),)
        start = edges[1] if one.up else edges[0]
        line = (one.x - 0.2, min(start, stop), one.x + 0.2, max(start, stop))
        yield Placed(one.text, x, y, leader), box, line


def _free(choice: Choice, found: Sequence[Choice], taken: Sequence[Box]) -> bool:
    """Whether text and leader keep clear of other texts, and the text of other leaders."""
    _, box, line = choice
    if any(_meet(box, other) or (line is not None and _meet(line, other)) for other in taken):
        return False
    for _, other, other_line in found:
        if _meet(box, other) or (line is not None and _meet(line, other)):
            return False
        if other_line is not None and _meet(box, other_line):
            return False
    return True


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
