"""A zone to keep clear for one layout alone, as it is written on the command line."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.errors import NestError, UnitError
from strapwright.core.units import parse_length
from strapwright.nesting.hide.outline_check import LARGEST_EXTENT, shape_problem
from strapwright.nesting.hide.types import Flaw, FlawKind, round_flaw

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.hide.types import Hide


def zone_to_avoid(text: str, hides: Sequence[Hide]) -> tuple[str, Flaw]:
    """Read a zone as it is written on the command line.

    Args:
        text: ``"x,y,size"`` for a round one, or three corners or more, ``"x,y x,y x,y"``; before it the
            hide's name and a colon where there are several hides.
        hides: those of the run.

    Returns:
        The hide's name, and the zone as a hole.

    Raises:
        NestError: it cannot be read.

    Example:
        >>> from strapwright.nesting.hide.types import Hide
        >>> bend = Hide("bend", np.array([(0, 0), (900, 0), (900, 400)]))
        >>> name, zone = zone_to_avoid("2 in, 100, 30 mm", [bend])
        >>> name, zone.round
        ('bend', (50.8, 100.0, 30.0))
        >>> zone_to_avoid("bend: 0,0 100,0 100,100", [bend])[1].polygon.tolist()
        [[0.0, 0.0], [100.0, 0.0], [100.0, 100.0]]
    """
    name, colon, rest = text.rpartition(":")
    name = name.strip()
    if not colon:
        if len(hides) > 1:
            raise NestError(
                f'zone to avoid: found "{text}" and {len(hides)} hides, expected the hide\'s name before it: '
                f'"{hides[0].name}: {text}"'
            )
        name = hides[0].name
    expected = 'expected "x,y,size" for a round zone, or its corners "x,y x,y x,y"'
    by_corners = all(re.fullmatch(r"[^,]+,[^,]+", corner) for corner in rest.split())
    values = rest.replace(" ", ",").split(",") if by_corners else rest.split(",")
    try:
        numbers = [parse_length(value.strip()) for value in values if value.strip() or not by_corners]
    except UnitError as error:
        raise NestError(f'zone to avoid: found "{text}", {expected}') from error
    if by_corners and len(numbers) % 2 == 0 and numbers:
        corners = np.array(numbers).reshape(-1, 2)
        wrong = shape_problem(corners)
        if wrong:
            raise NestError(f'zone to avoid: found "{text}": {wrong}')
        return name, Flaw(FlawKind.HOLE, corners)
    if len(numbers) != 3:
        raise NestError(f'zone to avoid: found "{text}", {expected}')
    x, y, size = numbers
    if not 0 < size <= LARGEST_EXTENT:
        raise NestError(
            f'zone to avoid: found "{text}", a size of {size:g} mm; expected more than 0 mm, '
            f"up to {LARGEST_EXTENT:g} mm"
        )
    return name, round_flaw(FlawKind.HOLE, x, y, size)
