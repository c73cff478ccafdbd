"""How a belt fits: the holes that follow from the person, what girths it takes, its tip and its keeper.

The closed buckle is seen from the side for how far the strap climbs from under the front bar to the prong.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.core.units import MM_PER_INCH
from strapwright.geometry.side_profile import rise_round
from strapwright.parts.hole_row import HoleRow
from strapwright.rules.fold import bend_radius
from strapwright.rules.keeper import keeper_length
from strapwright.rules.sizing import (
    GIRTH_UNCERTAINTY,
    Seat,
    centre_from_belt_size,
    doubled_room,
    edge_from_girth,
    edge_from_worn,
    from_outer_end,
    girth_of_edge,
    last_hole_to_tip,
    reach_past_bar,
    size_from_trousers,
    tip_past_keeper,
)

if TYPE_CHECKING:
    from strapwright.core.calculation import Calculation
    from strapwright.geometry.side_profile import Rise
    from strapwright.job.catalogue.buckle import Buckle
    from strapwright.job.dimensions.layers import Layers
    from strapwright.job.dimensions.turned_end import EndFigures
    from strapwright.job.spec.fittings import Keeper
    from strapwright.job.spec.house import House
    from strapwright.job.spec.strap import Belt


HOLE_CLEARANCE: Final = 1.0
"""An adjusting hole is this much wider than the prong, mm (common practice)."""

OVAL: Final = 1.5
"""An oval hole is this many diameters long unless the job says otherwise (common practice)."""

TIP_PAST_KEEPER: Final = 10.0
"""At the loosest hole the tip still reaches this far beyond the keeper, mm (common practice)."""

LINING_CLEARANCE: Final = 2.0
"""A lining begins this far behind the prong slot, mm, so that it does not thicken the fold."""

FRONT_BAR_AIR: Final = 0.1
"""Between the strap and the front bar it passes under, mm."""


@dataclass(frozen=True)
class BeltFigures:
    """What was worked out for a belt beside its strap; mm, x from the fold line towards the tip.

    Args:
        spec: what was asked for.
        width: of the strap.
        end: the buckle end.
        seat: how buckle and strap lie on the body.
        holes: the adjusting holes.
        hole_in_use: x of the centre of the hole that fits.
        last_to_tip: last hole to the tip.
        keeper_length: of its strip as computed, lap included, without what is left to spare; 0 for none.
        girths: least and greatest girth the finished belt fits.
        girth_in_use: girth at the hole in use.
        climb: of the strap from under the front bar to the prong, which the girths leave out; 0 for a hook.
        reaches: how far the tip lies past the bar at the loosest and at the tightest hole.
    """

    spec: Belt
    width: float
    end: EndFigures
    seat: Seat
    holes: HoleRow
    hole_in_use: float
    last_to_tip: float
    keeper_length: float
    girths: tuple[float, float]
    girth_in_use: float
    climb: float
    reaches: tuple[float, float]

    @property
    def keeper(self) -> Keeper | None:
        """The keeper asked for, if one is made."""
        return self.spec.made_keeper

    @property
    def layers(self) -> Layers:
        """Thicknesses, each where it counts."""
        return self.end.layers

    @property
    def lining_start(self) -> float:
        """Where a lining begins, and the front is full: behind the slot, or the bar where there is none."""
        return max(self.end.slot[0], self.end.half_turn) / 2 + LINING_CLEARANCE

    def girth_at(self, hole: int) -> float:
        """Return the girth the finished belt fits at a hole, 1 = nearest the buckle, mm."""
        return girth_of_edge(self.holes.xs[hole - 1] + self.holes.reach / 2, self.seat)

    @property
    def worn_to_hole(self) -> float:
        """From the outer end of the fold to the far edge of the hole in use: what an old belt alike shows."""
        return from_outer_end(self.hole_in_use + self.holes.reach / 2, self.seat)

    @property
    def belt_size(self) -> float:
        """From the outer end of the fold to the centre of the middle hole: the size it is sold by."""
        return from_outer_end(self.holes.xs[self.spec.middle_hole - 1], self.seat)


def belt_figures(belt: Belt, width: float, end: EndFigures, house: House, work: Calculation) -> BeltFigures:
    """Work out how a belt fits.

    Args:
        belt: what is asked for.
        width: of its strap, mm.
        end: its buckle end.
        house: the workshop's settings.
        work: takes the calculation.

    Raises:
        PartError: holes that run into each other.
    """
    buckle, layers = belt.buckle, end.layers
    held = end.keeper_held in ("between", "row_a", "row_b")
    seat = Seat(
        thickness=layers.strap,
        fold_thickness=layers.fold,
        fold_radius=end.fold_radius,
        half_turn=end.half_turn,
        hole_seat=seat_of(buckle, work),
        turn_back=end.turn_back,
        doubled=layers.fold + (layers.keeper_stack if held else 0.0),
        allowance=house.girth_allowance,
    )
    numbers = f"{buckle.prong_width:g} + {HOLE_CLEARANCE:g}"
    diameter = belt.holes.diameter or work.add(
        "adjusting holes", "prong + 1", numbers, buckle.prong_width + HOLE_CLEARANCE
    )
    oval = belt.holes.shape == "oval"
    length = (belt.holes.length or OVAL * diameter) if oval else diameter
    count, spacing = belt.holes.count, belt.holes.spacing or width
    in_use, middle = hole_centres(belt, seat, length, spacing, house, work)
    across = buckle.fitting.prongs or (0.0,)
    holes = HoleRow(
        middle,
        count,
        spacing,
        diameter,
        rows=len(across),
        across=across[-1] - across[0],
        length=length if oval else 0.0,
    )
    tip = last_to_tip(belt, seat, width, end.keeper_end, length, work)
    loosest = reach_past_bar(tip, length, seat.hole_seat, 0, spacing)
    tightest = reach_past_bar(tip, length, seat.hole_seat, count - 1, spacing)
    from_edge = f"{tip:.1f} − {length:g}/2 − {seat.hole_seat:.1f}"
    work.add("tip past the bar at the loosest hole", "tip − d/2 − f", from_edge, loosest)
    numbers = f"{from_edge} + {count - 1} × {spacing:g}"
    work.add("tip past the bar at the tightest hole", "tip − d/2 − f + (holes − 1) pitch", numbers, tightest)
    half_row = (count - 1) / 2 * spacing
    edges = middle - half_row + length / 2, middle + half_row + length / 2
    girths = girth_of_edge(edges[0], seat), girth_of_edge(edges[1], seat)
    for name, s, girth in zip(("least", "greatest"), edges, girths, strict=True):
        u = doubled_room(girth, seat.turn_back, seat.doubled) if girth else 0.0
        work.add(
            f"{name} waist or girth",
            f"G = s − B/2 − π t + f − u{' − allowance' if seat.allowance else ''}",
            f"{s:.1f} − {seat.half_turn / 2:.2f} − π × {seat.thickness:.2f} + {seat.hole_seat:.1f} − "
            f"{u:.2f}{f' − {seat.allowance:.1f}' if seat.allowance else ''}; to ± {GIRTH_UNCERTAINTY:g}",
            girth,
        )
    return BeltFigures(
        spec=belt,
        width=width,
        end=end,
        seat=seat,
        holes=holes,
        hole_in_use=in_use,
        last_to_tip=tip,
        keeper_length=_keeper_length(belt.made_keeper, end.keeper_held, width, layers, house, work),
        girths=girths,
        girth_in_use=girth_of_edge(in_use + length / 2, seat),
        climb=_climb(buckle, layers, work),
        reaches=(loosest, tightest),
    )


def seat_of(buckle: Buckle, work: Calculation) -> float:
    """Return f, from the bar's centre to the edge of the hole in use that bears, mm.

    Args:
        buckle: measured or not.
        work: takes the calculation, which says what is an estimate.
    """
    label = "bar to the edge of the hole that bears"
    if buckle.seat_is_measured:
        key = "hole_seat" if buckle.hole_seat is not None else "hook_depth"
        return work.add(label, f"f = {key}, as measured", f"{buckle.seat:g}", buckle.seat)
    assumed = (
        "" if "prong_thickness" in buckle.model_fields_set else " (assumed: prong_thickness is not given)"
    )
    numbers = f"{buckle.frame_depth:g} − {buckle.prong_thickness:g}{assumed}"
    return work.add(f"{label}, by estimate", "f = frame depth − prong thickness", numbers, buckle.seat)


def hole_centres(
    belt: Belt, seat: Seat, length: float, spacing: float, house: House, work: Calculation
) -> tuple[float, float]:
    """Return the centres of the hole in use and of the middle of the row, mm from the fold's middle.

    Args:
        belt: whose size says how it was measured.
        seat: how buckle and strap lie on the body.
        length: of a hole along the strap, mm.
        spacing: from hole to hole, mm.
        house: the workshop's settings.
        work: takes the calculation.
    """
    size, b2 = belt.size, seat.half_turn / 2
    fold = f"({seat.fold_radius:.2f} + {seat.fold_thickness:.2f})"
    if size.belt_size is not None:
        middle = work.add(
            "centre of the middle hole, from the middle of the fold",
            "s = B/2 + x − (r + t)",
            f"{b2:.2f} + {size.belt_size:.1f} − {fold}; x to the middle hole's centre",
            centre_from_belt_size(size.belt_size, seat),
        )
        in_use = middle + (belt.hole_in_use - belt.middle_hole) * spacing
    elif size.trousers is not None:
        x = work.add(
            "fold to the hole's centre, rule of thumb",
            "x = (trouser size + 2) in",
            f"({size.trousers:g} + 2) × {MM_PER_INCH:g}",
            size_from_trousers(size.trousers),
        )
        in_use = work.add(
            "centre of the hole in use, from the middle of the fold",
            "s = B/2 + x − (r + t)",
            f"{b2:.2f} + {x:.1f} − {fold}",
            centre_from_belt_size(x, seat),
        )
    else:
        edge = _bearing_edge(belt, seat, house, work)
        numbers = f"{edge:.2f} − {length:g}/2"
        in_use = work.add("centre of the hole in use", "edge − d/2", numbers, edge - length / 2)
    return in_use, in_use + ((belt.holes.count + 1) / 2 - belt.hole_in_use) * spacing


def _bearing_edge(belt: Belt, seat: Seat, house: House, work: Calculation) -> float:
    """Return where the edge of the hole in use goes that bears on the prong, mm from the fold's middle."""
    size, b2, f = belt.size, seat.half_turn / 2, seat.hole_seat
    label = "bearing edge of the hole in use, from the middle of the fold"
    if size.girth is not None:
        u = doubled_room(size.girth, seat.turn_back, seat.doubled)
        return work.add(
            label,
            f"s = B/2 + G + π t − f + u{' + allowance' if seat.allowance else ''}",
            f"{b2:.2f} + {size.girth:.1f} + π × {seat.thickness:.2f} − {f:.2f} + {u:.2f}"
            f"{f' + {seat.allowance:.1f}' if seat.allowance else ''}",
            edge_from_girth(size.girth, seat),
        )
    worn, old = size.worn_to_hole or 0.0, _old_seat(belt, seat, house)
    return work.add(
        label,
        "s = B/2 + x − (r₀ + t₀) + (f₀ − f) + π (t − t₀)",
        f"{b2:.2f} + {worn:.1f} − ({old.fold_radius:.2f} + {old.fold_thickness:.2f}) + ({old.hole_seat:.2f} "
        f"− {f:.2f}) + π ({seat.thickness:.2f} − {old.thickness:.2f}); x to the worn edge of the hole",
        edge_from_worn(worn, seat, old),
    )


