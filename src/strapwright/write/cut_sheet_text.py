"""The cut sheet: a plan in plain text, for the bench."""

from __future__ import annotations

import math
from textwrap import wrap
from typing import TYPE_CHECKING, Final

from strapwright.core.findings import grouped_findings
from strapwright.core.text import counted, one_line
from strapwright.core.units import Units, format_length
from strapwright.files.atomic_write import MARK
from strapwright.machine.bed.registration import FOUND_WITHIN, holds_within
from strapwright.machine.duration import clock, together
from strapwright.machine.hide_pose import MOST_APART
from strapwright.machine.kerf import settings_words
from strapwright.machine.toolpath.runs import cut_depth_on, passes_of, tool_words
from strapwright.machine.types import FIRST_CUT, HOLE_NAMES, REGISTRATION
from strapwright.parts.part import Operation
from strapwright.rules.safety import cautions
from strapwright.write.formats.format import format_named
from strapwright.write.formats.gcode import z_zero_words
from strapwright.write.formats.header import advance_words, hole_words, holes_to_visit, kerf_words, pose_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.core.findings import Finding
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import CutSheet
    from strapwright.rules.safety import Place


_CHANGES: Final = (
    "Begin with the tool of what comes first in the order below. Before each other tool the machine stops: "
    "put it in, set its Z zero as before, point one that trails along the bed's x, to the right, and let "
    "the machine go on. See first, with the tool held above the leather, that it does stop."
)

_WIDTH: Final = 100
"""Sentences are broken so that a sheet prints upright, in characters."""


def cut_sheet(plan: CutPlan, units: Units = "mm", findings: Sequence[Finding] = ()) -> str:
    """Return a plan as plain text for the bench.

    Args:
        plan: the plan.
        units: of lengths on the sheet; the files themselves are always in millimetres.
        findings: of draft and layout; the plan's own follow them.
    """
    machine = plan.machine
    bed = " x ".join(format_length(reach, units) for reach in machine.bed)
    lines = [
        f"Job       {one_line(plan.job_name) or 'without a name'}",
        f"Machine   {one_line(machine.name)}, bed {bed}",
        f"Kerf      {kerf_words(plan)}",
        f"Places    as the machine shows them: {machine.frame}, {machine.frame_axes}",
        "",
        "Layers",
        *(f"  {operation:<6} {_layer_words(operation, machine)}" for operation in Operation),
    ]
    if machine.tool_change == "by_hand":
        lines += ["", *wrap(_CHANGES, _WIDTH)]
    lines += ["", *_time_lines(plan)]
    for sheet, time in zip(plan.sheets, plan.durations, strict=True):
        lines += ["", *sheet_lines(sheet, plan, units), f"  Time about {clock(time.total)}"]
    told = []
    for found, subjects in grouped_findings(one.in_units(units) for one in (*findings, *plan.findings)):
        about = f"{', '.join(subjects)}: " if subjects else ""
        told += _hung(one_line(f"{found.severity}: {about}{found.what} {found.do}"))
    return sheet_text("CUT SHEET", lines, told, machine.kind, "bench")


def sheet_text(title: str, lines: Iterable[str], findings: Sequence[str], *places: Place) -> str:
    """Return a sheet for the bench: what there is to say, the findings, and the cautions.

    Args:
        title: at its head.
        lines: below it.
        findings: a line each, or broken.
        places: whose cautions stand at the end: the machine's kind, and the bench.
    """
    text = [title, "", *lines]
    if findings:
        text += ["", "Findings", *findings]
    for place in places:
        at = "At the bench" if place == "bench" else "At the machine"
        text += ["", at, *(f"  - {caution}" for caution in cautions(place))]
    return "\n".join([*text, "", MARK, ""])


def _hung(text: str, first: str = "  ") -> list[str]:
    """Return a text in lines that print upright, set in behind the first."""
    return wrap(text, _WIDTH, initial_indent=first, subsequent_indent=" " * max(4, len(first)))


def _layer_words(operation: Operation, machine: Machine) -> str:
    """Return what is set for an operation."""
    if operation not in machine.operations:
        return "left to the hand: nothing of it is in the files"
    settings, tool = machine.settings(operation), tool_words(machine, operation)
    driven = settings_words(settings) + (f", {tool}" if tool else "")
    return f"layer {settings.layer!r}, {settings.color}, {driven}"


