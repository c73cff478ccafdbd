"""What a maker should know about how a nest took the hides."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.findings import Finding, Severity
from strapwright.nesting.hide import FlawKind

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.hide import Hide
    from strapwright.parts.part import Part


def notes_on(parts: Sequence[Part], hides: Sequence[Hide]) -> tuple[Finding, ...]:
    """Return the findings of a nest that do not depend on where parts came to lie."""
    out: list[Finding] = []
    for hide in hides:
        soft = [flaw for flaw in hide.flaws if flaw.kind is not FlawKind.VOID]
        if soft:
            kinds = {kind: sum(f.kind is kind for f in soft) for kind in FlawKind}
            told = " and ".join(f"{count} {kind}" for kind, count in kinds.items() if count)
            out.append(
                Finding(
                    "flaws-by-kind",
                    Severity.NOTE,
                    f"Not all flaws are holes ({told}): a mark may lie under what is hidden of a part, "
                    "loose leather under what carries no load.",
                    "Look at these places before you cut; what must stay clear altogether is a void "
                    "in the hide file.",
                    subject=hide.name,
                    numbers={"flaws": float(len(soft))},
                )
            )
        if hide.thickness is None:
            thick = sorted({part.thickness for part in parts})
            low, high = (f"{round(thickness, 2):g}" for thickness in (thick[0], thick[-1]))
            span = low if low == high else f"{low} to {high}"
            out.append(
                Finding(
                    "hide-thickness-unknown",
                    Severity.NOTE,
                    f"The hide's thickness is not given, so it was not compared with the {span} mm "
                    "the job wants.",
                    "Measure it in several places and write thickness in the hide file.",
                    subject=hide.name,
                )
            )
    return tuple(out)
