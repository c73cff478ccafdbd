"""Whether a plan is sound: every part where it may lie, none on another, none twice and none lost.

It looks at the parts' own outlines and the strips' own flaws and takes nothing from whatever made the plan.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING

from strapwright.core.errors import NestError
from strapwright.core.tolerances import CLEARANCE
from strapwright.nesting.strips.problem import suits
from strapwright.nesting.strips.types import lies, shunned

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.strips.types import CutStrip, StripPlan, StripRules
    from strapwright.parts.part import Part


def verify_strips(plan: StripPlan, parts: Sequence[Part]) -> None:
    """Check a plan.

    Args:
        plan: the plan.
        parts: all that were to be placed.

    Raises:
        NestError: what is wrong with it first.
    """
    counts = Counter(one.part.id for cut in plan.cut for one in cut.parts)
    counts += Counter(part.id for part, _ in plan.unplaced)
    if counts != Counter(part.id for part in parts):
        raise NestError("a part is assigned twice or not at all")
    known = {strip.id: strip for strip in plan.strips}
    seen = Counter((cut.strip.id, cut.number) for cut in plan.cut)
    for cut in plan.cut:
        if known.get(cut.strip.id) != cut.strip or not 1 <= cut.number <= cut.strip.quantity:
            raise NestError(f"{cut.name}: there is no such strip")
        if seen[cut.strip.id, cut.number] > 1:
            raise NestError(f"{cut.name}: is cut twice")
        _check(cut, plan.rules)


def _check(cut: CutStrip, rules: StripRules) -> None:
    strip, reach = cut.strip, cut.strip.length - 2 * rules.square
    for one, after in pairwise(cut.parts):
        if after.start - one.end < rules.gap - CLEARANCE:
            raise NestError(f"{cut.name}: {one.part.id} and {after.part.id} are nearer than {rules.gap:g} mm")
    for one in cut.parts:
        if one.start < -CLEARANCE or one.end > reach + CLEARANCE:
            raise NestError(f"{cut.name}: {one.part.id} is not on the strip between its squared ends")
        if not suits(strip, one.part):
            raise NestError(f"{cut.name}: {one.part.id} is too wide, or of another leather")
        if one.turned not in lies(one.part, strip):
            raise NestError(f"{cut.name}: the tip of {one.part.id} is not at the better end")
        for flaw in rules.flaws(strip):
            for a, b in shunned(one.part, flaw.kind, turned=one.turned):
                near = rules.margin - CLEARANCE
                if one.start + a < flaw.end + near and flaw.start - near < one.start + b:
                    raise NestError(f"{cut.name}: {one.part.id} is on the {flaw.kind} at {flaw.start:g} mm")
