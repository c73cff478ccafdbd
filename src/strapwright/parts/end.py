"""How a strap ends: folded round the bar of a buckle or a ring and fastened or stitched, or cut to a tip."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from strapwright.core.errors import PartError
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line, stadium
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.hole_row import LEAST_WALL, Disc, stitch_discs
from strapwright.parts.part import Feature, Operation
from strapwright.parts.tips.square import Square

if TYPE_CHECKING:
    from strapwright.parts.part import Runs
    from strapwright.parts.tips.tip import Tip


FOLD_TICK = 4.0
"""Length of the fold line's two marks, mm. It is marked at the edges only: a line scored right across
the grain would be where the strap cracks when it is folded."""

LEAST_FASTENER_HOLE, MOST_FASTENER_HOLE = 1.0, 16.0
"""Diameters of fastener holes, mm: between an escutcheon pin's and the largest snap's."""

TICK_INSET = 0.5
"""The marks start this far inside the edge, so that they do not notch it."""


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


@dataclass(frozen=True, kw_only=True)
class TurnedEnd:
    """An end folded round a bar: everything between the end of the turn-back and the last row of fasteners.

    Drawn with its fold line at x = 0 and its turn-back at x < 0, wherever it will lie.

    Args:
        turn_back: from the fold line to the end, mm.
        slot_length: overall, along the strap, mm; 0 for a buckle without prongs.
        slot_width: mm; 0 for a buckle without prongs.
        slot_ys: where the slots lie across the strap, mm; empty for a buckle without prongs.
        rows: x of each fastener row in the front layer, nearest the buckle first, mm.
        mates: x of the holes in the turn-back that meet them, mm; negative.
        fastener_ys: places of the fasteners across the strap, mm.
        diameters: of each row's holes, in the front layer and in the turn-back, mm.
        corner_radius: of the end's two corners, mm.
        half_turn: of the strap that bends round the bar, half of it on each side of the fold line, mm.
        stitching: of the turn-back, if it is stitched.
        closes: whether a hole of the strap comes to bear on what it holds, as on a buckle's prong or hook:
            the holes are then for adjusting, and may lie over the turn-back.

    Raises:
        PartError: a number out of its range, or holes that do not fit one behind the other.
    """

    turn_back: float = dimension(15.0, 400.0, "long enough to hold the fasteners")
    slot_length: float = dimension(0.0, 120.0, "the prong's eye must swing clear")
    slot_width: float = dimension(0.0, 30.0, "prong and 1.5 mm")
    slot_ys: tuple[float, ...]
    rows: tuple[float, ...]
    mates: tuple[float, ...]
    fastener_ys: tuple[float, ...]
    diameters: tuple[tuple[float, float], ...]
    corner_radius: float = dimension(0.5, 60.0, "a sharp corner curls and digs in", default=4.0)
    half_turn: float = dimension(0.0, 400.0, "0 where it is not known", default=0.0)
    stitching: Stitching | None = None
    closes: bool = False
    turned: ClassVar[bool] = True

    def __post_init__(self) -> None:
        check_dimensions(self)
        if self.slot_ys and self.slot_length < self.slot_width:
            raise PartError(
                f"slot_length is {self.slot_length:g} mm; allowed is the slot's width of "
                f"{self.slot_width:g} mm or more"
            )
        if not len(self.rows) == len(self.mates) == len(self.diameters):
            raise PartError(
                f"{len(self.rows)} fastener rows, {len(self.mates)} mates and diameters of "
                f"{len(self.diameters)}; expected as many of each"
            )
        for diameter in (hole for row in self.diameters for hole in row):
            if not LEAST_FASTENER_HOLE <= diameter <= MOST_FASTENER_HOLE:
                raise PartError(
                    f"a fastener hole is {diameter:g} mm; allowed is {LEAST_FASTENER_HOLE:g} to "
                    f"{MOST_FASTENER_HOLE:g} mm: a post's barrel passes it"
                )
        for x, _, diameter in self.fastener_holes:
            x, clear = abs(x), self.slot_length / 2 + diameter / 2 + 2.0
            if x < clear:
                raise PartError(
                    f"a fastener row is {x:.1f} mm from the fold; allowed is {clear:.1f} mm or more, "
                    f"clear of the prong slot"
                )
        if self.mates:
            least = -self.mates[-1] + self.diameters[-1][1] / 2 + 2.0
            if self.turn_back < least:
                raise PartError(
                    f"turn_back is {self.turn_back:g} mm; its last fastener hole needs {least:.1f} mm or more"
                )

    def check(self, width: float) -> None:
        """Refuse corners and slots that a strap of this width, mm, has no room for.

        Raises:
            PartError: the field, its value and what is allowed.
        """
        if self.corner_radius > width / 2:
            raise PartError(
                f"corner_radius is {self.corner_radius:g} mm; a {width:g} mm strap allows at most "
                f"{width / 2:g} mm"
            )
        for y in self.slot_ys:
            wall = width / 2 - abs(y) - self.slot_width / 2
            if wall < LEAST_WALL:
                most = 2 * (width / 2 - abs(y) - LEAST_WALL)
                raise PartError(
                    f"slot_width is {self.slot_width:g} mm, which leaves {wall:.1f} mm at the side of a "
                    f"{width:g} mm strap; allowed is at most {max(most, 0):.1f} mm"
                )
        if len(self.slot_ys) == 2:
            between = abs(self.slot_ys[1] - self.slot_ys[0]) - self.slot_width
            if between < LEAST_WALL:
                raise PartError(
                    f"slot_width is {self.slot_width:g} mm, which leaves {between:.1f} mm between two "
                    f"slots; allowed is {LEAST_WALL:g} mm or more between them"
                )

    @property
    def beyond(self) -> float:
        """How much of the blank lies beyond the fold line, mm."""
        return self.turn_back

    @property
    def stitches(self) -> tuple[float, ...]:
        """The x of the stitches it is sewn with, the front layer's first, mm."""
        return self.stitching.centres_x if self.stitching else ()

    @property
    def reach(self) -> float:
        """How far from the fold line plain strap begins, mm: beyond its holes, and beyond its turn-back too.

        Adjusting holes may lie over the turn-back.
        """
        front = max(self.reaches, *self.stitches, 0.0)
        return front if self.closes else max(front, self.turn_back)

    @property
    def hidden(self) -> Runs:
        """Runs of x nobody sees when it is made up, mm: the turn-back beyond the prong slot and the fold.

        The fold itself is seen, and strained.
        """
        return ((-self.turn_back, -max(self.slot_length, self.half_turn) / 2),)

    @property
    def pulled_from(self) -> float:
        """The x from which on it is pulled on, mm: of the turn-back's last fastener or stitch."""
        return min((*self.mates, *self.stitches), default=-self.turn_back)

    @property
    def fastener_rows(self) -> tuple[tuple[str, float, float], ...]:
        """Every row of fastener holes, the front layer's first: "A" or "A′", its x and its diameter, mm."""
        front = [("ABC"[k], x, self.diameters[k][0]) for k, x in enumerate(self.rows)]
        back = [(f"{'ABC'[k]}′", x, self.diameters[k][1]) for k, x in enumerate(self.mates)]
        return (*front, *back)

    @property
    def fastener_holes(self) -> tuple[tuple[float, float, float], ...]:
        """Centre and diameter of every fastener hole, the front layer's first, mm."""
        return tuple((x, y, d) for _, x, d in self.fastener_rows for y in self.fastener_ys)

    @property
    def fastener_sizes(self) -> dict[float, tuple[str, ...]]:
        """The diameters of its fastener holes, mm, each with the rows that have it."""
        sizes: dict[float, tuple[str, ...]] = {}
        for name, _, diameter in self.fastener_rows:
            sizes[diameter] = (*sizes.get(diameter, ()), name)
        return sizes

    @property
    def fastener_centres(self) -> tuple[tuple[float, float], ...]:
        """Centres of all fastener holes, the front layer's first, mm."""
        return tuple((x, y) for x, y, _ in self.fastener_holes)

    @property
    def reaches(self) -> float:
        """How far its slot and its fastener holes in the front layer reach from the fold line, mm."""
        rows = (x + hole / 2 for x, (hole, _) in zip(self.rows, self.diameters, strict=True))
        return max((self.slot_length / 2, *rows))

    def shape(self, width: float) -> Tip:
        """Return the outline's end, for a strap of this width, mm."""
        return Square(width, self.corner_radius)

    def discs(self, width: float) -> list[Disc]:
        """Return its holes as discs, for a strap of this width, mm."""
        found: list[Disc] = [(x, y, d, "fastener hole") for x, y, d in self.fastener_holes]
        if self.stitching:
            found += stitch_discs(self.stitches, width, self.stitching.inset, self.stitching.hole)
        return found

    def features(self, width: float) -> tuple[Feature, ...]:
        """Return slots, fastener holes, fold line and stitches for a strap of this width, mm."""
        found = [
            Feature("prong slot", Operation.CUT, stadium(0.0, y, self.slot_length, self.slot_width))
            for y in self.slot_ys
        ]
        found += [
            Feature("fastener hole", Operation.CUT, Contour.circle(x, y, d))
            for x, y, d in self.fastener_holes
        ]
        outer = width / 2 - TICK_INSET
        tick = min(FOLD_TICK, outer / 2)
        found += [
            Feature("fold line", Operation.SCORE, line(0.0, -outer, 0.0, -outer + tick)),
            Feature("fold line", Operation.SCORE, line(0.0, outer, 0.0, outer - tick)),
        ]
        return (*found, *(self.stitching.features(width) if self.stitching else ()))


