"""The trial of a leather new to a machine: a grid of small squares, each cut at its own speed and power.

For a drag knife it is speed and depth. The squares are numbered as they are read, row by row; they are cut
from the gentlest to the fiercest, so that the leather that may flare up is cut last.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PlanError
from strapwright.geometry.characters import unwritable
from strapwright.geometry.lettering import lettering, lettering_width
from strapwright.geometry.shapes import rectangle
from strapwright.machine.cut_plan import CutPlan
from strapwright.machine.planning import fume_findings, too_thick
from strapwright.machine.types import OUTLINE, CutPath, CutSheet, Setting
from strapwright.parts.part import Operation
from strapwright.rules.safety import check_fumes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.machine.profile.machine import Machine
    from strapwright.rules.leather import Tannage

MOST: Final = 8
"""Speeds, powers or depths of one grid: more look alike."""

_SHARES: Final = (0.5, 0.7, 1.0, 1.4, 2.0)
"""Speeds tried where none are given, as shares of ``[operation.cut]``'s: evenly apart by ratio."""

_POWERS: Final = (40.0, 60.0, 80.0, 100.0)
"""Powers tried where none are given, percent."""

_DEEP: Final = (0.25, 0.5, 0.75)
"""Depths tried where none are given, as shares of the thickness; then right through."""

_DEEPER: Final = 0.1
"""A depth is deeper than a score by this at least, mm."""

_EDGE: Final = 12.0
"""Free leather round all of it, mm."""

_SIDE: Final = {"laser": 12.0, "drag_knife": 14.0}
"""Side of a square, mm."""

_APART: Final = {"laser": (18.0, 21.0), "drag_knife": (32.0, 34.0)}
"""From one square to the next along x and along y, mm; between them a blade has room to turn."""

_LETTERS: Final = 3.5
"""Height of the lettering, mm."""


@dataclass(frozen=True)
class Cell:
    """One square of the grid.

    Args:
        number: from 1, row by row, the top row first.
        setting: how it is cut.
        paths: its number and itself.
    """

    number: int
    setting: Setting
    paths: tuple[CutPath, ...]


@dataclass(frozen=True)
class Trial:
    """A grid of squares.

    Args:
        tannage: of the leather.
        thickness: of it, mm.
        plan: of one sheet with all of them, in cutting order.
        cells: as they are numbered.
        columns: of the grid.
    """

    tannage: Tannage
    thickness: float
    plan: CutPlan
    cells: tuple[Cell, ...]
    columns: int

    def plan_of(self, cell: Cell) -> CutPlan:
        """Return the plan of one square by itself, for files that cannot say how each is driven."""
        [sheet] = self.plan.sheets
        alone = replace(sheet, name=f"{sheet.name} {cell.number}", paths=cell.paths)
        return replace(self.plan, sheets=(alone,), job_name=f"{self.plan.job_name}, square {cell.number}")


def trial(
    machine: Machine,
    tannage: Tannage,
    thickness: float,
    *,
    speeds: Sequence[float] = (),
    powers: Sequence[float] = (),
    depths: Sequence[float] = (),
    passes: int | None = None,
    accept_fume_risk: bool = False,
) -> Trial:
    """Return the grid for a leather that is new to a machine.

    Args:
        machine: the machine.
        tannage: of the leather.
        thickness: of it, mm.
        speeds: tried, mm/s; none: from half to twice what ``[operation.cut]`` says.
        powers: tried, percent, a laser's; none: 40 to 100.
        depths: tried in one pass, mm, a blade's; none: a quarter of the thickness to right through.
        passes: a laser goes round each square so often; None: as ``[operation.cut]`` says.
        accept_fume_risk: True where leather of doubtful tannage may be burnt here: your decision.

    Raises:
        SafetyError: the fumes could hurt someone.
        PlanError: leather too thick, a figure that cannot be, or a bed too small for so many squares.
    """
    check_fumes([tannage], machine.kind, accept_fume_risk)
    if said := too_thick(thickness, machine):
        raise PlanError(f"the leather is {said}")
    speeds = _speeds(machine, speeds)
    if machine.kind == "laser":
        if depths:
            raise PlanError("--depth: a laser has no depth to set; give --power")
        across = _listed("--power", powers or _POWERS, 0.1, 100.0, "%")
        often = passes or machine.operation.cut.passes
        settings = [Setting(v, p, None, often) for v in speeds for p in across]
    else:
        across = _depths(machine, thickness, powers, depths, passes)
        settings = [Setting(v, None, deep) for v in speeds for deep in across]
    _check_bed(machine, len(across), len(speeds))
    cells = [_cell(machine, k, setting, len(across), len(speeds)) for k, setting in enumerate(settings)]
    what = f"{tannage} {thickness:.4g} mm"
    gentle = sorted(cells, key=lambda cell: (_fierce(cell.setting), cell.number))
    title = _title(machine, f"{what}, {machine.name}", len(speeds))
    paths = [*title, *(path for cell in gentle for path in cell.paths)]
    if machine.group_by == "tool":
        paths.sort(key=lambda path: path.operation is Operation.CUT)
    paths = [path for path in paths if path.operation in machine.operations]
    sheet = CutSheet("trial", f"scrap of {what}", *machine.bed, tuple(paths), thickness=thickness)
    first = {"speed_mm_s": speeds[0]} | ({"power_percent": across[0]} if machine.kind == "laser" else {})
    # Nothing is driven by these, yet G-code asks for them.
    machine = machine.with_cut({k: v for k, v in first.items() if getattr(machine.operation.cut, k) is None})
    findings = tuple(fume_findings([tannage], machine))
    plan = CutPlan(machine, (sheet,), (), findings, f"trial in {what}")
    return Trial(tannage, thickness, plan, tuple(cells), len(across))


