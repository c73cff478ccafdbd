"""The kerf as a maker measures it: write the test piece, record what was read off it, draw what is known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from strapwright.core.errors import PlanError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from strapwright.core.units import Units
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.test_pieces.kerf_record import Measured, Readings
    from strapwright.machine.test_pieces.trial import Trial
    from strapwright.trade.leather import Tannage
    from strapwright.write.cut_files import CutFiles

COUPON_STEM = "kerf-coupon"
"""What the test piece's files are called."""

TRIAL_STEM = "trial"
"""What the files of a trial begin with; a square's number follows where it has a file of its own."""

BLADE_STEM = "blade-coupon"
"""What the files of a drag knife's own test begin with; the offset they are cut with follows."""


@dataclass(frozen=True)
class Coupon:
    """A test piece and its files.

    Args:
        plan: what the machine does.
        files: as text with their proofs, its sheet included.
        blade_test: whether the files of a blade's test are among them.
    """

    plan: CutPlan
    files: CutFiles
    blade_test: bool = False


@dataclass(frozen=True)
class TrialFiles:
    """A trial of a leather and its files.

    Args:
        trial: the grid.
        files: as text with their proofs, its sheet included.
        one_by_one: whether each square has a file of its own as well.
    """

    trial: Trial
    files: CutFiles
    one_by_one: bool


@dataclass(frozen=True)
class Drive:
    """How the test piece was cut, where it was not as ``[operation.cut]`` says.

    Args:
        speed_mm_s: mm/s.
        power_percent: percent.
        passes: how often the beam went round.
    """

    speed_mm_s: float | None = None
    power_percent: float | None = None
    passes: int | None = None


@dataclass(frozen=True)
class Recorded:
    """What was written to a machine file.

    Args:
        measured: the kerf and the scales, with their working.
        rows: table name and keys of each row, as written.
    """

    measured: Measured
    rows: tuple[tuple[str, Mapping[str, object]], ...]


def kerf_coupon(
    machine: Machine,
    tannage: Tannage,
    thickness: float | None = None,
    *,
    formats: Sequence[str] = (),
    accept_fume_risk: bool = False,
    units: Units = "mm",
) -> Coupon:
    """Return a machine's kerf test piece and its files, each read back and proven.

    With them go the files of a drag knife's test of its blade's offset, one an offset, in the formats that
    drive a machine: where the machine allows for its blade itself there are none.

    Args:
        machine: the machine to be measured.
        tannage: of the leather it is cut from.
        thickness: of that leather, mm; None leaves it off the label.
        formats: those wanted; none means all the machine reads.
        accept_fume_risk: True where leather of doubtful tannage may be burnt here: your decision.
        units: what the sheet tells lengths in.

    Raises:
        SafetyError: the fumes could hurt someone.
        PlanError: the leather is too thick, or the bed too small.
        ProofError: a file does not read back as planned.
    """
    from strapwright.machine.test_pieces.blade_coupon import blade_coupons
    from strapwright.machine.test_pieces.coupon import coupon
    from strapwright.write.coupon_sheet import coupon_sheet
    from strapwright.write.cut_files import write_plan
    from strapwright.write.formats.format import format_named

    plan = coupon(machine, tannage, thickness, accept_fume_risk=accept_fume_risk)
    files = write_plan(plan, formats or machine.formats, COUPON_STEM, units=units)
    driving = [name for name in formats or machine.formats if format_named(name).drives]
    texts, proofs = dict(files.texts), dict(files.proofs)
    scrap = plan.sheets[0].hide.removeprefix("scrap of ")
    blades = blade_coupons(machine, scrap, thickness) if driving else ()
    for blade in blades:
        assert blade.machine.blade is not None
        own = write_plan(blade, driving, f"{BLADE_STEM}-{blade.machine.blade.offset:.3f}mm", units=units)
        texts |= {name: own.texts[name] for name in own.proofs}
        proofs |= own.proofs
    sheet = coupon_sheet(plan, tannage, thickness, units, blade_test=bool(blades))
    texts[f"{COUPON_STEM}-sheet.txt"] = sheet
    return Coupon(plan, replace(files, texts=texts, proofs=proofs), bool(blades))


