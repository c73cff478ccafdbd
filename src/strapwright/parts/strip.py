"""The outline of any strip of leather: two straight edges and an end shape at either end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.core.errors import PartError
from strapwright.geometry.shapes import chain

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour
    from strapwright.parts.tips.tip import Tip


def strip_outline(rear_x: float, rear: Tip, front_x: float, front: Tip) -> Contour:
    """Return the outline between two ends of one width.

    Args:
        rear_x: x of the rear end's outermost point, mm.
        rear: its shape; it is turned round to face −x.
        front_x: x of the front end's foremost point, mm.
        front: its shape.

    Returns:
        Closed, counter-clockwise.

    Raises:
        PartError: the two ends run into each other.

    Example:
        >>> from strapwright.parts.tips.square import Square
        >>> end = Square(40.0, 5.0)
        >>> round(strip_outline(0.0, end, 100.0, end).area, 6)
        3978.539816
    """
    if front_x - front.reach < rear_x + rear.reach:
        raise PartError(
            f"the strip is {front_x - rear_x:.1f} mm long; its ends alone take "
            f"{front.reach + rear.reach:.1f} mm: a longer belt is needed"
        )
    return chain(
        [
            *((front_x + x, y, bulge) for x, y, bulge in front.vertices()),
            *((rear_x - x, -y, bulge) for x, y, bulge in rear.vertices()),
        ]
    )
