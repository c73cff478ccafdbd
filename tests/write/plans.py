"""Plans for the tests of writing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.machine.layouts import laser, layout, small_layout, strap

if TYPE_CHECKING:
    from strapwright.machine.cut_plan import CutPlan

from strapwright.machine.plan import plan


def small_plan(job_name: str = "two belts") -> CutPlan:
    return plan(small_layout(), laser(), job_name=job_name)


def batch_plan(belts: int = 8) -> CutPlan:
    placed = [
        (strap(f"belt-{n}", length=700 + n, width=30 + n), 100.0, 40.0 + 60 * n, 0.3 * n)
        for n in range(belts)
    ]
    return plan(layout(*placed), laser(bed=[1500, 800]), job_name="batch")
