"""The figures of the buckle end: fold, slot, fastener rows with their mates, turn-back."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PartError
from strapwright.job.dimensions.posts import posts_of
from strapwright.trade.fasteners import (
    clear_of_frame,
    end_margin,
    first_row,
    iron_pitch,
    row_pitch,
)
from strapwright.trade.fold import half_turn, mate, slot_length, slot_width
from strapwright.trade.keeper import LAPPED, rise_that_closes, way_to_close

if TYPE_CHECKING:
    from strapwright.core.calculation import Calculation
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.dimensions.layers import Layers
    from strapwright.job.dimensions.posts import Post
    from strapwright.job.spec.fittings import Dee, Fastening, Keeper, Stitch
    from strapwright.job.spec.job import House
    from strapwright.trade.fold import Fitting

HEAD_RADIUS: Final = 5.0
"""Half the head of a usual screw post or the cap of a rivet, mm (from memory): kept clear of the buckle at
least, and more where the fastener chosen has a larger one."""

TWO_ACROSS_FROM: Final = 30.0
"""Straps this wide and wider take two fasteners across, mm (common practice)."""

BARE_ROW_PITCH: Final = 20.0
"""Least distance of two fastener rows with no keeper between, mm (common practice)."""

STITCHED_RUN: Final = 12.0
"""Least length of a run of stitches on one side of the keeper, mm (common practice)."""

STITCH_MARGIN: Final = 5.0
"""Leather beyond the last stitch of the turn-back, mm (common practice)."""

BESIDE_BAR: Final = 1.5
"""Air between a dee ring's bar and what lies on either side, mm, as beside a keeper (common practice)."""


SEAM_PARTS: Final = 4.0
"""Stitched layers begin to part this far from a keeper's edge, mm: a house rule; riveted ones at the row."""


@dataclass(frozen=True)
class Closing:
    """How a row closes beside a keeper that lies between the layers.

    Args:
        row: its name, ``"A"``; empty for a seam.
        way: strap from the row to the keeper's edge, mm.
        rise: how far each of the two layers climbs on it, half of what the keeper puts between them, mm.
        radius: of the tightest bend allowed, to the middle of a layer: the fold's own, mm.
    """

    row: str
    way: float
    rise: float
    radius: float

    @property
    def least_way(self) -> float:
        """The way it would take, mm."""
        return way_to_close(self.rise, self.radius)

    @property
    def left_open(self) -> float:
        """How far each layer stays off the middle at the row, mm; 0 where it closes."""
        return max(self.rise - rise_that_closes(self.way, self.radius), 0.0)

    @property
    def closes(self) -> bool:
        """Whether the layers come together at the row."""
        return self.left_open < 1e-9


