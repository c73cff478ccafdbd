"""The figures of one belt: every number that follows from buckle, person and leather, with its working."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.calculation import Calculation, Step
from strapwright.job.dimensions.closed_buckle import rise_to_prong
from strapwright.job.dimensions.end import EndFigures, end_figures
from strapwright.job.dimensions.layers import Layers, layers_of
from strapwright.job.dimensions.size import hole_centres, last_to_tip, seat_of
from strapwright.job.spec.fittings import Fastening
from strapwright.trade.keeper import keeper_length
from strapwright.trade.sizing import (
    GIRTH_UNCERTAINTY,
    Seat,
    doubled_room,
    girth_of_edge,
    reach_past_bar,
    strap_width,
)

if TYPE_CHECKING:
    from strapwright.job.catalogue.buckle import Buckle
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.spec.belt import Belt
    from strapwright.job.spec.fittings import Keeper
    from strapwright.job.spec.job import House

HOLE_CLEARANCE: Final = 1.0
"""An adjusting hole is this much wider than the prong, mm (common practice)."""

OVAL: Final = 1.5
"""An oval hole is this many diameters long unless the job says otherwise (common practice)."""


@dataclass(frozen=True)
class Figures:
    """What was worked out for one belt; mm, x from the fold line towards the tip.

    Args:
        width: of the strap.
        end: the buckle end.
        seat: how buckle and strap lie on the body.
        hole_in_use: x of the centre of the hole that shall fit.
        middle_hole: x of the middle of the row.
        spacing: of the adjusting holes.
        hole_diameter: of the adjusting holes, across the strap.
        hole_length: of oval holes along the strap; the diameter for round ones.
        hole_ys: where their rows lie across.
        last_to_tip: last hole to the tip.
        keeper: the keeper asked for, if one is made.
        keeper_length: of its strip as computed, lap included, without what is left to spare; 0 for none.
        girths: least and greatest girth the finished belt fits.
        girth_in_use: girth at the hole in use.
        climb: of the strap from under the front bar to the prong, which the girths leave out; 0 for a hook.
        reaches: how far the tip lies past the bar at the loosest and at the tightest hole.
        steps: the working.
    """

    width: float
    end: EndFigures
    seat: Seat
    hole_in_use: float
    middle_hole: float
    spacing: float
    hole_diameter: float
    hole_length: float
    hole_ys: tuple[float, ...]
    last_to_tip: float
    keeper: Keeper | None
    keeper_length: float
    girths: tuple[float, float]
    girth_in_use: float
    climb: float
    reaches: tuple[float, float]
    steps: tuple[Step, ...]

    @property
    def layers(self) -> Layers:
        """Thicknesses, each where it counts."""
        return self.end.layers


def figures(belt: Belt, buckle: Buckle, leather: Leather, house: House, catalogue: Catalogue) -> Figures:
    """Work out one belt.

    Args:
        belt: what is asked for.
        buckle: its buckle.
        leather: its leather.
        house: the workshop's settings.
        catalogue: the fasteners there are to choose from.
    """
    work = Calculation()
    width = _width(buckle, house, work)
    keeper = _keeper(belt, buckle)
    layers = layers_of(belt, leather, keeper=keeper is not None)
    fastening = Fastening(belt.fastener, belt.fastener_holes, belt.stitch, belt.turn_back, belt.dee, keeper)
    end = end_figures(fastening, buckle.fitting, layers, width, house, catalogue, work)
    held = end.keeper_held in ("between", "row_a", "row_b")
    seat = Seat(
        thickness=layers.strap,
        fold_thickness=layers.fold,
        fold_radius=end.fold_radius,
        half_turn=end.half_turn,
        hole_seat=seat_of(buckle, work),
        turn_back=end.turn_back,
        doubled=layers.fold + (layers.keeper_stack if held else 0.0),
    )
    diameter = belt.holes.diameter or work.add(
        "adjusting holes",
        "prong + 1",
        f"{buckle.prong_width:g} + {HOLE_CLEARANCE:g}",
        buckle.prong_width + HOLE_CLEARANCE,
    )
    length = diameter if belt.holes.shape == "round" else belt.holes.length or OVAL * diameter
    count, spacing = belt.holes.count, belt.holes.spacing or width
    in_use, middle = hole_centres(belt, buckle, seat, length, spacing, house, work)
    tip = last_to_tip(belt, seat, width, end.keeper_end, length, work)
    loosest = reach_past_bar(tip, length, seat.hole_seat, 0, spacing)
    tightest = reach_past_bar(tip, length, seat.hole_seat, count - 1, spacing)
    from_edge = f"{tip:.1f} − {length:g}/2 − {seat.hole_seat:.1f}"
    work.add("tip past the bar at the loosest hole", "tip − d/2 − f", from_edge, loosest)
    work.add(
        "tip past the bar at the tightest hole",
        "tip − d/2 − f + (holes − 1) pitch",
        f"{from_edge} + {count - 1} × {spacing:g}",
        tightest,
    )
    half_row = (count - 1) / 2 * spacing
    edges = middle - half_row + length / 2, middle + half_row + length / 2
    girths = girth_of_edge(edges[0], seat), girth_of_edge(edges[1], seat)
    for name, s, girth in zip(("least", "greatest"), edges, girths, strict=True):
        u = doubled_room(girth, seat.turn_back, seat.doubled) if girth else 0.0
        work.add(
            f"{name} waist or girth",
            "G = s − B/2 − π t + f − u",
            f"{s:.1f} − {seat.half_turn / 2:.2f} − π × {seat.thickness:.2f} + {seat.hole_seat:.1f} − "
            f"{u:.2f}; to ± {GIRTH_UNCERTAINTY:g}",
            girth,
        )
    return Figures(
        width=width,
        end=end,
        seat=seat,
        hole_in_use=in_use,
        middle_hole=middle,
        spacing=spacing,
        hole_diameter=diameter,
        hole_length=length,
        hole_ys=buckle.fitting.prongs or (0.0,),
        last_to_tip=tip,
        keeper=keeper,
        keeper_length=_keeper_length(keeper, end.keeper_held, width, layers, house, work),
        girths=girths,
        girth_in_use=girth_of_edge(in_use + length / 2, seat),
        climb=_climb(buckle, layers, work),
        reaches=(loosest, tightest),
        steps=tuple(work.steps),
    )


def _climb(buckle: Buckle, layers: Layers, work: Calculation) -> float:
    """Return how much longer the strap is than its way along the frame where it climbs to the prong, mm."""
    rise = rise_to_prong(buckle, layers.strap)
    if rise is None:
        return 0.0
    return work.add(
        "climb to the prong, not in the girths",
        "c = R θ + L − x, from under the front bar",
        f"{rise.radius:.2f} × {rise.turn:.3f} + {rise.straight:.2f} − {rise.x:.2f}",
        rise.climb,
    )


def _width(buckle: Buckle, house: House, work: Calculation) -> float:
    if buckle.opening is None:
        width = buckle.for_strap or 0.0
        return work.add("strap width", "W = nominal width of the buckle", f"{width:g}", width)
    return work.add(
        "strap width",
        "W = opening − clearance",
        f"{buckle.opening:g} − {house.strap_clearance:g}",
        strap_width(buckle.opening, house.strap_clearance),
    )


def _keeper(belt: Belt, buckle: Buckle) -> Keeper | None:
    """Return the keeper to make: a centre bar's rear loop serves as one unless one is asked for."""
    if buckle.bar == "centre" and "keeper" not in belt.model_fields_set:
        return None
    return belt.keeper


def _keeper_length(
    keeper: Keeper | None, held: str, width: float, layers: Layers, house: House, work: Calculation
) -> float:
    if keeper is None:
        return 0.0
    # Held between the layers it goes round front and billet; sliding, round the turn-back as well.
    around = layers.strap + layers.tip + (layers.fold if held == "slides" else 0.0)
    ease_w, ease_h, k = house.keeper_ease_width, house.keeper_ease_height, house.neutral_axis
    length = work.add(
        "keeper, ends butted",
        "2 (w + h) + 2 π K t_k, w = W + ease, h = layers + ease",
        f"2 ({width + ease_w:.1f} + {around + ease_h:.2f}) + 2 π × {k:g} × {layers.keeper:.2f}",
        keeper_length(width, around, layers.keeper, k, ease_w, ease_h),
    )
    if keeper.join == "lap":
        numbers = f"{length:.1f} + {keeper.lap:g}"
        return work.add("keeper, with its lap", "L + lap", numbers, length + keeper.lap)
    return length
