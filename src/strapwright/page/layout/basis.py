"""What a job is laid out on: its draft, the hides, what is kept free, and zones kept clear from before."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.layout.avoided_zone import zone_text, zone_to_avoid
from strapwright.nesting.layout.types import AvoidedZone, Layout, UnplacedPart
from strapwright.page.sheet.permission import check_programs

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import Clearance


@dataclass(frozen=True)
class Basis:
    """What a job is laid out on.

    Args:
        job: the job.
        draft: its draft.
        hides: in the order they are to be used up.
        clearance: what is kept free for the machine.
    """

    job: Job
    draft: Draft
    hides: tuple[Hide, ...]
    clearance: Clearance

    def empty(self, zones: Iterable[str] = ()) -> Layout:
        """Return a layout in which nothing is laid yet.

        Args:
            zones: to be kept clear: see :func:`zones_kept_clear`.
        """
        unplaced = tuple(UnplacedPart(part, "not laid yet") for part in self.draft.parts)
        clear = [zone_to_avoid(text, self.hides) for text in zones]
        avoided = tuple(AvoidedZone(name, zone.polygon) for name, zone in clear)
        return Layout(self.hides, (), unplaced, self.clearance, (), 0, 0, avoided=avoided)


def read_basis(job_file: Path, hide_files: Sequence[Path], machine: str, kerf: float | None = None) -> Basis:
    """Return what a job is laid out on.

    Args:
        job_file: the job's.
        hide_files: in the order they are to be used up.
        machine: the machine's file or a shipped profile's name, for kerf and lead-in; empty for none.
        kerf: width of the cut given by hand, mm; None takes the measured one.
    """
    from strapwright import api

    job = check_programs(api.read_job(job_file))
    drafted = api.draft(job)
    profile = api.read_machine(machine) if machine else None
    widest = 0.0
    if profile is not None:
        from strapwright.machine.planning import check_parts

        widest = check_parts(drafted.parts, profile, kerf=kerf, accept_fume_risk=True)
    return Basis(job, drafted, tuple(api.read_hides(hide_files)), api.clearance_for(job, widest, profile))


def zones_kept_clear(layout_file: Path, hides: Sequence[Hide]) -> tuple[str, ...]:
    """Return the zones a layout's file keeps clear on some hides, as a nest takes them."""
    names = {hide.name for hide in hides}
    try:
        found = json.loads(layout_file.read_text("utf-8")).get("avoided", ())
        zones = [AvoidedZone(str(one["hide"]), np.array(one["points_mm"], float)) for one in found]
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return ()
    return tuple(f"{zone.hide}: {zone_text(zone)}" for zone in zones if zone.hide in names)
