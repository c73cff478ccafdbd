"""The sheet that goes with a trial: what each square was cut at, with boxes to tick."""

from __future__ import annotations

import shlex
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.core.text import one_line
from strapwright.core.units import Units, format_length
from strapwright.files.atomic_write import MARK
from strapwright.machine.kerf import settings_words
from strapwright.parts.part import Operation
from strapwright.trade.safety import cautions
from strapwright.write.formats.gcode import z_zero_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.test_pieces.trial import Cell, Trial
    from strapwright.trade.leather import Tannage
    from strapwright.write.cut_files import CutFiles

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


def trial_sheet(
    trial: Trial,
    tannage: Tannage,
    thickness: float,
    units: Units = "mm",
    *,
    one_by_one: bool = False,
) -> str:
    """Return a trial's sheet as plain text for the bench.

    Args:
        trial: the grid.
        tannage: of the leather.
        thickness: of it, mm.
        units: what lengths are told in.
        one_by_one: whether each square has a file of its own as well.
    """
    machine = trial.plan.machine
    boxes = "   ".join(f"[ ] {box}" for box in _BOXES[machine.kind])
    words = [setting_words(cell, units) for cell in trial.cells]
    first, second = (max(len(word[k]) for word in words) for k in (0, 1))
    rows = [
        f"  {cell.number:>4}  {speed:>{first}}  {other:>{second}}   {boxes}"
        for cell, (speed, other) in zip(trial.cells, words, strict=True)
    ]
    spaced = [
        line for k, row in enumerate(rows) for line in ([""] if k and k % trial.columns == 0 else []) + [row]
    ]
    score = machine.settings(Operation.SCORE)
    numbers = f"scored at {settings_words(score.speed_mm_s, score.power_percent, score.passes)}"
    if Operation.SCORE not in machine.operations:
        numbers = "not scored: write them beside the squares, row by row, the top row first"
    lines = [
        "TRIAL OF A LEATHER",
        "",
        f"Machine   {one_line(machine.name)}",
        f"Leather   {tannage}, {format_length(thickness, units)}",
        f"Numbers   {numbers}",
        *([] if machine.blade is None else [f"Z zero    {z_zero_words(trial.plan.sheets[0], machine)}"]),
        f"Date      ____________   {'Lens, focus, air' if machine.kind == 'laser' else 'Blade'} ____________",
        "",
        "Squares, as they are on the leather: row by row, the top row first",
        *spaced,
        "",
        "Chosen    square ______",
        "",
        "What to do",
        *(f"  {k}. {line}" for k, line in enumerate(trial_lines(trial, one_by_one=one_by_one), 1)),
    ]
    if trial.plan.findings:
        lines += ["", "Findings", *(f"  {found}" for found in trial.plan.findings)]
    lines += ["", "At the machine", *(f"  - {caution}" for caution in cautions(machine.kind))]
    return "\n".join([*lines, "", MARK, ""])


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
