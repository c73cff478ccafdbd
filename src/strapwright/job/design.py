"""A belt as a design to give away: by itself, in a run of sizes, and in leather a little off."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Final

from pydantic_core import PydanticCustomError

from strapwright.core.errors import FileProblems, PartError
from strapwright.core.findings import Severity
from strapwright.core.text import first_few
from strapwright.files.messages import did_you_mean
from strapwright.job.catalogue.leather import LEATHER_THICKNESS, LeatherOverride
from strapwright.job.draft import draft_strap
from strapwright.job.spec.job import About
from strapwright.job.spec.size import read_sizes
from strapwright.job.spec.strap import of_size

if TYPE_CHECKING:
    from strapwright.job.spec.job import Job
    from strapwright.job.spec.strap import Belt

STEP: Final = 0.1
"""Leather a little off is tried in steps of this, mm: as fine as a calliper is read on leather."""

_TOLD: Final = 12


def design_of(job: Job, belt: str = "", sizes: str = "") -> Job:
    """Return a job of one belt alone, one made of each size, without its wearer's name and lettering.

    Args:
        job: the job.
        belt: id of the belt, of one size of a graded belt, or of all its sizes; may be left out where the job
            has only one.
        sizes: a run such as ``"30-46/2"``; empty for the job's own size or sizes.

    Raises:
        PartError: no such belt, or several to choose from.
        FileProblems: the sizes cannot be read.
    """
    chosen = _chosen(job, belt)
    first = chosen[0]
    if sizes:
        try:
            run = read_sizes(sizes)
        except PydanticCustomError as error:
            raise FileProblems((f"sizes: {error.message()}",)) from error
        chosen = [of_size(first, first.run or first.id, size, first.size.hole_in_use) for size in run]
    alone = {"quantity": 1, "name": "", "marks": None}
    belts = tuple(one.model_copy(update=alone) for one in chosen)
    several = len({one.run or one.id for one in job.items}) > 1
    name = About(name=first.run or first.id) if several else job.job
    design = job.model_copy(update={"job": name, "belts": belts, "straps": ()})
    design.__dict__.pop("digest", None)
    return design


def _chosen(job: Job, belt: str) -> list[Belt]:
    runs = [list(group) for _, group in groupby(job.belts, key=lambda one: one.run or one.id)]
    if not runs:
        raise PartError("the job has no belt; only belts can be given away as a handout")
    of_runs = {group[0].run or group[0].id: group for group in runs}
    named = of_runs | {one.id: [one] for one in job.belts}
    if belt in named:
        return named[belt]
    known = first_few(list(of_runs), _TOLD)
    if belt:
        raise PartError(f'the job has no belt "{belt}", only {known}{did_you_mean(belt, list(named))}')
    if len(runs) > 1:
        raise PartError(f"the job has {len(runs)} belts; choose one with --belt: {known}")
    return runs[0]


@dataclass(frozen=True)
class ByThickness:
    """What leather of some thickness takes.

    Args:
        least: the thinnest, mm.
        most: the thickest, mm.
        posts: what each fastener row takes then: its letter, and the fastener as it is sold.
    """

    least: float
    most: float
    posts: tuple[tuple[str, str], ...]


def by_thickness(design: Job, within: float) -> tuple[ByThickness, ...]:
    """Return what leather a little thinner or thicker than the design's takes, thinnest first.

    Every thickness is drafted by itself. What has another size of hole, or a finding that stops it, is left
    out with all that lies beyond it: such leather takes a pattern of its own.

    Args:
        design: the job of the design.
        within: how far off the leather may be at most, mm.

    Raises:
        PartError: the design itself makes no sound part.
    """
    belt = design.belts[0]
    middle = design.leather_of(belt).thickness
    count = round(within / STEP)
    own = _posts(design, belt, middle)
    if own is None:
        return ()
    found = {0: own}
    for way in (-1, 1):
        for step in range(way, way * (count + 1), way):
            here = _posts(design, belt, middle + step * STEP)
            if here is None or here[1] != own[1]:
                break
            found[step] = here
    groups = [list(group) for _, group in groupby(sorted(found), key=lambda step: found[step][0])]
    return tuple(
        ByThickness(middle + group[0] * STEP, middle + group[-1] * STEP, found[group[0]][0])
        for group in groups
    )


def _posts(
    design: Job, belt: Belt, thickness: float
) -> tuple[tuple[tuple[str, str], ...], tuple[tuple[float, float], ...]] | None:
    """Return the fasteners and their holes in leather of a thickness; None where the belt cannot be made."""
    if not LEATHER_THICKNESS.least <= thickness <= LEATHER_THICKNESS.most:
        return None
    leather = (belt.leather or LeatherOverride()).model_copy(update={"thickness": thickness})
    other = belt.model_copy(update={"leather": leather})
    try:
        made = draft_strap(other, design.leather_of(other), design.house, design.catalogue)
    except PartError:
        return None
    if any(finding.severity is Severity.STOP for finding in made.findings) or made.figures is None:
        return None
    posts = made.figures.end.posts
    return tuple((post.row, post.size) for post in posts), tuple(post.holes for post in posts)
