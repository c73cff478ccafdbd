"""From the bed's millimetres to a machine's own numbers: its origin, its axes and its units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from strapwright.machine.profile.machine import Axes, Machine

_DECIMALS: Final = {"mm": 4, "in": 6}


def decimals_of(machine: Machine) -> int:
    """Return how many decimals a length has in a machine's G-code.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> decimals_of(read_machine("wide-laser"))
        4
    """
    return _DECIMALS[machine.units]


def in_machine(contour: Contour, axes: Axes) -> Contour:
    """Return a contour in the machine's own millimetres.

    Where one axis counts the other way the picture is mirrored, and arcs turn the other way.

    Example:
        >>> from strapwright.machine.profile.machine import Axes
        >>> quarter = Contour([(10, 0, 0.5), (0, 10, 0)], closed=False)
        >>> in_machine(quarter, Axes(100.0, 0.0, -1, 1)).vertices.tolist()
        [[90.0, 0.0, -0.5], [100.0, 10.0, 0.0]]
    """
    if (axes.x_zero, axes.y_zero, axes.x_sign, axes.y_sign) == (0.0, 0.0, 1, 1):
        return contour
    v = contour.vertices
    turn = -1.0 if axes.mirrored else 1.0
    x, y = axes.x_sign * (v[:, 0] - axes.x_zero), axes.y_sign * (v[:, 1] - axes.y_zero)
    return Contour(np.column_stack([x, y, turn * v[:, 2]]), contour.closed)
