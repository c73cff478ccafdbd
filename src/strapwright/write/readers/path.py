"""Paths read from a file and paths it ought to hold: what a proof compares."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour


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


def feed_words(feed: float, power: float | None, depth: float) -> str:
    """Return what a run is driven by, as a layer's name: feed in mm a minute, and power or depth.

    Example:
        >>> feed_words(480, 800, 0), feed_words(2400, None, 3.5)
        ('F480.00 S800.00', 'F2400.00 Z-3.500')
    """
    return f"F{feed:.2f} " + (f"S{power:.2f}" if power is not None else f"Z-{depth:.3f}")
