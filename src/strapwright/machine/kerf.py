"""The kerf of each leather, from the machine's measured rows: its width, how it was cut, the axes' scale.

A kerf is measured, never guessed, and not older than the profile allows.
"""

from __future__ import annotations

import shlex
from bisect import bisect_right
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from strapwright.core.errors import PlanError, Problems
from strapwright.core.findings import Finding, Severity
from strapwright.core.text import counted
from strapwright.machine.profile.machine_keys import MOST_KERF

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.machine_keys import KerfRow, OperationTable, ScaleRow
    from strapwright.rules.leather import Tannage

_LEAST_SCALE_ERROR: Final = 0.001
"""An axis out by less is not reported: a belt of a metre is out by less than 1 mm."""

_DRIVES: Final = ("speed_mm_s", "power_percent", "passes")

SAME_THICKNESS: Final = 0.05
"""Leather this near a measured thickness counts as it, mm: half of a gauge's graduation."""


Leather = tuple["Tannage", float]
"""Tannage, and thickness in mm."""


@dataclass(frozen=True)
class Kerf:
    """The width of the cut in one leather, and what it was found from.

    Args:
        tannage: of the leather.
        thickness: of the leather, mm.
        width: of the cut, mm; 0 for a drag knife.
        holes: of the cut round a small hole, mm; the width where none was measured.
        rows: the measured row, or the two it was interpolated between; none where it was given by
            hand, and for a drag knife.
    """

    tannage: Tannage
    thickness: float
    width: float
    holes: float
    rows: tuple[KerfRow, ...] = ()

    def origin(self) -> str:
        """Return when and in which leather it was measured, in words; empty where nothing was."""
        return " and ".join(
            f"{row.width:.3g} mm measured in {row.material} leather of {row.thickness:g} mm "
            f"on {row.measured}, {age_of(row)} days ago"
            for row in self.rows
        )


@dataclass(frozen=True)
class Kerfs:
    """The widths of the cut in the leathers of a plan, and how the cut is driven for them.

    Args:
        by_leather: the kerf in each leather.
        machine: with the cut's speed, power and passes as the kerfs were measured at.
        findings: what to know about them.
    """

    by_leather: Mapping[Leather, Kerf]
    machine: Machine
    findings: tuple[Finding, ...]

    @property
    def widest(self) -> float:
        """The widest of them, mm; 0 where there are none."""
        return max((kerf.width for kerf in self.by_leather.values()), default=0.0)


