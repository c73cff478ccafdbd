"""Kerf and scale of the axes from calliper readings of the test piece, with the working.

The test piece is cut on its lines. With lines w apart, n strips, the axes' scale s (cut length over
drawn length) and a cut k wide:

- Between two cuts their middles are s·w apart and half a cut is lost on either side, so a strip is
  s·w − k wide and n of them pushed together measure M = n·(s·w − k). Hence k = (n·w·s − M) / n. An error
  of one calliper graduation is divided by n; one of 0.4 % in s is 0.04 mm of k at w = 10 mm, which is why
  the cross is measured.
- A slot drawn d wide loses half a cut of its surroundings on either side and opens to s·d + k. A strip
  just fits it where s·d + k = s·w − k. Hence k = s·(w − d) / 2. The scale hardly matters here: 0.4 % of a
  kerf.
- A hole drawn d wide opens to s·d + k all round, with the mean of both scales. Hence k = D − s·d.

Source: derived here; the comb and the ladder of slots are common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from strapwright.core.calculation import Calculation
from strapwright.core.errors import PlanError, Problems
from strapwright.core.findings import Severity
from strapwright.machine.kerf import scales_of
from strapwright.machine.profile.machine import append_rows, check_own
from strapwright.machine.profile.machine_keys import LEAST_SCALE, MOST_KERF, MOST_SCALE
from strapwright.machine.test_pieces.coupon import HOLES, PITCH, STRIPS, cross_of, hole_drawn
from strapwright.rules.safety import check_fumes

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.core.calculation import Step
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.machine_keys import ScaleRow
    from strapwright.machine.test_pieces.coupon import Cross
    from strapwright.rules.leather import Tannage


MOST_SPREAD: Final = 0.15
"""Kerfs further apart than this, mm, are not one cut measured twice: a reading is wrong."""


LEAST_THICKNESS: Final = 0.3


MOST_THICKNESS: Final = 12.0
"""Leather of straps lies well within these, mm; beyond them a unit was forgotten."""


DIFFERS: Final = 0.1
"""Comb and ladder that differ by more, mm, are reported: twice what a step of the ladder is worth."""


OVAL: Final = 0.05
"""A kerf that differs by more from one direction to the other, mm, is reported."""


@dataclass(frozen=True)
class Readings:
    """What was read off the test piece, every length in mm.

    Args:
        strips: the strips of the comb pushed together, grain side up; one value a reading.
        strips_y: those of the comb across y.
        slots: drawn widths of the ladder's slot a strip just fits.
        cross_x: the cross along x, from tick to tick.
        cross_y: the cross along y.
        holes: diameters of the small holes.
    """

    strips: tuple[float, ...] = ()
    strips_y: tuple[float, ...] = ()
    slots: tuple[float, ...] = ()
    cross_x: tuple[float, ...] = ()
    cross_y: tuple[float, ...] = ()
    holes: tuple[float, ...] = ()

    @property
    def of_kerf(self) -> bool:
        """Whether anything was read that a kerf comes from."""
        return bool(self.strips or self.strips_y or self.slots or self.holes)


@dataclass(frozen=True)
class Measured:
    """Kerf and scales worked out from readings.

    Args:
        kerf: width of the cut, mm; from the combs where they were read, else from the ladder; None where
            only the cross was.
        spread: widest less narrowest of several readings of the kerf, mm; None for one.
        scale_x: cut length over drawn length along x; None where it was not read.
        scale_y: the same along y.
        steps: the working.
        ladder: the kerf by the ladder, mm, where the comb was read as well; None otherwise.
        across: the kerf across x and across y, mm, where both combs were read; None otherwise.
        holes: the kerf round small holes, mm; None where they were not read.
        assumed: the axes whose scale the kerf needs and nobody measured: it was taken as 1.
    """

    kerf: float | None
    spread: float | None
    scale_x: float | None
    scale_y: float | None
    steps: tuple[Step, ...]
    ladder: float | None = None
    across: tuple[float, float] | None = None
    holes: float | None = None
    assumed: tuple[str, ...] = ()

    @property
    def oval(self) -> bool:
        """Whether the kerf differs by more from one direction to the other than reading it explains."""
        return self.across is not None and abs(self.across[0] - self.across[1]) > OVAL

    @property
    def disagree(self) -> bool:
        """Whether comb and ladder differ by more than reading them explains."""
        return self.kerf is not None and self.ladder is not None and abs(self.kerf - self.ladder) > DIFFERS


def measured_from(
    readings: Readings, cross: Cross, on_file: Mapping[str, ScaleRow] | None = None, hole: float | None = None
) -> Measured:
    """Return the kerf and the scales that readings of a test piece come to.

    Args:
        readings: off the piece.
        cross: as it was drawn.
        on_file: by axis the scale measured before, for an axis not measured now; None: none was.
        hole: diameter the small holes were drawn, mm; None where the piece has none.

    Raises:
        PlanError: nothing was read, or a reading that cannot be; every one is named.

    Example:
        >>> from strapwright.machine.test_pieces.coupon import Cross
        >>> found = measured_from(Readings(strips=(98.1,)), Cross(200.0, 200.0))
        >>> round(found.kerf, 4)
        0.19
        >>> found = measured_from(Readings(strips=(98.1,), cross_x=(200.8,)), Cross(200.0, 200.0))
        >>> round(found.kerf, 4), round(found.scale_x, 4)
        (0.23, 1.004)
    """
    if not (readings.of_kerf or readings.cross_x or readings.cross_y):
        raise PlanError("nothing was read: give --strips, --strips-y, --slot, --hole, --cross-x or --cross-y")
    work = _Work()
    measured = {
        "x": work.scale(readings.cross_x, cross.x, "x"),
        "y": work.scale(readings.cross_y, cross.y, "y"),
    }
    needed = ["x"] if readings.strips or readings.slots or readings.holes else []
    needed += ["y"] if readings.strips_y or readings.holes else []
    assumed = work.take_scales({} if work.problems else measured, on_file or {}, needed)
    across_x = [work.comb(strips, "x", "--strips", "kerf by the comb") for strips in readings.strips]
    across_y = [
        work.comb(strips, "y", "--strips-y", "kerf by the comb across y") for strips in readings.strips_y
    ]
    ladders = [work.ladder(slot) for slot in readings.slots]
    holes = [work.hole(found, hole) for found in readings.holes]
    for option, kerfs, read in (
        ("--strips", across_x, readings.strips),
        ("--strips-y", across_y, readings.strips_y),
        ("--slot", ladders, readings.slots),
        ("--hole", holes, readings.holes),
    ):
        if not work.problems and kerfs and max(kerfs) - min(kerfs) > MOST_SPREAD:
            work.problems.append(
                f"{option} {', '.join(f'{value:g} mm' for value in read)}: the kerfs they give lie "
                f"{max(kerfs) - min(kerfs):.2f} mm apart; expected {MOST_SPREAD:g} mm or less of one piece; "
                "one of them is misread, so measure again"
            )
    if holes and not (across_x or across_y or ladders):
        work.problems.append(
            "--hole: its kerf stands beside that of the cut; give --strips or --slot as well"
        )
    work.problems.refuse()
    means = work.mean("kerf by the comb", across_x), work.mean("kerf by the comb across y", across_y)
    combs = [kerf for kerf in means if kerf is not None]
    kerf = work.mean("kerf of both combs", combs)
    ladder = work.mean("kerf by the ladder", ladders)
    chosen = [*across_x, *across_y] or ladders
    spread = max(chosen) - min(chosen) if len(chosen) > 1 else None
    if spread is not None:
        work.steps.add("spread", "widest − narrowest", f"{max(chosen):.4f} − {min(chosen):.4f}", spread)
    return Measured(
        kerf if kerf is not None else ladder,
        spread,
        measured["x"],
        measured["y"],
        tuple(work.steps.steps),
        ladder if kerf is not None else None,
        (combs[0], combs[1]) if len(combs) > 1 else None,
        work.mean("kerf at small holes", holes),
        assumed,
    )


class _Work:
    """The working of a piece's readings: its steps, what is wrong with them, and the scale of each axis."""

    def __init__(self) -> None:
        self.steps = Calculation()
        self.problems = Problems()
        self.scales = {"x": 1.0, "y": 1.0}

    def scale(self, read: Sequence[float], drawn: float, axis: str) -> float | None:
        """Return an axis' scale from the mean reading of its arm; each reading is looked at by itself."""
        if not read:
            return None
        low, high = LEAST_SCALE * drawn, MOST_SCALE * drawn
        self.problems += [
            f"--cross-{axis} {value:g} mm: the arm is drawn {drawn:g} mm; expected {low:g} to {high:g} mm; "
            "measure from tick to tick, over the same side of both"
            for value in read
            if not low <= value <= high
        ]
        mean = sum(read) / len(read)
        return self.steps.add(
            f"scale along {axis}", "s = arm / drawn", f"{mean:.6g} / {drawn:g}", mean / drawn
        )

    def take_scales(
        self, measured: Mapping[str, float | None], on_file: Mapping[str, ScaleRow], needed: Sequence[str]
    ) -> tuple[str, ...]:
        """Take the scale of axes as measured now, else on file; return those taken as 1 for want of both."""
        assumed = []
        for axis in needed:
            scale = measured.get(axis)
            if scale is None and (row := on_file.get(axis)) is not None:
                kept = getattr(row, axis)
                label = f"scale along {axis}, on file"
                scale = self.steps.add(label, f"[[scale]] of {row.measured}", f"{kept:g}", kept)
            if scale is None:
                assumed.append(axis)
            else:
                self.scales[axis] = scale
        return tuple(assumed)

    def comb(self, strips: float, axis: str, option: str, label: str) -> float:
        """Return the kerf by a comb's strips pushed together."""
        scale = self.scales[axis]
        whole = STRIPS * PITCH * scale
        kerf = (whole - strips) / STRIPS
        if not 0 < kerf <= MOST_KERF:
            least = whole - STRIPS * MOST_KERF
            self.problems.append(
                f"{option} {strips:g} mm: expected {least:.6g} mm to less than {whole:.6g} mm, for the "
                f"{STRIPS} strips lie {whole:.6g} mm wide in the leather and each loses a kerf; push all "
                f"{STRIPS} together, grain side up, and measure across them"
            )
        numbers = f"({STRIPS} × {PITCH:g} × {scale:.6g} − {strips:g}) / {STRIPS}"
        return self.steps.add(label, "k = (n·w·s − M) / n", numbers, kerf)

    def ladder(self, slot: float) -> float:
        """Return the kerf by the slot a strip just fits."""
        scale, least = self.scales["x"], PITCH - 2 * MOST_KERF
        if not least <= slot < PITCH:
            self.problems.append(
                f"--slot {slot:g} mm: expected {least:g} mm to less than {PITCH:g} mm, the width scored "
                "beside the slot a strip just fits"
            )
        numbers = f"{scale:.6g} × ({PITCH:g} − {slot:g}) / 2"
        return self.steps.add("kerf by the ladder", "k = s·(w − d) / 2", numbers, scale * (PITCH - slot) / 2)

    def hole(self, found: float, drawn: float | None) -> float:
        """Return the kerf by a small hole's diameter."""
        if drawn is None:
            self.problems.append("--hole: this machine's test piece has no small holes; leave it out")
            return 0.0
        scale = (self.scales["x"] + self.scales["y"]) / 2
        kerf = found - scale * drawn
        if not 0 < kerf <= MOST_KERF:
            self.problems.append(
                f"--hole {found:g} mm: expected more than {scale * drawn:.6g} mm, as it is drawn, to "
                f"{scale * drawn + MOST_KERF:.6g} mm; measure across one of the {HOLES} holes, grain side up"
            )
        numbers = f"{found:g} − {scale:.6g} × {drawn:g}"
        return self.steps.add("kerf at a small hole", "k = D − s·d", numbers, kerf)

    def mean(self, label: str, kerfs: Sequence[float]) -> float | None:
        """Return the mean of several kerfs, noted as a step where there are several."""
        if len(kerfs) < 2:
            return kerfs[0] if kerfs else None
        numbers = f"({' + '.join(f'{kerf:.4f}' for kerf in kerfs)}) / {len(kerfs)}"
        return self.steps.add(f"{label}, mean", "sum / count", numbers, sum(kerfs) / len(kerfs))


