"""The cut sheet: a plan in plain text, to lie beside the machine."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, Final

from strapwright.files.whole import MARK
from strapwright.findings import told_together
from strapwright.machine.cut_plan import FIRST_CUT, REGISTRATION
from strapwright.machine.duration import clock, together
from strapwright.machine.tool_runs import cut_depth_on, passes_of
from strapwright.parts.part import Operation
from strapwright.trade.safety import cautions
from strapwright.units import format_length
from strapwright.write.gcode import z_zero_words
from strapwright.write.header import kerf_words, lie_words, one_line, window_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Literal

    from strapwright.findings import Finding
    from strapwright.machine.cut_plan import CutPath, CutPlan, CutSheet
    from strapwright.machine.profile import Machine


_WIDTH: Final = 100
"""Sentences are broken so that a sheet prints upright, in characters."""


def cut_sheet(plan: CutPlan, units: Literal["mm", "in"] = "mm", findings: Sequence[Finding] = ()) -> str:
    """Return a plan as plain text for the bench.

    Args:
        plan: the plan.
        units: what lengths are told in; the files themselves are always in millimetres.
        findings: of draft and layout; the plan's own follow them.
    """
    machine = plan.machine
    bed = " x ".join(format_length(reach, units) for reach in machine.bed)
    lines = [
        "CUT SHEET",
        "",
        f"Job       {one_line(plan.job_name) or 'without a name'}",
        f"Machine   {one_line(machine.name)}, bed {bed}",
        f"Kerf      {kerf_words(plan)}",
        "",
        "Layers",
    ]
    for operation in Operation:
        settings = machine.settings(operation)
        drive = [
            f"{settings.speed_mm_s:g} mm/s" if settings.speed_mm_s is not None else "",
            f"{settings.power_percent:g} % power" if settings.power_percent is not None else "",
            f"{settings.passes} pass{'es' if settings.passes > 1 else ''}",
        ]
        driven = ", ".join(word for word in drive if word)
        lines.append(f"  {operation:<6} layer {settings.layer!r}, {settings.color}, {driven}")
    lines += ["", *_time_lines(plan)]
    for sheet, time in zip(plan.sheets, plan.durations, strict=True):
        lines += ["", *_sheet_lines(sheet, machine, units), f"  Time about {clock(time.total)}"]
    if findings or plan.findings:
        lines += ["", "Findings"]
        for found, subjects in told_together(one.in_units(units) for one in (*findings, *plan.findings)):
            about = f"{', '.join(subjects)}: " if subjects else ""
            text = one_line(f"{found.severity}: {about}{found.what} {found.do}")
            lines += wrap(text, _WIDTH, initial_indent="  ", subsequent_indent="    ")
    for title, told in (
        ("At the machine", cautions(machine.kind)),
        ("At the bench", cautions("bench")),
    ):
        lines += ["", title, *(f"  - {caution}" for caution in told)]
    return "\n".join([*lines, "", MARK, ""])


def _sheet_lines(sheet: CutSheet, machine: Machine, units: Literal["mm", "in"]) -> list[str]:
    if sheet.lay_by:
        scored = f"  {_counted(len(sheet.paths), 'line')} to score on the backing"
        return [*_place_lines(sheet), *depth_lines(sheet, machine, units), scored]
    made = [path for path in sheet.paths if path.part_id != REGISTRATION and path.name != FIRST_CUT]
    inner = [path for path in made if path.operation is Operation.CUT and not path.is_outline]
    runs = [path for path in made if path.is_outline and not path.contour.closed]
    parts = list(dict.fromkeys(path.part_id for path in made))
    outlines = sum(path.is_outline and path.contour.closed for path in made)
    told = [_counted(outlines, "outline")] if outlines or not runs else []
    told += [_counted(len(runs), "run of an outline", "runs of outlines")] if runs else []
    holes = len(inner)
    scores = sum(path.operation is Operation.SCORE for path in sheet.paths)
    punches = _punches(sheet)
    total = sum(count for by_part in punches.values() for count in by_part.values())
    lines = [
        *_place_lines(sheet),
        *depth_lines(sheet, machine, units),
        (
            f"  {', '.join(told)}, {_counted(holes, 'hole or slot', 'holes and slots')} "
            f"to cut, {_counted(scores, 'line')} to score, {_counted(total, 'hole')} to punch"
        ),
        *(
            "  First, one straight cut squares the hide's raw edge."
            for path in sheet.paths
            if path.name == FIRST_CUT
        ),
        "  Order: each part is scored, marked for the punch, its holes cut, its outline cut last.",
    ]
    lines += [f"  {number:>3}. {part}" for number, part in enumerate(parts, 1)]
    if punches:
        lines.append("  Punch by hand")
    for diameter, by_part in sorted(punches.items()):
        size = format_length(diameter, units) if diameter else "not round, as drawn"
        where = ", ".join(f"{part} {count}" for part, count in by_part.items())
        lines.append(f"    {size}: {where}")
    return lines


def _time_lines(plan: CutPlan) -> list[str]:
    """Say how long it takes, by operation, and what was assumed for that."""
    time = together(plan.durations)
    lines = ["Time, reckoned"]
    for operation in Operation:
        if operation in time.seconds:
            machine = plan.machine
            counts = {passes_of(machine, operation, cut_depth_on(sheet, machine)) for sheet in plan.sheets}
            often = f", {' or '.join(map(str, sorted(counts)))} passes" if max(counts) > 1 else ""
            lines.append(
                f"  {operation:<6} {clock(time.seconds[operation]):>12}   "
                f"{time.lengths[operation] / 1000:.2f} m{often}"
            )
    lines.append(f"  {'travel':<6} {clock(time.travel_seconds):>12}   {time.travel / 1000:.2f} m")
    lines.append(f"  {'in all':<6} {clock(time.total):>12}   the machine's own work, nothing of yours")
    if time.assumed:
        lines.append(f"  Not in the profile, so assumed: {', '.join(time.assumed)}.")
    return lines


def _place_lines(sheet: CutSheet) -> list[str]:
    """Say which hide a sheet is cut from and where it lies."""
    lines = [f"Hide {one_line(sheet.name)}", f"  Lies: {lie_words(sheet)}"]
    return [*lines, *(f"  {text[0].upper()}{text[1:]}" for text in window_words(sheet))]


def depth_lines(sheet: CutSheet, machine: Machine, units: Literal["mm", "in"]) -> list[str]:
    """Say where a knife's z is 0, how deep it goes and in how many passes; nothing of a plotter."""
    blade = machine.blade
    if blade is None or "hpgl" in machine.formats:
        return []
    lines = [f"  Z zero: {z_zero_words(sheet, machine)}"]
    depth = cut_depth_on(sheet, machine)
    if depth is not None and not sheet.lay_by:
        passes = passes_of(machine, Operation.CUT, depth)
        into = f", {format_length(depth - sheet.thickness, units)} into the bed" if sheet.thickness else ""
        each = (
            f"in {passes} passes of {format_length(depth / passes, units)}" if passes > 1 else "in one pass"
        )
        lines.append(f"  Cut {format_length(depth, units)} deep{into}, {each}")
    return [*lines, f"  Score and mark {format_length(blade.score_depth, units)} deep"]


def _counted(number: int, one: str, several: str = "") -> str:
    """Say how many there are.

    Example:
        >>> _counted(1, "outline"), _counted(2, "outline")
        ('1 outline', '2 outlines')
    """
    return f"{number} {one if number == 1 else several or one + 's'}"


def _punches(sheet: CutSheet) -> dict[float, dict[str, int]]:
    """Return how many holes of each diameter each part wants punched; 0 stands for not round."""
    centres: dict[float, dict[str, set[tuple[float, float]]]] = {}
    for path in sheet.paths:
        if path.operation is Operation.PUNCH:
            by_part = centres.setdefault(round(path.diameter or 0.0, 2), {})
            by_part.setdefault(path.part_id, set()).add(_middle(path))
    return {
        diameter: {part: len(points) for part, points in by_part.items()}
        for diameter, by_part in centres.items()
    }


def _middle(path: CutPath) -> tuple[float, float]:
    """Return the middle of a path's box, rounded: the two lines of a centre mark share it."""
    x0, y0, x1, y1 = path.contour.bounding_box
    return round((x0 + x1) / 2, 3), round((y0 + y1) / 2, 3)
