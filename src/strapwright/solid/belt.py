"""From a job and a belt's id to its model."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PartError
from strapwright.files.messages import nearest
from strapwright.job.draft import draft
from strapwright.solid.pieces import model_belt

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.job.strap_draft import BeltDraft
    from strapwright.solid.pieces import BeltModel

TOLD: Final = 12
"""More ids than this are not listed in a message."""


def model(
    job: Job,
    belt: str = "",
    *,
    worn: bool = False,
    drafted: Draft | None = None,
    stage: Callable[[str], None] = lambda _: None,
) -> BeltModel:
    """Model one belt of a job in the round; loading the solid modeller takes seconds.

    Args:
        job: the job.
        belt: the belt's id; may be left out where the job has only one.
        worn: close it in the hole in use, its tip through the keeper; else it lies flat.
        drafted: the job's draft, where it has been made before; None drafts it.
        stage: called with what is done next, in words.

    Raises:
        PartError: no such belt, no modeller, or a piece that cannot be modelled, by name.
    """
    return model_belt(belt_of(drafted or draft(job), belt), worn=worn, stage=stage)


def belt_of(drafted: Draft, belt: str = "") -> BeltDraft:
    """Return a belt of a draft by its id; without one, the only belt there is.

    Args:
        drafted: the draft.
        belt: the id, or nothing.

    Raises:
        PartError: none of that id, or several to choose from.
    """
    ids = [one.id for one in drafted.belts]
    if not ids:
        raise PartError("the job has no belt; only belts are modelled in the round")
    if not belt and len(ids) > 1:
        raise PartError(f"the job has {len(ids)} belts; choose one with --belt: {_listed(ids)}")
    if belt and belt not in ids:
        near = nearest(belt, ids)
        ending = f'; did you mean "{near}"?' if near else ""
        raise PartError(f'the job has no belt "{belt}", only {_listed(ids)}{ending}')
    return drafted.belts[ids.index(belt)] if belt else drafted.belts[0]


def _listed(ids: Sequence[str]) -> str:
    more = f" and {len(ids) - TOLD} more" if len(ids) > TOLD else ""
    return ", ".join(ids[:TOLD]) + more