def check_leather(machine: Machine, tannage: Tannage | None, thickness: float | None) -> None:
    """Refuse to record a kerf for a blade, or without a leather it could be of.

    Raises:
        PlanError: a drag knife; no tannage or thickness; a thickness no strap leather has.
    """
    if machine.kind == "drag_knife":
        raise PlanError(
            f"--strips, --strips-y, --slot, --hole: the blade of {machine.name!r} takes no leather away, so "
            "it has no kerf; record just --cross-x and --cross-y"
        )
    if tannage is None or thickness is None:
        raise PlanError("a kerf is of one leather: give --material and --thickness, as on the test piece")
    most = min(machine.max_thickness or MOST_THICKNESS, MOST_THICKNESS)
    if not LEAST_THICKNESS <= thickness <= most:
        raise PlanError(
            f"--thickness {thickness:g} mm: expected {LEAST_THICKNESS:g} to {most:g} mm for "
            f"{machine.name!r}; measure the leather itself with callipers"
        )


def readings_findings(found: Measured) -> Iterator[tuple[Severity, str]]:
    """Yield what to know of readings: how grave, and one or two sentences.

    Args:
        found: what they came to.
    """
    if found.assumed:
        never = f"the cross was never measured along {' and '.join(found.assumed)}"
        so = "so the scale was taken as 1; if it is 0.4 % out, the kerf is 0.04 mm out."
        yield Severity.NOTE, f"{never}, {so}"
    if found.oval and found.across is not None:
        x, y = found.across
        what = (
            f"the kerf is {x:.2f} mm across x and {y:.2f} mm across y; their mean is recorded, so edges come "
            f"out up to {abs(x - y) / 4:.3f} mm off. The beam is oval, or an axis is loose: focus and align "
            "it, then measure again."
        )
        yield Severity.CAUTION, what
    if found.disagree and found.kerf is not None and found.ladder is not None:
        differ = f"comb and ladder differ by {abs(found.kerf - found.ladder):.2f} mm; the comb's counts."
        look = "Look for strips not pushed together, or a strip forced into its slot."
        yield Severity.CAUTION, f"{differ} {look}"