def kerf_trial(
    machine: Machine,
    tannage: Tannage,
    thickness: float,
    *,
    speeds: Sequence[float] = (),
    powers: Sequence[float] = (),
    depths: Sequence[float] = (),
    passes: int | None = None,
    formats: Sequence[str] = (),
    accept_fume_risk: bool = False,
    units: Units = "mm",
) -> TrialFiles:
    """Return the trial of a leather new to a machine and its files, each read back and proven.

    G-code holds all squares, each driven at its own figures. No other format can say them, so that each
    square has a file of its own there; a knife's are in G-code unless another format is asked for.

    Args:
        machine: the machine.
        tannage: of the leather.
        thickness: of it, mm.
        speeds: tried, mm/s; none: from half to twice what ``[operation.cut]`` says.
        powers: tried, percent, a laser's; none: 40 to 100.
        depths: tried in one pass, mm, a blade's; none: a quarter of the thickness to right through.
        passes: a laser goes round each square so often; None: as ``[operation.cut]`` says.
        formats: those wanted; none means all the machine reads.
        accept_fume_risk: True where leather of doubtful tannage may be burnt here: your decision.
        units: what the sheet tells lengths in.

    Raises:
        SafetyError: the fumes could hurt someone.
        PlanError: figures that cannot be, leather too thick, or a bed too small.
        ProofError: a file does not read back as planned.
    """
    from strapwright.machine.test_pieces.trial import trial
    from strapwright.write.cut_files import write_plan
    from strapwright.write.trial_sheet import trial_sheet

    made = trial(
        machine,
        tannage,
        thickness,
        speeds=speeds,
        powers=powers,
        depths=depths,
        passes=passes,
        accept_fume_risk=accept_fume_risk,
    )
    wanted = formats or [name for name in machine.formats if machine.kind == "laser" or name == "gcode"]
    alone = [name for name in wanted if name != "gcode"]
    files = write_plan(made.plan, [name for name in wanted if name == "gcode"], TRIAL_STEM, units=units)
    texts, proofs = dict(files.texts), dict(files.proofs)
    for cell in made.cells if alone else ():
        own = write_plan(made.plan_of(cell), alone, f"{TRIAL_STEM}-{cell.number:02d}", units=units)
        texts |= {name: own.texts[name] for name in own.proofs}
        proofs |= own.proofs
    texts[f"{TRIAL_STEM}-sheet.txt"] = trial_sheet(made, tannage, thickness, units, one_by_one=bool(alone))
    return TrialFiles(made, replace(files, texts=texts, proofs=proofs), bool(alone))


def kerf_record(
    machine: Machine,
    readings: Readings,
    tannage: Tannage | None = None,
    thickness: float | None = None,
    *,
    drive: Drive | None = None,
    day: date | None = None,
) -> Recorded:
    """Work out a kerf and the scale of the axes from readings, and append them to the machine's file.

    Args:
        machine: read from a file of the maker's own.
        readings: off the test piece.
        tannage: of the leather; only the cross can be recorded without it.
        thickness: of the leather, mm, likewise.
        drive: how the piece was cut; what it leaves out is taken from ``[operation.cut]``.
        day: it was measured on; None is today.

    Raises:
        SafetyError: synthetic stock, which is never cut on a laser.
        PlanError: a reading, a thickness or a day that cannot be.
        FileProblems: a shipped profile, or a file the row cannot stand in.
        OutputError: the file cannot be written.
    """
    from strapwright.machine.kerf.readings import scales_of
    from strapwright.machine.profile.append import append_rows, check_own
    from strapwright.machine.test_pieces.coupon import cross_of, hole_drawn
    from strapwright.machine.test_pieces.kerf_record import check_leather, measured_from
    from strapwright.trade.safety import check_fumes

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
        drive = drive or Drive()
        kept = {
            "material": str(tannage),
            "thickness": f"{thickness:.4g} mm",
            "width": f"{round(measured.kerf, 4):g} mm",
            "measured": day,
            "hole_width": None if measured.holes is None else f"{round(measured.holes, 4):g} mm",
            "spread": None if measured.spread is None else f"{round(measured.spread, 4):g} mm",
            "speed_mm_s": drive.speed_mm_s or cut.speed_mm_s,
            "power_percent": drive.power_percent or cut.power_percent,
            "passes": drive.passes or cut.passes,
        }
        rows.append(("kerf", {key: _plain(value) for key, value in kept.items() if value is not None}))
    scales = {"x": measured.scale_x, "y": measured.scale_y}
    if found := {axis: round(scale, 5) for axis, scale in scales.items() if scale is not None}:
        rows.append(("scale", {**found, "measured": day}))
    append_rows(machine.source, rows)
    return Recorded(measured, tuple(rows))


def _plain(value: object) -> object:
    """Return a whole number as a maker would write it: 8, not 8.0."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def kerf_plot(machine: Machine) -> str:
    """Return an SVG drawing of a machine's measured kerfs over the leather's thickness.

    Raises:
        PlanError: nothing has been measured yet.
    """
    from strapwright.drawing.plan.kerf_plot import kerf_plot as draw

    if not machine.kerf:
        raise PlanError(f"machine {machine.name!r} has no kerf measured, so there is nothing to draw")
    return draw(machine)