def _old_seat(belt: Belt, seat: Seat, house: House) -> Seat:
    """Return how the belt that was measured lies: as the new one, but for what the job says of it."""
    if (old := belt.size.old) is None:
        return seat
    if old.thickness is not None:
        seat = replace(seat, thickness=old.thickness, fold_thickness=old.thickness)
    if old.bar_diameter is not None:
        seat = replace(seat, fold_radius=bend_radius(old.bar_diameter, house.fold_play))
    if old.frame_depth is not None:
        seat = replace(seat, hole_seat=belt.buckle.seat_of_frame(old.frame_depth))
    return seat if old.hole_seat is None else replace(seat, hole_seat=old.hole_seat)


def last_to_tip(
    belt: Belt, seat: Seat, width: float, keeper_end: float, length: float, work: Calculation
) -> float:
    """Return the length from the last hole to the tip: as given, or the saddlers' rule raised for the keeper.

    Args:
        belt: what is asked for.
        seat: how buckle and strap lie on the body.
        width: of the strap, mm.
        keeper_end: far edge of the keeper, mm from the fold; 0 for none.
        length: of a hole along the strap, mm.
        work: takes the calculation.
    """
    if belt.holes.last_to_tip is not None:
        return belt.holes.last_to_tip
    usual = last_hole_to_tip(width)
    work.add("last hole to tip", "min(max(2.5 W, 90), 115)", f"2.5 × {width:g}", usual)
    least = tip_past_keeper(length, seat.hole_seat, keeper_end, TIP_PAST_KEEPER)
    if not keeper_end or least <= usual:
        return usual
    numbers = f"{length:g}/2 + {seat.hole_seat:g} + {keeper_end:.1f} + {TIP_PAST_KEEPER:g}"
    return work.add("raised so that the tip passes the keeper", "d/2 + f + keeper end + 10", numbers, least)


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