@dataclass(frozen=True)
class Recorded:
    """What is written to a machine file.

    Args:
        measured: the kerf and the scales, with their working.
        rows: table name and keys of each row, as written.
    """

    measured: Measured
    rows: tuple[tuple[str, Mapping[str, object]], ...]


def kerf_record(
    machine: Machine,
    readings: Readings,
    tannage: Tannage | None = None,
    thickness: float | None = None,
    *,
    speed_mm_s: float | None = None,
    power_percent: float | None = None,
    passes: int | None = None,
    day: date | None = None,
    write: bool = True,
) -> Recorded:
    """Return a kerf and the scale of the axes worked out from readings, as rows of the machine's file.

    Args:
        machine: read from a file of your own.
        readings: off the test piece.
        tannage: of the leather; only the cross can be recorded without it.
        thickness: of the leather, mm, likewise.
        speed_mm_s: the piece was cut at, mm/s; None: as ``[operation.cut]`` says.
        power_percent: it was cut with; None: likewise.
        passes: how often the beam went round; None: likewise.
        day: it was measured on; None is today.
        write: whether the rows are added to that file.

    Raises:
        SafetyError: synthetic stock, which is never cut on a laser.
        PlanError: a reading, a thickness or a day that cannot be.
        FileProblems: a shipped profile, or a file the rows cannot stand in.
        OutputError: the file cannot be written.
    """
    check_own(machine.source)
    today = date.today()
    day = day or today
    if day > today:
        raise PlanError(f"--date {day}: expected today, {today}, or a day before it")
    if readings.of_kerf:
        check_leather(machine, tannage, thickness)
        if tannage is not None:
            check_fumes([tannage], machine.kind, accept_fume_risk=True)
    measured = measured_from(readings, cross_of(machine), scales_of(machine), hole_drawn(machine))
    rows: list[tuple[str, Mapping[str, object]]] = []
    if measured.kerf is not None:
        cut = machine.operation.cut
        kept = {
            "material": str(tannage),
            "thickness": f"{thickness:.4g} mm",
            "width": f"{round(measured.kerf, 4):g} mm",
            "measured": day,
            "hole_width": None if measured.holes is None else f"{round(measured.holes, 4):g} mm",
            "spread": None if measured.spread is None else f"{round(measured.spread, 4):g} mm",
            "speed_mm_s": speed_mm_s or cut.speed_mm_s,
            "power_percent": power_percent or cut.power_percent,
            "passes": passes or cut.passes,
        }
        rows.append(("kerf", {key: _as_written(value) for key, value in kept.items() if value is not None}))
    scales = {"x": measured.scale_x, "y": measured.scale_y}
    if found := {axis: round(scale, 5) for axis, scale in scales.items() if scale is not None}:
        rows.append(("scale", {**found, "measured": day}))
    if write:
        append_rows(machine.source, rows)
    return Recorded(measured, tuple(rows))


def _as_written(value: object) -> object:
    """Return a whole number as one writes it: 8, not 8.0."""
    return int(value) if isinstance(value, float) and value.is_integer() else value
