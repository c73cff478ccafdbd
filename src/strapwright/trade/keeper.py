"""The keeper: the leather ring that holds the strap's free end."""

from __future__ import annotations

import math


def keeper_length(
    width: float,
    layers: float,
    thickness: float,
    neutral_axis: float,
    ease_width: float,
    ease_height: float,
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
