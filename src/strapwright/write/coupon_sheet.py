"""The sheet that goes with a kerf test piece: how to cut it, what to measure, what to type then."""

from __future__ import annotations

import shlex
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from strapwright.core.text import one_line
from strapwright.core.units import Units, format_length
from strapwright.files.atomic_write import MARK
from strapwright.machine.test_pieces.blade_coupon import offsets_tried
from strapwright.machine.test_pieces.coupon import LADDER, PITCH, STRIPS, comb_across_y, cross_of, hole_drawn
from strapwright.parts.part import Operation
from strapwright.trade.safety import cautions
from strapwright.write.cut_sheet import depth_lines, setup_lines
from strapwright.write.formats.header import kerf_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile.machine import Machine
    from strapwright.trade.leather import Tannage
    from strapwright.write.cut_files import CutFiles

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
        thickness: of that leather, mm; None where it was not told.
        units: what lengths are told in.
        blade_test: whether a test of the blade's offset is written as well.
    """
    cross = cross_of(machine)
    comb = (
        f"Comb: push all {STRIPS} strips together, grain side up, and measure across them at the grain: a "
        "laser's cut tapers, and the grain side is what shows. Do it three times, pushing them together "
        "again each time."
    )
    scored = Operation.SCORE in machine.operations
    beside = (
        "scored beside the one it just fits"
        if scored
        else "of the one it just fits (the widest is at the front left, each to its right 0.1 mm narrower, "
        "then the next row)"
    )
    ladder = (
        f"Ladder: stand one strip on end in the slots, {LADDER[0]:g} to {LADDER[-1]:g} mm; note the width "
        f"{beside}, neither loose nor forced."
    )
    more, given = _more_to_measure(machine, units)
    by_blade = (
        f"Comb: the {STRIPS} strips pushed together must measure {format_length(STRIPS * PITCH, units)}: a "
        "blade takes nothing away. If they do not, the cross shows how far the axes are out."
    )
    arms = (
        f"Cross: measure both scored arms from tick to tick, over the same side of both; they are drawn "
        f"{format_length(cross.x, units)} along x and {format_length(cross.y, units)} along y."
    )
    profile = shlex.quote(machine.source or "MACHINE")
    thick = "THICKNESS" if thickness is None else f"{thickness:.4g}mm"
    readings = ["--cross-x LENGTH --cross-y LENGTH"] if scored else []
    if machine.kind == "laser":
        leather = f"--material {tannage} --thickness {thick}"
        readings.insert(0, f"{leather} --strips LENGTH,LENGTH,LENGTH{given} --slot LENGTH")
    record = f"Then: strapwright kerf record --machine {profile} {' '.join(readings)}"
    return (
        *((comb, *more, ladder) if machine.kind == "laser" else (by_blade,)),
        *((arms,) if scored else ()),
        *((record,) if readings else ()),
        *((_blade_line(machine, units),) if blade_test else ()),
    )


def _more_to_measure(machine: Machine, units: Units) -> tuple[tuple[str, ...], str]:
    """Say what else is measured where the piece has it, and return the options it is recorded by."""
    lines: list[str] = []
    given = ""
    if comb_across_y(machine) is not None:
        lines.append(
            "Comb across y: the same with the strips that lie along x. If the two differ, the beam is oval: "
            "edges along and across the bed lose different widths."
        )
        given += " --strips-y LENGTH,LENGTH,LENGTH"
    if (hole := hole_drawn(machine)) is not None:
        lines.append(
            f"Holes: measure across the small ones at the grain, drawn {format_length(hole, units)}, with a "
            "calliper's inside jaws or the drill shank that just slides in. Small circles often cut wider."
        )
        given += " --hole LENGTH,LENGTH,LENGTH"
    return tuple(lines), given


def _blade_line(machine: Machine, units: Units) -> str:
    """Say how a blade's offset is found."""
    tried = ", ".join(format_length(offset, units) for offset in offsets_tried(machine))
    return (
        "Blade: cut the blade-coupon files one after the other from one fresh piece of scrap that is not "
        f"moved between them. Each cuts a square and a dart as if the blade trailed by {tried}, scored "
        "beside it. Too small an offset cuts the corners short and round, too great a one cuts past them. "
        "Put the one whose corners are sharp and meet into the profile as blade.offset, and do this again "
        "with every new blade."
    )


def coupon_sheet(
    plan: CutPlan,
    tannage: Tannage,
    thickness: float | None,
    units: Units = "mm",
    *,
    blade_test: bool = False,
) -> str:
    """Return a test piece's sheet as plain text for the bench.

    Args:
        plan: of the test piece.
        tannage: of the leather it is cut from.
        thickness: of that leather, mm; None where it was not told.
        units: what lengths are told in.
        blade_test: whether a test of the blade's offset is written as well.
    """
    machine = plan.machine
    steps = measuring_lines(machine, tannage, thickness, units, blade_test=blade_test)
    cut = machine.settings(Operation.CUT)
    drive = [
        f"{cut.speed_mm_s:g} mm/s" if cut.speed_mm_s is not None else "",
        f"{cut.power_percent:g} % power" if cut.power_percent is not None else "",
        f"{cut.passes} pass{'es' if cut.passes > 1 else ''}",
    ]
    thick = "thickness not given" if thickness is None else format_length(thickness, units)
    lines = [
        "KERF TEST PIECE",
        "",
        f"Machine   {one_line(machine.name)}",
        f"Leather   {tannage}, {thick}",
        f"Kerf      {kerf_words(plan)}",
        f"Cut at    {', '.join(word for word in drive if word)}: the kerf holds for these alone",
        *setup_lines(plan.sheets[0], plan, units),
        *depth_lines(plan.sheets[0], machine, units),
        "",
        "What to measure",
        *(f"  {k}. {line}" for k, line in enumerate(steps, 1)),
    ]
    if plan.findings:
        lines += ["", "Findings", *(f"  {found}" for found in plan.findings)]
    lines += ["", "At the machine", *(f"  - {caution}" for caution in cautions(machine.kind))]
    return "\n".join([*lines, "", MARK, ""])


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
