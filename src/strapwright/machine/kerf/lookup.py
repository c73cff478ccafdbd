"""The width of the cut: measured, never guessed, and not older than the profile allows."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PlanError
from strapwright.machine.profile.kerf_table import MOST_KERF

if TYPE_CHECKING:
    from collections.abc import Iterable

    from strapwright.machine.profile.kerf_table import KerfRow
    from strapwright.machine.profile.machine import Machine
    from strapwright.trade.leather import Tannage

SAME_THICKNESS: Final = 0.05
"""Leather this near a measured thickness counts as it, mm: half of a gauge's graduation."""


@dataclass(frozen=True)
class KerfFound:
    """The width of the cut in one leather, and what it was found from.

    Args:
        width: mm; 0 for a drag knife.
        holes: of the cut round a small hole, mm; the width where none was measured.
        rows: the measured row, or the two it was interpolated between; none where it was given by
            hand, and for a drag knife.
    """

    width: float
    holes: float
    rows: tuple[KerfRow, ...] = ()


def kerf_for(
    machine: Machine,
    tannage: Tannage,
    thickness: float,
    by_hand: float | None = None,
    *,
    today: date | None = None,
) -> float:
    """Return the width of the cut a machine makes in a leather: see `find_kerf`.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> from strapwright.trade.leather import Tannage
        >>> kerf_for(read_machine("drag-knife"), Tannage.CHROME, 2.0)
        0.0
    """
    return find_kerf(machine, tannage, thickness, by_hand, today=today).width


def find_kerf(
    machine: Machine,
    tannage: Tannage,
    thickness: float,
    by_hand: float | None = None,
    *,
    today: date | None = None,
) -> KerfFound:
    """Return the width of the cut a machine makes in a leather, and the rows it comes from.

    Of several rows for one leather the newest counts. Between two measured thicknesses the width is
    interpolated in a straight line; beyond the measured range it is refused, and so is a row older
    than the profile's ``limits.kerf_max_age_days``.

    Args:
        machine: its profile holds the measured rows.
        tannage: of the leather.
        thickness: of the leather, mm.
        by_hand: width given by the maker instead, mm, over 0 and up to 2.
        today: what a row's age is reckoned to; None is the day this runs.

    Raises:
        PlanError: nothing measured for this leather, or too long ago, or a width by hand that
            cannot be; the message gives the command that makes a test piece.
    """
    if machine.kind == "drag_knife":
        if by_hand is not None:
            raise PlanError(
                f"--kerf {by_hand:g} mm: the blade of {machine.name!r} takes no leather away; "
                "leave --kerf out for a drag knife"
            )
        return KerfFound(0.0, 0.0)
    if by_hand is not None:
        if not 0 < by_hand <= MOST_KERF:
            raise PlanError(
                f"--kerf {by_hand:g} mm: expected a width over 0 and up to {MOST_KERF:g} mm; "
                "measure the gap a cut leaves"
            )
        return KerfFound(by_hand, by_hand)
    remedy = remedy_for(machine, tannage, thickness)
    rows = rows_in_use(machine.kerf, tannage)
    if not rows:
        raise PlanError(f"machine {machine.name!r} has no kerf measured in {tannage} leather; {remedy}")
    measured = np.array([row.thickness for row in rows])
    if not measured[0] - SAME_THICKNESS <= thickness <= measured[-1] + SAME_THICKNESS:
        span = (
            f"only at {measured[0]:g} mm"
            if len(rows) == 1
            else f"from {measured[0]:g} to {measured[-1]:g} mm"
        )
        raise PlanError(
            f"machine {machine.name!r} has its kerf in {tannage} leather measured {span}, "
            f"not at {thickness:.2f} mm; {remedy}"
        )
    used = _about(rows, thickness)
    for row in used:
        age, limit = age_of(row, today), machine.kerf_max_age_days
        if limit is not None and age > limit:
            raise PlanError(
                f"machine {machine.name!r} had its kerf in {tannage} leather of {row.thickness:g} mm "
                f"measured on {row.measured}, {age} days ago; its profile allows {limit} days; {remedy}"
            )
    width = float(np.interp(thickness, measured, [row.width for row in rows]))
    holes = float(np.interp(thickness, measured, [row.hole_width or row.width for row in rows]))
    return KerfFound(width, holes, used)


def rows_in_use(rows: Iterable[KerfRow], tannage: Tannage) -> tuple[KerfRow, ...]:
    """Return the rows that count in a leather, by rising thickness; those they replace are history.

    A newer row replaces every older one of nearly its thickness, and of two of one day the one that
    stands further down in the file counts: it was appended later.
    """
    numbered = [(row.measured, number, row) for number, row in enumerate(rows) if row.material == tannage]
    kept: list[KerfRow] = []
    for _, _, row in sorted(numbered, key=lambda one: one[:2], reverse=True):
        if all(not same_thickness(row, newer) for newer in kept):
            kept.append(row)
    return tuple(sorted(kept, key=lambda row: row.thickness))


def same_thickness(row: KerfRow, other: KerfRow) -> bool:
    """Whether two rows are of leather no gauge tells apart by its thickness."""
    return abs(row.thickness - other.thickness) < SAME_THICKNESS - 1e-9


def age_of(row: KerfRow, today: date | None = None) -> int:
    """Return how many days ago a row was measured; 0 for one dated in the future."""
    return max(0, ((today or date.today()) - row.measured).days)


def remedy_for(machine: Machine, tannage: Tannage, thickness: float) -> str:
    """Return what to do where the kerf is not known: the command that makes a test piece, or by hand."""
    profile = shlex.quote(machine.source or "MACHINE")
    return (
        f"cut a test piece: strapwright kerf coupon --machine {profile} --material {tannage} "
        f"--thickness {thickness:.4g}mm --out coupon, or give the width with --kerf"
    )


def _about(rows: tuple[KerfRow, ...], thickness: float) -> tuple[KerfRow, ...]:
    """Return the row of a thickness, or the two it lies between."""
    near = [row for row in rows if abs(row.thickness - thickness) < 1e-9]
    if near or len(rows) == 1:
        return tuple(near or rows)
    above = next((k for k, row in enumerate(rows) if row.thickness > thickness), len(rows))
    return rows[max(0, above - 1) : above + 1]
