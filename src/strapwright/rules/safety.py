"""What could hurt someone at the machine or the bench: the fume gate, and the usual cautions.

Sources: 29 CFR 1910.1026 (Chromium (VI): exposure limits in US workplaces); Commission Regulation
(EU) 301/2014 (chromium(VI) compounds in leather articles); material lists of university laser
workshops, which forbid vinyl and PVC, advise against chrome-tanned leather and allow
vegetable-tanned. Whether cutting chrome-tanned leather by laser forms chromium(VI) is not settled,
so that gate is a precaution.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from strapwright.core.errors import SafetyError
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Iterable

CutterKind = Literal["laser", "drag_knife"]
"""The kinds of machine a plan can be made for."""

Place = Literal["laser", "drag_knife", "bench"]
"""Where leather is cut, each with its cautions."""

SYNTHETIC_ON_LASER: Final = (
    "Synthetic stock is never cut on a laser: vinyl and PVC give off hydrogen chloride, "
    "which injures the lungs and corrodes the machine. "
    "Cut it with a knife; no option lifts this refusal."
)

FUME_RISK: Final = (
    "Leather of {tannages} tannage is refused on a laser as a precaution: its smoke may carry "
    "chromium(VI), which can cause cancer, and the evidence on how much is mixed. "
    "Extraction, the local rules and the leather's data sheet decide whether it may be cut"
)

FUMES_NOT_KNOWN: Final = f"{FUME_RISK}; if they allow it, pass --accept-fume-risk."

_NOT_SURE: Final = (Tannage.CHROME, Tannage.COMBINATION, Tannage.UNKNOWN)

_CAUTIONS: Final[dict[str, tuple[str, ...]]] = {
    "laser": (
        "Never leave a running laser unattended: watch for fire, with an extinguisher within reach.",
        "Run the extraction before, during and after the cut, and keep the enclosure shut.",
        "Know the laser's class; outside a closed enclosure wear eye protection for its wavelength.",
        "Take buckles, posts and other reflective hardware off the bed.",
        "The machine's own manual, the leather's data sheet and the local rules come first.",
    ),
    "drag_knife": (
        "The blade is sharp and trails its holder: keep hands clear of the moving head.",
        "Keep the spindle off and locked while a drag knife is fitted.",
        "Hold the hide down flat over its whole length, and keep clamps out of the blade's way.",
        "The machine's own manual and the local rules come first.",
    ),
    "bench": (
        "Cut away from the hand that holds the leather, and cap knives that are not in use.",
        "Strike punches on a firm block, with eye protection, and keep fingers off their edge.",
        "Use adhesive and dye with fresh air, as their data sheets say.",
        "The tools' own manuals and the local rules come first.",
    ),
}


def check_fumes(tannages: Iterable[Tannage], kind: CutterKind, accept_fume_risk: bool = False) -> None:
    """Refuse a laser plan whose smoke could hurt someone.

    Args:
        tannages: of every part on the plan.
        kind: of the machine; only a laser burns what it cuts.
        accept_fume_risk: you have checked extraction, rules and data sheet. It opens the way
            for chrome, combination and unknown tannage, never for synthetic stock.

    Raises:
        SafetyError: synthetic stock on a laser, or another tannage than vegetable without your
            word.

    Source:
        29 CFR 1910.1026; Regulation (EU) 301/2014; university laser material lists.

    Example:
        >>> check_fumes([Tannage.VEGETABLE], "laser")
        >>> check_fumes([Tannage.CHROME], "drag_knife")
        >>> check_fumes([Tannage.SYNTHETIC], "laser", accept_fume_risk=True)
        Traceback (most recent call last):
        ...
        strapwright.core.errors.SafetyError: Synthetic stock is never cut on a laser: ...
    """
    if kind != "laser":
        return
    found = set(tannages)
    if Tannage.SYNTHETIC in found:
        raise SafetyError(SYNTHETIC_ON_LASER)
    doubtful = doubtful_tannages(found, kind)
    if doubtful and not accept_fume_risk:
        raise SafetyError(FUMES_NOT_KNOWN.format(tannages=doubtful))


def doubtful_tannages(tannages: Iterable[Tannage], kind: CutterKind) -> str:
    """Return the tannages that are burnt only on your word, in words; empty where there are none.

    Args:
        tannages: of every part on the plan.
        kind: of the machine; only a laser burns what it cuts.

    Example:
        >>> doubtful_tannages([Tannage.UNKNOWN, Tannage.VEGETABLE, Tannage.CHROME], "laser")
        'chrome and unknown'
        >>> doubtful_tannages([Tannage.CHROME], "drag_knife")
        ''
    """
    found = set(tannages) if kind == "laser" else set()
    return " and ".join(str(tannage) for tannage in _NOT_SURE if tannage in found)


def cautions(kind: Place) -> tuple[str, ...]:
    """Return the usual cautions of a machine or of the bench, one short sentence each.

    Args:
        kind: ``"laser"``, ``"drag_knife"`` or, for hand work, ``"bench"``.

    Source:
        Common practice of workshops; they replace no manual, and say so.

    Example:
        >>> cautions("drag_knife")[-1]
        "The machine's own manual and the local rules come first."
    """
    return _CAUTIONS[kind]
