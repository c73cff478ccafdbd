"""The size of a belt as written: who it is for, and what was measured of them or of an old belt."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from pydantic import Field

from strapwright.files.fields import Count, Measure, Number
from strapwright.files.validate import Strict, one_of
from strapwright.job.catalogue.leather import LEATHER_THICKNESS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.files.validate import Faults


class OldBelt(Strict):
    """The belt that ``worn_to_hole`` was measured on, where it differs from the new one."""

    thickness: Annotated[float | None, LEATHER_THICKNESS] = None
    """Its leather, 0.8 to 12 mm; default the new belt's."""
    bar_diameter: Annotated[float | None, Measure(least=1.0, most=25.0)] = None
    """Its buckle's bar, 1 to 25 mm; default the new buckle's."""
    frame_depth: Annotated[float | None, Measure(least=3.0, most=150.0)] = None
    """Its buckle's frame depth, 3 to 150 mm, its prong taken as thick as the new one's; default the new
    buckle's. Give this or hole_seat."""
    hole_seat: Annotated[float | None, Measure(least=1.0, most=150.0)] = None
    """Its bar's centre to the edge of the hole in use that bears, 1 to 150 mm, measured as the belt is worn;
    more reliable than frame_depth."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: its seat given in two ways."""
        if "frame_depth" in table and "hole_seat" in table:
            yield ("frame_depth",), "found beside hole_seat, expected just one of the two"


class Size(Strict):
    """Who the belt is for: give exactly one way of saying it."""

    worn_to_hole: Annotated[float | None, Measure(least=100.0, most=3000.0)] = None
    """Measured on a belt that fits, from the outer end of the fold to the edge of the hole in use where the
    prong has worn it, 100 to 3000 mm."""
    girth: Annotated[float | None, Measure(least=150.0, most=3000.0)] = None
    """Waist or girth: taped snug where the belt is worn, over the clothes, 150 to 3000 mm."""
    belt_size: Annotated[float | None, Measure(least=100.0, most=3000.0), Field(examples=["965 mm"])] = None
    """As belts are sold: from the outer end of the fold to the centre of the middle hole, 100 to 3000 mm; of
    an even count, the nearer of the middle two. It places the middle hole, whichever hole_in_use says."""
    trousers: Annotated[Number | None, Field(ge=20, le=70)] = None
    """Trouser size in inches, 20 to 70: 2 in more from the fold to the centre of the hole in use, a rule of
    thumb only; a tape is more reliable."""
    old: OldBelt | None = None
    """With worn_to_hole: the old belt's own measures, where they differ."""
    hole_in_use: Annotated[Count | None, Field(ge=1, le=15)] = None
    """The adjusting hole that fits, 1 = nearest the buckle; default the middle one."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: not exactly one way of sizing; an old belt without a measure taken on it."""
        if wrong := one_of(table, "worn_to_hole", "girth", "belt_size", "trousers"):
            yield (), wrong
        if "old" in table and "worn_to_hole" not in table:
            yield ("old",), "found without worn_to_hole, expected only with it"
