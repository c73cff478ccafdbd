"""A buckle: the measures a calliper gives, as a job or a catalogue holds them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from strapwright.core.text import quoted
from strapwright.core.units import format_length
from strapwright.files.fields import Measure, NotTrue, Number, mistake
from strapwright.files.validate import Strict, one_of
from strapwright.rules.fold import Bar, Fitting

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.files.validate import Faults

_Side = Annotated[float, Measure(least=0.5, most=40.0)]
BarSection = Annotated[tuple[_Side, _Side] | None, Field(examples=[["6 mm", "2 mm"]])]
"""Width and height of a flat bar's section."""

_LEAST_METAL = 0.5
"""Air wanted between two prongs and the frame, each side, mm."""


class Buckle(Strict):
    """The measures of a buckle that decide how a strap meets it.

    Example:
        >>> Buckle(opening=40, bar_diameter=5, frame_depth=34).frame_depth
        34.0
    """

    name: Annotated[str, Field(max_length=80)] = ""
    """What it is called; a buckle of a catalogue is called by its table's name."""
    opening: Annotated[float | None, Measure(least=6.0, most=150.0)] = None
    """Inside width along the bar, as a calliper reads it, 6 to 150 mm; the strap is made narrower by the
    house's strap_clearance. Give this or for_strap."""
    for_strap: Annotated[float | None, Measure(least=6.0, most=150.0)] = None
    """Width of strap it is sold for, 6 to 150 mm; taken as the strap's width with nothing off. Give this or
    opening."""
    bar_diameter: Annotated[float | None, Measure(least=1.0, most=25.0)] = None
    """Diameter of the round bar the strap folds over, 1 to 25 mm: thinner cuts the leather, thicker is no
    buckle. Give this or bar_section."""
    bar_section: BarSection = None
    """Section of a flat bar, width and height, 0.5 to 40 mm each; the fold is calculated from its perimeter.
    Give this or bar_diameter."""
    bar: Literal["heel", "centre"] = "heel"
    """Where the bar sits: at the heel (default, most belt buckles) or in the centre with a loop on either
    side."""
    rear_depth: Annotated[float | None, Measure(least=3.0, most=150.0)] = None
    """For bar = centre: bar centre to the inner face of the rear bar, 3 to 150 mm; the fasteners must clear
    that loop."""
    frame_depth: Annotated[float, Measure(least=3.0, most=150.0)]
    """Bar centre to the inner face of the front bar, where the prong's tip rests, 3 to 150 mm. The hole in
    use bears a prong's thickness before it, unless hole_seat is measured."""
    prongs: Annotated[Literal[0, 1, 2], NotTrue] = 1
    """How many prongs: 1 (default), 2, or 0 for a hook or plate buckle."""
    prong_spacing: Annotated[float | None, Measure(least=6.0, most=100.0)] = None
    """For two prongs: from centre to centre, 6 to 100 mm; the adjusting holes are punched in two rows as far
    apart."""
    prong_width: Annotated[float, Measure(least=1.0, most=15.0)] = 4.0
    """Width of the prong where it passes the strap, 1 to 15 mm, default 4 mm (a usual belt buckle's); it
    decides slot and holes."""
    prong_thickness: Annotated[float, Measure(least=1.0, most=15.0)] = 3.5
    """Thickness of the prong at its eye, 1 to 15 mm, default 3.5 mm; the eye must swing in the slot, and
    without hole_seat it says where the hole in use bears."""
    hook_depth: Annotated[float | None, Measure(least=1.0, most=150.0)] = None
    """For prongs = 0: bar centre to where the hook bears on the hole, 1 to 150 mm."""
    hole_seat: Annotated[float | None, Measure(least=1.0, most=150.0)] = None
    """Bar centre to the edge of the hole in use that bears, 1 to 150 mm, measured with a holed offcut pulled
    tight; without it, hook_depth, or frame_depth less prong_thickness as an estimate."""

    price: Annotated[Number | None, Field(ge=0)] = None
    """Of one, any currency; for the bill."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield keys that exclude or need one another."""
        for pair in (("opening", "for_strap"), ("bar_diameter", "bar_section")):
            if wrong := one_of(table, *pair):
                yield (), wrong
        prongs = table.get("prongs", 1)
        for key, holder, wanted, found in (
            ("rear_depth", "bar", "centre", table.get("bar", "heel")),
            ("prong_spacing", "prongs", 2, prongs),
            ("hook_depth", "prongs", 0, prongs),
        ):
            needs = f"{holder} = {quoted(wanted)}"
            if found == wanted and key not in table:
                yield (key,), f"missing, expected with {needs}"
            elif found != wanted and key in table:
                given = f"found with {holder} = {quoted(found)}"
                yield (key,), f"{given}, expected only with {needs}"

    @model_validator(mode="after")
    def _prongs_fit(self) -> Self:
        """Refuse two prongs that stand outside the frame, or in one another."""
        if self.prong_spacing is None:
            return self
        inside = self.opening or self.for_strap or 0.0
        low = self.prong_width + _LEAST_METAL
        high = inside - self.prong_width - 2 * _LEAST_METAL
        if not low <= self.prong_spacing <= high:
            raise mistake(
                f"found prong_spacing {format_length(self.prong_spacing)} with prongs of "
                f"{format_length(self.prong_width)} in {format_length(inside)}, "
                f"expected {format_length(low)} to {format_length(max(high, low))}"
            )
        return self

    @property
    def section(self) -> Bar:
        """The bar the strap is folded round; the frame's other bars are taken to be as thick."""
        return Bar.of(self.bar_diameter, self.bar_section)

    @property
    def fitting(self) -> Fitting:
        """What of it decides the end that is folded round it."""
        half = (self.prong_spacing or 0.0) / 2
        return Fitting(
            bar=self.section,
            depth=self.frame_depth,
            prongs=((), (0.0,), (-half, half))[self.prongs],
            prong_width=self.prong_width,
            prong_thickness=self.prong_thickness,
            rear_depth=self.rear_depth or 0.0,
        )

    @model_validator(mode="after")
    def _hole_in_the_frame(self) -> Self:
        """Refuse a hole that comes to rest where no strap can come up, or a prong as thick as its frame."""
        if self.prongs and self.hole_seat is not None and self.hole_seat > self.frame_depth:
            raise mistake(
                f"found hole_seat {format_length(self.hole_seat)}, expected at most frame_depth, "
                f"{format_length(self.frame_depth)}: the strap comes up inside the front bar"
            )
        if self.seat <= 0:
            raise mistake(
                f"found prong_thickness {format_length(self.prong_thickness)}, expected less than "
                f"frame_depth, {format_length(self.frame_depth)}"
            )
        return self

    @property
    def seat(self) -> float:
        """Bar centre to the edge of the hole in use that bears, f, mm: as measured, or by estimate."""
        if self.hole_seat is not None:
            return self.hole_seat
        return self.seat_of_frame(self.frame_depth) if self.hook_depth is None else self.hook_depth

    @property
    def seat_is_measured(self) -> bool:
        """Whether it was measured where the hole bears; else that is estimated from the frame."""
        return self.hole_seat is not None or self.hook_depth is not None

    def seat_of_frame(self, frame_depth: float) -> float:
        """Estimate where the hole bears in a frame of some depth: a prong's thickness before the front bar.

        Args:
            frame_depth: bar centre to the inner face of the front bar, mm.
        """
        return frame_depth - self.prong_thickness