def find_kerf(
    machine: Machine,
    tannage: Tannage,
    thickness: float,
    by_hand: float | None = None,
    *,
    today: date | None = None,
) -> Kerf:
    """Return the width of the cut a machine makes in a leather, and the rows it comes from.

    Of several rows for one leather the newest counts. Between two measured thicknesses the width is
    interpolated in a straight line; beyond the measured range it is refused, and so is a row older
    than the profile's ``limits.kerf_max_age_days``.

    Args:
        machine: its profile holds the measured rows.
        tannage: of the leather.
        thickness: of the leather, mm.
        by_hand: width given instead, mm, over 0 and up to 2.
        today: the day a row's age is counted to; None is the day this runs.

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
        return Kerf(tannage, thickness, 0.0, 0.0)
    if by_hand is not None:
        if not 0 < by_hand <= MOST_KERF:
            raise PlanError(
                f"--kerf {by_hand:g} mm: expected a width over 0 and up to {MOST_KERF:g} mm; "
                "measure the gap a cut leaves"
            )
        return Kerf(tannage, thickness, by_hand, by_hand)
    remedy = remedy_for(machine, tannage, thickness)
    rows = rows_in_use(machine.kerf, tannage)
    if not rows:
        raise PlanError(f"machine {machine.name!r} has no kerf measured in {tannage} leather; {remedy}")
    measured = [row.thickness for row in rows]
    low, high = measured[0], measured[-1]
    if not low - SAME_THICKNESS <= thickness <= high + SAME_THICKNESS:
        span = f"only at {low:g} mm" if len(rows) == 1 else f"from {low:g} to {high:g} mm"
        raise PlanError(
            f"machine {machine.name!r} has its kerf in {tannage} leather measured {span}, "
            f"not at {thickness:.2f} mm; {remedy}"
        )
    # The row of this thickness, or the two it lies between.
    above = bisect_right(measured, thickness)
    used = tuple(row for row in rows if abs(row.thickness - thickness) < 1e-9)
    used = used or rows[max(0, above - 1) : above + 1]
    for row in used:
        age, limit = age_of(row, today), machine.limits.kerf_max_age_days
        if limit is not None and age > limit:
            raise PlanError(
                f"machine {machine.name!r} had its kerf in {tannage} leather of {row.thickness:g} mm "
                f"measured on {row.measured}, {age} days ago; its profile allows {limit} days; {remedy}"
            )
    width = float(np.interp(thickness, measured, [row.width for row in rows]))
    holes = float(np.interp(thickness, measured, [row.hole_width or row.width for row in rows]))
    return Kerf(tannage, thickness, width, holes, used)


def rows_in_use(rows: Iterable[KerfRow], tannage: Tannage) -> tuple[KerfRow, ...]:
    """Return the rows that count in a leather, by rising thickness; those they replace are history.

    A newer row replaces every older one of nearly its thickness, and of two of one day the one that
    stands further down in the file counts: it was appended later.
    """
    kept: list[KerfRow] = []
    for row in sorted(rows, key=lambda row: row.measured)[::-1]:  # stable: of one day the later goes first
        if row.material == tannage and not any(same_thickness(row, newer) for newer in kept):
            kept.append(row)
    return tuple(sorted(kept, key=lambda row: row.thickness))


def same_thickness(row: KerfRow, other: KerfRow) -> bool:
    """Whether two rows are of leather so alike in thickness that no gauge shows the difference."""
    return abs(row.thickness - other.thickness) < SAME_THICKNESS - 1e-9


def age_of(row: KerfRow, today: date | None = None) -> int:
    """Return how many days ago a row was measured; 0 for one dated in the future."""
    return max(0, ((today or date.today()) - row.measured).days)


def standing(
    row: KerfRow, machine: Machine, today: date | None = None
) -> tuple[Literal["in use", "history", "too old"], str]:
    """Return whether a measured row counts, and why or why not.

    Args:
        row: one of the machine's.
        machine: it was measured on.
        today: the day its age is counted to; None is the day this runs.
    """
    used = rows_in_use(machine.kerf, row.material)
    if not any(row is one for one in used):
        newer = next(one for one in used if same_thickness(one, row))
        same_day = newer.measured == row.measured
        which = "one further down of that day" if same_day else f"the one of {newer.measured}"
        return "history", f"replaced by {which}"
    age, limit = age_of(row, today), machine.limits.kerf_max_age_days
    if limit is not None and age > limit:
        return "too old", f"{age} days old; the profile allows {limit}"
    return "in use", "the newest of its thickness"


def remedy_for(machine: Machine, tannage: Tannage, thickness: float) -> str:
    """Return what to do where the kerf is not known: the command that makes a test piece, or by hand."""
    profile = shlex.quote(machine.source or "MACHINE")
    return (
        f"cut a test piece: strapwright kerf coupon --machine {profile} --material {tannage} "
        f"--thickness {thickness:.4g}mm --out coupon, or give the width with --kerf"
    )


def find_kerfs(leathers: Iterable[Leather], machine: Machine, by_hand: float | None = None) -> Kerfs:
    """Return the kerf in each of some leathers, and the machine with its cut driven as they were measured.

    A kerf holds for the speed, power and passes it was cut at. Where the rows used say them, and all
    alike, the cut is driven by them rather than by ``[operation.cut]``; where they differ, the
    operation's own stand and a finding says so.

    Args:
        leathers: tannage and thickness in mm of every part.
        machine: the machine.
        by_hand: width of the cut given for all leathers, mm; None takes the measured one.

    Raises:
        PlanError: kerfs that are not known, one line each.
    """
    kerfs: dict[Leather, Kerf] = {}
    problems = Problems()
    for leather in dict.fromkeys(leathers):
        with problems.gathered():
            kerfs[leather] = find_kerf(machine, *leather, by_hand)
    problems.refuse()
    used = list(dict.fromkeys(row for kerf in kerfs.values() for row in kerf.rows))
    driven, findings = _driven(machine, used)
    scale = scale_findings(machine.name, scale_of(machine))
    return Kerfs(kerfs, driven, (*_ties(machine, used), *findings, *scale))


def scale_of(machine: Machine) -> ScaleRow | None:
    """Return the newest measured row of the axes' scale; None where the cross was never measured."""
    rows = sorted(machine.scale, key=lambda row: row.measured)  # stable: of one day the later counts
    return rows[-1] if rows else None


