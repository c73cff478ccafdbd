"""The cut plan of a layout on one machine: its sheets, the kerfs allowed for, the findings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from strapwright.core.notebook import svg_of
from strapwright.machine.duration import moves_of, time_of

if TYPE_CHECKING:
    from datetime import date

    from strapwright.core.findings import Finding
    from strapwright.machine.duration import Duration, Move
    from strapwright.machine.kerf import Kerf
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import CutSheet


@dataclass(frozen=True)
class CutPlan:
    """The cut plan of a layout on one machine.

    Args:
        machine: the machine it is for.
        sheets: one for each hide that has parts on it, in the layout's order.
        kerfs: the kerf in each leather on the plan; none where no cut is allowed for, as in a test piece.
        findings: what was noticed while planning.
        job_name: as the job file has it; empty where it has none.
        day: it was made, for the files' headers; None leaves the day out.
        whole: of each hide cut in windows all paths as they would be on a bed long enough, for the proof.
    """

    machine: Machine
    sheets: tuple[CutSheet, ...]
    kerfs: tuple[Kerf, ...]
    findings: tuple[Finding, ...]
    job_name: str = ""
    day: date | None = None
    whole: tuple[CutSheet, ...] = ()

    @property
    def kerf(self) -> float:
        """The widest cut allowed for, mm; 0 for a drag knife, and where none is allowed for."""
        return max((kerf.width for kerf in self.kerfs), default=0.0)

    @cached_property
    def durations(self) -> tuple[Duration, ...]:
        """How long each sheet takes, estimated: one for each of the sheets."""
        return tuple(time_of(sheet, self.machine) for sheet in self.sheets)

    def duration_of(self, sheet: CutSheet) -> Duration:
        """Return how long one of the sheets takes, or another of this machine."""
        mine = (found for one, found in zip(self.sheets, self.durations, strict=True) if one is sheet)
        return next(mine, None) or time_of(sheet, self.machine)

    @cached_property
    def moves(self) -> tuple[tuple[Move, ...], ...]:
        """Every move of the tool in order, with its times: one tuple for each of the sheets.

        Raises:
            PlanError: a spindle would have to leave the bed.
        """
        return tuple(moves_of(sheet, self.machine) for sheet in self.sheets)

    def _repr_svg_(self) -> str | None:
        """Return its picture for a notebook."""
        return svg_of(self)