@dataclass(frozen=True)
class EndFigures:
    """What was worked out for the buckle end; mm, x from the fold line towards the tip.

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
    fastening: Fastening,
    fitting: Fitting,
    layers: Layers,
    width: float,
    house: House,
    catalogue: Catalogue,
    work: Calculation,
) -> EndFigures:
    """Work out a turned end: the buckle end of a belt, or the end of a strap on a ring.

    A dee ring's bar lies between the layers beyond the rows, and one row more holds it. Both layers spread
    by half the bar over the same length, so that the row beyond it keeps the shift of those before it: a
    house rule from that symmetry; skived turn-backs, thinner than the front, stray from it a little.

    Args:
        fastening: how it is to be fastened.
        fitting: what it is folded round.
        layers: its thicknesses.
        width: of the strap, mm.
        house: the workshop's settings.
        catalogue: the fasteners there are to choose from.
        work: takes the working.

    Raises:
        PartError: a dee ring too narrow for the strap, or a keeper held at a row there is none of.
    """
    t, k, keeper = layers.fold, house.neutral_axis, fastening.keeper
    r = fitting.bar.fold_radius(house.fold_play)
    turn = work.add(
        "half-turn round the bar",
        "B = π (r + K t)",
        f"π ({r:.3f} + {k:g} × {t:.3f})",
        half_turn(t, r, k),
    )
    slot = _slot(fitting, turn, r, work)
    held = _held(fastening)
    if fastening.fastener == "stitched" and held in ("row_a", "row_b"):
        raise PartError(
            f"keeper.held is {held}; a stitched end has no row to hold it at, and allows between and slides"
        )
    gaps = _gaps(keeper, held, layers, fastening.fastener_holes.rows + (fastening.dee is not None))
    sewn = fastening.fastener == "stitched"
    posts = () if sewn else posts_of(fastening, layers.stack, gaps, catalogue, work)
    head = max((HEAD_RADIUS, *(post.head / 2 for post in posts))) if posts else 0.0
    widest = tuple(max(post.holes) for post in posts)
    rows = _rows(fastening, fitting, layers, held, slot[0] / 2 or turn / 2, turn, r, head, widest, work)
    stitches = stitch_runs(rows, fastening.stitch) if sewn else ()
    keeper_end = _keeper_end(fitting, keeper, held, rows, stitches, turn, widest)
    dee = 0.0
    if fastening.dee is not None:
        last = stitches[-1][-1] if stitches else rows[-1]
        dee, beyond = _dee(fastening.dee, width, last, keeper_end, head, work)
        rows = (*rows, beyond)
        stitches = stitch_runs(rows, fastening.stitch) if stitches else ()
    mates = _mates(rows, gaps, layers, r, k, turn, work)
    last_mate, margin = mates[-1], end_margin(posts[-1].holes[1]) if posts else STITCH_MARGIN
    words = "last hole + max(2.5 d, 12), up to a whole mm"
    if stitches:
        last_mate = mates[0] - (stitches[-1][-1] - rows[0])
        words = "last stitch hole + 5, up to a whole mm"
    turn_back = fastening.turn_back
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
        fastener_ys=_fastener_ys(fastening, width),
        stitches=stitches,
        shift=mates[0] + rows[0],
        keeper_held=held,
        keeper_end=keeper_end,
        turn_back=turn_back,
        dee=dee,
        head_radius=head,
        closings=_closings(keeper, held, layers, rows, keeper_end, r, work, sewn=bool(stitches)),
    )


def pair(distance: float) -> tuple[float, float]:
    """Return two places either side of the centre line."""
    return -distance / 2, distance / 2


def stitch_runs(rows: tuple[float, ...], stitch: Stitch | None) -> tuple[tuple[float, ...], ...]:
    """Return the stitch holes of each run along the strap, the first at each row's place.

    Args:
        rows: where the runs begin, mm.
        stitch: the iron; None takes number 8.
    """
    pitch = iron_pitch(stitch.iron if stitch else 8)
    count = math.ceil(STITCHED_RUN / pitch - 1e-9)
    return tuple(tuple(row + n * pitch for n in range(count + 1)) for row in rows)


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
    wide = work.add(
        "prong slot, width",
        "prong + 1.5",
        f"{fitting.prong_width:g} + 1.5",
        slot_width(fitting.prong_width),
    )
    return length, wide


def _held(fastening: Fastening) -> str:
    if fastening.keeper is None:
        return "none"
    return fastening.keeper.held or ("between" if fastening.fastener_holes.rows == 2 else "slides")


def _fastener_ys(fastening: Fastening, width: float) -> tuple[float, ...]:
    across = fastening.fastener_holes.across or (2 if width >= TWO_ACROSS_FROM else 1)
    return (0.0,) if across == 1 else pair(fastening.fastener_holes.spacing_across or width / 2)


def _rows(
    fastening: Fastening,
    fitting: Fitting,
    layers: Layers,
    held: str,
    slot_end: float,
    turn: float,
    r: float,
    head: float,
    widest: tuple[float, ...],
    work: Calculation,
) -> tuple[float, ...]:
    stitched, keeper = fastening.fastener == "stitched", fastening.keeper
    d = 0.0 if stitched else widest[0]
    t, bar = layers.strap, fitting.bar.width
    first = work.add(
        "first stitch" if stitched else "fastener row A",
        f"{'slot' if fitting.prongs else 'B'}/2 + max(1.5 t, d) + d/2, up to 0.5 mm",
        f"{slot_end:.2f} + max(1.5 × {t:.2f}, {d:g}) + {d:g}/2",
        first_row(slot_end, t, d),
    )
    if held == "row_a" and keeper is not None:
        beside = math.ceil((slot_end + 1.5 + keeper.width / 2) * 2 - 1e-9) / 2
        if beside > first:
            numbers = f"{slot_end:.2f} + 1.5 + {keeper.width:g}/2"
            first = work.add("row A with the keeper under it", "slot/2 + 1.5 + keeper/2", numbers, beside)
    if fitting.rear_depth:
        half, words = head, "head/2"
        if held == "row_a" and keeper is not None and keeper.width / 2 + BESIDE_BAR > head:
            half, words = keeper.width / 2 + BESIDE_BAR, "keeper/2 + 1.5"
        rear = math.ceil((turn / 2 + fitting.rear_depth + bar + half) * 2 - 1e-9) / 2
        if rear > first:
            numbers = f"{turn / 2:.2f} + {fitting.rear_depth:g} + {bar:g} + {half:g}"
            formula = f"B/2 + rear depth + bar + {words}, up to 0.5 mm"
            first = work.add("row A clear of the rear loop", formula, numbers, rear)
    elif head and fitting.depth is not None:
        swung = clear_of_frame(first, turn, fitting.depth, bar, head)
        if swung > first:
            first = work.add(
                "row A clear of the swinging frame",
                "B/2 + frame depth + bar + head/2, up to 0.5 mm",
                f"{turn / 2:.2f} + {fitting.depth:g} + {bar:g} + {head:g}",
                swung,
            )
    a = turn / math.pi
    clear = math.ceil((turn / 2 + a + max(d / 2, 1.0)) * 2 - 1e-9) / 2
    if clear > first:  # a thick bar in thin leather: nearer, the turn-back could not come down to the front
        numbers = f"{turn / 2:.2f} + {a:.2f} + {max(d / 2, 1.0):g}"
        first = work.add("row A clear of the fold's round", "B/2 + a + d/2, up to 0.5 mm", numbers, clear)
    if fastening.fastener_holes.rows == 1:
        return (first,)
    pitch, asked = _pitch(fastening, held, widest, work), fastening.fastener_holes.spacing_along
    if asked is not None and asked < pitch - 1e-9:
        raise PartError(
            f"fastener_holes.spacing_along is {asked:g} mm; keeper, holes and room between the rows allow "
            f"{math.ceil(pitch * 10 - 1e-9) / 10:g} mm or more"
        )
    return first, first + (asked or _room_to_close(pitch, keeper, held, layers, r, work))


def _pitch(fastening: Fastening, held: str, widest: tuple[float, ...], work: Calculation) -> float:
    keeper, run, d_a, d_b = fastening.keeper, 0.0, *(widest[:2] or (0.0, 0.0))
    if fastening.fastener == "stitched":  # the second run begins where the first has ended, past the keeper
        first_run = stitch_runs((0.0,), fastening.stitch)[0]
        run = first_run[-1]
    if keeper is None or held == "slides":
        return max(BARE_ROW_PITCH, 4 * max(d_a, d_b), run + (run / 4 if run else 0.0))
    if held == "between":
        d = (d_a + d_b) / 2
        numbers = f"{run:.1f} + {keeper.width:g} + 3 + {d:g}" if run else f"{keeper.width:g} + 3 + {d:g}"
        return work.add("row pitch", "keeper + 3 + d", numbers, run + row_pitch(keeper.width, d))
    # clamped under one row: the other stands clear of its edge
    d = d_b if held == "row_a" else d_a
    pitch = keeper.width / 2 + 1.5 + d / 2
    numbers = f"{keeper.width:g}/2 + 1.5 + {d:g}/2"
    return max(work.add("row pitch beside the keeper", "keeper/2 + 1.5 + d/2", numbers, pitch), d_a + d_b)


def _room_to_close(
    pitch: float, keeper: Keeper | None, held: str, layers: Layers, r: float, work: Calculation
) -> float:
    """Return a row pitch that lets the layers close over a usual keeper, mm: small holes may need more.

    Usual is one thickness, or a lap of thin leather; a row closes over more if the job sets the rows apart.
    """
    if keeper is None or held == "slides":
        return pitch
    usual = min(layers.keeper_stack, max(layers.keeper, 2 * LAPPED))
    way = way_to_close(usual / 2, _own_bend(layers, r))
    needed = keeper.width + 2 * way if held == "between" else keeper.width / 2 + way
    if needed <= pitch + 1e-9:
        return pitch
    formula = "keeper + 2 w" if held == "between" else "keeper/2 + w"
    half_mm = math.ceil(needed * 2 - 1e-9) / 2
    numbers = f"w = {way:.2f} for a keeper of {usual:g}"
    return work.add("raised so that the rows close", f"{formula}, up to 0.5 mm", numbers, half_mm)


def _own_bend(layers: Layers, r: float) -> float:
    """Return the radius of the fold's own bend to the middle of the thicker layer, mm."""
    return r + max(layers.strap, layers.fold) / 2


