"""Stitching of the turn-back: lines along both edges, and holes at the iron's pitch in both layers."""

from __future__ import annotations

from dataclasses import dataclass

from strapwright.core.errors import PartError
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.part import Feature, Operation


@dataclass(frozen=True, kw_only=True)
class Stitching:
    """Runs of stitches along the strap, each in the front layer and again where the turn-back meets it.

    Nothing is stitched across the strap: a row of holes across is where it tears (common practice).

    Args:
        runs: x of the holes in the front layer, run by run, mm.
        shift: a hole at x meets the turn-back at shift − x, mm.
        inset: of the stitch lines from the edges, mm.
        hole: diameter of a pricked hole, mm.

    Raises:
        PartError: a number out of its range, or a run of fewer than three holes.
    """

    runs: tuple[tuple[float, ...], ...]
    shift: float = dimension(-20.0, 20.0, "the layers converge behind the bar by a few millimetres")
    inset: float = dimension(1.5, 15.0, "nearer the edge the stitch tears out", default=4.0)
    hole: float = dimension(0.6, 2.5, "the needle and two threads pass it", default=1.2)

    def __post_init__(self) -> None:
        check_dimensions(self)
        if any(len(run) < 3 for run in self.runs):
            raise PartError("a run of stitches has fewer than 3 holes; expected 3 or more")

    @property
    def centres_x(self) -> tuple[float, ...]:
        """Places along the strap, front layer first, then their mates, mm."""
        front = [x for run in self.runs for x in run]
        return (*front, *(self.shift - x for x in front))

    def features(self, width: float) -> tuple[Feature, ...]:
        """Return stitch lines and holes for a strap of this width, mm."""
        found: list[Feature] = []
        for y in (-(width / 2 - self.inset), width / 2 - self.inset):
            found += [
                Feature("stitch line", Operation.SCORE, line(start, y, end, y))
                for run in self.runs
                for start, end in ((run[0], run[-1]), (self.shift - run[0], self.shift - run[-1]))
            ]
            found += [
                Feature("stitch hole", Operation.CUT, Contour.circle(x, y, self.hole)) for x in self.centres_x
            ]
        return tuple(found)
