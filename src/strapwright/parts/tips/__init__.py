"""Tip shapes, one a file; a new one is its file and its line in :data:`TIPS`."""

from __future__ import annotations

import inspect
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PartError
from strapwright.parts.tips.bridle_point import BridlePoint
from strapwright.parts.tips.english_point import EnglishPoint
from strapwright.parts.tips.round import Round
from strapwright.parts.tips.spear import Spear
from strapwright.parts.tips.square import Square

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from strapwright.parts.tips.tip import Tip

TIPS: Final[dict[str, Callable[..., Tip]]] = {
    "english_point": EnglishPoint,
    "round": Round,
    "spear": Spear,
    "square": Square,
    "bridle_point": BridlePoint,
}
"""Each tip shape by the name a job gives it; made of a strap's width it has its usual proportions."""


def make_tip(shape: str, width: float, given: Mapping[str, float]) -> Tip:
    """Return a tip shape for a strap width.

    Args:
        shape: a name of :data:`TIPS`.
        width: of the strap, mm.
        given: dimensions that differ from the shape's usual proportions, mm.

    Raises:
        PartError: an unknown shape, a dimension this shape does not have, or one out of its range.

    Example:
        >>> make_tip("square", 40.0, {"corner_radius": 8.0}).reach
        8.0
    """
    if shape not in TIPS:
        raise PartError(f"tip is {shape!r}; expected one of {', '.join(TIPS)}")
    known = list(inspect.signature(TIPS[shape]).parameters)[1:]
    for name in given:
        if name not in known:
            allowed = " and ".join(known) if known else "none: its width decides it all"
            raise PartError(f"tip.{name}: a {shape} tip has no such dimension; it has {allowed}")
    return TIPS[shape](width, **given)
