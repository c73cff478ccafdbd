"""Plans for the tests of writing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.machine.layouts import DAY, laser, layout, small_layout, strap

if TYPE_CHECKING:
    from strapwright.machine.cut_plan import CutPlan

from strapwright.machine.planning import plan
from strapwright.machine.profile.machine import Machine, machine_from


def small_plan(job_name: str = "two belts") -> CutPlan:
    return plan(small_layout(), laser(), job_name=job_name)


def batch_plan(belts: int = 8, machine: Machine | None = None) -> CutPlan:
    placed = [
        (strap(f"belt-{n}", length=700 + n, width=30 + n), 100.0, 40.0 + 60 * n, 0.3 * n)
        for n in range(belts)
    ]
    return plan(layout(*placed), machine or laser(bed=[1500, 800]), job_name="batch")


EVERY = ["dxf", "dxf_r12", "svg", "gcode", "hpgl"]
SPEEDS = {"cut": 12, "score": 90, "punch": 60}


def driven_laser(**changes: object) -> Machine:
    """A laser of 1000 × 600 mm whose profile has all that G-code needs."""
    table = {"name": "driven laser", "kind": "laser", "bed": [1000, 600], "max_power": 1000, "formats": EVERY}
    rows = [
        {"material": "vegetable", "thickness": t, "width": w, "measured": DAY}
        for t, w in ((2.0, 0.16), (4.0, 0.24))
    ]
    operations = {
        name: {"layer": name, "color": f"#00000{n}", "speed_mm_s": SPEEDS[name], "power_percent": 80 - 20 * n}
        for n, name in enumerate(SPEEDS)
    }
    content = {"machine": table | changes, "kerf": rows, "operation": operations}
    content["limits"] = {"hpgl_units": 1_000_000}
    return machine_from(content, "laser.toml")


def driven_knife(
    offset: float = 0.6, *, passes: int = 1, machine: dict[str, object] | None = None, **blade: object
) -> Machine:
    """A drag knife of 1000 × 600 mm whose profile has all that G-code needs."""
    table = {"name": "driven knife", "kind": "drag_knife", "bed": [1000, 600], "formats": EVERY}
    tool = {"offset": offset, "max_thickness": 4.0, "cut_depth": 4.2, "swivel_depth": 0.4} | blade
    operations = {
        name: {"layer": name, "color": f"#00000{n}", "speed_mm_s": SPEEDS[name], "velocity": 10 + n}
        | ({"passes": passes} if name == "cut" else {})
        for n, name in enumerate(SPEEDS)
    }
    content = {
        "machine": table | (machine or {}),
        "limits": {"least_hole": 3.0, "hpgl_units": 1_000_000},
        "blade": tool,
        "operation": operations,
    }
    return machine_from(content, "knife.toml")


def driven_plan(machine: Machine | None = None) -> CutPlan:
    """The small plan for a machine that takes every format; a laser unless given."""
    return plan(small_layout(), machine or driven_laser(), job_name="two belts")
