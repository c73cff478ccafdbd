"""How strong a belt's leather is, place by place: to compare designs, never to rate one.

Symbols: W strap width, t thickness, d diameter of a hole, n holes or pins side by side, w width of the
pin that bears, e leather left to tear through, all in mm; σ tensile strength, N/mm²; P pull on the
whole belt, N. A place fails at P = A q σ / s with A the section that fails, q the share of σ it stands
(1 in tension) and s the share of the pull it carries.

Sources of σ, each a range over many leathers: the leather encyclopaedia's article "Tensile strength,
tear strength" (cattle leather 8 to 25 N/mm²); "Bookbinding and the Conservation of Books", entry "tensile
strength" (most leathers 2000 to 6000 psi, 13.8 to 41.4 N/mm²); "Test requirement for fancy and fine
leather", a table (vegetable leather at least 1000 N/cm² up to 1.25 mm, 1500 N/cm² above; it names no
source of its own).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Iterable

REFERENCE: Final = (38.0, 3.6)
"""Width and thickness of the belt that ratios refer to, mm: a usual trouser belt of 9 oz leather."""

CAUTION: Final = (
    "This is an estimate of the leather alone, from published ranges, to compare designs and not to rate "
    "one: leather varies from hide to hide and within a hide. Never use it for climbing, lifting or fall "
    "arrest; for duty gear, licensed practice decides."
)
"""Goes wherever a strength is shown."""


BEARING_SHARE: Final = 1.0
"""Bearing strength as a share of tensile strength: a house assumption. No published value was found; laced
belting, judged by its published working figure, is in keeping with it."""


SHEAR_SHARE: Final = 0.5
"""Shear strength as a share of tensile strength: a house assumption, no published value was found."""


LEG_SHARE: Final = 0.5
"""Each leg at the bar carries about half the pull, and so do all the fasteners together: two legs share
evenly, friction round the bar left out."""


CATTLE: Final = (8.0, 25.0)
"""Tensile strength of cattle leather, N/mm² (leather encyclopaedia)."""


VEGETABLE_LEAST: Final = ((1.25, 10.0), (float("inf"), 15.0))
"""Least tensile strength asked of vegetable leather up to a thickness: mm, N/mm² (requirement table)."""


@dataclass(frozen=True)
class Mode:
    """One way in which a belt's leather can fail.

    Args:
        name: a stable kebab-case name, such as ``"hole-bearing"``.
        where: the same in words.
        formula: of the pull, in symbols.
        numbers: the formula with the numbers put in.
        low: pull on the belt at the least strength published for the tannage, N.
        high: the same at the upper end of what is usual, N.
    """

    name: str
    where: str
    formula: str
    numbers: str
    low: float
    high: float


def tensile_strength(tannage: Tannage, thickness: float) -> tuple[float, float] | None:
    """Return the least published and the usual upper tensile strength of a leather, N/mm².

    Vegetable leather takes its least from the requirement table, by thickness. Chrome, combination and
    unknown tannage take the whole range of cattle leather: chrome leather often tests stronger (from
    memory), but no published least value was found for it, and a good range needs a data sheet.

    Args:
        tannage: how it was tanned.
        thickness: mm.

    Returns:
        (low, high), or None for synthetic stock, whose strength lies in its backing cloth.

    Source: the encyclopaedia and the table named at the head of this module.

    Example:
        >>> tensile_strength(Tannage.VEGETABLE, 3.6), tensile_strength(Tannage.CHROME, 3.6)
        ((15.0, 25.0), (8.0, 25.0))
    """
    if tannage is Tannage.SYNTHETIC:
        return None
    if tannage is Tannage.VEGETABLE:
        return next(least for upto, least in VEGETABLE_LEAST if thickness <= upto), CATTLE[1]
    return CATTLE


def net_section(width: float, across: int, diameter: float, thickness: float) -> float:
    """Return the leather left beside holes or slots, (W − n d) t, mm²; none where they meet the edges.

    Args:
        width: W, mm.
        across: n, holes or slots side by side.
        diameter: d, or the width of a slot, mm.
        thickness: t, mm.

    Source: elementary strength of materials, strength = F / (w t) as in ISO 3376 with the holes'
        widths off; no allowance for the stress that gathers at a hole's edge, which leather evens out
        by stretching. Old handbooks give joints of holed belting 0.5 to 0.7 of the full strength.

    Example:
        >>> round(net_section(44.0, 1, 5.5, 3.6), 1)
        138.6
    """
    return max(width - across * diameter, 0.0) * thickness


def bearing_area(pins: int, pin_width: float, thickness: float) -> float:
    """Return the leather that pins press on, n w t, mm².

    Args:
        pins: n, prongs or fasteners that share the pull.
        pin_width: w of prong or barrel, mm: the hole is wider, but only the pin bears.
        thickness: t, mm.

    Source: elementary strength of materials, projected area of a pin.

    Example:
        >>> round(bearing_area(1, 4.5, 3.6), 1)
        16.2
    """
    return pins * pin_width * thickness


def tear_out_length(pitch: float, length: float, tip: float, *, last: bool) -> float:
    """Return the leather in front of a loaded hole, e: pitch − d, or at the last hole tip − d/2, mm.

    The prong pulls towards the tip, so between the holes it tears into the next one.

    Args:
        pitch: from hole to hole, mm.
        length: d, of the hole along the strap, mm: the diameter of a round one.
        tip: from the centre of the last hole to the end of the tip, mm.
        last: whether this is the hole nearest the tip.

    Source: geometry.

    Example:
        >>> tear_out_length(25.0, 5.5, 110.0, last=False), tear_out_length(25.0, 5.5, 110.0, last=True)
        (19.5, 107.25)
    """
    return max(tip - length / 2 if last else pitch - length, 0.0)


def tear_out_area(pins: int, length: float, thickness: float) -> float:
    """Return the two shear planes in front of each pin, n 2 t e, mm².

    Args:
        pins: n, prongs or fasteners side by side that share the pull.
        length: e, mm.
        thickness: t, mm.

    Source: elementary strength of materials, as for a plate torn out by a pin.

    Example:
        >>> round(tear_out_area(1, 19.5, 3.6), 1)
        140.4
    """
    return pins * 2 * thickness * length


def pull(
    area: float, tensile: tuple[float, float], *, stands: float = 1.0, carries: float = 1.0
) -> tuple[float, float]:
    """Return the pull on the belt at which a section fails, P = A q σ / s, N, low and high.

    Args:
        area: A, mm².
        tensile: σ, low and high, N/mm².
        stands: q, strength in this way of failing as a share of σ.
        carries: s, share of the belt's pull that passes this section, over 0.

    Source: elementary strength of materials; the shares are this module's constants.

    Example:
        >>> pull(100.0, (15.0, 25.0), carries=LEG_SHARE)
        (3000.0, 5000.0)
    """
    low, high = tensile
    return area * stands * low / carries, area * stands * high / carries


def weakest_first(modes: Iterable[Mode]) -> tuple[Mode, ...]:
    """Return the ways of failing, the one that governs first; ties keep their order.

    Example:
        >>> modes = [Mode("a", "", "", "", 900.0, 1500.0), Mode("b", "", "", "", 240.0, 400.0)]
        >>> [mode.name for mode in weakest_first(modes)]
        ['b', 'a']
    """
    return tuple(sorted(modes, key=lambda mode: mode.low))


def sag_ratio(width: float, thickness: float) -> float:
    """Return how much the strap sags on edge under a hung load, W₀³ t₀ / (W³ t).

    Under 1 it sags less than a 38 × 3.6 mm belt of the same leather.

    Args:
        width: W, mm.
        thickness: t of all layers, mm.

    Source: elementary bending: deflection goes with 1/I, and I = t W³/12 for a strap on edge.

    Example:
        >>> sag_ratio(38.0, 3.6), round(sag_ratio(44.0, 3.6), 3)
        (1.0, 0.644)
    """
    reference_width, reference_thickness = REFERENCE
    return (reference_width / width) ** 3 * (reference_thickness / thickness)


def roll_ratio(width: float, thickness: float) -> float:
    """Return how much the strap's edge rolls outward under a hung load, W₀ t₀³ / (W t³).

    Under 1 it rolls less than a 38 × 3.6 mm belt of the same leather.

    Args:
        width: W, mm.
        thickness: t of all layers, mm; layers are taken as glued and sewn, so that none slips.

    Source: elementary bending of the strap out of its flat, I = W t³/12.

    Example:
        >>> roll_ratio(38.0, 3.6), round(roll_ratio(44.0, 3.6), 3)
        (1.0, 0.864)
    """
    reference_width, reference_thickness = REFERENCE
    return (reference_width / width) * (reference_thickness / thickness) ** 3
