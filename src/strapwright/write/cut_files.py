"""The cut files of a plan, each with its proof, as text: nothing is written to disk here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PlanError
from strapwright.core.text import numbered
from strapwright.files.atomic_write import file_safe
from strapwright.write.cut_sheet_text import cut_sheet
from strapwright.write.formats.format import format_named
from strapwright.write.proof.read_back import check_cuts_nothing, prove
from strapwright.write.proof.windows import prove_windows

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from strapwright.core.findings import Finding
    from strapwright.core.units import Units
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile.machine import Machine
    from strapwright.write.proof.read_back import Proof
    from strapwright.write.proof.windows import WindowProof

_LAYOUT: Final = "layout"
"""The name of the layout's own files, which lie beside these: ``layout.json`` and its picture."""


@dataclass(frozen=True)
class CutFiles:
    """A plan's files.

    Args:
        texts: content by file name, the cut sheet included.
        proofs: of every file a machine reads, by file name.
        stem: what all their names start with.
        windows: what putting the windows of each hide together showed; none where none is cut in windows.
    """

    texts: Mapping[str, str]
    proofs: Mapping[str, Proof]
    stem: str
    windows: tuple[WindowProof, ...] = ()

    @property
    def greatest_deviation_mm(self) -> float:
        """The furthest any file lies from the plan, mm."""
        return max((proof.greatest_deviation_mm for proof in self.proofs.values()), default=0.0)

    @property
    def checked_to(self) -> str:
        """How far the files read back lie from what was planned, in words."""
        deviation = self.greatest_deviation_mm
        return f"{deviation:.6f} mm" if deviation >= 1e-6 else "under 0.000001 mm"

    @property
    def blade_deviation_mm(self) -> float | None:
        """The furthest a simulated blade lies from its contours, mm; None where no file drives one."""
        found = [p.blade_deviation_mm for p in self.proofs.values() if p.blade_deviation_mm is not None]
        return max(found, default=None)


def write_plan(
    plan: CutPlan, formats: Sequence[str], stem: str, *, findings: Sequence[Finding] = (), units: Units = "mm"
) -> CutFiles:
    """Return a plan's files, each read back and proven.

    One sheet is named after the stem alone, several after stem and sheet, DXF R12 with ``-r12`` behind; the
    outline check of G-code ends in ``-outline.nc``, the plan's cut sheet in ``-sheet.txt``.

    Args:
        plan: the plan.
        formats: names of the formats asked for, each written once.
        stem: what the files' names start with.
        findings: of draft and layout, for the cut sheet; the plan's own are on it besides.
        units: of lengths on the cut sheet.

    Raises:
        PlanError: a format that is not known, or that this machine does not read.
        ProofError: a text that does not read back as its plan; nothing is to be written then.
    """
    check_formats(formats, plan.machine)
    texts: dict[str, str] = {}
    proofs: dict[str, Proof] = {}
    drawings: dict[str, list[str]] = {}
    stem = stem_of(stem)
    stems = _stems(plan, stem)
    for sheet, sheet_stem in zip(plan.sheets, stems, strict=True):
        for name in dict.fromkeys(formats):
            form = format_named(name)
            text = form.to_text(sheet, plan)
            file = _free(sheet_stem + form.ending, form.suffix, texts)
            proofs[file] = prove(text, name, sheet, plan)
            texts[file] = text
            if not form.drives:
                drawings.setdefault(name, []).append(text)
            for ending, other in form.beside(sheet, plan).items():
                check_cuts_nothing(other, name, sheet, plan)
                texts[_free(sheet_stem + form.ending + ending, form.suffix, texts)] = other
    whole = stems[0] if _is_touched_window(plan) else stem
    texts[f"{whole}-sheet.txt"] = cut_sheet(plan, units, findings)
    return CutFiles(texts, proofs, stem, _windows_proven(plan, drawings))


def _windows_proven(plan: CutPlan, drawings: Mapping[str, Sequence[str]]) -> tuple[WindowProof, ...]:
    """Put each hide's windows together again, as drawings say them, or as the plan where none are written.

    Args:
        plan: the plan.
        drawings: of each format that draws and drives nothing the texts of all sheets, in their order.
    """
    proofs: list[WindowProof] = []
    for whole in plan.whole:
        mine = [number for number, sheet in enumerate(plan.sheets) if sheet.hide == whole.hide]
        for name, texts in drawings.items():
            form = format_named(name)
            read = [
                (plan.sheets[k], [(p.layer, p.contour) for p in form.read_back(texts[k], plan.machine)])
                for k in mine
            ]
            layers = [path.layer for path in form.planned(whole, plan)]
            proofs.append(prove_windows(whole, read, name, form.tolerance, layers))
        if not drawings:
            sheets = [plan.sheets[k] for k in mine]
            runs = [(sheet, [(p.operation, p.contour) for p in sheet.paths]) for sheet in sheets]
            proofs.append(prove_windows(whole, runs))
    return tuple(proofs)


def check_formats(formats: Sequence[str], machine: Machine) -> None:
    """Refuse formats that are not known, that a machine does not read or whose figures its profile lacks.

    Raises:
        PlanError: the first such format, and those there are, or the keys that are missing.
    """
    for name in formats:
        form = format_named(name)
        if name not in machine.formats:
            raise PlanError(
                f"machine {machine.name!r} reads {', '.join(machine.formats)}, not {name}; "
                "choose another format, or add it to the profile's formats"
            )
        lacking = form.lacking(machine)
        if lacking:
            raise PlanError(
                f"machine {machine.name!r} cannot have {name}: its profile lacks {', '.join(lacking)}; "
                "put in what you measured, or choose another format"
            )


def _is_touched_window(plan: CutPlan) -> bool:
    """Whether a plan is of one window, written anew from where its registration holes are."""
    window = plan.sheets[0].window
    return window is not None and window.touched


def _stems(plan: CutPlan, stem: str) -> list[str]:
    """Return each sheet's file name without its ending, no two alike."""
    if len(plan.sheets) == 1 and not _is_touched_window(plan):
        return [stem]
    stems: list[str] = []
    for sheet in plan.sheets:
        stems.append(_free(f"{stem}-{stem_of(sheet.name)}", "", stems))
    return stems


def _free(stem: str, suffix: str, taken: Collection[str]) -> str:
    """Return a file's name that no other has: a hide may be called what a format's ending is.

    Example:
        >>> _free("cut-r12", ".dxf", ["cut.dxf", "CUT-R12.dxf"])
        'cut-r12-2.dxf'
    """
    known = {other.casefold() for other in taken}
    names = (f"{name}{suffix}" for name in numbered(stem))
    return next(name for name in names if name.casefold() not in known)


def stem_of(name: str) -> str:
    """Return what the files of a job or hide begin with; never as a layout's own do, which lie beside them.

    Example:
        >>> stem_of("Žofie's side / no. 2"), stem_of("layout")
        ('Zofies-side-no-2', 'layout-cut')
    """
    safe = file_safe(name)
    return f"{safe}-cut" if safe.casefold() == _LAYOUT else safe
