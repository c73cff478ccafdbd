"""A strip plan as JSON, bound to the job it was made for, and the true waste read back from it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field

from strapwright.files.read import read_text, refused
from strapwright.files.validate import Strict, validate
from strapwright.job.bill import Waste
from strapwright.nesting.strips.leftovers import leftovers, uncut, waste_of
from strapwright.nesting.strips.types import WIDTH_AGREES, width_of

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.job.draft import Draft
    from strapwright.nesting.strips.types import StripPlan

VERSION = 1
"""Version of the plan's file."""

Finite = Annotated[float, Field(allow_inf_nan=False)]


class _Rules(Strict):
    gap_mm: Finite
    margin_mm: Finite
    square_mm: Finite
    keep_mm: Finite


class _Lying(Strict):
    id: str
    from_mm: Finite
    to_mm: Finite
    tip_to_square_end: bool
    cut_down_to_mm: Finite | None


class _Cut(Strict):
    strip: str
    number: int
    width_mm: Finite
    length_mm: Finite
    parts: list[_Lying]


class _Uncut(Strict):
    strip: str
    quantity: int
    width_mm: Finite
    length_mm: Finite


class _Left(Strict):
    id: str
    strip: str
    number: int
    from_mm: Finite
    to_mm: Finite
    width_mm: Finite
    length_mm: Finite


class _Unplaced(Strict):
    id: str
    reason: str


class StripPlanFile(Strict):
    """What ``strips.json`` holds."""

    version: Literal[1]
    mark: str = ""
    job_digest: str
    aim: Literal["fewest", "least", "stock"]
    seed: int
    rules: _Rules
    cut: list[_Cut]
    uncut: list[_Uncut]
    leftovers: list[_Left]
    unplaced: list[_Unplaced]
    waste: Annotated[float, Field(ge=0, lt=1)]
    cost: Finite
    bound: Finite | None
    gap: Finite | None


def plan_to_json(plan: StripPlan, job_digest: str) -> dict[str, Any]:
    """Return a plan as plain JSON values; places are measured from each strip's squared start.

    Args:
        plan: the plan.
        job_digest: of the job its parts were drafted from.
    """
    return {
        "version": VERSION,
        "job_digest": job_digest,
        "aim": plan.aim,
        "seed": plan.seed,
        "rules": {f"{name}_mm": value for name, value in vars(plan.rules).items()},
        "cut": [
            {
                "strip": cut.strip.id,
                "number": cut.number,
                "width_mm": cut.strip.width,
                "length_mm": cut.strip.length,
                "parts": [
                    {
                        "id": one.part.id,
                        "from_mm": round(one.start, 3),
                        "to_mm": round(one.end, 3),
                        "tip_to_square_end": one.turned,
                        "cut_down_to_mm": round(width_of(one.part), 3)
                        if cut.strip.width > width_of(one.part) + WIDTH_AGREES
                        else None,
                    }
                    for one in cut.parts
                ],
            }
            for cut in plan.cut
        ],
        "uncut": [
            {
                "strip": strip.id,
                "quantity": strip.quantity,
                "width_mm": strip.width,
                "length_mm": strip.length,
            }
            for strip in uncut(plan)
        ],
        "leftovers": [
            {
                "id": left.strip.id,
                "strip": left.of.strip.id,
                "number": left.of.number,
                "from_mm": round(left.start, 3),
                "to_mm": round(left.end, 3),
                "width_mm": left.strip.width,
                "length_mm": round(left.strip.length, 3),
            }
            for left in leftovers(plan)
        ],
        "unplaced": [{"id": part.id, "reason": reason} for part, reason in plan.unplaced],
        "waste": waste_of(plan),
        "cost": plan.cost,
        "bound": plan.bound,
        "gap": plan.gap,
    }


def read_strip_wastes(path: Path, drafted: Draft) -> dict[str, Waste]:
    """Return the true share of waste of each part in a plan's file, by the part's id.

    Args:
        path: the file.
        drafted: the draft it was made for.

    Raises:
        FileProblems: no such file, or made for another job or for this one before it was changed.
    """
    try:
        data = json.loads(read_text(path, limit_mb=50))
    except (ValueError, RecursionError) as error:
        if isinstance(error, json.JSONDecodeError | RecursionError):
            raise refused(path, "not a strip plan; assign the job to strips again") from error
        raise
    file = validate(StripPlanFile, data, str(path))
    if file.job_digest != drafted.digest:
        raise refused(path, "the job changed since this plan was made; assign it to strips again")
    share = Waste(file.waste, "true of the strips, as assigned")
    return {one.id: share for cut in file.cut for one in cut.parts}
