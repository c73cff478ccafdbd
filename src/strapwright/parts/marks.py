"""Marks on the turn-back: lettering scored where it lies against the body and is hidden when worn."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import combinations
from typing import TYPE_CHECKING, Final

from strapwright.geometry.characters import LEAST_HEIGHT
from strapwright.geometry.intervals import left_of
from strapwright.geometry.lettering import lettering, lettering_box, lettering_width
from strapwright.geometry.transform import Placement
from strapwright.parts.part import Feature, Operation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from strapwright.geometry.contour import Contour
    from strapwright.parts.strap import Strap

MARK: Final = "mark"
"""Name of the features that are lettering."""

MARK_CLEARANCE: Final = 1.5
"""Leather between a mark and any edge, hole, slot, line or fold, mm."""

HEIGHT_STEP: Final = 0.5
"""Marks are shrunk by this much at a time until they find room, mm."""

_BAND_STEP: Final = 0.5
"""Places across the strap are tried this far apart, mm."""

_LINE_GAP: Final = 0.5
"""Between the lines of one block, in heights."""

_BETWEEN: Final = "   "
"""Between two marks on one line."""

_MOST_LINES: Final = 3
"""A long text is broken into this many lines at most."""


@dataclass(frozen=True)
class Marked:
    """What became of the marks asked for.

    Args:
        features: the marks that found room, to be scored.
        height: of their capitals, mm; 0 where none found room.
        left_out: which of the texts asked for found none, by their place in the list.
    """

    features: tuple[Feature, ...] = ()
    height: float = 0.0
    left_out: tuple[int, ...] = ()


@dataclass(frozen=True)
class _Block:
    """Lines of text set under each other, centred: sizes and places from the lower left corner, mm."""

    lines: tuple[str, ...]
    height: float
    across: bool
    x: float = 0.0
    y: float = 0.0

    @cached_property
    def size(self) -> tuple[float, float]:
        """Extent along and across the strap, mm."""
        boxes = [lettering_box(text, self.height) for text in self.lines]
        wide = max(box[2] - box[0] for box in boxes)
        high = sum(box[3] - box[1] for box in boxes) + (len(boxes) - 1) * _LINE_GAP * self.height
        return (high, wide) if self.across else (wide, high)

    def contours(self) -> Iterator[Contour]:
        """Yield the strokes of all lines, mm."""
        along, athwart = self.size
        wide = athwart if self.across else along
        place = (
            Placement(math.pi / 2, self.x + along, self.y) if self.across else Placement(0.0, self.x, self.y)
        )
        low = along if self.across else athwart
        for text in self.lines:
            x0, y0, x1, y1 = lettering_box(text, self.height)
            low -= y1 - y0
            at = place.apply_to_point((wide - (x1 - x0)) / 2 - x0, low - y0)
            yield from lettering(text, self.height, *at, place.turn)
            low -= _LINE_GAP * self.height


@dataclass(frozen=True)
class _Room:
    """The turn-back between its end and the fold, and what stands in the way.

    Args:
        x0: nearest to the end a mark may reach, mm.
        x1: nearest to the fold, mm.
        half: furthest from the centre line, mm.
        corner: radius left at the end's two corners, mm; 0 for none.
        obstacles: rectangles x0, y0, x1, y1 and how far to keep from each, mm.
    """

    x0: float
    x1: float
    half: float
    corner: float
    obstacles: tuple[tuple[float, float, float, float, float], ...]

    def place(self, block: _Block, taken: Iterable[_Block]) -> _Block | None:
        """Return the block where there is room for it, nearest the centre line, or None."""
        along, athwart = block.size
        reach = self.half - athwart / 2
        if along > self.x1 - self.x0 or reach < 0.0:
            return None
        others = [  # a height apart, lest two marks read as one
            (one.x, one.y, one.x + one.size[0], one.y + one.size[1], block.height) for one in taken
        ]
        for middle in _from_the_middle(reach):
            low, high = middle - athwart / 2, middle + athwart / 2
            gaps = self._gaps(low, high, others)
            if not gaps:
                continue
            start, end = max(gaps, key=lambda gap: gap[1] - gap[0])
            if end - start >= along:
                # Alone it stands in the middle of its room; among others it leaves them what it can.
                x = start if others else (start + end - along) / 2
                return _Block(block.lines, block.height, block.across, x, low)
        return None

    def _gaps(
        self, low: float, high: float, others: Iterable[tuple[float, float, float, float, float]]
    ) -> list[tuple[float, float]]:
        """Return the free runs along the strap in the band between two places across, mm."""
        start = self.x0
        over = max(abs(low), abs(high)) - (self.half - self.corner)
        if over > 0.0:
            start += self.corner - math.sqrt(max(self.corner**2 - over**2, 0.0))
        blocked = []
        for x0, y0, x1, y1, keep in (*self.obstacles, *others):
            apart = max(y0 - high, low - y1, 0.0)
            if apart < keep:
                beside = math.sqrt(keep**2 - apart**2)
                blocked.append((x0 - beside, x1 + beside))
        return left_of((start, self.x1), blocked)


def place_marks(
    texts: tuple[str, ...], strap: Strap, *, height: float, fold_end: float, head_radius: float
) -> Marked:
    """Set texts on the turn-back, to be read from the grain side.

    They run along the strap, at one height and in one block where they can; else each finds its own
    place; else smaller, down to the least height; else across the strap. Texts that find no room even
    so are left out, the first ones first, and listed.

    Args:
        texts: one line each; a long one may be broken at its blanks, but not at no-break spaces.
        strap: where they go, its own marks not looked at.
        height: of the capitals, mm.
        fold_end: where the bent part ends on either side of the fold line, mm; lettering there would
            start cracks.
        head_radius: of the fasteners' heads, which cover what is under them, mm.

    Raises:
        PartError: a character that cannot be written, or a height below the least.
    """
    room = _room_on(strap, fold_end, head_radius)
    wanted = [index for index, text in enumerate(texts) if text.strip()]
    alone = [index for index in wanted if _arranged((texts[index],), LEAST_HEIGHT, room)]
    for count in range(len(alone), 0, -1):
        for kept in combinations(reversed(alone), count):
            chosen = sorted(kept)
            blocks = _arranged(tuple(texts[index] for index in chosen), height, room)
            if blocks:
                features = tuple(
                    Feature(MARK, Operation.SCORE, contour) for one in blocks for contour in one.contours()
                )
                out = tuple(index for index in wanted if index not in chosen)
                return Marked(features, blocks[0].height, out)
    return Marked(left_out=tuple(wanted))


def _room_on(strap: Strap, fold_end: float, head_radius: float) -> _Room:
    end, half = strap.buckle_end, strap.width / 2
    margin = MARK_CLEARANCE + strap.crease
    core = (end.slot_length - end.slot_width) / 2
    obstacles = [(-core, y, core, y, end.slot_width / 2 + MARK_CLEARANCE) for y in end.slot_ys]
    obstacles += [
        (x, y, x, y, max(head_radius, d / 2) + MARK_CLEARANCE) for x, y, d in end.fastener_holes if x < 0
    ]
    if sewn := end.stitching:
        y = half - sewn.inset
        keep = sewn.hole / 2 + MARK_CLEARANCE
        obstacles += [
            (sewn.shift - run[-1], side * y, sewn.shift - run[0], side * y, keep)
            for run in sewn.runs
            for side in (-1, 1)
        ]
    return _Room(
        x0=-end.turn_back + margin,
        x1=-fold_end - MARK_CLEARANCE,
        half=half - margin,
        corner=max(end.corner_radius - margin, 0.0),
        obstacles=tuple(obstacles),
    )


@lru_cache(maxsize=256)
def _arranged(texts: tuple[str, ...], height: float, room: _Room) -> tuple[_Block, ...]:
    """Return the blocks that hold all texts, as large as they go, or none."""
    for ways in ((False,), (False, True)):
        for high in _heights(height):
            for lines in _settings(texts):
                for across in ways:
                    if placed := room.place(_Block(lines, high, across), ()):
                        return (placed,)
            if len(texts) > 1 and (apart := _apart(texts, high, room, ways)):
                return apart
    return ()


def _apart(texts: tuple[str, ...], height: float, room: _Room, ways: tuple[bool, ...]) -> tuple[_Block, ...]:
    """Return each text where it finds its own place, the widest first, or none if one finds none."""
    placed: list[_Block] = []
    for text in sorted(texts, key=lambda text: -lettering_width(text, height)):
        tries = (_Block(lines, height, across) for lines in _settings((text,)) for across in ways)
        found = next((spot for block in tries if (spot := room.place(block, placed))), None)
        if found is None:
            return ()
        placed.append(found)
    return tuple(placed)


@lru_cache(maxsize=256)
def _settings(texts: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    """Return the ways to set texts in one block, the plainest first."""
    first, *rest = texts
    below = (_BETWEEN.join(rest),) if rest else ()
    ways: list[tuple[str, ...]] = [(_BETWEEN.join(texts),)] if rest else []
    ways += [(*lines, *below) for lines in _broken(first)]
    if len(rest) > 1:
        ways.append(texts)
    return tuple(ways)


def _broken(text: str) -> Iterator[tuple[str, ...]]:
    """Yield a text on one line, then broken at its blanks into more lines as even as they go."""
    words = [word for word in text.split(" ") if word]
    for count in range(1, min(_MOST_LINES, len(words)) + 1):
        ways: Iterator[tuple[str, ...]] = (
            tuple(" ".join(words[a:b]) for a, b in zip((0, *cuts), (*cuts, len(words)), strict=True))
            for cuts in combinations(range(1, len(words)), count - 1)
        )
        yield min(ways, key=lambda lines: max(lettering_width(line, 1.0) for line in lines))


def _heights(height: float) -> Iterator[float]:
    yield height
    steps = math.ceil((height - LEAST_HEIGHT) / HEIGHT_STEP - 1e-9)
    for step in range(1, steps + 1):
        yield max(height - step * HEIGHT_STEP, LEAST_HEIGHT)


def _from_the_middle(reach: float) -> Iterator[float]:
    """Yield places across from the centre line outward, to either side, the outermost last, mm."""
    yield 0.0
    for step in range(1, math.ceil(reach / _BAND_STEP) + 1):
        y = min(step * _BAND_STEP, reach)
        yield y
        yield -y
