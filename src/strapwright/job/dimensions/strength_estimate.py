"""An estimate of how strong and how stiff a belt or strap is beside another, by the formulas of the trade."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from strapwright.geometry.across import first_ahead, narrowest
from strapwright.geometry.transform import Placement
from strapwright.parts.own_shape import OwnTip
from strapwright.parts.part import Operation
from strapwright.rules.strength import (
    BEARING_SHARE,
    CAUTION,
    LEG_SHARE,
    REFERENCE,
    SHEAR_SHARE,
    Mode,
    bearing_area,
    net_section,
    pull,
    roll_ratio,
    sag_ratio,
    tear_out_area,
    tear_out_length,
    tensile_strength,
    weakest_first,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.geometry.contour import Contour
    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.dimensions.turned_end import EndFigures
    from strapwright.parts.hole_row import HoleRow
    from strapwright.parts.strap import Strap


@dataclass(frozen=True)
class Strength:
    """How one belt's leather compares with another's; an estimate that rates nothing.

    Args:
        tensile: strength the estimate rests on, low and high, N/mm²; None where none is published.
        modes: ways of failing, the one that governs first; empty where no strength is published.
        sag: of the strap on edge under a hung load, as a ratio to a 38 × 3.6 mm belt.
        roll: of its edge outward, likewise.
    """

    tensile: tuple[float, float] | None
    modes: tuple[Mode, ...]
    sag: float
    roll: float

    @property
    def governing(self) -> Mode | None:
        """The way of failing with the lowest pull, if any could be calculated."""
        return self.modes[0] if self.modes else None

    def lines(self) -> tuple[str, ...]:
        """Return the working, a line for each way of failing, and the caution that belongs to it."""
        wide, thick = REFERENCE
        return (
            *(
                f"{mode.where}: {mode.formula} = {mode.numbers} = {newtons(mode.low, mode.high)}"
                for mode in self.modes
            ),
            (
                f"compared with a {wide:g} × {thick:g} mm belt it sags {self.sag:.2f} times as much on "
                f"edge and rolls outward {self.roll:.2f} times as much"
            ),
            CAUTION,
        )

    def as_json(self) -> dict[str, Any]:
        """Return the estimate as plain JSON values, N and N/mm², its caution with it."""
        governs = self.governing
        return {
            "governs": governs.name if governs else None,
            "low_n": round(governs.low, 1) if governs else None,
            "high_n": round(governs.high, 1) if governs else None,
            "tensile_n_mm2": list(self.tensile) if self.tensile else None,
            "modes": [
                {"name": mode.name, "low_n": round(mode.low, 1), "high_n": round(mode.high, 1)}
                for mode in self.modes
            ],
            "sag_ratio": round(self.sag, 4),
            "roll_ratio": round(self.roll, 4),
            "caution": CAUTION,
        }


def strength_of(
    width: float,
    thickness: float,
    leather: Leather,
    ends: Sequence[tuple[str, EndFigures]],
    rows: Sequence[HoleRow],
    fit: BeltFigures | None,
    strap: Strap | None = None,
) -> Strength:
    """Estimate the strength of one belt or other strap, and its stiffness on edge.

    Args:
        width: of the strap, mm.
        thickness: of all its layers, mm; a lining counts as if it were the strap's own leather.
        leather: its leather.
        ends: its turned ends, each with its name, such as "end 1"; a belt's only one has none.
        rows: its rows of holes.
        fit: how it fits, if it is a belt: what bears in the holes of another strap is not known.
        strap: its definition, which says what is drawn in it; None for one with nothing of one's own drawing.

    Returns:
        The ways of failing between the ends, at each bar and, unless the turn-back is stitched, at the
        fasteners; buckles, rings, hardware and thread are not in it.
    """
    sag, roll = sag_ratio(width, thickness), roll_ratio(width, thickness)
    tensile = tensile_strength(leather.tannage, leather.thickness)
    if tensile is None:
        return Strength(None, (), sag, roll)
    openings = [one.contour for one in strap.openings] if strap is not None else []
    if fit is None:
        n, d = (1, rows[0].diameter) if rows else (0, 0.0)
        where = "strap beside its holes" if n else "the plain strap"  # what bears in its holes is not known
        modes = [_beside("strap-net-section", where, width, n, d, thickness, tensile)]
    else:
        tip = [strap.outline] if strap is not None and isinstance(strap.tip, OwnTip) else []
        modes = list(_at_the_hole(fit, tensile, openings, tip))
        if strap is not None and openings:
            modes += _beside_openings(fit, strap, tensile)
    for name, end in ends:
        code, where = (f"{name.replace(' ', '-')}-", f"{name}, ") if name else ("", "")
        modes += [
            replace(one, name=f"{code}{one.name}", where=f"{where}{one.where}")
            for one in (_at_the_bar(width, end, tensile), *_at_the_fasteners(width, end, tensile, openings))
        ]
    return Strength(tensile, weakest_first(modes), sag, roll)


def newtons(low: float, high: float) -> str:
    """Return a range of pulls in words."""
    return f"{low:.0f} to {high:.0f} N"


def _span(tensile: tuple[float, float], share: float = 1.0) -> str:
    """Return a share of a range of strengths as it stands in a formula."""
    return f"({share * tensile[0]:g} to {share * tensile[1]:g})"


def _beside(
    name: str, where: str, width: float, n: int, d: float, t: float, tensile: tuple[float, float]
) -> Mode:
    """Return how leather fails straight across beside holes that lie side by side."""
    numbers = f"({width:g} − {n} × {d:g}) × {t:.2f} × {_span(tensile)}"
    return Mode(name, where, "(W − n d) t σ", numbers, *pull(net_section(width, n, d, t), tensile))


def _torn_out(
    name: str, where: str, n: int, e: float, t: float, tensile: tuple[float, float], carries: float = 1.0
) -> Mode:
    """Return how leather is torn out in front of pins that lie side by side."""
    share = f" / {carries:g}" if carries < 1 else ""
    numbers = f"{n} × 2 × {t:.2f} × {e:.2f} × {_span(tensile, SHEAR_SHARE)}{share}"
    pulls = pull(tear_out_area(n, e, t), tensile, stands=SHEAR_SHARE, carries=carries)
    return Mode(name, where, f"n 2 t e × {SHEAR_SHARE:g} σ{share}", numbers, *pulls)


def _at_the_hole(
    got: BeltFigures, tensile: tuple[float, float], openings: Sequence[Contour], tip: Sequence[Contour]
) -> Iterator[Mode]:
    """Yield what can fail where the prong pulls; the whole pull passes there, two prongs share it.

    It tears into a drawn opening, or out of a drawn tip, where one is nearer than the next hole.
    """
    belt, holes, t = got.spec, got.holes, got.layers.strap
    n, d = holes.rows, holes.diameter
    yield _beside("hole-net-section", "strap beside the adjusting holes", got.width, n, d, t, tensile)
    # A hook's own width is not asked for; its hole is made as for the prong, and never bears wider.
    pin = min(belt.buckle.prong_width, d)
    yield Mode(
        "hole-bearing",
        "hole in use, pressed long by the prong",
        f"n w t × {BEARING_SHARE:g} σ",
        f"{n} × {pin:g} × {t:.2f} × {_span(tensile, BEARING_SHARE)}",
        *pull(bearing_area(n, pin, t), tensile, stands=BEARING_SHARE),
    )
    last = belt.hole_in_use == holes.count
    e = tear_out_length(holes.spacing, holes.reach, got.last_to_tip, last=last)
    into = "to the tip" if last else "into the next hole"
    front = got.hole_in_use + holes.reach / 2
    for drawn, words in ((openings, "into a drawn opening"), (tip, "to the tip")):
        ahead = min(first_ahead(drawn, front, y - d / 2, y + d / 2) for y in holes.ys) - front
        if ahead < e:
            e, into = ahead, words
    yield _torn_out("hole-tear-out", f"hole in use, torn out {into}", n, e, t, tensile)


def _beside_openings(got: BeltFigures, strap: Strap, tensile: tuple[float, float]) -> Iterator[Mode]:
    """Yield how the strap fails straight across through its drawn openings, at the weakest place of all.

    Each of the two legs, up to the fasteners or the seam, carries about half the pull and is as thick as the
    fold at least; from there to the last hole the strap carries all of it, beyond that none.
    """
    end, holes = got.end, got.holes
    runs = [one.contour.bounding_box[::2] for one in strap.openings]
    through = [one.contour for one in strap.features() if one.operation is not Operation.SCORE]
    joined = min((*end.rows, *(x for run in end.stitches for x in run)))
    zones = (
        (strap.buckle_end.pulled_from, joined, end.layers.fold, LEG_SHARE),
        (joined, holes.xs[-1] + holes.reach / 2, end.layers.strap, 1.0),
    )
    found = []
    for low, high, t, carries in zones:
        pulled = [(max(a, low), min(b, high)) for a, b in runs if a < high and b > low]
        at = narrowest(strap.outline, through, pulled)
        if at is None:
            continue
        leg, share = ("either leg", f" / {LEG_SHARE:g}") if carries < 1 else ("strap", "")
        found.append(
            Mode(
                "drawn-net-section",
                f"{leg} beside the drawn openings, {abs(at.x):.1f} mm from the fold"
                + (" in the turn-back" if at.x < 0 else ""),
                f"(W − Σ w) t σ{share}",
                f"({at.width:.5g} − {at.taken:.5g}) × {t:.2f} × {_span(tensile)}{share}",
                *pull(net_section(at.width, 1, at.taken, t), tensile, carries=carries),
            )
        )
    yield from weakest_first(found)[:1]


def _at_the_bar(width: float, end: EndFigures, tensile: tuple[float, float]) -> Mode:
    """Return the two legs at the bar, beside the prong slots if any: each carries about half the pull."""
    n, wide, t = len(end.slot_ys), end.slot[1], end.layers.fold
    return Mode(
        "fold-legs",
        "either leg at the bar, beside the prong slots" if n else "either leg at the bar",
        f"(W − n w) t σ / {LEG_SHARE:g}",
        f"({width:g} − {n} × {wide:g}) × {t:.2f} × {_span(tensile)} / {LEG_SHARE:g}",
        *pull(net_section(width, n, wide, t), tensile, carries=LEG_SHARE),
    )


def _at_the_fasteners(
    width: float, end: EndFigures, tensile: tuple[float, float], openings: Sequence[Contour]
) -> Iterator[Mode]:
    """Yield what can fail at the fasteners: in front of them one layer has the whole pull."""
    if not end.rows:
        return
    n = len(end.fastener_ys)
    front, turned = end.layers.strap, end.layers.fold
    d = max(post.holes[0] for post in end.posts)
    yield _beside("fastener-net-section", "front layer beside the fasteners", width, n, d, front, tensile)
    # What passes the holes bears, not the holes: a post's barrel has play in them.
    pins = [min(post.passes[1], post.holes[1]) for post in end.posts]
    every = (
        f"{len(pins)} × {n} × {pins[0]:g}"
        if len(set(pins)) == 1
        else f"{n} × ({' + '.join(f'{pin:g}' for pin in pins)})"
    )
    yield Mode(
        "fastener-bearing",
        "turn-back, its holes pressed long by the fasteners",
        f"rows × n w t × {BEARING_SHARE:g} σ / {LEG_SHARE:g}",
        f"{every} × {turned:.2f} × {_span(tensile, BEARING_SHARE)} / {LEG_SHARE:g}",
        *pull(bearing_area(n, sum(pins), turned), tensile, stands=BEARING_SHARE, carries=LEG_SHARE),
    )
    # The turn-back tears towards its end: from hole to hole, then to the end.
    edges = [(-mate, post.holes[1] / 2) for mate, post in zip(end.mates, end.posts, strict=True)]
    stops = pairwise([*edges, (end.turn_back, 0.0)])
    about = Placement(math.pi, 0.0, 0.0)  # so that x counts from the fold into the turn-back
    behind = [about.apply(one) for one in openings if one.bounding_box[0] < 0]
    e = 0.0
    for (x, reach), (further, half) in stops:
        nearest = min(first_ahead(behind, x + reach, y - reach, y + reach) for y in end.fastener_ys)
        e += max(min(further - half, nearest) - x - reach, 0.0)
    where = "turn-back, torn out from under the fasteners"
    yield _torn_out("fastener-tear-out", where, n, e, turned, tensile, LEG_SHARE)
