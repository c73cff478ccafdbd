"""Findings of a nest: flaws, strap direction, thickness, the back, incomplete belts, a search ended early."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING, Final

from strapwright.core.findings import Finding, Severity
from strapwright.nesting.hide.backbone import edge_of, starts_both_ways
from strapwright.nesting.hide.types import FlawKind
from strapwright.nesting.layout.strap_cutter import starts_from_back
from strapwright.nesting.layout.types import direction_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import PlacedPart, UnplacedPart
    from strapwright.parts.part import Part


BROKEN_OFF: Final = "search-broken-off"
"""The code of the finding that a search was ended with Ctrl-C."""


def broken_off_finding(spent: float, allowed: float | None, placed: int, asked: int) -> Finding:
    """Return the finding that a search was ended with Ctrl-C, and what was kept.

    Args:
        spent: seconds searched.
        allowed: seconds it might have taken; None where steps were counted.
        placed: parts that lie in the layout that is kept.
        asked: parts asked for.
    """
    limit = "" if allowed is None else f" of {allowed:.0f}"
    return Finding(
        BROKEN_OFF,
        Severity.NOTE,
        f"The search was stopped with Ctrl-C after {spent:.1f}{limit} s; the best layout so far is kept: "
        f"{placed} of {asked} parts placed.",
        "To see whether more fits, nest again and let it finish.",
        numbers={"spent_s": spent, "placed": float(placed), "asked": float(asked)},
    )


def nest_findings(
    parts: Sequence[Part],
    hides: Sequence[Hide],
    placed: Sequence[PlacedPart],
    unplaced: Sequence[UnplacedPart],
) -> tuple[Finding, ...]:
    """Return the findings of a nest.

    Args:
        parts: all that were asked for.
        hides: the hides.
        placed: what lies.
        unplaced: what could not be placed.
    """
    on_hides = ((hide, [one for one in placed if one.hide == hide.name]) for hide in hides)
    on_each = (note for hide, on_it in on_hides for note in _findings_on(hide, on_it, parts))
    return (*on_each, *_not_whole(placed, unplaced))


def _findings_on(hide: Hide, on_it: Sequence[PlacedPart], parts: Sequence[Part]) -> Iterator[Finding]:
    # Nobody is to square the edge of a hide that is left whole.
    yield from (found for found in hide.findings if found.code != "edge-trued" or on_it)
    if on_it and (note := backbone_finding(hide, on_it)):
        yield note
    soft = [flaw for flaw in hide.flaws if flaw.kind is not FlawKind.HOLE]
    if soft:
        kinds = {kind: sum(f.kind is kind for f in soft) for kind in FlawKind}
        counted = " and ".join(kind.counted(count) for kind, count in kinds.items() if count)
        yield Finding(
            "flaws-by-kind",
            Severity.NOTE,
            f"Not all flaws are holes ({counted}). A scar may fall under the turn-back, where it "
            "will not show, and loose leather where a part carries no load.",
            "Look at these places before you cut; a flaw that every part must avoid is a hole in the "
            "hide file.",
            subject=hide.name,
            numbers={"flaws": float(len(soft))},
        )
    if hide.tolerance and on_it:
        yield _turned(hide, on_it)
    if hide.thickness is None:
        thick = sorted({part.thickness for part in parts})
        span = " to ".join(dict.fromkeys(f"{round(thick[at], 2):g}" for at in (0, -1)))
        yield Finding(
            "hide-thickness-unknown",
            Severity.NOTE,
            f"The hide's thickness is not given, so it was not compared with the {span} mm of the job.",
            "Measure it in several places and write thickness in the hide file.",
            subject=hide.name,
        )


def _turned(hide: Hide, placed: Sequence[PlacedPart]) -> Finding:
    """Return which way the straps of a hide lie that need not lie along its strap direction."""
    turn = direction_of(hide, placed) - hide.strap_direction
    most = f"{math.degrees(hide.tolerance):g}°"
    if turn:
        way = "counter-clockwise" if turn > 0 else "clockwise"
        text = (
            f"All straps lie {abs(math.degrees(turn)):.2f}° {way} of the strap direction, within the {most} "
            "allowed: of the directions tried, most fits in that one."
        )
        remedy = "Mark that direction on the hide first; the arrow under its picture shows it."
    else:
        text = (
            f"Straps may be up to {most} off the strap direction, but keep to it: no other direction tried "
            "holds more."
        )
        remedy = "Nothing to do; a longer search tries each direction longer."
    numbers = {"tolerance_rad": hide.tolerance, "turn_rad": turn}
    return Finding("straps-turned", Severity.NOTE, text, remedy, subject=hide.name, numbers=numbers)


def _not_whole(placed: Sequence[PlacedPart], unplaced: Sequence[UnplacedPart]) -> Iterator[Finding]:
    """Yield a finding for every belt of which more pieces lie than can be made up."""
    lies = Counter((one.part.belt_id, one.part.kind) for one in placed)
    left = Counter((one.part.belt_id, one.part.kind) for one in unplaced)
    for belt in dict.fromkeys(one.part.belt_id for one in unplaced):
        kinds = sorted({kind for id_, kind in (*lies, *left) if id_ == belt})
        whole = min(lies[belt, kind] for kind in kinds)
        spare = {kind: lies[belt, kind] - whole for kind in kinds if lies[belt, kind] > whole}
        if not spare:
            continue
        asked = max(lies[belt, kind] + left[belt, kind] for kind in kinds)
        left_over = sum(spare.values())
        fit = " and ".join(
            f"{'the' if asked == 1 else count} {kind}{'s' if count > 1 else ''}"
            for kind, count in spare.items()
        )
        missing = " and ".join(
            kind + ("s" if left_over > 1 < asked else "") for kind in kinds if kind not in spare
        )
        own = f"its {missing} does" if left_over == 1 or asked == 1 else f"their {missing} do"
        verb = "fits" if left_over == 1 else "fit"
        done = f"{whole} of {asked} belts {'is' if whole == 1 else 'are'}" if whole else "No belt is"
        yield Finding(
            "belt-not-whole",
            Severity.CAUTION,
            f"{done} complete: {fit} {verb}, {own} not.",
            "Cut what is missing from another hide, or leave the rest out too.",
            subject=belt,
            numbers={"whole": float(whole), "asked": float(asked), "spare": float(left_over)},
        )


def backbone_finding(hide: Hide, placed: Sequence[PlacedPart]) -> Finding | None:
    """Return what there is to say of where the straps of a hide start, or None.

    Args:
        hide: the hide.
        placed: what lies on it.
    """
    if hide.back is not None and hide.back.assumed:
        return Finding(
            "back-assumed",
            Severity.NOTE,
            f"Nobody has said where its back is; the {edge_of(hide.back)} edge is taken for it.",
            'Write backbone = "bottom", "top", "left" or "right" in the hide file, or two points along the '
            "back; straps then start from it.",
            subject=hide.name,
        )
    if not starts_both_ways(hide) or starts_from_back(hide, placed):
        return None
    return Finding(
        "back-not-first",
        Severity.NOTE,
        "The straps do not start from the back on both sides of it: no layout that does was found that "
        "costs neither a part nor leather.",
        "Search longer, or lay fewer belts on this hide.",
        subject=hide.name,
    )