@dataclass(frozen=True)
class CutEnd:
    """An end cut to a tip, drawn with its foremost point at x = 0.

    Args:
        tip: its shape.
    """

    tip: Tip
    turned: ClassVar[bool] = False
    closes: ClassVar[bool] = False
    beyond: ClassVar[float] = 0.0
    pulled_from: ClassVar[float] = 0.0
    hidden: ClassVar[Runs] = ()

    @property
    def reach(self) -> float:
        """From the foremost point back to where the straight edges begin, mm."""
        return self.tip.reach

    def check(self, _width: float) -> None:
        """Refuse nothing: a tip is made for its width."""

    def shape(self, _width: float) -> Tip:
        """Return the outline's end."""
        return self.tip

    def discs(self, _width: float) -> list[Disc]:
        """Return its holes: none."""
        return []

    def features(self, _width: float) -> tuple[Feature, ...]:
        """Return what is made in it: nothing."""
        return ()


@dataclass(frozen=True)
class PlacedEnd:
    """A turned end in its place on a strap.

    Args:
        place: 0 for the strap's first end, 1 for its second.
        end: the end.
        fold: x of its fold line, mm.
    """

    place: int
    end: TurnedEnd
    fold: float

    def x(self, x: float) -> float:
        """Return where x of the end, drawn as at x = 0, lies on the strap, mm."""
        return self.fold - x if self.place else x


End = TurnedEnd | CutEnd
"""How a strap ends; asked the same of either, and drawn as at x = 0."""
