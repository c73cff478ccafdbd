"""How much better any layout of the same parts on the same hides could be."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.nesting.bound.area import area_bounds
from strapwright.nesting.problem.build import build_problem

if TYPE_CHECKING:
    from strapwright.nesting.layout.types import Layout


def bound_area(layout: Layout) -> float:
    """Return an area no layout of these parts on these hides can pass, mm².

    It is what the nest proved, or worked out anew for a layout that was read from a file.
    """
    if layout.bound is not None:
        return max(layout.bound, layout.placed_area)
    parts = [placed.part for placed in layout.placed] + [left.part for left in layout.unplaced]
    problem = build_problem(parts, layout.hides, layout.clearance)
    placeable = sum(piece.value for piece in problem.pieces if piece.grounds != ())
    return max(min(sum(area_bounds(problem)), placeable), layout.placed_area)


def bound_sentence(layout: Layout) -> str:
    """Return how much better any layout could be, in one sentence."""
    if not layout.unplaced:
        return "Everything asked for is placed."
    if layout.worth is not None:
        return layout.worth.sentence
    more = bound_area(layout) - layout.placed_area
    smallest = min(left.part.outline.area for left in layout.unplaced)
    if more < smallest * (1 - 1e-9):
        return "No layout can place more of these parts on these hides; that is proven."
    if not layout.placed_area:
        return f"Nothing is placed; at most {more / 1e6:.3f} m² of parts could be placed."
    share = more / layout.placed_area
    if share > 1:  # a percentage of next to nothing says nothing
        told = f"{more / 1e6:.3f} m² of parts more than the {layout.placed_area / 1e6:.3f} m² placed"
    else:
        told = f"{share:.1%} more ({more / 1e6:.3f} m² of parts)"
    return f"At most {told} could be placed on these hides, probably less."
