"""From a calliper's readings of the test piece to the kerf and the scale of the axes, with the working.

The test piece is cut on its lines. With lines w apart, n strips, the axes' scale s (cut length over
drawn length) and a cut k wide:

- Between two cuts their middles are s·w apart and half a cut is lost on either side, so a strip is
  s·w − k wide and n of them pushed together measure M = n·(s·w − k). Hence k = (n·w·s − M) / n. An error
  of one calliper graduation is divided by n; one of 0.4 % in s is 0.04 mm of k at w = 10 mm, which is why
  the cross is measured.
- A slot drawn d wide loses half a cut of its surroundings on either side and opens to s·d + k. A strip
  just fits it where s·d + k = s·w − k. Hence k = s·(w − d) / 2. The scale hardly matters here: 0.4 % of a
  kerf.

Source: derived here; the comb and the ladder of slots are common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.errors import PlanError
from strapwright.job.working import Working
from strapwright.machine.coupon import PITCH, STRIPS
from strapwright.machine.kerf_rows import LEAST_SCALE, MOST_KERF, MOST_SCALE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.job.working import Step
    from strapwright.machine.coupon import Cross
    from strapwright.machine.profile import Machine
    from strapwright.trade.leather import Tannage

MOST_SPREAD: Final = 0.15
"""Kerfs further apart than this, mm, are not one cut measured twice: a reading is wrong."""

LEAST_THICKNESS: Final = 0.3
MOST_THICKNESS: Final = 12.0
"""Leather of straps lies well within these, mm; beyond them a unit was forgotten."""

DIFFERS: Final = 0.1
"""Comb and ladder that differ by more, mm, are told: twice what a step of the ladder is worth."""


@dataclass(frozen=True)
class Readings:
    """What was read off the test piece, every length in mm.

    Args:
        strips: the strips of the comb pushed together, grain side up; one value a reading.
        slots: drawn widths of the ladder's slot a strip just fits.
        cross_x: the cross along x, from tick to tick.
        cross_y: the cross along y.
    """

    strips: tuple[float, ...] = ()
    slots: tuple[float, ...] = ()
    cross_x: tuple[float, ...] = ()
    cross_y: tuple[float, ...] = ()


@dataclass(frozen=True)
class Measured:
    """What the readings come to.

    Args:
        kerf: width of the cut, mm; from the comb where it was read, else from the ladder; None where
            only the cross was.
        spread: widest less narrowest of several readings of the kerf, mm; None for one.
        scale_x: cut length over drawn length along x; None where it was not read.
        scale_y: the same along y.
        steps: the working.
        ladder: the kerf by the ladder, mm, where the comb was read as well; None otherwise.
    """

    kerf: float | None
    spread: float | None
    scale_x: float | None
    scale_y: float | None
    steps: tuple[Step, ...]
    ladder: float | None = None

    @property
    def disagree(self) -> bool:
        """Whether comb and ladder differ by more than reading them explains."""
        return self.kerf is not None and self.ladder is not None and abs(self.kerf - self.ladder) > DIFFERS


def measured_from(readings: Readings, cross: Cross) -> Measured:
    """Return the kerf and the scales that readings of a test piece come to.

    Args:
        readings: off the piece.
        cross: as it was drawn.

    Raises:
        PlanError: nothing was read, or a reading that cannot be; every one is named.

    Example:
        >>> from strapwright.machine.coupon import Cross
        >>> found = measured_from(Readings(strips=(98.1,)), Cross(200.0, 200.0))
        >>> round(found.kerf, 4)
        0.19
        >>> found = measured_from(Readings(strips=(98.1,), cross_x=(200.8,)), Cross(200.0, 200.0))
        >>> round(found.kerf, 4), round(found.scale_x, 4)
        (0.23, 1.004)
    """
    if not (readings.strips or readings.slots or readings.cross_x or readings.cross_y):
        raise PlanError("nothing was read: give --strips, --slot, --cross-x or --cross-y")
    working = Working()
    problems: list[str] = []
    scale_x = _scale(working, problems, readings.cross_x, cross.x, "x")
    scale_y = _scale(working, problems, readings.cross_y, cross.y, "y")
    scale = 1.0 if problems or scale_x is None else scale_x
    combs = [_comb(working, problems, strips, scale) for strips in readings.strips]
    ladders = [_ladder(working, problems, slot, scale) for slot in readings.slots]
    for option, kerfs, read in (("--strips", combs, readings.strips), ("--slot", ladders, readings.slots)):
        if not problems and kerfs and max(kerfs) - min(kerfs) > MOST_SPREAD:
            problems.append(
                f"{option} {', '.join(f'{value:g} mm' for value in read)}: the kerfs they give lie "
                f"{max(kerfs) - min(kerfs):.2f} mm apart; expected {MOST_SPREAD:g} mm or less of one piece; "
                "one of them is misread, so measure again"
            )
    if problems:
        raise PlanError("\n".join(problems))
    kerf = _mean(working, "kerf by the comb", combs)
    ladder = _mean(working, "kerf by the ladder", ladders)
    chosen = combs or ladders
    spread = max(chosen) - min(chosen) if len(chosen) > 1 else None
    if spread is not None:
        working.add("spread", "widest − narrowest", f"{max(chosen):.4f} − {min(chosen):.4f}", spread)
    return Measured(
        kerf if kerf is not None else ladder,
        spread,
        scale_x,
        scale_y,
        tuple(working.steps),
        ladder if kerf is not None else None,
    )


def _scale(
    working: Working, problems: list[str], read: Sequence[float], drawn: float, axis: str
) -> float | None:
    """Return an axis' scale from the mean reading of its arm; each reading is looked at by itself."""
    if not read:
        return None
    low, high = LEAST_SCALE * drawn, MOST_SCALE * drawn
    problems += [
        f"--cross-{axis} {value:g} mm: the arm is drawn {drawn:g} mm; expected {low:g} to {high:g} mm; "
        "measure from tick to tick, over the same side of both"
        for value in read
        if not low <= value <= high
    ]
    mean = sum(read) / len(read)
    return working.add(f"scale along {axis}", "s = arm / drawn", f"{mean:.6g} / {drawn:g}", mean / drawn)


