"""Zones of a hide that one layout alone keeps clear: read as they are written, and checked."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import NestError, UnitError
from strapwright.core.tolerances import NESTING_CHORD
from strapwright.core.units import parse_length, trimmed
from strapwright.geometry.drawings.gathered import LARGEST_EXTENT
from strapwright.geometry.polygon import to_polygon
from strapwright.nesting.hide.outline_check import shape_problem
from strapwright.nesting.hide.types import Flaw, FlawKind, round_flaw

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import AvoidedZone, Layout


_ROUND: Final = 8
"""A polygon of fewer corners is not taken for a round zone."""


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


def zone_text(zone: AvoidedZone) -> str:
    """Return a zone's corners as :func:`zone_to_avoid` reads them, to a millionth of a millimetre.

    Example:
        >>> from strapwright.nesting.layout.types import AvoidedZone
        >>> zone_text(AvoidedZone("bend", np.array([(0, 0), (100, 0), (100, 62.5)])))
        '0,0 100,0 100,62.5'
    """
    return " ".join(f"{trimmed(x, 6)},{trimmed(y, 6)}" for x, y in zone.polygon)


def zone_words(zone: AvoidedZone) -> str:
    """Return a zone as a person would write it for :func:`zone_to_avoid`: to a hundredth of a millimetre.

    Example:
        >>> from strapwright.nesting.layout.types import AvoidedZone
        >>> zone_words(AvoidedZone("bend", round_flaw(FlawKind.HOLE, 640.0, 30.0, 80.0).polygon))
        '640,30,80'
        >>> zone_words(AvoidedZone("bend", np.array([(0, 0), (100, 0), (100, 62.504)])))
        '0,0 100,0 100,62.5'
    """
    x, y = zone.polygon.mean(axis=0)
    size = 2 * float(zone.polygon[0, 0] - x) * math.cos(math.pi / len(zone.polygon))
    if len(zone.polygon) >= _ROUND and size > 0:
        disc = round_flaw(FlawKind.HOLE, x, y, size).polygon
        if disc.shape == zone.polygon.shape and np.allclose(disc, zone.polygon, atol=0.01):
            return ",".join(trimmed(value, 2) for value in (x, y, size))
    return " ".join(f"{trimmed(x, 2)},{trimmed(y, 2)}" for x, y in zone.polygon)


def check_zones(kept: Layout, avoid: Mapping[str, Sequence[Flaw]]) -> None:
    """Check that zones to be kept clear lie on their hides, and that nothing that stays lies in them.

    Args:
        kept: what stays, on all its hides.
        avoid: the zones, by the hide's name.

    Raises:
        NestError: one lies elsewhere, or a part that stays is in one.
    """
    import shapely

    for hide in kept.hides:
        for zone in avoid.get(hide.name, ()):
            shape = shapely.Polygon(zone.polygon)
            if not shape.intersects(shapely.Polygon(hide.outline)):
                raise NestError(f"zone to avoid: is not on {hide.name}; give it in the hide's own mm")
            for placed in kept.placed_on(hide.name):
                outline = to_polygon(placed.outline, NESTING_CHORD)
                if shape.intersects(shapely.Polygon(outline)):
                    raise NestError(
                        f"zone to avoid: {placed.part.id} is locked there on {hide.name}; "
                        "unlock it or move the zone"
                    )