def sheet_lines(sheet: CutSheet, plan: CutPlan, units: Units = "mm") -> list[str]:
    """Return what is done for one sheet: where its hide goes, what is set and looked at, what is cut.

    Args:
        sheet: of the plan.
        plan: of its machine.
        units: of lengths.
    """
    machine = plan.machine
    placed = _place_lines(sheet, machine) + setup_lines(sheet, plan, units)
    placed += depth_lines(sheet, machine, units)
    if sheet.lay_by:
        return [*placed, f"  {counted(len(sheet.paths), 'line')} to score on the backing"]
    made = [path for path in sheet.paths if path.part_id != REGISTRATION and path.name != FIRST_CUT]
    through = [path for path in made if path.operation is Operation.CUT]
    parts = dict.fromkeys(path.part_id for path in (*through, *made))
    holes = sum(not path.is_outline for path in through)
    outlines = sum(path.is_outline and path.contour.closed for path in made)
    runs = sum(path.is_outline and not path.contour.closed for path in made)
    scores = sum(path.operation is Operation.SCORE for path in sheet.paths)
    punches = _punches(sheet)
    words = [counted(outlines, "outline")] if outlines or not runs else []
    words += [counted(runs, "run of an outline", "runs of outlines")] if runs else []
    lines = [
        *placed,
        (
            f"  {', '.join(words)}, {counted(holes, 'hole or slot', 'holes and slots')} to cut, "
            f"{counted(scores, 'line')} to score, {counted(sum(punches.values()), 'hole')} to punch"
        ),
    ]
    if any(path.name == FIRST_CUT for path in sheet.paths):
        lines.append("  First, one straight cut squares the hide's raw edge.")
    lines += _hung(f"Order: {_order_words(machine)}")
    lines += [f"  {number:>3}. {part}" for number, part in enumerate(parts, 1)]
    if punches:
        lines.append("  Punch by hand, where the machine marks the centres")
        rows = [
            (format_length(diameter, units) if diameter else "as drawn", part, f"{count} x {name}")
            for (diameter, part, name), count in sorted(punches.items(), key=lambda row: row[0][0])
        ]
        first, second = (max(len(row[k]) for row in rows) for k in (0, 1))
        lines += [f"    {size:>{first}}  {part:<{second}}  {what}" for size, part, what in rows]
    return lines


def _order_words(machine: Machine) -> str:
    """Return in what order a sheet's paths are cut."""
    marked = [
        words
        for operation, words in ((Operation.SCORE, "scored"), (Operation.PUNCH, "marked for the punch"))
        if operation in machine.operations
    ]
    if machine.group_by == "part":
        done = f"is {', '.join(marked)}, " if marked else "has "
        return f"each part {done}its holes cut, its outline cut last."
    first = f"everything is {', then '.join(marked)}, then " if marked else ""
    return f"{first}the parts are cut one by one, each one's holes before its outline."


def _time_lines(plan: CutPlan) -> list[str]:
    """Return how long it takes, by operation, and what was assumed for that."""
    time = together(plan.durations)
    lines = ["Time, calculated"]
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
    lines.append(f"  {'in all':<6} {clock(time.total):>12}   the machine's own work only, not yours")
    if time.assumed:
        lines.append(f"  Not in the profile, so assumed: {', '.join(time.assumed)}.")
    return lines


def _place_lines(sheet: CutSheet, machine: Machine) -> list[str]:
    """Return which hide a sheet is cut from and where it lies, or how to put it there."""
    lines = [f"Hide {one_line(sheet.name)}"]
    for number, text in enumerate(pose_words(sheet, machine)):
        words = text if number else f"Sits: {text}"
        lines += _hung(f"{words[0].upper()}{words[1:]}")
    window = sheet.window
    if sheet.lay_by:
        lines.append("  Mark these lines on paper fixed to the bed, then lay the straps on them")
    if window is None or window.number == 1 or window.touched or sheet.lay_by:
        return lines
    steps = [f"Move the hide on by {advance_words(window, machine)}."]
    if machine.ends_only:
        on = advance_words(window, machine)
        steps = [f"Move the straps on by {on}, onto the lines of this window's lay-by file."]
    if window.holes:
        holes = " and ".join(HOLE_NAMES[: len(window.holes)])
        steps.append(
            f"Lay it so that registration hole{'s' if len(window.holes) > 1 else ''} {holes}, cut in window "
            f"{window.number - 1}, lie{'' if len(window.holes) > 1 else 's'} there:"
            + "".join(f"\n{line.removeprefix('registration hole ')}" for line in hole_words(window, machine))
        )
    if holes_to_visit(sheet):
        steps += _touching_steps(sheet, machine)
    for number, step in enumerate(steps, 1):
        first, *more = step.split("\n")
        lines += _hung(first, f"  {number}. ")
        lines += [f"       {line}" for line in more]
    return lines


