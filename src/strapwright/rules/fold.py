"""The fold round the buckle bar: how much strap it takes, how hard it strains it, where its layers meet.

Symbols, all in mm: t strap thickness at the fold; b bar diameter; r inner radius of the fold
(:func:`bend_radius`); K share of the thickness at which the leather neither stretches nor shortens;
B length of the half-turn; s distance along the strap from the middle of the fold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Bar:
    """The bar a strap is folded round, whosever it is: a buckle's, a ring's or a hook's.

    Args:
        width: of its section, along the strap as it lies flat, mm; a round bar's diameter.
        height: of its section, mm; a round bar's diameter.
        flat: whether it is flat, and not round.

    Example:
        >>> Bar.of(5.0, None).radius, Bar.of(5.0, None).fold_radius(0.25), Bar.of(None, (6.0, 2.0)).perimeter
        (2.5, 2.75, 16.0)
    """

    width: float
    height: float
    flat: bool

    @classmethod
    def of(cls, diameter: float | None, section: tuple[float, float] | None) -> Bar:
        """Return a round bar by its diameter, or a flat one by width and height of its section, mm."""
        return (
            cls(diameter or 0.0, diameter or 0.0, flat=False) if section is None else cls(*section, flat=True)
        )

    @property
    def perimeter(self) -> float:
        """Of its section, mm."""
        return 2 * (self.width + self.height) if self.flat else math.pi * self.width

    @property
    def radius(self) -> float:
        """Its own radius, mm; of a flat bar, that whose half-turn is half its perimeter."""
        return flat_bar_radius(self.width, self.height) if self.flat else self.width / 2

    def fold_radius(self, play: float) -> float:
        """Return the inner radius of the fold round it, r, mm; a flat bar is taken without play.

        Args:
            play: how far the leather stands off a round bar, mm; a house setting.
        """
        return self.radius if self.flat else bend_radius(self.width, play)


@dataclass(frozen=True)
class Fitting:
    """What an end is folded round, with what it must leave room for: a buckle, or a ring, a bar with a depth.

    Args:
        bar: the bar.
        depth: from its middle to the inside of the far side, which swings over the fasteners, mm; None
            where that is not checked.
        prongs: where prongs turn on the bar, across the strap, mm; none on a ring or a hook.
        prong_width: of each, mm.
        prong_thickness: of each at its eye, mm.
        rear_depth: from the middle of a centre bar to the inside of the loop behind it, mm; 0 for none.
    """

    bar: Bar
    depth: float | None = None
    prongs: tuple[float, ...] = ()
    prong_width: float = 0.0
    prong_thickness: float = 0.0
    rear_depth: float = 0.0


def bend_radius(bar_diameter: float, fold_play: float) -> float:
    """Return the inner radius of the fold round a round bar, r = b/2 + play.

    Args:
        bar_diameter: b, mm.
        fold_play: how far the leather stands off the bar, mm; a house setting.

    Example:
        >>> bend_radius(5.0, 0.25)
        2.75
    """
    return bar_diameter / 2 + fold_play


def flat_bar_radius(width: float, height: float) -> float:
    """Return the radius whose half-turn is half the perimeter of a flat bar, r = (w + h) / π.

    A strap laid round a flat bar follows half its perimeter; taking that as a half circle lets every
    other formula stand as it is.

    Args:
        width: of the bar's section, mm.
        height: of the bar's section, mm.

    Example:
        >>> round(flat_bar_radius(6.0, 3.0), 3)
        2.865
    """
    return (width + height) / math.pi


def half_turn(thickness: float, radius: float, neutral_axis: float) -> float:
    """Return the length of strap in the half-turn round the bar, B = π (r + K t).

    Args:
        thickness: t at the fold, mm.
        radius: r, mm.
        neutral_axis: K, 0 (inner face) to 1 (outer face).

    Source: bend allowance A (R + K T) for A = 180°, as in sheet-metal handbooks (Machinery's Handbook,
        26th ed., bend allowances). That leather takes K = 0.5 is a house setting.

    Example:
        >>> round(half_turn(3.6, 2.75, 0.5), 3)
        14.294
    """
    return math.pi * (radius + neutral_axis * thickness)


def fold_strain(thickness: float, radius: float) -> float:
    """Return the strain of the outer (grain) face in the fold, t / (2 r + t).

    Source: elementary bending with the neutral axis at mid-thickness.

    Example:
        >>> round(fold_strain(3.6, 3.6), 4)
        0.3333
    """
    return thickness / (2 * radius + thickness)


def thickest_for_strain(radius: float, strain: float) -> float:
    """Return the thickness at which the fold's outer face strains by ``strain``, t = 2 r ε / (1 − ε).

    Example:
        >>> round(fold_strain(thickest_for_strain(2.75, 0.4), 2.75), 12)
        0.4
    """
    return 2 * radius * strain / (1 - strain)


def slot_length(
    half_turn_length: float, bar_radius: float, fold_radius: float, prong_thickness: float
) -> int:
    """Return the length of the prong slot, B + 2 √((b/2 + p)² − r²) + 2 mm, up to a whole millimetre.

    The prong's eye is wound round the bar; as the frame swings it must clear the strap where both legs
    leave the bar.

    Args:
        half_turn_length: B, mm.
        bar_radius: b/2, mm.
        fold_radius: r, mm.
        prong_thickness: p at the prong's eye, mm.

    Source: geometry of the eye against the two tangents; the 2 mm of play is common practice.

    Example:
        >>> slot_length(14.294, 2.5, 2.75, 3.5)
        27
    """
    reach = (bar_radius + prong_thickness) ** 2 - fold_radius**2
    return math.ceil(half_turn_length + 2 * math.sqrt(max(reach, 0.0)) + 2.0 - 1e-9)


def slot_width(prong_width: float) -> float:
    """Return the width of the prong slot, prong + 1.5 mm (common practice).

    Example:
        >>> slot_width(4.0)
        5.5
    """
    return prong_width + 1.5


def mate(
    s: float,
    thickness: float,
    radius: float,
    neutral_axis: float,
    gap: float = 0.0,
    *,
    clamped: float | None = None,
) -> float:
    """Return where the hole in the turn-back lies that meets the hole at ``s`` in the front, mm.

    The clamped layers converge behind the bar, so the mate is not the mirror image. With a = r + K t,
    B = π a, L = s − B/2, z = a − t − g and ψ = acos(a / √(L² + z²)) − atan2(z, L), the mate lies at
    B/2 − [a (3π/2 − ψ) + √(L² + z² − a²)].

    Args:
        s: of the hole in the front layer, mm from the middle of the fold; beyond the half-turn.
        thickness: t at the fold, mm.
        radius: r, mm.
        neutral_axis: K.
        gap: g, by which something (a keeper) holds the layers apart at this row, mm.
        clamped: distance of the two layers' middles where they are clamped tight, half of each thickness,
            mm; it takes the place of t in z where front and turn-back differ. None takes t.

    Returns:
        A negative distance: the turn-back lies at s < 0.

    Raises:
        ValueError: the hole is on the bar, where the layers cannot meet.

    Source: the turn-back as a line tangent to the half-turn's neutral circle that reaches the clamped
        place; derived for this program and checked by a construction with drawn tangents.

    Example:
        >>> a = 2.75 + 0.5 * 3.2
        >>> round(mate(15 + math.pi * a / 2, 3.2, 2.75, 0.5), 2)
        -22.84
    """
    a = radius + neutral_axis * thickness
    turn = math.pi * a
    along, across = s - turn / 2, a - (thickness if clamped is None else clamped) - gap
    reach = math.hypot(along, across)
    if along <= 0 or reach <= a:
        raise ValueError(
            f"a hole {s:.2f} mm from the middle of the fold is on the bar; "
            f"expected more than {turn / 2 + a:.2f} mm"
        )
    psi = math.acos(a / reach) - math.atan2(across, along)
    return turn / 2 - (a * (1.5 * math.pi - psi) + math.sqrt(reach**2 - a**2))
