"""The sheets of test pieces: how to cut the kerf coupon or a leather's trial, and what to measure."""

from __future__ import annotations

import shlex
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.core.text import one_line
from strapwright.core.units import Units, format_length
from strapwright.machine.kerf import settings_words
from strapwright.machine.test_pieces.blade_coupon import blade_coupons, offsets_tried
from strapwright.machine.test_pieces.coupon import (
    LADDER,
    PITCH,
    STRIPS,
    comb_across_y,
    coupon,
    cross_of,
    hole_drawn,
)
from strapwright.parts.part import Operation
from strapwright.write.cut_files import CutFiles, write_plan
from strapwright.write.cut_sheet_text import depth_lines, setup_lines, sheet_text
from strapwright.write.formats.format import format_named
from strapwright.write.formats.gcode import z_zero_words
from strapwright.write.formats.header import kerf_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.test_pieces.trial import Cell, Trial
    from strapwright.rules.leather import Tannage

TRIAL_STEM = "trial"
"""What the files of a trial begin with; a square's number follows where it has a file of its own."""

_HOW_TO_CUT: Final = {
    "laser": "Cut it from scrap of the same leather, flat, grain side up, and stay with it: the last squares "
    "are the hottest. Stop the machine if one flares up, and leave out the rest.",
    "drag_knife": "Cut it from scrap of the same leather, held down flat on the underlay you cut belts on. "
    "Stop at the first square that drags the leather or bends the blade, and leave out the rest.",
}

_WHICH: Final = {
    "laser": "Take the fastest square that falls out by itself, its edge brown, not black, its back clean; "
    "of two equal ones take the one with less power.",
    "drag_knife": "Take the deepest that has a clean edge and sharp corners and does not drag the leather.",
}

_BOXES: Final = {
    "laser": ("through", "edge clean", "back clean", "scorched"),
    "drag_knife": ("through", "edge clean", "corners sharp", "dragged"),
}
"""What is ticked for each square."""

COUPON_STEM = "kerf-coupon"
"""What the test piece's files are called."""


BLADE_STEM = "blade-coupon"
"""What the files of a drag knife's own test begin with; the offset they are cut with follows."""


def measuring_lines(
    machine: Machine,
    tannage: Tannage,
    thickness: float | None,
    units: Units = "mm",
    *,
    blade_test: bool = False,
) -> tuple[str, ...]:
    """Return what to measure on a test piece and how, one step a line.

    A blade takes nothing away, so only the cross of a drag knife's piece is recorded.

    Args:
        machine: the machine.
        tannage: of the leather it is cut from.
        thickness: of that leather, mm; None where it was not given.
        units: of lengths on the sheet.
        blade_test: whether a test of the blade's offset is written as well.
    """
    scored, laser = Operation.SCORE in machine.operations, machine.kind == "laser"
    lines, readings = [], []
    if laser:
        thick = "THICKNESS" if thickness is None else f"{thickness:.4g}mm"
        readings = [f"--material {tannage} --thickness {thick}", "--strips LENGTH,LENGTH,LENGTH"]
        lines.append(
            f"Comb: push all {STRIPS} strips together, grain side up, and measure across them at the grain: "
            "a laser's cut tapers, and the grain side is what shows. Do it three times, pushing them "
            "together again each time."
        )
        if comb_across_y(machine) is not None:
            lines.append(
                "Comb across y: the same with the strips that lie along x. If the two differ, the beam is "
                "oval: edges along and across the bed lose different widths."
            )
            readings.append("--strips-y LENGTH,LENGTH,LENGTH")
        if (hole := hole_drawn(machine)) is not None:
            lines.append(
                f"Holes: measure across the small ones at the grain, drawn {format_length(hole, units)}, "
                "with a calliper's inside jaws or the drill shank that just slides in. Small circles often "
                "cut wider."
            )
            readings.append("--hole LENGTH,LENGTH,LENGTH")
        beside = (
            "scored beside the one it just fits"
            if scored
            else "of the one it just fits (the widest is at the front left, each to its right 0.1 mm "
            "narrower, then the next row)"
        )
        lines.append(
            f"Ladder: stand one strip on end in the slots, {LADDER[0]:g} to {LADDER[-1]:g} mm; note the "
            f"width {beside}, neither loose nor forced."
        )
        readings.append("--slot LENGTH")
    else:
        lines.append(
            f"Comb: the {STRIPS} strips pushed together must measure {format_length(STRIPS * PITCH, units)}: "
            "a blade takes nothing away. If they do not, the cross shows how far the axes are out."
        )
    if scored:
        cross = cross_of(machine)
        lines.append(
            f"Cross: measure both scored arms from tick to tick, over the same side of both; they are drawn "
            f"{format_length(cross.x, units)} along x and {format_length(cross.y, units)} along y."
        )
        readings.append("--cross-x LENGTH --cross-y LENGTH")
    if readings:
        profile = shlex.quote(machine.source or "MACHINE")
        lines.append(f"Then: strapwright kerf record --machine {profile} {' '.join(readings)}")
    if blade_test:
        tried = ", ".join(format_length(offset, units) for offset in offsets_tried(machine))
        lines.append(
            "Blade: cut the blade-coupon files one after the other from one fresh piece of scrap that is not "
            f"moved between them. Each cuts a square and a dart as if the blade trailed by {tried}, scored "
            "beside it. Too small an offset cuts the corners short and round, too great a one cuts past "
            "them. Put the one whose corners are sharp and meet into the profile as blade.offset, and do "
            "this again with every new blade."
        )
    return tuple(lines)