def _dee(
    dee: Dee, width: float, last: float, keeper_end: float, head: float, work: Calculation
) -> tuple[float, float]:
    """Return where a dee ring's bar lies and where the row beyond it begins.

    Args:
        dee: the ring.
        width: of the strap, which passes through the ring, mm.
        last: the last hole before the ring, mm.
        keeper_end: far edge of the keeper, which must not lie under the ring, mm.
        head: half a fastener's head, mm; 0 for a stitched end.
        work: takes the working.
    """
    if dee.width < width - 1e-9:
        raise PartError(
            f"dee.width is {dee.width:g} mm; a {width:g} mm strap passes through the ring, which allows "
            f"{width:g} mm or more"
        )
    # The heads on either side must not press on the ring's bulge, nor on each other.
    reach = BESIDE_BAR + dee.bar_diameter / 2
    middle = max(last + head, keeper_end) + reach
    beyond = work.add(
        "row beyond the dee ring",
        "last row + bar + 3 + head, or keeper end + bar + 3 + head/2",
        f"max({last:.2f} + {head:g}, {keeper_end:.2f}) + {dee.bar_diameter:g} + 3 + {head:g}",
        middle + reach + head,
    )
    return middle, beyond


def _gaps(keeper: Keeper | None, held: str, layers: Layers, rows: int) -> tuple[float, ...]:
    """Return how far the layers are held open at each row: by the keeper where it lies under it."""
    if keeper is None or held not in ("row_a", "row_b"):
        return (0.0,) * rows
    thick = layers.keeper_stack
    return tuple(thick if held == f"row_{name}" else 0.0 for name in "abc"[:rows])


