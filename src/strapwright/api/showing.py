"""Show a draft on paper and in the round."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from strapwright.job.draft import Draft
    from strapwright.job.model import Job
    from strapwright.solid.pieces import BeltModel
    from strapwright.write.pattern import Pattern


def pattern(drafted: Draft, paper: str, **options: Any) -> Pattern:
    """Return a draft's paper pattern; options as for :func:`strapwright.write.pattern.pattern`."""
    from strapwright.write.pattern import pattern as make

    return make(drafted, paper, **options)


def model(job: Job, belt: str = "", **options: Any) -> BeltModel:
    """Model a belt in the round, by the solid modeller; see :func:`strapwright.solid.belt.model`."""
    from strapwright.solid.belt import model as make

    return make(job, belt, **options)
