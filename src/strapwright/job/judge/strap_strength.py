"""How strong a strap that is no belt is, and what its maker should know of that and of its leather."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.core.findings import Finding, Severity
from strapwright.job.judge.strength import (
    Strength,
    at_the_bar,
    at_the_fasteners,
    leather_findings,
    newtons,
    span,
)
from strapwright.trade.strength import (
    CAUTION,
    Mode,
    net_section,
    pull,
    roll_ratio,
    sag_ratio,
    tensile_strength,
    weakest_first,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.dimensions.strap import TurnedFigures
    from strapwright.job.spec.strap import StrapTable


def strap_strength(
    asked: StrapTable, width: float, ends: Sequence[TurnedFigures | None], leather: Leather
) -> Strength:
    """Estimate a strap's strength in tension, and its stiffness beside a belt's.

    Args:
        asked: what was asked for.
        width: of the strap, mm.
        ends: the figures of its turned ends, None for a tip.
        leather: its leather.

    Returns:
        The ways of failing in the plain strap, beside its holes, and at its turned ends; rings, fasteners and
        thread are not in it, nor what bears in the holes, which is not asked for.
    """
    t = leather.thickness
    sag, roll = sag_ratio(width, t), roll_ratio(width, t)
    tensile = tensile_strength(leather.tannage, t)
    if tensile is None:
        return Strength(None, (), sag, roll)
    n, d = (1, asked.holes.diameter) if asked.holes is not None else (0, 0.0)
    modes = [
        Mode(
            "strap-net-section",
            "strap beside its holes" if n else "the plain strap",
            "(W − n d) t σ",
            f"({width:g} − {n} × {d:g}) × {t:.2f} × {span(tensile)}",
            *pull(net_section(width, n, d, t), tensile),
        )
    ]
    for place, got in enumerate(ends, 1):
        if got is None:
            continue
        found = [
            at_the_bar(width, got, tensile),
            *at_the_fasteners(width, got, tensile),
        ]
        modes += [
            Mode(f"end-{place}-{m.name}", f"end {place}, {m.where}", m.formula, m.numbers, m.low, m.high)
            for m in found
        ]
    return Strength(tensile, weakest_first(modes), sag, roll)


def strap_choice_findings(asked: StrapTable, leather: Leather, strength: Strength) -> Iterator[Finding]:
    """Yield what to know of a strap's leather and strength.

    Stiffness on edge is a belt's concern and gives no finding here; thickness and strength are told of where
    the job says what the strap is for.

    Args:
        asked: what was asked for.
        leather: its leather.
        strength: its estimate.
    """
    yield from leather_findings(asked, leather.thickness, leather)
    if asked.use != "load_carrying":
        return
    governs = strength.governing
    if governs is None:
        yield Finding(
            "strength-unknown",
            Severity.NOTE,
            "No strength is calculated: no range was found for synthetic stock, whose backing cloth decides.",
            "Ask its seller for a data sheet, and test an offcut before you trust it with a load.",
            asked.id,
        )
        return
    yield Finding(
        "strength-estimate",
        Severity.NOTE,
        f"The leather gives way first at about {newtons(governs.low, governs.high)}: {governs.where}.",
        CAUTION,
        asked.id,
        {"low_n": governs.low, "high_n": governs.high},
    )
