"""The tables of a machine profile that hold what was measured: the kerf, and the scale of the axes."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Annotated, Any, Final

from pydantic import AfterValidator, Field

from strapwright.files.fields import Count, Measure, Number, mistake
from strapwright.files.validate import Strict
from strapwright.trade.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from pydantic_core import PydanticCustomError

    from strapwright.files.messages import Loc

MOST_KERF: Final = 2.0
"""Kerfs wider than this are a slip of the pen, mm: no laser that cuts belt leather is so coarse."""

LEAST_SCALE: Final = 0.95
MOST_SCALE: Final = 1.05
"""An axis further out than 5 % is set up wrongly, or the cross was misread."""

FIRST_DAY: Final = date(1990, 1, 1)
"""Nothing in use today was measured before this."""


def _been(day: date) -> date:
    today = date.today()
    if not FIRST_DAY <= day <= today:
        raise mistake(f"found {day}, expected a day from {FIRST_DAY} to today, {today}")
    return day


Day = Annotated[
    date,
    Field(strict=True, description="The day it was measured.", examples=["2026-03-14"]),
    AfterValidator(_been),
]
"""A date written as one, not as text, and not of the future."""

Scale = Annotated[Number, Field(ge=LEAST_SCALE, le=MOST_SCALE)]
"""What a drawn length comes out as, over what it was drawn."""


class KerfRow(Strict):
    """``[[kerf]]``: how wide a cut the machine makes, measured on one leather; older rows are history."""

    material: Annotated[Tannage, Field(description="The leather's tannage.")]
    thickness: Annotated[
        float, Measure("thickness", least=0.3, most=100.0), Field(description="The leather's thickness.")
    ]
    width: Annotated[
        float, Measure(least=0.01, most=MOST_KERF), Field(description="The width of the cut, measured.")
    ]
    measured: Day
    hole_width: Annotated[
        float | None,
        Measure(least=0.01, most=MOST_KERF),
        Field(description="The width of the cut round a small hole, measured on one; none: width."),
    ] = None
    spread: Annotated[
        float | None,
        Measure(least=0.0, most=MOST_KERF),
        Field(description="How far apart several readings of the width lay, widest less narrowest."),
    ] = None
    speed_mm_s: Annotated[Number, Field(ge=0.1, le=3000, description="Speed it was cut at, mm/s.")] | None = (
        None
    )
    power_percent: (
        Annotated[Number, Field(ge=0.1, le=100, description="Power it was cut with, percent.")] | None
    ) = None
    passes: Annotated[Count, Field(ge=1, le=20, description="How often the beam went round.")] | None = None


class ScaleRow(Strict):
    """``[[scale]]``: how far the axes are out, measured on the coupon's cross; older rows are history."""

    x: Annotated[Scale, Field(description="Length along x as cut, over the length as drawn.")] | None = None
    y: Annotated[Scale, Field(description="Length along y as cut, over the length as drawn.")] | None = None
    measured: Day

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
        """Refuse a row that measures neither axis."""
        if "x" not in table and "y" not in table:
            yield (), mistake("expected x, y or both")
