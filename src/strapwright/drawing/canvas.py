"""A drawing as values: lines, circles, paths, hatches and text on a canvas, each with the name of its look.

Coordinates are px, x to the right and y down; `svg` and `pdf` render a canvas and know nothing of belts.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from strapwright.drawing.looks import LOOKS, Look
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from typing import Literal

    Anchor = Literal["start", "middle", "end"]

Point = tuple[float, float]


@dataclass(frozen=True)
class Line:
    """A straight line.

    Args:
        x0: of its start.
        y0: of the same.
        x1: of its end.
        y1: of the same.
        look: how it is drawn, names of looks with blanks between.
    """

    x0: float
    y0: float
    x1: float
    y1: float
    look: str


@dataclass(frozen=True)
class Circle:
    """A circle.

    Args:
        x: of its centre.
        y: of the same.
        radius: of it.
        look: how it is drawn.
    """

    x: float
    y: float
    radius: float
    look: str


@dataclass(frozen=True)
class Hatch:
    """Lines repeated over a shape.

    Args:
        name: of its own among the hatches of a drawing.
        pitch: side of the square that is repeated, from the drawing's own corner on.
        items: what is drawn in it; a line from a point to itself, round at its ends, is a dot.
        turn: of the squares, degrees clockwise.
    """

    name: str
    pitch: float
    items: tuple[Line, ...]
    turn: float = 0.0


@dataclass(frozen=True)
class Path:
    """Contours, or lines from point to point, drawn as one shape.

    Args:
        runs: contours with y down, or points.
        look: how it is drawn.
        closed: whether runs of points are led back to their first; contours know it themselves.
        hatch: what it is filled with.
    """

    runs: tuple[Contour | Sequence[Point], ...]
    look: str
    closed: bool = False
    hatch: Hatch | None = None


@dataclass(frozen=True)
class Text:
    """A line of text.

    Args:
        words: what is written.
        x: of its anchor.
        y: of its base line.
        size: of the letters.
        anchor: which end of it, or its middle, stands at x.
        bold: whether it is set in bold.
        turn: about the anchor, degrees clockwise.
        look: its colour; empty for the ink of all text.
        figure: what it gives the number of, by the name `working_of` knows it by; empty for other text.
    """

    words: str
    x: float
    y: float
    size: float
    anchor: Anchor = "start"
    bold: bool = False
    turn: float = 0.0
    look: str = ""
    figure: str = ""


@dataclass(frozen=True)
class Group:
    """What is drawn together: elsewhere, or only inside a shape.

    Args:
        items: from the lowest to the topmost.
        clip: the shape, in the frame of the items; None draws all of them.
        x: how far they are moved to the right.
        y: how far down.
    """

    items: tuple[Item, ...]
    clip: Path | None = None
    x: float = 0.0
    y: float = 0.0


Item = Line | Circle | Path | Text | Group


@dataclass(frozen=True)
class Canvas:
    """A drawing.

    Args:
        width: px.
        height: px.
        title: what it is of.
        items: from the lowest to the topmost.
        paper: the look of what lies below all of them.
        own: looks of this drawing alone, such as the colours of a machine.
    """

    width: float
    height: float
    title: str
    items: Sequence[Item]
    paper: str = "paper"
    own: Mapping[str, Look] = field(default_factory=dict)

    def looks(self) -> dict[str, Look]:
        """Return the looks this drawing uses, in the order of the style sheet."""
        used = {self.paper}
        for item in (*_flat(self.items), *(one for hatch in self.hatches().values() for one in hatch.items)):
            used.update(item.look.split())
        return {name: look for name, look in (LOOKS | dict(self.own)).items() if name in used}

    def hatches(self) -> dict[str, Hatch]:
        """Return the hatches this drawing uses."""
        paths = (item for item in _flat(self.items) if isinstance(item, Path))
        return {path.hatch.name: path.hatch for path in paths if path.hatch is not None}


def _flat(items: Iterable[Item]) -> Iterator[Line | Circle | Path | Text]:
    for item in items:
        if isinstance(item, Group):
            yield from _flat(item.items)
        else:
            yield item


def turned_over(contour: Contour, scale: float = 1.0, x: float = 0.0, y: float = 0.0) -> Contour:
    """Return a contour enlarged and moved, its y that ran up running down, or the other way round.

    Args:
        contour: what to draw.
        scale: how much larger.
        x: where its x = 0 comes to lie.
        y: where its y = 0 comes to lie.

    Example:
        >>> half = Contour([(0, -1, 1), (0, 1, 0)])
        >>> turned_over(half, 10, 0, 10).vertices.tolist()
        [[0.0, 20.0, -1.0], [0.0, 0.0, 0.0]]
    """
    return each_turned_over([contour], scale, x, y)[0]


def each_turned_over(
    contours: Sequence[Contour], scale: float = 1.0, x: float = 0.0, y: float = 0.0
) -> list[Contour]:
    """Return contours as `turned_over` does, measured together."""
    vertices = [contour.vertices for contour in contours]
    moved = np.vstack(vertices) * (scale, -scale, -1.0) + (x, y, 0.0)
    closed = [contour.closed for contour in contours]
    return Contour.each(moved, list(map(len, vertices)), closed, measured=True)


def polyline(look: str, *points: Point) -> Path:
    """Return straight lines from point to point."""
    return Path((points,), look)


def cross(look: str, x: float, y: float, arm: float) -> Path:
    """Return an upright cross."""
    return Path((((x - arm, y), (x + arm, y)), ((x, y - arm), (x, y + arm))), look)


def polygon(look: str, *points: Point) -> Path:
    """Return straight lines from point to point and back to the first."""
    return Path((points,), look, closed=True)
