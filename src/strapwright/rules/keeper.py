"""The keeper: the leather ring that holds the strap's free end."""

from __future__ import annotations

import math
from typing import Final

LAPPED: Final = 2.0
"""Leather of a keeper whose ends lap, mm: 1.6 to 2.4 mm is common practice, for a lap counts double."""


def keeper_length(
    width: float, layers: float, thickness: float, neutral_axis: float, ease_width: float, ease_height: float
) -> float:
    """Return the neutral length of a closed keeper, L = 2 (w_in + h_in) + 2 π K t_k.

    Args:
        width: of the strap, W; w_in = W + ease_width, mm.
        layers: thickness of all it encloses, mm; h_in = layers + ease_height.
        thickness: t_k, of the keeper's own leather, mm.
        neutral_axis: K.
        ease_width: room sideways, mm; a house setting.
        ease_height: room in height, mm; a house setting.

    Returns:
        The length for ends that butt; a lap is added to it.

    Source: perimeter of a rectangle rolled about its four corners with the neutral line K t_k outside;
        that a keeper goes round two strap thicknesses is common practice.

    Example:
        >>> round(keeper_length(38.0, 7.2, 3.6, 0.5, 1.0, 1.5), 2)
        106.71
    """
    inside = (width + ease_width) + (layers + ease_height)
    return 2 * inside + 2 * math.pi * neutral_axis * thickness


def way_to_close(rise: float, radius: float) -> float:
    """Return the strap a layer needs between a closed row and the edge of a keeper, w = 2 R √(z / (4 R − z)).

    The layer turns up at the row and level again at the keeper's edge, by φ each time, where sin φ = z / w.
    Half of each bend lies between the two and takes R tan(φ/2) of the way; the other halves lie beyond, under
    the row's heads and over the keeper's corner, where leather gives.

    Args:
        rise: z, half of what the keeper holds the two layers apart by, mm.
        radius: R, of the tightest bend allowed, to the middle of the layer, mm.

    Source: two lines rounded by arcs of one radius; that the layers part alike is a house rule.

    Example:
        >>> round(way_to_close(4.0, 4.75), 2)
        4.91
    """
    return 2 * radius * math.sqrt(rise / (4 * radius - rise)) if rise < 2 * radius else rise


def rise_that_closes(way: float, radius: float) -> float:
    """Return how far a layer climbs on a way at most: the inverse of :func:`way_to_close`.

    Args:
        way: w, mm.
        radius: R, mm.

    Example:
        >>> round(rise_that_closes(way_to_close(2.5, 4.75), 4.75), 9)
        2.5
    """
    return way * math.sin(2 * math.atan(way / (2 * radius))) if way < 2 * radius else way
