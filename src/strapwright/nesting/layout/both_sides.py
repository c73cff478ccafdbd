"""Parts beside the backbone: on which side of it each lies, and whether straps start from it both ways."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.polygon import turned
from strapwright.geometry.transform import turned as moved
from strapwright.nesting.hide.backbone import back_of, starts_both_ways

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import Placed


def beside(hide: Hide, placed: Placed) -> int:
    """Return on which side of a hide's back a part lies: 1 left of it, -1 right of it, 0 across it."""
    back = back_of(hide)
    at = turned(np.array([back.start]), -back.direction)[0, 1]
    outline = moved(placed.placement.apply(placed.part.outline), -back.direction)
    _, low, _, high = outline.bounding_box
    return 1 if low >= at - _TOUCH else -1 if high <= at + _TOUCH else 0


def laid_from_back(hide: Hide, placed: Sequence[Placed]) -> bool:
    """Whether the straps on a hide start from its back both ways: some on either side, none across it."""
    found = {beside(hide, one) for one in placed if one.part.lies_along}
    return starts_both_ways(hide) and found == {-1, 1}


_TOUCH: Final = 0.01
"""A part may reach over the back by this much and still lie beside it, mm."""
