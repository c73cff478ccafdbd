"""All files of a plan, as text with its proof, nothing yet on disk."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.errors import PlanError
from strapwright.write.format import format_named
from strapwright.write.proof import prove
from strapwright.write.sheet import cut_sheet

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from typing import Literal

    from strapwright.findings import Finding
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile import Machine
    from strapwright.write.proof import Proof

_LAYOUT: Final = "layout"
"""The name of the layout's own files, which lie beside these: ``layout.json`` and its picture."""


@dataclass(frozen=True)
class CutFiles:
    """A plan's files.

    Args:
        texts: content by file name, the cut sheet included.
        proofs: of every file a machine reads, by file name.
        stem: what all their names start with.
    """

    texts: Mapping[str, str]
    proofs: Mapping[str, Proof]
    stem: str

    @property
    def greatest_deviation_mm(self) -> float:
        """The furthest any file lies from the plan, mm."""
        return max((proof.greatest_deviation_mm for proof in self.proofs.values()), default=0.0)


def write_plan(
    plan: CutPlan,
    formats: Sequence[str],
    stem: str,
    *,
    findings: Sequence[Finding] = (),
    units: Literal["mm", "in"] = "mm",
) -> CutFiles:
    """Return a plan's files, each read back and proven.

    One sheet is named after the stem alone, several after stem and sheet; the plan's cut sheet ends in
    ``-sheet.txt``.

    Args:
        plan: the plan.
        formats: names of the formats asked for, each written once.
        stem: what the files' names start with.
        findings: of draft and layout, for the cut sheet; the plan's own are on it besides.
        units: what the cut sheet tells lengths in.

    Raises:
        PlanError: a format that is not known, or that this machine does not read.
        ProofError: a text that does not read back as its plan; nothing is to be written then.
    """
    check_formats(formats, plan.machine)
    texts: dict[str, str] = {}
    proofs: dict[str, Proof] = {}
    stems = _stems(plan, file_safe(stem))
    for sheet, sheet_stem in zip(plan.sheets, stems, strict=True):
        for name in dict.fromkeys(formats):
            form = format_named(name)
            text = form.to_text(sheet, plan)
            proofs[sheet_stem + form.suffix] = prove(text, name, sheet)
            texts[sheet_stem + form.suffix] = text
    texts[f"{file_safe(stem)}-sheet.txt"] = cut_sheet(plan, units, findings)
    return CutFiles(texts, proofs, file_safe(stem))


def check_formats(formats: Sequence[str], machine: Machine) -> None:
    """Refuse formats that are not known, or that a machine does not read.

    Raises:
        PlanError: the first such format, and those there are.
    """
    for name in formats:
        if name not in machine.formats and format_named(name):
            raise PlanError(
                f"machine {machine.name!r} reads {', '.join(machine.formats)}, not {name}; "
                "choose another format, or add it to the profile's formats"
            )


def _stems(plan: CutPlan, stem: str) -> list[str]:
    """Return each sheet's file name without its ending, no two alike."""
    if len(plan.sheets) == 1:
        return [stem]
    stems: list[str] = []
    for sheet in plan.sheets:
        wanted = name = f"{stem}-{file_safe(sheet.name)}"
        count = 1
        while name.casefold() in {taken.casefold() for taken in stems}:
            count += 1
            name = f"{wanted}-{count}"
        stems.append(name)
    return stems


def file_safe(name: str) -> str:
    """Return a name without what some file system forbids.

    Example:
        >>> file_safe("Žofie's side / no. 2")
        "Žofie's-side-no-2"
    """
    safe = re.sub(r"[^\w'-]+", "-", name).strip("-")[:80] or "cut"
    return f"{safe}-cut" if safe.casefold() == _LAYOUT else safe