def coupon_sheet(
    plan: CutPlan, tannage: Tannage, thickness: float | None, units: Units = "mm", *, blade_test: bool = False
) -> str:
    """Return a test piece's sheet as plain text for the bench.

    Args:
        plan: of the test piece.
        tannage: of the leather it is cut from.
        thickness: of that leather, mm; None where it was not given.
        units: of lengths on the sheet.
        blade_test: whether a test of the blade's offset is written as well.
    """
    machine = plan.machine
    thick = "thickness not given" if thickness is None else format_length(thickness, units)
    drive = settings_words(machine.settings(Operation.CUT))
    return _bench_sheet(
        plan,
        "KERF TEST PIECE",
        [
            f"Leather   {tannage}, {thick}",
            f"Kerf      {kerf_words(plan)}",
            f"Cut at    {drive}: the kerf holds for these alone",
            *setup_lines(plan.sheets[0], plan, units),
            *depth_lines(plan.sheets[0], machine, units),
        ],
        "What to measure",
        measuring_lines(machine, tannage, thickness, units, blade_test=blade_test),
    )


def _bench_sheet(plan: CutPlan, title: str, lines: Iterable[str], to_do: str, steps: Iterable[str]) -> str:
    """Return a sheet of a test piece: its facts, the steps at the bench, findings and cautions."""
    return sheet_text(
        title,
        [
            f"Machine   {one_line(plan.machine.name)}",
            *lines,
            "",
            to_do,
            *(f"  {k}. {step}" for k, step in enumerate(steps, 1)),
        ],
        [f"  {found}" for found in plan.findings],
        plan.machine.kind,
    )


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
        units: of lengths on the sheet.

    Raises:
        SafetyError: the fumes could hurt someone.
        PlanError: the leather is too thick, or the bed too small.
        ProofError: a file does not read back as planned.
    """
    plan = coupon(machine, tannage, thickness, accept_fume_risk=accept_fume_risk)
    driving = [name for name in formats or machine.formats if format_named(name).drives]
    scrap = plan.sheets[0].hide.removeprefix("scrap of ")
    blades = {
        f"{BLADE_STEM}-{blade.machine.blade.offset:.3f}mm": blade
        for blade in (blade_coupons(machine, scrap, thickness) if driving else ())
        if blade.machine.blade is not None
    }
    sheet = coupon_sheet(plan, tannage, thickness, units, blade_test=bool(blades))
    files = write_plan(plan, formats or machine.formats, COUPON_STEM, units=units)
    return Coupon(plan, _together(files, blades, driving, sheet, units), bool(blades))


def _together(
    files: CutFiles, more: Mapping[str, CutPlan], formats: Sequence[str], sheet: str, units: Units
) -> CutFiles:
    """Return a test piece's files with those of further pieces, and with its own sheet for all of them.

    Args:
        files: of the piece.
        more: further plans by their files' stem.
        formats: of their files.
        sheet: for the bench.
        units: of lengths.
    """
    texts, proofs = dict(files.texts), dict(files.proofs)
    for stem, plan in more.items():
        own = write_plan(plan, formats, stem, units=units)
        texts |= {name: own.texts[name] for name in own.proofs}
        proofs |= own.proofs
    texts[f"{files.stem}-sheet.txt"] = sheet
    return replace(files, texts=texts, proofs=proofs)


def trial_lines(trial: Trial, *, one_by_one: bool) -> tuple[str, ...]:
    """Return what to do with a trial, one step a line.

    Args:
        trial: the grid.
        one_by_one: whether each square has a file of its own as well.
    """
    machine = trial.plan.machine
    laser = machine.kind == "laser"
    lines = [_HOW_TO_CUT[machine.kind]]
    if one_by_one:
        lines.append(
            "Only G-code says how a square is cut; in other formats each has a file of its own: set layer "
            f"{machine.operation.cut.layer!r} to the figures below for each, and do not move the leather."
        )
    lines += ["Bend the leather at each square and tick what you see.", _WHICH[machine.kind]]
    profile = shlex.quote(machine.source or "MACHINE")
    lines.append(
        f"Put its figures into {profile} under [operation.cut]: speed_mm_s, power_percent, passes. Then cut "
        "the test piece: strapwright kerf coupon. A kerf holds for these figures alone."
        if laser
        else f"Put its speed into {profile} under [operation.cut] as speed_mm_s and its depth under [blade] "
        "as depth_per_pass; where it went right through, leave that out."
    )
    return tuple(lines)


def setting_words(cell: Cell, units: Units = "mm") -> tuple[str, str]:
    """Return how a square is cut, in two words: its speed, and its power or depth."""
    setting = cell.setting
    if setting.power_percent is not None:
        often = f", {setting.passes} passes" if setting.passes > 1 else ""
        return f"{setting.speed_mm_s:g} mm/s", f"{setting.power_percent:g} %{often}"
    return f"{setting.speed_mm_s:g} mm/s", format_length(setting.depth or 0.0, units)


def trial_sheet(trial: Trial, units: Units = "mm", *, one_by_one: bool = False) -> str:
    """Return a trial's sheet as plain text for the bench.

    Args:
        trial: the grid.
        units: of lengths on the sheet.
        one_by_one: whether each square has a file of its own as well.
    """
    machine = trial.plan.machine
    boxes = "   ".join(f"[ ] {box}" for box in _BOXES[machine.kind])
    words = [setting_words(cell, units) for cell in trial.cells]
    first, second = (max(len(word[k]) for word in words) for k in (0, 1))
    squares: list[str] = []
    for k, (cell, (speed, other)) in enumerate(zip(trial.cells, words, strict=True)):
        squares += [""] if k and k % trial.columns == 0 else []
        squares.append(f"  {cell.number:>4}  {speed:>{first}}  {other:>{second}}   {boxes}")
    numbers = f"scored at {settings_words(machine.settings(Operation.SCORE))}"
    if Operation.SCORE not in machine.operations:
        numbers = "not scored: write them beside the squares, row by row, the top row first"
    tool = "Lens, focus, air" if machine.kind == "laser" else "Blade"
    return _bench_sheet(
        trial.plan,
        "TRIAL OF A LEATHER",
        [
            f"Leather   {trial.tannage}, {format_length(trial.thickness, units)}",
            f"Numbers   {numbers}",
            *([] if machine.blade is None else [f"Z zero    {z_zero_words(trial.plan.sheets[0], machine)}"]),
            f"Date      ____________   {tool} ____________",
            "",
            "Squares, as they are on the leather: row by row, the top row first",
            *squares,
            "",
            "Chosen    square ______",
        ],
        "What to do",
        trial_lines(trial, one_by_one=one_by_one),
    )


@dataclass(frozen=True)
class TrialFiles:
    """The files of a leather's trial.

    Args:
        files: as text with their proofs, its sheet included.
        one_by_one: whether each square has a file of its own as well.
    """

    files: CutFiles
    one_by_one: bool


def trial_files(trial: Trial, formats: Sequence[str] = (), units: Units = "mm") -> TrialFiles:
    """Return the files of a leather's trial, each read back and proven.

    G-code holds all squares, each driven at its own figures. No other format can say them, so that each
    square has a file of its own there; a knife's are in G-code unless another format is asked for.

    Args:
        trial: the grid.
        formats: those wanted; none means all the machine reads.
        units: of lengths on the sheet.

    Raises:
        ProofError: a file does not read back as planned.
    """
    machine = trial.plan.machine
    wanted = formats or [name for name in machine.formats if machine.kind == "laser" or name == "gcode"]
    alone = [name for name in wanted if name != "gcode"]
    files = write_plan(trial.plan, [name for name in wanted if name == "gcode"], TRIAL_STEM, units=units)
    squares = {
        f"{TRIAL_STEM}-{cell.number:02d}": trial.plan_of(cell) for cell in (trial.cells if alone else ())
    }
    sheet = trial_sheet(trial, units, one_by_one=bool(alone))
    return TrialFiles(_together(files, squares, alone, sheet, units), bool(alone))
