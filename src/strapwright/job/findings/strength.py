"""What to know of a strap's strength and stiffness, which are estimates, and of its leather."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.core.findings import Cure, Finding, Severity
from strapwright.job.dimensions.strength_estimate import newtons
from strapwright.parts.part import Operation
from strapwright.rules.leather import USUAL_THICKNESS, Tannage, side_by_side, strap_for_prong
from strapwright.rules.strength import CAUTION, REFERENCE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.job.dimensions.strength_estimate import Strength
    from strapwright.job.strap_draft import StrapDraft

USUAL_WEAKEST: Final = "hole-bearing"
"""Where a belt that is drawn well gives first: the prong pulls the hole in use long, seen in good time."""

REMEDIES: Final = {
    "hole-net-section": "Take a wider strap, or a slimmer prong and smaller holes.",
    "hole-tear-out": "Space the holes wider, or leave more leather beyond the last one.",
    "drawn-net-section": "Draw the openings narrower across the strap, or set them apart along it.",
    "fold-legs": "Skive the fold less, or take a buckle with a slimmer prong.",
    "fastener-net-section": "Make the fastener holes smaller, or set one across instead of two.",
    "fastener-bearing": "Set two rows, or two fasteners across, or take thicker posts.",
    "fastener-tear-out": "Leave a longer turn-back beyond the last fasteners.",
}
"""What makes each place but the usual one stronger."""

_WEAK_KEYS: Final = {
    "hole-net-section": ("holes.diameter",),
    "hole-tear-out": ("holes.spacing", "holes.last_to_tip"),
    "drawn-net-section": ("hole", "ornament"),
    "fold-legs": ("fold_thickness", "buckle"),
    "fastener-net-section": ("fastener_holes.diameter",),
    "fastener-bearing": ("fastener_holes.rows",),
    "fastener-tear-out": ("turn_back",),
}
"""The keys each of them hangs on."""

_EVEN: Final = 1 + 1e-9
"""A ratio above this is above 1 by more than rounding."""


def strength_findings(item: StrapDraft) -> Iterator[Finding]:
    """Yield what to know of a belt's strength and stiffness, or of a strap's that carries a load.

    Stiffness on edge is a belt's concern, and so is where it gives first while it carries nothing.

    Args:
        item: its draft.
    """
    loaded, belt, strength = item.spec.use == "load_carrying", item.closes, item.strength
    if strength is None and loaded:
        yield Finding(
            "strength-unknown",
            Severity.NOTE,
            "No strength is calculated for a part that is drawn whole: where it is pulled is not known.",
            "Judge it by its narrowest place, and test one before you trust it with a load.",
            keys=("use",),
        )
    if strength is None or not (loaded or belt):
        return
    if any(mode.name == "drawn-net-section" for mode in strength.modes):
        yield from _staggered(item)
    governs = strength.governing
    if governs is None:
        yield Finding(
            "strength-unknown",
            Severity.NOTE,
            "No strength is calculated: no range was found for synthetic stock, whose backing cloth decides.",
            "Ask its seller for a data sheet, and test an offcut before you trust it with a load.",
            keys=("leather.tannage",),
        )
    elif belt and governs.name != USUAL_WEAKEST:
        yield Finding(
            "weakest-place",
            Severity.CAUTION if loaded else Severity.NOTE,
            f"This belt gives first at another place than the hole in use under the prong: {governs.where}, "
            f"at about {newtons(governs.low, governs.high)} by estimate.",
            REMEDIES[governs.name],
            numbers={"low_n": governs.low, "high_n": governs.high},
            keys=_WEAK_KEYS[governs.name],
        )
    if not loaded:
        return
    if governs is not None:
        yield Finding(
            "strength-estimate",
            Severity.NOTE,
            f"The leather gives way first at about {newtons(governs.low, governs.high)}: {governs.where}.",
            CAUTION,
            numbers={"low_n": governs.low, "high_n": governs.high},
            keys=("use",),
        )
    if belt:
        yield from _stiffness(strength)


def _staggered(item: StrapDraft) -> Iterator[Finding]:
    """Yield that openings lie aslant of each other, nearer along the strap than across it."""
    drawn = set(item.strap.openings)
    through = [one for one in item.strap.features() if one.operation is not Operation.SCORE]
    boxes = sorted((*one.contour.bounding_box, one in drawn) for one in through)
    for place, (_, low, end, high, own) in enumerate(boxes):
        for start, bottom, _, top, other in boxes[place + 1 :]:
            along, across = start - end, max(bottom - high, low - top)
            if along >= item.width:
                break
            if (own or other) and 0 <= along < across:
                yield Finding(
                    "openings-staggered",
                    Severity.NOTE,
                    f"Drawn openings lie aslant of each other, the first {end:.1f} mm from the fold. The "
                    "strength is estimated straight across: a tear aslant from one to the next is not in it.",
                    "Set them further apart along the strap, or test an offcut.",
                    numbers={"along_mm": along, "across_mm": across},
                    keys=("hole", "ornament"),
                )
                return


def _stiffness(strength: Strength) -> Iterator[Finding]:
    wide, thick = REFERENCE
    for code, does, ratio, remedy, keys in (
        (
            "sags-under-load",
            "sags on edge",
            strength.sag,
            "Take a wider strap: width counts three times.",
            ("buckle", "use"),
        ),
        (
            "rolls-under-load",
            "rolls outward",
            strength.roll,
            "Take thicker leather, or line the strap: thickness counts three times.",
            ("leather.thickness", "lining", "use"),
        ),
    ):
        if ratio > _EVEN:
            what = f"Under a hung load it {does} {ratio:.2f} times as much as a {wide:g} × {thick:g} mm belt."
            yield Finding(code, Severity.CAUTION, what, remedy, numbers={"ratio": ratio}, keys=keys)


def leather_findings(item: StrapDraft) -> Iterator[Finding]:
    """Yield what to know of the leather of a belt or strap.

    Args:
        item: its draft.
    """
    yield from _thickness(item)
    leather, asked = item.leather, item.spec
    if leather.temper == "soft" and asked.use == "load_carrying":
        yield Finding(
            "soft-temper",
            Severity.CAUTION,
            f"The leather is of soft temper, and this {asked.goods} carries a load: it stretches and rolls.",
            "Take firm leather from the bend, or line the strap with it.",
            keys=("leather.temper", "use"),
        )
    if leather.tannage is Tannage.COMBINATION:
        yield Finding(
            "combination-tannage",
            Severity.NOTE,
            "Leather of combination tannage holds chromium as a rule: a laser is refused it as a precaution.",
            "Cut it with a knife, or read its data sheet before you plan a laser.",
            keys=("leather.tannage",),
        )
    buckle, thickness = asked.buckle, item.thickness
    if buckle and buckle.prongs and thickness < (least := strap_for_prong(buckle.prong_thickness)) - 1e-9:
        yield Finding(
            "strap-thin-for-prong",
            Severity.NOTE,
            f"A prong {buckle.prong_thickness:.1f} mm thick is made for a strap of {side_by_side(least)} or "
            f"more by house rule; this strap is {side_by_side(thickness)}, so it sits loose and its "
            "holes stretch.",
            "Take a buckle with a slimmer prong, or thicker or lined leather.",
            numbers={"prong_thickness_mm": buckle.prong_thickness, "thickness_mm": thickness},
            keys=("buckle", "leather.thickness"),
        )


def _thickness(item: StrapDraft) -> Iterator[Finding]:
    belt, thickness = item.spec, item.thickness
    collar = belt.dee is not None and "use" not in belt.model_fields_set
    if belt.use is None or collar:
        return
    window, use = USUAL_THICKNESS[belt.use], belt.use.replace("_", "-")
    side = window.side(thickness)
    if side == "within":
        return
    thin, uses = side == "thin", list(USUAL_THICKNESS)
    asked = uses.index(belt.use)
    near = sorted(uses, key=lambda name: abs(uses.index(name) - asked))
    other = next((name for name in near if USUAL_THICKNESS[name].side(thickness) == "within"), None)
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
        numbers={"thickness_mm": thickness, "least_mm": window.low, "most_mm": window.high},
        keys=("leather.thickness", "use"),
        cures=(Cure("use", other),) if other and not loaded_thin else (),
    )
