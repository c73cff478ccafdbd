"""What is asked of a job's cut files: the form as it was filled in, and what a machine answers to it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import PlanError, SafetyError, UnitError
from strapwright.core.units import parse_length
from strapwright.job.draft import draft
from strapwright.machine.kerf import find_kerf
from strapwright.machine.planning import too_thick
from strapwright.machine.profile.machine import read_machine
from strapwright.page.forms.field import units_of
from strapwright.page.forms.page_words import in_page_words
from strapwright.page.sheet.permission import check_programs
from strapwright.rules.safety import FUME_RISK, cautions, check_fumes, doubtful_tannages

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from starlette.datastructures import ImmutableMultiDict

    from strapwright.core.units import Units
    from strapwright.machine.profile.machine import Machine
    from strapwright.parts.part import Part

Point = tuple[float, float]

FORMAT_WORDS: Final[Mapping[str, str]] = {
    "dxf": "DXF, drawing",
    "dxf_r12": "DXF of release 12, drawing for old programs",
    "svg": "SVG, drawing",
    "gcode": "G-code, drives the machine",
    "hpgl": "HP-GL, drives a plotter",
}
"""Formats by their names, as they are offered."""

_NUMBER: Final = re.compile(r"[-+]?(\d+([.,]\d*)?|[.,]\d+)")

_POINTS: Final = (("touch-1", "First point"), ("touch-2", "Second point"))
_HOLES: Final = (("hole-a", "A"), ("hole-b", "B"))


@dataclass(frozen=True)
class CutForm:
    """What is asked of cut files.

    Args:
        formats: those wanted; none means all the machine reads.
        kerf: width of the cut given by hand, mm; None takes the measured one.
        units: of lengths on the cut sheet.
        partial: whether files are made of what is placed even if something is not.
        long_edges_by_hand: whether the long edges are left to the strap cutter.
        fumes: what was typed to take the risk of fumes; empty for nothing.
        touches: two points of the hide, mm as drawn, and what the machine showed on them; or none.
        window: the one to write again; None writes everything.
        holes: what the machine showed on that window's registration holes, by their names.
    """

    formats: tuple[str, ...] = ()
    kerf: float | None = None
    units: Units = "mm"
    partial: bool = False
    long_edges_by_hand: bool = False
    fumes: str = ""
    touches: tuple[tuple[Point, Point], ...] = ()
    window: int | None = None
    holes: tuple[tuple[str, Point], ...] = ()


def read_kerf(given: Mapping[str, Any]) -> float | None:
    """Return the width of the cut given by hand, mm; None where nothing is typed.

    Raises:
        UnitError: it is no length.
    """
    typed = str(given.get("kerf") or "").strip()
    return parse_length(typed) if typed else None


def read_cut_form(given: ImmutableMultiDict[str, Any]) -> tuple[CutForm, dict[str, str]]:
    """Return a form as it was filled in, and what is wrong with it by its fields' names."""
    wrong: dict[str, str] = {}

    def text(name: str) -> str:
        return str(given.get(name) or "").strip()

    def point(name: str, what: str) -> Point | None:
        typed = [text(f"{name}-x"), text(f"{name}-y")]
        if not any(typed):
            return None
        if not all(_NUMBER.fullmatch(one) and len(one) < 20 for one in typed):
            shown = ", ".join(one or "nothing" for one in typed)
            wrong[name.removesuffix("-hide")] = f"{what}: found {shown}; expected two numbers, x and y"
            return None
        x, y = (float(one.replace(",", ".")) for one in typed)
        return x, y

    kerf = None
    try:
        kerf = read_kerf(given)
    except UnitError as error:
        wrong["kerf"] = str(error)
    touches = []
    for name, what in _POINTS:
        hide, own = point(f"{name}-hide", f"{what} of the hide"), point(name, f"{what} on the machine")
        if hide is not None and own is not None:
            touches.append((hide, own))
        elif (hide, own) != (None, None) and name not in wrong:
            wrong[name] = f"{what}: give where it is on the hide and what the machine shows there, or neither"
    if len(touches) == 1 and not wrong:
        wrong["touch-2" if text("touch-1-x") else "touch-1"] = "give both points, or none"
    window, holes = None, []
    if typed := text("window"):
        window = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 4 else 0
        for name, what in _HOLES:
            own = point(name, f"Hole {what}")
            if own is not None:
                holes.append((what, own))
            elif name not in wrong:
                wrong[name] = f"Hole {what}: found nothing; expected what the machine shows on its middle"
    formats = tuple(str(one) for one in given.getlist("format"))
    if text("choose") and not formats:
        wrong["format"] = "choose at least one kind of file"
    form = CutForm(
        formats,
        kerf,
        units_of(given),
        text("partial") == "yes",
        text("long_edges_by_hand") == "yes",
        text("fumes"),
        tuple(touches),
        window,
        tuple(holes),
    )
    return form, wrong


