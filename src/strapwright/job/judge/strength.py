"""How strong and how stiff a belt or strap is beside another, and what to know of its leather."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.findings import Finding, Severity
from strapwright.trade.choice import WINDOWS, side_by_side, strap_for_prong
from strapwright.trade.leather import Tannage
from strapwright.trade.strength import (
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
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.dimensions.belt import Figures
    from strapwright.job.dimensions.end import EndFigures
    from strapwright.job.spec.belt import Belt
    from strapwright.job.spec.strap import StrapTable

USUAL_WEAKEST: Final = "hole-bearing"
"""Where a belt that is drawn well gives first: the prong pulls the hole in use long, seen in good time."""

REMEDIES: Final = {
    "hole-net-section": "Take a wider strap, or a slimmer prong and smaller holes.",
    "hole-tear-out": "Space the holes wider, or leave more leather beyond the last one.",
    "fold-legs": "Skive the fold less, or take a buckle with a slimmer prong.",
    "fastener-net-section": "Make the fastener holes smaller, or set one across instead of two.",
    "fastener-bearing": "Set two rows, or two fasteners across, or take thicker posts.",
    "fastener-tear-out": "Leave a longer turn-back beyond the last fasteners.",
}
"""What makes each place but the usual one stronger."""

_EVEN: Final = 1 + 1e-9
"""A ratio above this is above 1 by more than rounding."""


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
    between: Callable[[tuple[float, float]], Iterable[Mode]],
) -> Strength:
    """Estimate the strength of one belt or other strap, and its stiffness on edge.

    Args:
        width: of the strap, mm.
        thickness: of all its layers, mm; a lining counts as if it were the strap's own leather.
        leather: its leather.
        ends: its turned ends, each with its name, such as "end 1"; a belt's only one has none.
        between: the ways of failing between its ends, for a strength, low and high, N/mm².

    Returns:
        The ways of failing between the ends, at each bar and, unless the turn-back is stitched, at the
        fasteners; buckles, rings, hardware and thread are not in it.
    """
    sag, roll = sag_ratio(width, thickness), roll_ratio(width, thickness)
    tensile = tensile_strength(leather.tannage, leather.thickness)
    if tensile is None:
        return Strength(None, (), sag, roll)
    modes = list(between(tensile))
    for name, end in ends:
        code, where = (f"{name.replace(' ', '-')}-", f"{name}, ") if name else ("", "")
        modes += [
            replace(one, name=f"{code}{one.name}", where=f"{where}{one.where}")
            for one in (_at_the_bar(width, end, tensile), *_at_the_fasteners(width, end, tensile))
        ]
    return Strength(tensile, weakest_first(modes), sag, roll)


def beside_the_holes(
    asked: StrapTable, width: float, thickness: float, tensile: tuple[float, float]
) -> Iterator[Mode]:
    """Yield how a strap that is no belt can fail between its ends: what bears in its holes is not asked for.

    Args:
        asked: what was asked for.
        width: of the strap, mm.
        thickness: of the strap, mm.
        tensile: strength, low and high, N/mm².
    """
    n, d = (1, asked.holes.diameter) if asked.holes is not None else (0, 0.0)
    yield Mode(
        "strap-net-section",
        "strap beside its holes" if n else "the plain strap",
        "(W − n d) t σ",
        f"({width:g} − {n} × {d:g}) × {thickness:.2f} × {span(tensile)}",
        *pull(net_section(width, n, d, thickness), tensile),
    )


def newtons(low: float, high: float) -> str:
    """Return a range of pulls in words."""
    return f"{low:.0f} to {high:.0f} N"


def span(tensile: tuple[float, float], share: float = 1.0) -> str:
    """Return a share of a range of strengths as it stands in a formula."""
    return f"({share * tensile[0]:g} to {share * tensile[1]:g})"


def at_the_hole(belt: Belt, got: Figures, tensile: tuple[float, float]) -> Iterator[Mode]:
    """Yield what can fail where the prong pulls; the whole pull passes there, two prongs share it.

    Args:
        belt: what was asked for.
        got: what was worked out.
        tensile: strength, low and high, N/mm².
    """
    n, d, t = len(got.hole_ys), got.hole_diameter, got.layers.strap
    yield Mode(
        "hole-net-section",
        "strap beside the adjusting holes",
        "(W − n d) t σ",
        f"({got.width:g} − {n} × {d:g}) × {t:.2f} × {span(tensile)}",
        *pull(net_section(got.width, n, d, t), tensile),
    )
    # A hook's own width is not asked for; its hole is made as for the prong, and never bears wider.
    pin = min(belt.buckle.prong_width, d)
    yield Mode(
        "hole-bearing",
        "hole in use, pressed long by the prong",
        f"n w t × {BEARING_SHARE:g} σ",
        f"{n} × {pin:g} × {t:.2f} × {span(tensile, BEARING_SHARE)}",
        *pull(bearing_area(n, pin, t), tensile, stands=BEARING_SHARE),
    )
    last = belt.hole_in_use == belt.holes.count
    e = tear_out_length(got.spacing, got.hole_length, got.last_to_tip, last=last)
    yield Mode(
        "hole-tear-out",
        "hole in use, torn out " + ("to the tip" if last else "into the next hole"),
        f"n 2 t e × {SHEAR_SHARE:g} σ",
        f"{n} × 2 × {t:.2f} × {e:.2f} × {span(tensile, SHEAR_SHARE)}",
        *pull(tear_out_area(n, e, t), tensile, stands=SHEAR_SHARE),
    )


def _at_the_bar(width: float, end: EndFigures, tensile: tuple[float, float]) -> Mode:
    """Return the two legs at the bar, beside the prong slots if any: each carries about half the pull.

    Args:
        width: of the strap, mm.
        end: the turned end's figures.
        tensile: strength, low and high, N/mm².
    """
    n, wide, t = len(end.slot_ys), end.slot[1], end.layers.fold
    return Mode(
        "fold-legs",
        "either leg at the bar, beside the prong slots" if n else "either leg at the bar",
        f"(W − n w) t σ / {LEG_SHARE:g}",
        f"({width:g} − {n} × {wide:g}) × {t:.2f} × {span(tensile)} / {LEG_SHARE:g}",
        *pull(net_section(width, n, wide, t), tensile, carries=LEG_SHARE),
    )


def _at_the_fasteners(width: float, end: EndFigures, tensile: tuple[float, float]) -> Iterator[Mode]:
    """Yield what can fail at the fasteners: in front of them one layer has the whole pull.

    Args:
        width: of the strap, mm.
        end: the turned end's figures.
        tensile: strength, low and high, N/mm².
    """
    if not end.rows:
        return
    n = len(end.fastener_ys)
    front, turned = end.layers.strap, end.layers.fold
    d = max(post.holes[0] for post in end.posts)
    yield Mode(
        "fastener-net-section",
        "front layer beside the fasteners",
        "(W − n d) t σ",
        f"({width:g} − {n} × {d:g}) × {front:.2f} × {span(tensile)}",
        *pull(net_section(width, n, d, front), tensile),
    )
    # What passes the holes bears, not the holes: a post's barrel has play in them.
    pins = [min(post.passes[1], post.holes[1]) for post in end.posts]
    every = f"{len(pins)} × {n} × {pins[0]:g}" if len(set(pins)) == 1 else f"{n} × ({_sum(pins)})"
    yield Mode(
        "fastener-bearing",
        "turn-back, its holes pressed long by the fasteners",
        f"rows × n w t × {BEARING_SHARE:g} σ / {LEG_SHARE:g}",
        f"{every} × {turned:.2f} × {span(tensile, BEARING_SHARE)} / {LEG_SHARE:g}",
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
        f"{n} × 2 × {turned:.2f} × {e:.2f} × {span(tensile, SHEAR_SHARE)} / {LEG_SHARE:g}",
        *pull(tear_out_area(n, e, turned), tensile, stands=SHEAR_SHARE, carries=LEG_SHARE),
    )


def _sum(lengths: Sequence[float]) -> str:
    return " + ".join(f"{length:g}" for length in lengths)


def strength_findings(asked: Belt | StrapTable, strength: Strength) -> Iterator[Finding]:
    """Yield what a maker should know of a belt's strength and stiffness, or of a strap's that carries a load.

    Stiffness on edge is a belt's concern, and so is where it gives first while it carries nothing.

    Args:
        asked: what was asked for.
        strength: its estimate.
    """
    loaded, belt = asked.use == "load_carrying", asked.goods == "belt"
    governs = strength.governing
    if not (loaded or belt):
        return
    if governs is None:
        yield Finding(
            "strength-unknown",
            Severity.NOTE,
            "No strength is calculated: no range was found for synthetic stock, whose backing cloth decides.",
            "Ask its seller for a data sheet, and test an offcut before you trust it with a load.",
            asked.id,
        )
    elif belt and governs.name != USUAL_WEAKEST:
        yield Finding(
            "weakest-place",
            Severity.CAUTION if loaded else Severity.NOTE,
            f"This belt gives first at another place than the hole in use under the prong: {governs.where}, "
            f"at about {newtons(governs.low, governs.high)} by estimate.",
            REMEDIES[governs.name],
            asked.id,
            {"low_n": governs.low, "high_n": governs.high},
        )
    if not loaded:
        return
    if governs is not None:
        yield Finding(
            "strength-estimate",
            Severity.NOTE,
            f"The leather gives way first at about {newtons(governs.low, governs.high)}: {governs.where}.",
            CAUTION,
            asked.id,
            {"low_n": governs.low, "high_n": governs.high},
        )
    if belt:
        yield from _stiffness(asked.id, strength)


def _stiffness(subject: str, strength: Strength) -> Iterator[Finding]:
    wide, thick = REFERENCE
    for code, does, ratio, remedy in (
        ("sags-under-load", "sags on edge", strength.sag, "Take a wider strap: width counts three times."),
        (
            "rolls-under-load",
            "rolls outward",
            strength.roll,
            "Take thicker leather, or line the strap: thickness counts three times.",
        ),
    ):
        if ratio > _EVEN:
            yield Finding(
                code,
                Severity.CAUTION,
                f"Under a hung load it {does} {ratio:.2f} times as much as a {wide:g} × {thick:g} mm belt.",
                remedy,
                subject,
                {"ratio": ratio},
            )


def choice_findings(belt: Belt, got: Figures, leather: Leather) -> Iterator[Finding]:
    """Yield what to know of the leather chosen for a belt.

    Args:
        belt: what was asked for.
        got: what was worked out.
        leather: its leather.
    """
    yield from leather_findings(belt, got.layers.strap, leather)
    buckle, thickness = belt.buckle, got.layers.strap
    if buckle.prongs and thickness < (least := strap_for_prong(buckle.prong_thickness)) - 1e-9:
        yield Finding(
            "strap-thin-for-prong",
            Severity.NOTE,
            f"A prong {buckle.prong_thickness:.1f} mm thick is made for a strap of {side_by_side(least)} or "
            f"more by house rule; this strap is {side_by_side(thickness)}, so it sits loose and its "
            "holes stretch.",
            "Take a buckle with a slimmer prong, or thicker or lined leather.",
            belt.id,
            {"prong_thickness_mm": buckle.prong_thickness, "thickness_mm": thickness},
        )


def leather_findings(belt: Belt | StrapTable, thickness: float, leather: Leather) -> Iterator[Finding]:
    """Yield what to know of a strap's leather, be it a belt's or another's.

    Args:
        belt: what was asked for.
        thickness: of all layers, mm.
        leather: its leather.
    """
    yield from _thickness(belt, thickness)
    if leather.temper == "soft" and belt.use == "load_carrying":
        yield Finding(
            "soft-temper",
            Severity.CAUTION,
            f"The leather is of soft temper, and this {belt.goods} carries a load: it stretches and rolls.",
            "Take firm leather from the bend, or line the strap with it.",
            belt.id,
        )
    if leather.tannage is Tannage.COMBINATION:
        yield Finding(
            "combination-tannage",
            Severity.NOTE,
            "Leather of combination tannage holds chromium as a rule: a laser is refused it as a precaution.",
            "Cut it with a knife, or read its data sheet before you plan a laser.",
            belt.id,
        )


def _thickness(belt: Belt | StrapTable, thickness: float) -> Iterator[Finding]:
    collar = getattr(belt, "dee", None) is not None and "use" not in belt.model_fields_set
    if belt.use is None or collar:
        return
    window, use = WINDOWS[belt.use], belt.use.replace("_", "-")
    side = window.side(thickness)
    if side == "within":
        return
    thin, uses = side == "thin", list(WINDOWS)
    asked = uses.index(belt.use)
    near = sorted(uses, key=lambda name: abs(uses.index(name) - asked))
    other = next((name for name in near if WINDOWS[name].side(thickness) == "within"), None)
    loaded_thin = thin and belt.use == "load_carrying"
    # A loaded belt is not made fit for its load by another word for it.
    hint = f'; if it is a {other.replace("_", "-")} {belt.goods}, write use = "{other}".' if other else "."
    yield Finding(
        f"leather-{side}",
        Severity.CAUTION if loaded_thin else Severity.NOTE,
        f"The strap is {side_by_side(thickness)}, {'thinner' if thin else 'thicker'} than the {window} "
        f"usual for a {use} {belt.goods}.",
        ("Take thicker leather, or line it" if thin else "Take thinner leather, or skive the fold")
        + ("." if loaded_thin else hint),
        belt.id,
        {"thickness_mm": thickness, "least_mm": window.low, "most_mm": window.high},
    )