def prong_top(buckle: Buckle, depth: float) -> float:
    """Return the height of the prong's top over the plane of the frame's bars, mm.

    It runs straight from over its eye to where it rests on the front bar.

    Args:
        buckle: with prongs.
        depth: where, from the bar's centre towards the front bar, mm.
    """
    eye, rest = buckle.section.radius, buckle.section.height / 2
    return eye + buckle.prong_thickness + (rest - eye) * depth / prong_end(buckle)


def rise_to_prong(buckle: Buckle, thickness: float) -> Rise | None:
    """Return how the free end comes up from under the front bar to where its hole bears on the prong.

    That is f from the bar on the prong's top; x runs in the frame's plane from the front bar's middle.

    Args:
        buckle: with prongs; a hook's strap does not pass under a bar, which gives None.
        thickness: of the strap, mm.
    """
    if not buckle.prongs:
        return None
    bar = buckle.section.width
    x, z = buckle.frame_depth + bar / 2 - buckle.seat, prong_top(buckle, buckle.seat)
    return rise_round((bar + thickness) / 2 + FRONT_BAR_AIR, x, z)


def prong_end(buckle: Buckle) -> float:
    """Return where the prong's straight ends and its tip begins, mm from the bar's centre."""
    return buckle.frame_depth + buckle.section.width - 1.0