def fumes_refused(typed: str, parts: tuple[Part, ...], machine: Machine) -> str:
    """Return what is wrong with how the risk of fumes was taken; empty where it was, or there is none."""
    return fumes_not_taken(typed, doubtful_tannages((part.tannage for part in parts), machine.kind))


def fumes_not_taken(typed: str, wanted: str) -> str:
    """Return what is wrong with how the risk of fumes was taken; empty where it was, or there is none.

    Args:
        typed: to take it.
        wanted: the tannages that are burnt only on one's word, in words; empty for none.
    """
    if not wanted or typed.strip().casefold() == wanted:
        return ""
    return f'found "{typed}", expected "{wanted}", typed once you have read the risk and take it'


def fume_view(parts: tuple[Part, ...], machine: Machine) -> dict[str, Any]:
    """Return the risk of burning a job's leathers, and what is typed to take it; empty where there is none.

    Raises:
        SafetyError: leather that no word of yours lets a laser burn.
    """
    tannages = [part.tannage for part in parts]
    check_fumes(tannages, machine.kind, accept_fume_risk=True)
    doubtful = doubtful_tannages(tannages, machine.kind)
    return {"doubtful": doubtful, "risk": f"{FUME_RISK.format(tannages=doubtful)}." if doubtful else ""}


def machine_view(job_file: Path, profile: Path, layout_shared: bool | None) -> dict[str, Any]:
    """Return what a machine says of cutting a job: formats, kerf in each leather, fumes, cautions.

    Args:
        job_file: the job's.
        profile: the machine's file.
        layout_shared: whether the job's layout was made for common edges cut once; None without a layout.
    """
    from strapwright.job.spec.job import read_job
    from strapwright.write.formats.format import format_named

    machine = read_machine(str(profile))
    parts = draft(check_programs(read_job(job_file))).parts
    leathers = dict.fromkeys((part.tannage, part.thickness) for part in parts)
    kerfs = []
    for tannage, thickness in leathers:
        row: dict[str, Any] = {"leather": f"{tannage}, {thickness:.3g} mm", "width": "", "wrong": ""}
        row |= {"origin": "", "asked": {"material": str(tannage), "thickness": f"{thickness:.4g} mm"}}
        try:
            found = find_kerf(machine, tannage, thickness)
            row["width"] = f"{found.width:.3g} mm" if found.width else "none"
            own = row["width"] if len(found.rows) == 1 else ""  # said once
            row["origin"] = found.origin().removeprefix(own).strip() or "the blade takes nothing away"
        except PlanError as error:
            row["wrong"] = in_page_words(str(error))
        kerfs.append(row)
    fumes, refused = {"doubtful": "", "risk": ""}, []
    try:
        fumes = fume_view(parts, machine)
    except SafetyError as error:
        refused.append(str(error))
    thick = [f"{part.id} is {said}" for part in parts if (said := too_thick(part.thickness, machine))]
    return {
        "machine": machine,
        "machine_file": profile.name,
        "formats": [
            {"name": name, "words": FORMAT_WORDS[name], "lacks": format_named(name).lacking(machine)}
            for name in machine.formats
        ],
        "kerfs": kerfs,
        **fumes,
        "refused": [*refused, *thick],
        "cautions": cautions(machine.kind),
        "shared": machine.share_edges and not machine.ends_only,
        "layout_shared": layout_shared,
    }
