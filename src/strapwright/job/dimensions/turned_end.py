"""The figures of a turned end, at a buckle or a ring: fold, slot, keeper, turn-back.

Its fastener rows and their mates are those of `matching_rows`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PartError
from strapwright.job.dimensions.fastener_choice import posts_of
from strapwright.job.dimensions.matching_rows import (
    Fold,
    closings_of,
    fastener_ys,
    front_rows,
    gaps_at,
    matching_rows,
    row_beyond_dee,
    stitch_runs,
)
from strapwright.rules.fasteners import end_margin
from strapwright.rules.fold import half_turn, slot_length, slot_width

if TYPE_CHECKING:
    from strapwright.core.calculation import Calculation
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.dimensions.fastener_choice import Post
    from strapwright.job.dimensions.layers import Layers
    from strapwright.job.dimensions.matching_rows import Closing
    from strapwright.job.spec.house import House
    from strapwright.job.spec.strap import EndSpec
    from strapwright.rules.fold import Fitting


HEAD_RADIUS: Final = 5.0
"""Half the head of a usual screw post or the cap of a rivet, mm (from memory): kept clear of the buckle at
least, and more where the fastener chosen has a larger one."""


STITCH_MARGIN: Final = 5.0
"""Leather beyond the last stitch of the turn-back, mm (common practice)."""


@dataclass(frozen=True)
class EndFigures:
    """What was worked out for a turned end; mm, x from the fold line towards the tip.

    Args:
        fold_radius: inner radius of the fold.
        half_turn: strap in the half-turn round the bar.
        slot: length and width of the prong slots; zeros for a hook buckle.
        slot_ys: where they lie across; empty for a hook buckle.
        rows: fastener rows in the front layer; of a stitched end, none.
        mates: the rows in the turn-back that meet them.
        gaps: how far the layers are held open at each row.
        posts: the fastener of each row, with its holes.
        fastener_ys: fasteners across.
        stitches: stitch holes in the front layer, run by run; empty unless stitched.
        shift: what is added to a place in the front, its sign turned, to find its mate.
        keeper_held: where the keeper is kept: ``"between"``, ``"row_a"``, ``"row_b"`` or ``"slides"``.
        keeper_end: x of its far edge; of a rear loop's where that serves as keeper; 0 for none.
        turn_back: fold line to the end of the turn-back.
        dee: x of the middle of a dee ring's bar; 0 for none.
        head_radius: half the fasteners' heads, as kept clear; 0 for a stitched end.
        closings: how the rows beside a keeper between the layers close.
        layers: thicknesses, each where it counts.
    """

    layers: Layers
    fold_radius: float
    half_turn: float
    slot: tuple[float, float]
    slot_ys: tuple[float, ...]
    rows: tuple[float, ...]
    mates: tuple[float, ...]
    gaps: tuple[float, ...]
    posts: tuple[Post, ...]
    fastener_ys: tuple[float, ...]
    stitches: tuple[tuple[float, ...], ...]
    shift: float
    keeper_held: str
    keeper_end: float
    turn_back: float
    dee: float = 0.0
    head_radius: float = 0.0
    closings: tuple[Closing, ...] = ()


def end_figures(
    asked: EndSpec, layers: Layers, width: float, house: House, catalogue: Catalogue, work: Calculation
) -> EndFigures:
    """Work out a turned end: the buckle end of a belt, or the end of a strap on a ring.

    A dee ring's bar lies between the layers beyond the rows, and one row more holds it. Both layers spread
    by half the bar over the same length, so that the row beyond it keeps the shift of those before it: a
    house rule from that symmetry; skived turn-backs, thinner than the front, stray from it a little.

    Args:
        asked: what is asked for; a turned end.
        layers: its thicknesses.
        width: of the strap, mm.
        house: the workshop's settings.
        catalogue: the fasteners there are to choose from.
        work: takes the calculation.

    Raises:
        PartError: a dee ring too narrow for the strap, or a keeper held at a row there is none of.
    """
    t, k, keeper, fitting = layers.fold, house.neutral_axis, asked.keeper, asked.fitting
    assert fitting is not None
    r = fitting.bar.fold_radius(house.fold_play)
    numbers = f"π ({r:.3f} + {k:g} × {t:.3f})"
    turn = work.add("half-turn round the bar", "B = π (r + K t)", numbers, half_turn(t, r, k))
    slot = _slot(fitting, turn, r, work)
    held = "none"
    if keeper is not None:
        held = keeper.held or ("between" if asked.fastener_holes.rows == 2 else "slides")
    fold = Fold(asked, fitting, layers, held, r, k, turn, work)
    if fold.sewn and held in ("row_a", "row_b"):
        raise PartError(
            f"keeper.held is {held}; a stitched end has no row to hold it at, and allows between and slides"
        )
    gaps = gaps_at(fold)
    posts = () if fold.sewn else posts_of(asked, layers.stack, gaps, catalogue, work)
    head = max((HEAD_RADIUS, *(post.head / 2 for post in posts))) if posts else 0.0
    widest = tuple(max(post.holes) for post in posts)
    rows = front_rows(fold, slot[0] / 2 or turn / 2, head, widest)
    stitches = stitch_runs(rows, asked.stitch) if fold.sewn else ()
    keeper_end = _keeper_end(fold, rows, stitches, widest)
    dee = 0.0
    if asked.dee is not None:
        last = stitches[-1][-1] if stitches else rows[-1]
        dee, beyond = row_beyond_dee(asked.dee, width, last, keeper_end, head, work)
        rows = (*rows, beyond)
        stitches = stitch_runs(rows, asked.stitch) if stitches else ()
    mates = matching_rows(fold, rows, gaps)
    last_mate, margin = mates[-1], end_margin(posts[-1].holes[1]) if posts else STITCH_MARGIN
    words = "last hole + max(2.5 d, 12), up to a whole mm"
    if stitches:
        last_mate = mates[0] - (stitches[-1][-1] - rows[0])
        words = "last stitch hole + 5, up to a whole mm"
    turn_back = asked.turn_back
    if turn_back is None:
        whole = float(math.ceil(-last_mate + margin - 1e-9))
        turn_back = work.add("turn-back", words, f"{-last_mate:.2f} + {margin:.1f}", whole)
    return EndFigures(
        layers=layers,
        fold_radius=r,
        half_turn=turn,
        slot=slot,
        slot_ys=fitting.prongs,
        rows=() if stitches else rows,
        mates=() if stitches else mates,
        gaps=() if stitches else gaps,
        posts=posts,
        fastener_ys=fastener_ys(asked.fastener_holes, width),
        stitches=stitches,
        shift=mates[0] + rows[0],
        keeper_held=held,
        keeper_end=keeper_end,
        turn_back=turn_back,
        dee=dee,
        head_radius=head,
        closings=closings_of(fold, rows, keeper_end),
    )


def _slot(fitting: Fitting, turn: float, r: float, work: Calculation) -> tuple[float, float]:
    if not fitting.prongs:
        return 0.0, 0.0
    p, bar_radius = fitting.prong_thickness, fitting.bar.radius
    length = work.add(
        "prong slot, length",
        "B + 2 √((b/2 + p)² − r²) + 2, up to a whole mm",
        f"{turn:.2f} + 2 √(({bar_radius:.2f} + {p:.2f})² − {r:.2f}²) + 2",
        float(slot_length(turn, bar_radius, r, p)),
    )
    numbers = f"{fitting.prong_width:g} + 1.5"
    wide = work.add("prong slot, width", "prong + 1.5", numbers, slot_width(fitting.prong_width))
    return length, wide


def _keeper_end(
    fold: Fold, rows: tuple[float, ...], stitches: tuple[tuple[float, ...], ...], widest: tuple[float, ...]
) -> float:
    keeper, fitting, held = fold.asked.keeper, fold.fitting, fold.held
    if keeper is None:
        return fold.turn / 2 + fitting.rear_depth + fitting.bar.width if fitting.rear_depth else 0.0
    if held in ("row_a", "row_b"):
        row = rows[-1] if held == "row_b" else rows[0]
        return row + keeper.width / 2
    if (
        held == "between" and widest and len(rows) > 1
    ):  # in the middle of the room between the two rows' holes
        return (rows[0] + widest[0] / 2 + rows[1] - widest[1] / 2 + keeper.width) / 2
    # Behind row A or the first run of stitches; sliding, pushed up against it.
    begin = stitches[0][-1] if stitches else rows[0] + widest[0] / 2
    return begin + 1.5 + keeper.width