def _comb(working: Working, problems: list[str], strips: float, scale: float) -> float:
    whole = STRIPS * PITCH * scale
    kerf = (whole - strips) / STRIPS
    if not 0 < kerf <= MOST_KERF:
        least = whole - STRIPS * MOST_KERF
        problems.append(
            f"--strips {strips:g} mm: expected {least:.6g} mm to less than {whole:.6g} mm, for the {STRIPS} "
            f"strips lie {whole:.6g} mm wide in the leather and each loses a kerf; push all {STRIPS} "
            "together, grain side up, and measure across them"
        )
    numbers = f"({STRIPS} × {PITCH:g} × {scale:.6g} − {strips:g}) / {STRIPS}"
    return working.add("kerf by the comb", "k = (n·w·s − M) / n", numbers, kerf)


def _ladder(working: Working, problems: list[str], slot: float, scale: float) -> float:
    kerf = scale * (PITCH - slot) / 2
    least = PITCH - 2 * MOST_KERF
    if not least <= slot < PITCH:
        problems.append(
            f"--slot {slot:g} mm: expected {least:g} mm to less than {PITCH:g} mm, the width scored beside "
            "the slot a strip just fits"
        )
    numbers = f"{scale:.6g} × ({PITCH:g} − {slot:g}) / 2"
    return working.add("kerf by the ladder", "k = s·(w − d) / 2", numbers, kerf)


def _mean(working: Working, label: str, kerfs: Sequence[float]) -> float | None:
    """Return the mean of several kerfs, noted as a step where there are several."""
    if not kerfs:
        return None
    if len(kerfs) == 1:
        return kerfs[0]
    numbers = f"({' + '.join(f'{kerf:.4f}' for kerf in kerfs)}) / {len(kerfs)}"
    return working.add(f"{label}, mean", "sum / count", numbers, sum(kerfs) / len(kerfs))


def check_leather(machine: Machine, tannage: Tannage | None, thickness: float | None) -> None:
    """Refuse to record a kerf for a blade, or without a leather it could be of.

    Raises:
        PlanError: a drag knife; no tannage or thickness; a thickness no strap leather has.
    """
    if machine.kind == "drag_knife":
        raise PlanError(
            f"--strips, --slot: the blade of {machine.name!r} takes no leather away, so it has no kerf; "
            "record just --cross-x and --cross-y"
        )
    if tannage is None or thickness is None:
        raise PlanError("a kerf is of one leather: give --material and --thickness, as on the test piece")
    most = min(machine.max_thickness or MOST_THICKNESS, MOST_THICKNESS)
    if not LEAST_THICKNESS <= thickness <= most:
        raise PlanError(
            f"--thickness {thickness:g} mm: expected {LEAST_THICKNESS:g} to {most:g} mm for "
            f"{machine.name!r}; calliper the leather itself"
        )
