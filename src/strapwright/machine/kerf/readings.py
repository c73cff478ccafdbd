"""What a plan takes from a machine's measured rows: the kerf of each leather, how it was cut, the scale."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PlanError
from strapwright.core.findings import Finding, Severity
from strapwright.machine.kerf.lookup import find_kerf, same_thickness

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date
    from typing import Literal

    from strapwright.machine.profile.kerf_table import KerfRow, ScaleRow
    from strapwright.machine.profile.machine import Machine
    from strapwright.trade.leather import Tannage

Kerfs = dict[tuple["Tannage", float], float]
"""The width of the cut by tannage and thickness, mm."""

_SCALE_TOLD: Final = 0.001
"""An axis out by less is not told: a belt of a metre is out by less than 1 mm."""

_DRIVES: Final = ("speed_mm_s", "power_percent", "passes")


@dataclass(frozen=True)
class Readings:
    """What the measured rows say of the leathers of a plan.

    Args:
        kerfs: width of the cut in each leather, mm.
        holes: width of the cut round small holes in each, mm; the same where it was not measured on one.
        machine: with the cut's speed, power and passes as the kerf was measured at.
        findings: what the maker should know of it.
    """

    kerfs: Kerfs
    holes: Kerfs
    machine: Machine
    findings: tuple[Finding, ...]


def readings(
    leathers: Iterable[tuple[Tannage, float]],
    machine: Machine,
    by_hand: float | None = None,
    today: date | None = None,
) -> Readings:
    """Return what a machine's measured rows say of some leathers.

    A kerf holds for the speed, power and passes it was cut at. Where the rows used say them, and all
    alike, the cut is driven by them rather than by ``[operation.cut]``; where they differ, the
    operation's own stand and the difference is told.

    Args:
        leathers: tannage and thickness in mm of every part.
        machine: the machine.
        by_hand: width of the cut given for all leathers, mm; None takes the measured one.
        today: what a row's age is reckoned to; None is the day this runs.

    Raises:
        PlanError: kerfs that are not known, all told together.
    """
    kerfs: Kerfs = {}
    holes: Kerfs = {}
    used: dict[KerfRow, None] = {}
    problems: list[str] = []
    for key in dict.fromkeys(leathers):
        try:
            found = find_kerf(machine, *key, by_hand, today=today)
        except PlanError as error:
            problems.append(str(error))
            continue
        kerfs[key], holes[key] = found.width, found.holes
        used |= dict.fromkeys(found.rows)
    if problems:
        raise PlanError("\n".join(dict.fromkeys(problems)))
    driven, findings = _driven(machine, list(used))
    scale = () if (row := scale_of(machine)) is None else scale_findings(machine.name, row)
    return Readings(kerfs, holes, driven, (*_ties(machine, list(used)), *findings, *scale))


def scale_of(machine: Machine) -> ScaleRow | None:
    """Return the newest measured row of the axes' scale; None where the cross was never measured."""
    numbered = [(row.measured, number, row) for number, row in enumerate(machine.scale)]
    return max(numbered, key=lambda one: one[:2])[2] if numbered else None


def scales_of(machine: Machine) -> dict[Literal["x", "y"], ScaleRow]:
    """Return by axis the newest measured row that says its scale; an axis never measured is left out."""
    found: dict[Literal["x", "y"], ScaleRow] = {}
    for row in sorted(machine.scale, key=lambda row: row.measured):  # stable: of one day the later counts
        if row.x is not None:
            found["x"] = row
        if row.y is not None:
            found["y"] = row
    return found


def _driven(machine: Machine, rows: list[KerfRow]) -> tuple[Machine, list[Finding]]:
    """Return the machine with its cut driven as the rows were, and what to say of it."""
    cut = machine.operation.cut
    told_by = [row for row in rows if any(getattr(row, key) is not None for key in _DRIVES)]
    drives = list(dict.fromkeys(tuple(getattr(row, key) for key in _DRIVES) for row in told_by))
    if len(drives) > 1:
        told = ", ".join(
            f"{row.material} {row.thickness:g} mm at {drive_words(*(getattr(row, key) for key in _DRIVES))}"
            for row in told_by
        )
        what = f"The kerfs this plan uses were measured at different settings: {told}."
        do = "The cut runs as operation.cut says; measure each leather at that, or cut them one by one."
        return machine, [Finding("kerf-drives-differ", Severity.CAUTION, what, do)]
    given = {} if not drives else {key: v for key, v in zip(_DRIVES, drives[0], strict=True) if v is not None}
    changed = {key: value for key, value in given.items() if getattr(cut, key) != value}
    if not changed:
        return machine, []
    tables = machine.operation.model_copy(update={"cut": cut.model_copy(update=given)})
    before = drive_words(cut.speed_mm_s, cut.power_percent, cut.passes)
    after = drive_words(*(given.get(key, getattr(cut, key)) for key in _DRIVES))
    what = f"The cut runs at {after}, as its kerf was measured, not at {before} as operation.cut says."
    do = "If that is intended, ignore this; or cut a test piece at the operation's settings and record it."
    return replace(machine, operation=tables), [Finding("kerf-drive", Severity.NOTE, what, do)]


def drive_words(speed: float | None, power: float | None, passes: int | None) -> str:
    """Say how a cut is driven.

    Example:
        >>> drive_words(12.0, 80.0, 2), drive_words(None, None, None)
        ('12 mm/s, 80 % power, 2 passes', 'settings not given')
    """
    words = [
        f"{speed:g} mm/s" if speed is not None else "",
        f"{power:g} % power" if power is not None else "",
        f"{passes} pass{'es' if passes != 1 else ''}" if passes is not None else "",
    ]
    return ", ".join(word for word in words if word) or "settings not given"


def _ties(machine: Machine, used: list[KerfRow]) -> list[Finding]:
    """Return a note for each row in use that another of the same day and leather disagrees with."""
    found: list[Finding] = []
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
            found.append(
                Finding(
                    "kerf-tie",
                    Severity.NOTE,
                    f"The kerf in {row.material} leather of {row.thickness:g} mm was measured more than once "
                    f"on {row.measured}: {widths}, then {row.width:g} mm; the last in the file counts.",
                    "Remove the wrong row from the machine file.",
                    numbers={"kerf_mm": row.width},
                )
            )
    return found


def scale_findings(name: str, row: ScaleRow) -> tuple[Finding, ...]:
    """Return a caution where an axis is out by more than a belt can bear."""
    out = {
        axis: scale
        for axis, scale in (("x", row.x), ("y", row.y))
        if scale is not None and abs(scale - 1) >= _SCALE_TOLD
    }
    if not out:
        return ()
    told = " and ".join(
        f"{1000 * (scale - 1):+.1f} mm in a metre along {axis}" for axis, scale in out.items()
    )
    put_right = " and ".join(f"{axis} by {1 / scale:.5f}" for axis, scale in out.items())
    return (
        Finding(
            "axis-scale",
            Severity.CAUTION,
            f"{name!r} was measured on {row.measured} to be out by {told}; the files are true to "
            "size and do not correct it.",
            f"Multiply the machine's own steps per millimetre of {put_right}, then measure the cross again.",
            numbers={f"scale_{axis}": scale for axis, scale in out.items()},
        ),
    )