def scales_of(machine: Machine) -> dict[str, ScaleRow]:
    """Return by axis the newest measured row that says its scale; an axis never measured is left out."""
    rows = sorted(machine.scale, key=lambda row: row.measured)
    return {axis: row for axis in ("x", "y") for row in rows if getattr(row, axis) is not None}


def _driven(machine: Machine, rows: list[KerfRow]) -> tuple[Machine, list[Finding]]:
    """Return the machine with its cut driven as the rows were, and what to say of it."""
    cut = machine.operation.cut
    driven = [row for row in rows if any(getattr(row, key) is not None for key in _DRIVES)]
    drives = list(dict.fromkeys(tuple(getattr(row, key) for key in _DRIVES) for row in driven))
    if len(drives) > 1:
        each = ", ".join(f"{row.material} {row.thickness:g} mm at {settings_words(row)}" for row in driven)
        what = f"The kerfs this plan uses were measured at different settings: {each}."
        do = "The cut runs as operation.cut says; measure each leather at that, or cut them one by one."
        return machine, [Finding("kerf-drives-differ", Severity.CAUTION, what, do)]
    given = {key: v for drive in drives for key, v in zip(_DRIVES, drive, strict=True) if v is not None}
    as_measured = cut.model_copy(update=given)
    if as_measured == cut:
        return machine, []
    what = (
        f"The cut runs at {settings_words(as_measured)}, as its kerf was measured, not at "
        f"{settings_words(cut)} as operation.cut says."
    )
    do = "If that is intended, ignore this; or cut a test piece at the operation's settings and record it."
    return machine.with_cut(given), [Finding("kerf-drive", Severity.NOTE, what, do)]


def settings_words(drive: KerfRow | OperationTable) -> str:
    """Return speed, power and passes in words.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> settings_words(read_machine("wide-laser").operation.score)
        '120 mm/s, 15 % power, 1 pass'
    """
    words = [
        f"{drive.speed_mm_s:g} mm/s" if drive.speed_mm_s is not None else "",
        f"{drive.power_percent:g} % power" if drive.power_percent is not None else "",
        counted(drive.passes, "pass", "passes") if drive.passes is not None else "",
    ]
    return ", ".join(filter(None, words)) or "settings not given"


def _ties(machine: Machine, used: list[KerfRow]) -> Iterator[Finding]:
    """Yield a note for each row in use that another of the same day and leather disagrees with."""
    for row in used:
        others = [
            other.width
            for other in machine.kerf
            if (other.material, other.measured) == (row.material, row.measured)
            and same_thickness(other, row)
            and other.width != row.width
        ]
        if others:
            widths = " and ".join(f"{width:g} mm" for width in others)
            yield Finding(
                "kerf-tie",
                Severity.NOTE,
                f"The kerf in {row.material} leather of {row.thickness:g} mm was measured more than once "
                f"on {row.measured}: {widths}, then {row.width:g} mm; the last in the file counts.",
                "Remove the wrong row from the machine file.",
                numbers={"kerf_mm": row.width},
            )


def scale_findings(name: str, row: ScaleRow | None) -> Iterator[Finding]:
    """Yield a caution where an axis is out by more than a belt can bear; None: it was never measured."""
    scales = {} if row is None else {"x": row.x, "y": row.y}
    out = {axis: s for axis, s in scales.items() if s is not None and abs(s - 1) >= _LEAST_SCALE_ERROR}
    if row is not None and out:
        errors = (f"{1000 * (scale - 1):+.1f} mm in a metre along {axis}" for axis, scale in out.items())
        put_right = (f"{axis} by {1 / scale:.5f}" for axis, scale in out.items())
        yield Finding(
            "axis-scale",
            Severity.CAUTION,
            f"{name!r} was measured on {row.measured} to be out by {' and '.join(errors)}; the files are "
            "true to size and do not correct it.",
            f"Multiply the machine's own steps per millimetre of {' and '.join(put_right)}, then measure the "
            "cross again.",
            numbers={f"scale_{axis}": scale for axis, scale in out.items()},
        )
