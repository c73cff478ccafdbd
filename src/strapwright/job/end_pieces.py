"""Just the two ends of every strap, to try buckle and keeper in scrap before the strap is cut."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import PartError
from strapwright.core.units import json_mm
from strapwright.job.grading import grouped
from strapwright.parts.part import Operation, Part, PartKind
from strapwright.parts.strap import strip_outline
from strapwright.parts.tips.square import Square

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from strapwright.job.draft import Draft
    from strapwright.job.strap_draft import BeltDraft
    from strapwright.parts.part import Feature

LENGTH: Final = 150.0
"""How much of each end is kept, mm; more of a buckle end whose fasteners need it."""

_BEYOND: Final = 12.0
"""Leather kept beyond the last fastener, mm."""

_CUT: Final = 0.5
"""Corner radius where an end is cut off, mm."""


def only_ends(drafted: Draft) -> Draft:
    """Return the draft with two short pieces in place of each belt's strap, and no keepers or linings.

    Each belt is given once, however many are to be made, and of a run its first size: the others end alike.

    Args:
        drafted: the draft.

    Raises:
        PartError: it holds other strap goods, which have no buckle to try; nothing is left out in silence.
    """
    if drafted.straps:
        told = ", ".join(strap.id for strap in drafted.straps)
        raise PartError(
            f"only belts can be made as ends alone, and the job has other straps too: {told}; put the "
            "belts into a job of their own"
        )
    straps = {part.belt_id: part for part in reversed(drafted.parts) if part.kind is PartKind.STRAP}
    belts = [sizes[0] for sizes in grouped(drafted.belts)]
    return replace(drafted, parts=tuple(piece for belt in belts for piece in _ends(belt, straps[belt.id])))


def ends_json(pieces: Iterable[Part]) -> list[dict[str, Any]]:
    """Return end pieces as plain JSON values: mm, x from the fold line.

    Args:
        pieces: the parts of a draft that :func:`only_ends` made.
    """
    return [
        {
            "id": piece.id,
            "from_mm": json_mm(piece.outline.bounding_box[0]),
            "to_mm": json_mm(piece.outline.bounding_box[2]),
            "width_mm": json_mm(piece.outline.bounding_box[3] - piece.outline.bounding_box[1]),
            "holes": [
                {
                    "name": hole.name,
                    "centre_mm": [json_mm((x0 + x1) / 2), json_mm((y0 + y1) / 2)],
                    "size_mm": [json_mm(x1 - x0), json_mm(y1 - y0)],
                }
                for hole in piece.features
                if hole.operation is not Operation.SCORE
                for x0, y0, x1, y1 in (hole.contour.bounding_box,)
            ],
        }
        for piece in pieces
    ]


def _ends(belt: BeltDraft, part: Part) -> Iterator[Part]:
    strap, end = belt.strap, belt.strap.buckle_end
    rear, cut = Square(strap.width, end.corner_radius), Square(strap.width, _CUT)
    furthest = max((*end.rows, *end.stitches, end.slot_length / 2)) + _BEYOND
    stop = min(max(LENGTH - end.turn_back, furthest), strap.span)
    begin = max(strap.span - max(LENGTH, strap.tip.reach + _BEYOND), -end.turn_back)
    pieces = (
        ("buckle end", -end.turn_back, strip_outline(-end.turn_back, rear, stop, cut), stop),
        ("tip end", begin, strip_outline(begin, cut, strap.span, strap.tip), strap.span),
    )
    for name, low, outline, high in pieces:
        features = tuple(feature for feature in part.features if _within(feature, low, high))
        yield replace(part, id=f"{belt.id}/{name}", outline=outline, features=features)


def _within(feature: Feature, low: float, high: float) -> bool:
    """Whether a feature lies whole on a piece; a crease that runs on along the strap does not."""
    x0, _, x1, _ = feature.contour.bounding_box
    return x0 > low + _CUT and x1 < high - _CUT