def _mates(
    rows: tuple[float, ...],
    gaps: tuple[float, ...],
    layers: Layers,
    r: float,
    k: float,
    turn: float,
    work: Calculation,
) -> tuple[float, ...]:
    """Return the rows' mates.

    Once clamped at row A the layers run on side by side: later rows at the same gap take its shift, and
    where a keeper holds them open further on, the turn-back goes the slant way there and back. A dee ring's
    bar on the way back lies between layers that are open anyway, and changes that by some 0.01 mm.
    """
    a = r + k * layers.fold
    first = work.add(
        "hole A′ in the turn-back",
        "B/2 − [a (3π/2 − ψ) + √(L² + z² − a²)], a = r + K t",
        f"a = {a:.3f}, L = {rows[0] - turn / 2:.2f}, z = {a - layers.clamped - gaps[0]:.3f}",
        mate(rows[0], layers.fold, r, k, gaps[0], clamped=layers.clamped),
    )
    found = [first]
    for place in range(1, len(rows)):
        pitch, opened = rows[place] - rows[place - 1], gaps[place] - gaps[place - 1]
        found.append(found[-1] - math.hypot(pitch, opened))
        work.add(
            f"hole {'ABC'[place]}′ in the turn-back",
            "hole before − √(pitch² + gap²)" if opened else "hole before − pitch",
            f"{found[-2]:.2f} − " + (f"√({pitch:.2f}² + {opened:.2f}²)" if opened else f"{pitch:.2f}"),
            found[-1],
        )
    return tuple(found)


def _keeper_end(
    fitting: Fitting,
    keeper: Keeper | None,
    held: str,
    rows: tuple[float, ...],
    stitches: tuple[tuple[float, ...], ...],
    turn: float,
    widest: tuple[float, ...],
) -> float:
    if keeper is None:
        return turn / 2 + fitting.rear_depth + fitting.bar.width if fitting.rear_depth else 0.0
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


def _closings(
    keeper: Keeper | None,
    held: str,
    layers: Layers,
    rows: tuple[float, ...],
    keeper_end: float,
    r: float,
    work: Calculation,
    *,
    sewn: bool,
) -> tuple[Closing, ...]:
    """Return how the row before a keeper between the layers closes, and the row after it."""
    if keeper is None or held not in ("between", "row_a", "row_b"):
        return ()
    stack, radius = layers.keeper_stack, _own_bend(layers, r)
    rise = stack / 2
    twice = f"2 × {layers.keeper:.2f}" if layers.lapped else f"{layers.keeper:.2f}"
    work.add("keeper between the layers", "2 t_k, lapped" if layers.lapped else "t_k", twice, stack)
    numbers = f"z = {rise:.2f}, R = {radius:.2f}"
    work.add("row to keeper, at least", "2 R √(z / (4 R − z))", numbers, way_to_close(rise, radius))
    if sewn:
        return (Closing("", SEAM_PARTS, rise, radius),)
    before = [(keeper_end - keeper.width - x, name) for x, name in zip(rows, "ABC", strict=False)]
    after = [(x - keeper_end, name) for x, name in zip(rows, "ABC", strict=False)]
    nearest = [min(one for one in side if one[0] > 0) for side in (before, after) if max(side)[0] > 0]
    return tuple(Closing(name, way, rise, radius) for way, name in nearest)