def _fierce(setting: Setting) -> float:
    """Return what a setting does to the leather, to order by: power by speed and passes, or depth."""
    if setting.power_percent is None:
        return setting.depth or 0.0
    return setting.power_percent * setting.passes / setting.speed_mm_s


def _cell(machine: Machine, index: int, setting: Setting, columns: int, rows: int) -> Cell:
    row, column = divmod(index, columns)
    step_x, step_y = _APART[machine.kind]
    x, y = _EDGE + step_x * column, _EDGE + step_y * (rows - 1 - row)
    name, side = f"square {index + 1}", _SIDE[machine.kind]
    low = y + _LETTERS + (2.0 if machine.kind == "laser" else 7.0)
    square = rectangle(x, low, x + side, low + side)
    label = lettering(f"{index + 1}", _LETTERS, x, y)
    paths = (
        *(CutPath(name, "number", Operation.SCORE, stroke) for stroke in label),
        CutPath(name, OUTLINE, Operation.CUT, square, setting=setting),
    )
    paths = tuple(path for path in paths if path.operation in machine.operations)
    return Cell(index + 1, setting, paths)


def _title(machine: Machine, text: str, rows: int) -> list[CutPath]:
    """Return what the grid is of, scored above it, where it can be lettered and the bed has the room."""
    y = _EDGE + _APART[machine.kind][1] * rows
    if unwritable(text) or _EDGE + lettering_width(text, _LETTERS) > machine.bed[0]:
        return []
    strokes = lettering(text, _LETTERS, _EDGE, y)
    return [CutPath("trial", "title", Operation.SCORE, stroke) for stroke in strokes]


def _speeds(machine: Machine, given: Sequence[float]) -> tuple[float, ...]:
    usual = machine.operation.cut.speed_mm_s
    if given or usual is not None:
        tried = given or [float(f"{share * (usual or 0.0):.2g}") for share in _SHARES]
        return _listed("--speed", tried, 0.1, 3000.0, "mm/s")
    raise PlanError(
        f"operation.cut of {machine.name!r} says no speed to try others about; give some with --speed, "
        "such as --speed 10,20,40"
    )


def _depths(
    machine: Machine, thickness: float, powers: Sequence[float], depths: Sequence[float], passes: int | None
) -> tuple[float, ...]:
    """Return how deep a blade is tried, refusing what only a laser has."""
    blade = machine.blade
    assert blade is not None
    if powers or passes is not None:
        raise PlanError("--power, --passes: a blade has no power and is tried in one pass; give --depth")
    if "gcode" not in machine.formats:
        raise PlanError(
            f"no file says how deep {machine.name!r} is to cut: set its depth or force by hand, cut the "
            "piece of `strapwright kerf coupon` at each, and note what cuts through cleanly"
        )
    least = max(blade.score_depth, blade.turning_depth) + _DEEPER
    through = thickness + blade.into_bed
    usual = [deep for deep in (round(share * thickness, 2) for share in _DEEP) if deep >= least]
    return _listed("--depth", depths or [*usual, round(through, 2)], least, thickness + blade.bed_takes, "mm")


def _listed(option: str, values: Sequence[float], least: float, most: float, unit: str) -> tuple[float, ...]:
    """Return figures to try, rising, each once."""
    wrong = [value for value in values if not least - 1e-9 <= value <= most + 1e-9]
    if wrong:
        raise PlanError(f"{option} {wrong[0]:g} {unit}: expected {least:g} to {most:g} {unit}")
    found = tuple(sorted(set(values)))
    if len(found) > MOST:
        raise PlanError(f"{option}: found {len(found)} figures, expected {MOST} at most")
    return found


def _check_bed(machine: Machine, columns: int, rows: int) -> None:
    step_x, step_y = _APART[machine.kind]
    width, height = 2 * _EDGE + step_x * columns, 2 * _EDGE + step_y * rows + _LETTERS
    if machine.bed[0] < width or machine.bed[1] < height:
        raise PlanError(
            f"a grid of {columns} × {rows} squares needs {width:g} × {height:g} mm of bed; {machine.name!r} "
            f"has {machine.bed[0]:g} × {machine.bed[1]:g} mm; try fewer"
        )
