"""How a part may be turned on a hide: a key that parts share."""

from __future__ import annotations

from math import degrees, radians
from typing import Annotated, Final

from pydantic import AfterValidator, Field

from strapwright.files.fields import Measure, mistake

_LEAST: Final = radians(15.0)
"""A finer step would try more than 24 turns of a part: that takes long and wins next to nothing."""


def _divides(step: float | None) -> float | None:
    """Return a step that makes a full turn in a whole number of steps.

    Example:
        >>> _divides(radians(30.0)) == radians(30.0)
        True
    """
    if step is not None and abs(360 / degrees(step) - round(360 / degrees(step))) > 1e-6:
        raise mistake(
            f"found {degrees(step):g} deg, expected a step that divides 360 deg: "
            "15, 18, 20, 24, 30, 36, 40, 45, 60, 72, 90, 120 or 180 deg"
        )
    return step


TurnStep = Annotated[
    float | None,
    Measure("angle", least=_LEAST, most=radians(180.0)),
    AfterValidator(_divides),
    Field(
        description="It may be turned on a hide by any multiple of this from the strap direction, 15 to 180 "
        "deg; default 90 deg for a keeper; a strap keeps to it, 180 deg, since its load does.",
    ),
]
"""A step of turns, held in radians; None: as is usual for the part."""
