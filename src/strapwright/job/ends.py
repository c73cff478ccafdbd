"""Just the two ends of every strap, to try buckle and keeper in scrap before the strap is cut."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from strapwright.errors import PartError
from strapwright.parts.part import Part, PartKind
from strapwright.parts.strip import strip_outline
from strapwright.parts.tips.square import Square

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.job.draft import BeltDraft, Draft
    from strapwright.parts.part import Feature

LENGTH: Final = 150.0
"""How much of each end is kept, mm; more of a buckle end whose fasteners need it."""

_BEYOND: Final = 12.0
"""Leather kept beyond the last fastener, mm."""

_CUT: Final = 0.5
"""Corner radius where an end is cut off, mm."""


def only_ends(drafted: Draft) -> Draft:
    """Return the draft with two short pieces in place of each belt's strap, and no keepers or linings.

    Each belt is given once, however many are to be made.

    Args:
        drafted: the draft.

    Raises:
        PartError: it holds other strap goods, which have no buckle to try; nothing is left out in silence.
    """
    if drafted.straps:
        told = ", ".join(strap.id for strap in drafted.straps)
        raise PartError(
            f"only the ends of belts can be had, and the job has straps besides: {told}; put the "
            "belts into a job of their own"
        )
    pieces = tuple(piece for belt in drafted.belts for piece in _ends(belt, _strap_part(drafted, belt)))
    return replace(drafted, parts=pieces)


def _strap_part(drafted: Draft, belt: BeltDraft) -> Part:
    return next(part for part in drafted.parts if part.belt_id == belt.id and part.kind is PartKind.STRAP)


def _ends(belt: BeltDraft, part: Part) -> Iterator[Part]:
    strap, end = belt.strap, belt.strap.buckle_end
    rear, cut = Square(strap.width, end.corner_radius), Square(strap.width, _CUT)
    stitches = strap.stitching.centres_x if strap.stitching else ()
    furthest = max((*end.rows, *stitches, end.slot_length / 2)) + _BEYOND
    stop = min(max(LENGTH - end.turn_back, furthest), strap.tip_end)
    begin = max(strap.tip_end - max(LENGTH, strap.tip.reach + _BEYOND), -end.turn_back)
    pieces = (
        ("buckle end", -end.turn_back, strip_outline(-end.turn_back, rear, stop, cut), stop),
        ("tip end", begin, strip_outline(begin, cut, strap.tip_end, strap.tip), strap.tip_end),
    )
    for name, low, outline, high in pieces:
        features = tuple(feature for feature in part.features if _within(feature, low, high))
        yield replace(part, id=f"{belt.id}/{name}", outline=outline, features=features)


def _within(feature: Feature, low: float, high: float) -> bool:
    """Whether a feature lies whole on a piece; a crease that runs on along the strap does not."""
    x0, _, x1, _ = feature.contour.bounding_box
    return x0 > low + _CUT and x1 < high - _CUT
