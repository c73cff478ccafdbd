"""Rigid motions of a contour: turn, shift, mirror. Lengths, areas and arcs are kept exactly."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats


def cos_sin(angle: float) -> tuple[float, float]:
    """Return cosine and sine, exact at whole quarter turns, where straps nearly always lie."""
    quarters = angle / (math.pi / 2)
    whole = round(quarters)
    if abs(quarters - whole) < 1e-12:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[whole % 4]
    return math.cos(angle), math.sin(angle)


@dataclass(frozen=True)
class Placement:
    """Where something lies: mirrored in its own x axis where asked, turned about its origin, then shifted.

    Args:
        turn: angle in radians, positive counter-clockwise.
        x: shift along x, mm.
        y: shift along y, mm.
        mirror: whether it is turned over first, y to −y: a part on leather that lies flesh side up.

    Example:
        >>> line = Contour.from_points([(0, 0), (10, 0)], closed=False)
        >>> Placement(math.pi / 2, 5, 0).apply(line).vertices[:, :2].tolist()
        [[5.0, 0.0], [5.0, 10.0]]
    """

    turn: float = 0.0
    x: float = 0.0
    y: float = 0.0
    mirror: bool = field(default=False, repr=False)

    def apply(self, contour: Contour) -> Contour:
        """Return the contour where this placement puts it."""
        if self.mirror:
            contour = mirrored(contour)
        return Contour(self._moved(contour.vertices), contour.closed)

    def apply_to_each(self, contours: Sequence[Contour]) -> list[Contour]:
        """Return several contours where this placement puts them, measured at once."""
        if self.mirror:
            contours = [mirrored(contour) for contour in contours]
        if not contours:
            return []
        vertices = [contour.vertices for contour in contours]
        closed = [contour.closed for contour in contours]
        return Contour.each(self._moved(np.vstack(vertices)), list(map(len, vertices)), closed, measured=True)

    def _moved(self, vertices: Floats) -> Floats:
        (c, s), moved = cos_sin(self.turn), vertices.copy()
        moved[:, 0] = c * vertices[:, 0] - s * vertices[:, 1] + self.x
        moved[:, 1] = s * vertices[:, 0] + c * vertices[:, 1] + self.y
        return moved

    def then(self, other: Placement) -> Placement:
        """Return the one placement that does this one and the other after it.

        Example:
            >>> Placement(0.0, 5, 0).then(Placement(math.pi / 2, 0, 1)).apply_to_point(0, 0)
            (0.0, 6.0)
            >>> Placement(0.0, 5, 1, mirror=True).then(Placement(math.pi, 0, 1)).mirror
            True
        """
        own = -self.turn if other.mirror else self.turn
        return Placement(own + other.turn, *other.apply_to_point(self.x, self.y), self.mirror != other.mirror)

    @property
    def inverse(self) -> Placement:
        """The placement that undoes this one.

        Example:
            >>> Placement(math.pi / 2, 5, 0).inverse.apply_to_point(5, 10)
            (10.0, 0.0)
        """
        c, s = cos_sin(self.turn)
        x, y = -c * self.x - s * self.y, s * self.x - c * self.y
        return Placement(self.turn, x, -y, True) if self.mirror else Placement(-self.turn, x, y)

    def apply_to_point(self, x: float, y: float) -> tuple[float, float]:
        """Return the point where this placement puts it."""
        c, s = cos_sin(self.turn)
        if self.mirror:
            y = -y
        return c * x - s * y + self.x, s * x + c * y + self.y


def moved(contour: Contour, dx: float, dy: float) -> Contour:
    """Return the contour shifted by ``(dx, dy)`` mm."""
    return Placement(0.0, dx, dy).apply(contour)


def turned(contour: Contour, angle: float) -> Contour:
    """Return the contour turned about the origin by ``angle`` radians, counter-clockwise positive."""
    return Placement(angle).apply(contour)


def mirrored(contour: Contour) -> Contour:
    """Return the contour mirrored in the x axis (y becomes −y).

    A closed contour is also run the other way, so that it keeps its orientation: a mirrored
    counter-clockwise outline is counter-clockwise.
    """
    flipped = Contour(contour.vertices * np.array([1.0, -1.0, -1.0]), contour.closed)
    return flipped.reversed() if contour.closed else flipped
