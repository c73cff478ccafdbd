"""An estimate of how strong and how stiff a belt or strap is beside another, by the formulas of the trade."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

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

    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.dimensions.turned_end import EndFigures
    from strapwright.parts.hole_row import HoleRow


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
) -> Strength:
    """Estimate the strength of one belt or other strap, and its stiffness on edge.

    Args:
        width: of the strap, mm.
        thickness: of all its layers, mm; a lining counts as if it were the strap's own leather.
        leather: its leather.
        ends: its turned ends, each with its name, such as "end 1"; a belt's only one has none.
        rows: its rows of holes.
        fit: how it fits, if it is a belt: what bears in the holes of another strap is not known.

    Returns:
        The ways of failing between the ends, at each bar and, unless the turn-back is stitched, at the
        fasteners; buckles, rings, hardware and thread are not in it.
    """
    sag, roll = sag_ratio(width, thickness), roll_ratio(width, thickness)
    tensile = tensile_strength(leather.tannage, leather.thickness)
    if tensile is None:
        return Strength(None, (), sag, roll)
    modes = list(
        _beside_the_holes(width, rows, thickness, tensile) if fit is None else _at_the_hole(fit, tensile)
    )
    for name, end in ends:
        code, where = (f"{name.replace(' ', '-')}-", f"{name}, ") if name else ("", "")
        modes += [
            replace(one, name=f"{code}{one.name}", where=f"{where}{one.where}")
            for one in (_at_the_bar(width, end, tensile), *_at_the_fasteners(width, end, tensile))
        ]
    return Strength(tensile, weakest_first(modes), sag, roll)


def newtons(low: float, high: float) -> str:
    """Return a range of pulls in words."""
    return f"{low:.0f} to {high:.0f} N"


def _span(tensile: tuple[float, float], share: float = 1.0) -> str:
    """Return a share of a range of strengths as it stands in a formula."""
    return f"({share * tensile[0]:g} to {share * tensile[1]:g})"


def _beside_the_holes(
    width: float, rows: Sequence[HoleRow], thickness: float, tensile: tuple[float, float]
) -> Iterator[Mode]:
    """Yield how a strap can fail between its ends where nothing is known to bear in its holes."""
    n, d = (1, rows[0].diameter) if rows else (0, 0.0)
    yield Mode(
        "strap-net-section",
        "strap beside its holes" if n else "the plain strap",
        "(W − n d) t σ",
        f"({width:g} − {n} × {d:g}) × {thickness:.2f} × {_span(tensile)}",
        *pull(net_section(width, n, d, thickness), tensile),
    )


def _at_the_hole(got: BeltFigures, tensile: tuple[float, float]) -> Iterator[Mode]:
    """Yield what can fail where the prong pulls; the whole pull passes there, two prongs share it."""
    belt, holes, t = got.spec, got.holes, got.layers.strap
    n, d = holes.rows, holes.diameter
    yield Mode(
        "hole-net-section",
        "strap beside the adjusting holes",
        "(W − n d) t σ",
        f"({got.width:g} − {n} × {d:g}) × {t:.2f} × {_span(tensile)}",
        *pull(net_section(got.width, n, d, t), tensile),
    )
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
    yield Mode(
        "hole-tear-out",
        "hole in use, torn out " + ("to the tip" if last else "into the next hole"),
        f"n 2 t e × {SHEAR_SHARE:g} σ",
        f"{n} × 2 × {t:.2f} × {e:.2f} × {_span(tensile, SHEAR_SHARE)}",
        *pull(tear_out_area(n, e, t), tensile, stands=SHEAR_SHARE),
    )


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


def _at_the_fasteners(width: float, end: EndFigures, tensile: tuple[float, float]) -> Iterator[Mode]:
    """Yield what can fail at the fasteners: in front of them one layer has the whole pull."""
    if not end.rows:
        return
    n = len(end.fastener_ys)
    front, turned = end.layers.strap, end.layers.fold
    d = max(post.holes[0] for post in end.posts)
    yield Mode(
        "fastener-net-section",
        "front layer beside the fasteners",
        "(W − n d) t σ",
        f"({width:g} − {n} × {d:g}) × {front:.2f} × {_span(tensile)}",
        *pull(net_section(width, n, d, front), tensile),
    )
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
    e = sum(max(further - half - x - reach, 0.0) for (x, reach), (further, half) in stops)
    yield Mode(
        "fastener-tear-out",
        "turn-back, torn out from under the fasteners",
        f"n 2 t e × {SHEAR_SHARE:g} σ / {LEG_SHARE:g}",
        f"{n} × 2 × {turned:.2f} × {e:.2f} × {_span(tensile, SHEAR_SHARE)} / {LEG_SHARE:g}",
        *pull(tear_out_area(n, e, turned), tensile, stands=SHEAR_SHARE, carries=LEG_SHARE),
    )