def _touching_steps(sheet: CutSheet, machine: Machine) -> list[str]:
    """Return the steps by which a window is written from where its registration holes really lie."""
    window = sheet.window
    assert window is not None
    within, apart = machine.length_words(FOUND_WITHIN), math.dist(*window.holes)
    go = (
        "The files ending in -hole-A and -hole-B go there with the tool off, and stay."
        if any(format_named(name).drives for name in machine.formats)
        else "Go there with the tool off."
    )
    blade = machine.blade
    axis = ""
    if blade is not None and blade.offset:
        trails = machine.length_words(blade.offset)
        axis = f" Touch with a pin in the spindle: the blade's tip trails the position shown by {trails}."
    number = window.number
    met = ""
    if (held := holds_within(sheet, machine)) is not None:
        at_joins, anywhere = map(machine.length_words, held)
        met = (
            f" Then the cuts meet those of window {number - 1} within {at_joins}, and none is more than "
            f"{anywhere} off its place on the hide."
        )
    return [
        (
            f"Hold it down flat. {go} Move to each hole's middle and write down what the machine shows."
            f"{axis}\nA  x ____________ y ____________     B  x ____________ y ____________"
        ),
        (
            f"They are {machine.length_words(apart)} apart. If yours are not, by more than "
            f"{machine.length_words(MOST_APART)}, the leather is wavy or has stretched: lay it again."
        ),
        (
            f"Where a number is more than {within} off, write this window from where the holes are: the "
            "strapwright cut command of these files again, with --layout and their layout.json, and with"
            f'\n--window {number} --touch "A=X,Y" --touch "B=X,Y"'
            "\nwhere X,Y is what the machine showed. Run the files whose names end in -touched instead."
        ),
        f"Each hole's middle found within {within} is good enough.{met}",
    ]


def setup_lines(sheet: CutSheet, plan: CutPlan, units: Units) -> list[str]:
    """Return what is set and looked at before a sheet is run, each to be ticked.

    Source: common practice. How far a laser's focus may be out is its manual's to say; 1 mm is from memory.
    """
    machine = plan.machine
    blade = machine.blade
    plotted = blade is not None and "hpgl" in machine.formats
    only_plotted = plotted and "gcode" not in machine.formats
    if sheet.window is not None and sheet.window.number > 1:
        first = "Blade's depth" if only_plotted else "Z zero" if blade is not None else "Focus"
        return [f"  [ ] {first}, hold-down and flatness as before, checked again"]
    if blade is None:
        on = "the paper" if sheet.lay_by else "the leather's face"
        high = " or ".join(format_length(one, units) for one in sorted({k.thickness for k in plan.kerfs}))
        above = f", {high} above the bed" if high and not sheet.lay_by else ""
        flat = format_length(1.0, units)
        words = [
            f"Focus: on {on}{above}, as the machine's manual says",
            "Hold-down: weights or pins beside the parts, clear of the head; nothing that shines in the beam",
            f"Flat: no place more than {flat} above or below the one focused on, or what the manual allows",
        ]
    elif only_plotted:
        words = [
            "Blade's depth: tried in scrap until it parts the leather and only marks what is under it",
            "Hold-down: flat all round and between the parts, because the blade pulls the leather along",
            "Flat: no waves, no edge that curls up",
        ]
    else:
        depth = cut_depth_on(sheet, machine)
        into = depth - sheet.thickness if depth is not None and sheet.thickness else 0.0
        lifted = format_length(blade.safe_height, units)
        low = f"no place of the bed {format_length(into, units)} lower than at z zero; " if into else ""
        words = [
            f"Z zero{', for G-code' if plotted else ''}: {z_zero_words(sheet, machine, units)}",
            "Hold-down: flat all round and between the parts, because the blade pulls the leather along",
            f"Flat: {low}no place of the leather {lifted} higher than its face",
        ]
        if plotted:
            words.insert(1, "Blade's depth, for plotter files: tried in scrap as they carry none")
    return [line for one in words for line in _hung(one, "  [ ] ")]


def depth_lines(sheet: CutSheet, machine: Machine, units: Units) -> list[str]:
    """Return how deep a knife goes and in how many passes; nothing where only a plotter is driven."""
    blade = machine.blade
    if blade is None or ("hpgl" in machine.formats and "gcode" not in machine.formats):
        return []
    lines = []
    depth = cut_depth_on(sheet, machine)
    if depth is not None and not sheet.lay_by:
        passes = passes_of(machine, Operation.CUT, depth)
        into = f", {format_length(depth - sheet.thickness, units)} into the bed" if sheet.thickness else ""
        each = (
            f"in {passes} passes of {format_length(depth / passes, units)}" if passes > 1 else "in one pass"
        )
        lines.append(f"  Cut {format_length(depth, units)} deep{into}, {each}")
    return [*lines, f"  Score and mark {format_length(blade.score_depth, units)} deep"]


def _punches(sheet: CutSheet) -> dict[tuple[float, str, str], int]:
    """Return how many holes of each diameter, part and name are to be punched; 0 stands for not round."""
    centres: dict[tuple[float, str, str], set[tuple[float, float]]] = {}
    for path in sheet.paths:
        if path.operation is Operation.PUNCH:
            kind = (round(path.diameter or 0.0, 2), path.part_id, path.name)
            x0, y0, x1, y1 = path.contour.bounding_box
            middle = round((x0 + x1) / 2, 3), round((y0 + y1) / 2, 3)  # the two lines of a mark share it
            centres.setdefault(kind, set()).add(middle)
    return {kind: len(points) for kind, points in centres.items()}
