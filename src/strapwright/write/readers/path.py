"""Paths read from a file and paths it ought to hold: what a proof compares."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.errors import GeometryError, ProofError
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import ArrayLike


@dataclass(frozen=True)
class ReadPath:
    """One path found in a written file.

    Args:
        layer: the layer or group it lies in; in a file that drives a machine, the words it is driven by.
        contour: the path in bed mm, y up.
        depth: how far below the leather's thickest face a blade goes there, mm; infinite where the file only
            says that it cuts through; 0 in a drawing.
        after_stop: whether the machine stops before it for another tool.
    """

    layer: str
    contour: Contour
    depth: float = 0.0
    after_stop: bool = False


@dataclass(frozen=True)
class PlannedPath:
    """One path a file ought to hold.

    Args:
        layer: as for :class:`ReadPath`.
        contour: the path in bed mm, y up.
        what: of which part it is, in words.
        after_stop: as for :class:`ReadPath`.
    """

    layer: str
    contour: Contour
    what: str
    after_stop: bool = False


def contours_of(
    vertices: ArrayLike, counts: Sequence[int], closed: Sequence[bool], where: Callable[[int], str]
) -> list[Contour]:
    """Return the contours whose vertices a text holds, one's after the other's.

    Args:
        vertices: of all, (N, 3), as of one contour.
        counts: how many each contour has.
        closed: whether each is closed.
        where: says where in the text a contour stands, by its number from 0.

    Raises:
        ProofError: the first that is no contour, and where it stands.
    """
    every = np.array(vertices, dtype=np.float64).reshape(-1, 3)
    try:
        return Contour.each(every, counts, closed)
    except GeometryError:
        for number, (low, high) in enumerate(pairwise(np.cumsum([0, *counts]).tolist())):
            try:
                Contour(every[low:high], closed[number])
            except GeometryError as error:
                raise ProofError(f"{where(number)}: {error}") from error
        raise


def feed_words(feed: float, power: float | None, depth: float) -> str:
    """Return what a run is driven by, as a layer's name: feed in mm a minute, and power or depth.

    Example:
        >>> feed_words(480, 800, 0), feed_words(2400, None, 3.5)
        ('F480.00 S800.00', 'F2400.00 Z-3.500')
    """
    return f"F{feed:.2f} " + (f"S{power:.2f}" if power is not None else f"Z-{depth:.3f}")
