"""A layout as JSON and back, bound to the job and the hides it was made for."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal

import numpy as np
from pydantic import Field

from strapwright.core.errors import FileProblems
from strapwright.core.findings import Finding, Severity
from strapwright.files.messages import nearest
from strapwright.files.read import read_text, refused
from strapwright.files.validate import Strict, validate
from strapwright.geometry.transform import Placement
from strapwright.nesting.hide.outline_check import shape_problem
from strapwright.nesting.layout.strap_cutter import rips_as_json
from strapwright.nesting.layout.types import AvoidedZone, Clearance, Layout, PlacedPart, UnplacedPart
from strapwright.nesting.layout.verify import is_sound, verify

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from strapwright.job.draft import Draft
    from strapwright.nesting.hide.types import Hide
    from strapwright.parts.part import Part


VERSION = 1
"""Version of the layout file; one that strapwright does not know is refused."""


Finite = Annotated[float, Field(allow_inf_nan=False)]


NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]


class _HideEntry(Strict):
    name: str
    digest: str


class _ClearanceEntry(Strict):
    gap_mm: NotNegative
    margin_mm: NotNegative
    kerf_mm: NotNegative
    lead_in_mm: NotNegative = 0.0
    shared: bool = False


class _PlacedEntry(Strict):
    id: str
    hide: str
    turn_rad: Finite
    x_mm: Finite
    y_mm: Finite
    mirror: bool = False


class _UnplacedEntry(Strict):
    id: str
    reason: str


class _FindingEntry(Strict):
    code: str
    severity: Severity
    subject: str
    what: str
    do: str
    numbers: dict[str, Finite]


class _RipEntry(Strict):
    kind: Literal["first", "strap", "band", "waste", "rest"]
    width_mm: NotNegative
    from_edge_mm: Finite
    parts: list[str]
    trim_to_mm: NotNegative = 0.0


class _RipListEntry(Strict):
    hide: str
    begins: str
    strips: list[_RipEntry]
    cut_out_first: list[str]
    drawn_together_mm: NotNegative


class _AvoidedEntry(Strict):
    hide: str
    points_mm: Annotated[list[tuple[Finite, Finite]], Field(min_length=3)]


class LayoutFile(Strict):
    """What a layout file holds."""

    version: Literal[1]
    mark: str = ""
    job_digest: str
    hides: list[_HideEntry]
    clearance: _ClearanceEntry
    seed: int
    steps: Annotated[int, Field(ge=0)]
    bound_area_mm2: NotNegative | None = None
    placed: list[_PlacedEntry]
    locked: Annotated[list[str], Field(default_factory=list)]
    avoided: Annotated[list[_AvoidedEntry], Field(default_factory=list)]
    unplaced: list[_UnplacedEntry]
    findings: list[_FindingEntry]
    strap_cutter: Annotated[list[_RipListEntry], Field(default_factory=list)]


def layout_to_json(layout: Layout, job_digest: str) -> dict[str, Any]:
    """Return a layout as plain JSON values; parts and hides by name only.

    Turns are in radians, so that every number reads back bit for bit. The strips for a strap cutter follow
    from the rest and are not read back.

    Args:
        layout: the layout.
        job_digest: of the job its parts were drafted from.
    """
    avoided = [{"hide": zone.hide, "points_mm": zone.polygon.tolist()} for zone in layout.avoided]
    kept = layout.clearance
    return {
        "version": VERSION,
        "job_digest": job_digest,
        "hides": [{"name": hide.name, "digest": hide.digest} for hide in layout.hides],
        "clearance": {
            "gap_mm": kept.gap,
            "margin_mm": kept.margin,
            "kerf_mm": kept.kerf,
            "lead_in_mm": kept.lead_in,
            "shared": kept.shared,
        },
        "seed": layout.seed,
        "steps": layout.steps,
        "bound_area_mm2": layout.bound,
        "placed": [
            {
                "id": placed.part.id,
                "hide": placed.hide,
                "turn_rad": placed.placement.turn,
                "x_mm": placed.placement.x,
                "y_mm": placed.placement.y,
                **({"mirror": True} if placed.placement.mirror else {}),
            }
            for placed in layout.placed
        ],
        "locked": list(layout.locked),
        **({"avoided": avoided} if avoided else {}),
        "unplaced": [{"id": left.part.id, "reason": left.reason} for left in layout.unplaced],
        "findings": [finding.as_json() for finding in layout.findings],
        "strap_cutter": rips_as_json(layout),
    }


def layout_from_json(
    data: object,
    parts: Sequence[Part],
    hides: Sequence[Hide],
    *,
    job_digest: str,
    source: str = "layout.json",
) -> Layout:
    """Return the layout a file describes, if it was made for this job and these hides.

    Args:
        data: what the file holds.
        parts: the parts of the job as it is now.
        hides: the hides as they are now, in any order.
        job_digest: of the job as it is now.
        source: the file's name, for messages.

    Raises:
        FileProblems: not a layout, or made for another job or hide, or for either before it was changed.
        NestError: it does not stand up to `verify`: someone moved a part by hand.
    """
    file = _validated(data, source)
    by_id, by_name = {part.id: part for part in parts}, {hide.name: hide for hide in hides}
    changes = _changes(file, source, by_name, job_digest)
    if problems := (*changes, *_unknown_parts(file, source, by_id)):
        raise FileProblems(problems)
    layout = _layout(file, by_id, by_name)
    verify(layout, by_id)
    return layout


@dataclass(frozen=True)
class ResumePoint:
    """The start of a nest that resumes from a layout.

    Args:
        locked: parts that stay as they lie.
        layout: the whole layout, where it is of this very job and these hides and may be cut; else None.
        job_changed: whether it was made for another job, or for this one before it was changed.
    """

    locked: tuple[PlacedPart, ...]
    layout: Layout | None
    job_changed: bool


def _unknown_parts(file: LayoutFile, source: str, by_id: dict[str, Part]) -> list[str]:
    ids = [one.id for one in file.placed] + [one.id for one in file.unplaced]
    return [
        f"{source}: part {id_} is not in the job; nest the job again"
        for id_ in dict.fromkeys(ids)
        if id_ not in by_id
    ]


def resume_point_from_json(
    data: object,
    parts: Sequence[Part],
    hides: Sequence[Hide],
    *,
    job_digest: str,
    source: str = "layout.json",
) -> ResumePoint:
    """Return the locked parts of a layout file as a start for a job that may have changed since.

    Args:
        data: what the file holds; its ``locked`` names the parts that stay.
        parts: the parts of the job as it is now.
        hides: the hides as they are now.
        job_digest: of the job as it is now.
        source: the file's name, for messages.

    Raises:
        FileProblems: not a layout; a locked part that is not placed there or not in the job; or a hide with
            locked parts on it that was not given or has changed.
    """
    file = _validated(data, source)
    by_id, by_name = {part.id: part for part in parts}, {hide.name: hide for hide in hides}
    lying = {one.id: one for one in file.placed}
    problems = [
        f"{source}: locked: {_why_not(id_, list(lying))}"
        for id_ in file.locked
        if id_ not in lying or id_ not in by_id
    ]
    locked = [lying[id_] for id_ in dict.fromkeys(file.locked) if id_ in lying and id_ in by_id]
    problems += _hide_changes(file, source, by_name, {one.hide for one in locked})
    if problems:
        raise FileProblems(tuple(problems))
    kept = tuple(PlacedPart(by_id[one.id], one.hide, _placement(one)) for one in locked)
    changed = file.job_digest != job_digest
    same_hides = [hide.name for hide in file.hides] == list(by_name)
    if not same_hides or _changes(file, source, by_name, job_digest):
        return ResumePoint(kept, None, changed)
    if unknown := _unknown_parts(file, source, by_id):
        raise FileProblems(tuple(unknown))
    layout = _layout(file, by_id, by_name)
    # Where a part was moved by hand, what is locked stays and the rest is laid anew round it.
    return ResumePoint(kept, layout if is_sound(layout, by_id) else None, changed)


def _why_not(id_: str, lying: Sequence[str]) -> str:
    if id_ in lying:
        return f"{id_} is not in the job; take it out of locked"
    near = nearest(id_, lying)
    hint = f'did you mean "{near}"?' if near else "take it out of locked"
    return f"{id_} is not placed in this layout; {hint}"


def _validated(data: object, source: str) -> LayoutFile:
    if isinstance(data, dict) and data.get("version", VERSION) != VERSION:
        found = f"version: found {data['version']!r}, expected {VERSION}"
        raise refused(source, f"{found}; nest the job again with this strapwright")
    file = validate(LayoutFile, data, source)
    shapes = [np.array(zone.points_mm) for zone in file.avoided]
    faults = [(number, shape_problem(shape)) for number, shape in enumerate(shapes, start=1)]
    wrong = tuple(f"{source}: avoided[{number}]: {problem}" for number, problem in faults if problem)
    if wrong:
        raise FileProblems(wrong)
    return file


def _placement(one: _PlacedEntry) -> Placement:
    return Placement(one.turn_rad, one.x_mm, one.y_mm, one.mirror)


def _layout(file: LayoutFile, by_id: dict[str, Part], by_name: dict[str, Hide]) -> Layout:
    return Layout(
        hides=tuple(by_name[hide.name] for hide in file.hides),
        placed=tuple(PlacedPart(by_id[one.id], one.hide, _placement(one)) for one in file.placed),
        unplaced=tuple(UnplacedPart(by_id[one.id], one.reason) for one in file.unplaced),
        clearance=Clearance(*dict(file.clearance).values()),
        findings=tuple(Finding(**dict(found)) for found in file.findings),
        seed=file.seed,
        steps=file.steps,
        bound=file.bound_area_mm2,
        locked=tuple(file.locked),
        avoided=tuple(AvoidedZone(zone.hide, np.array(zone.points_mm)) for zone in file.avoided),
    )


def _changes(file: LayoutFile, source: str, by_name: dict[str, Hide], job_digest: str) -> list[str]:
    """Return what has changed since the layout was made, one line each."""
    changed = [f"{source}: the job has changed since this layout was made; nest it again"]
    hides = _hide_changes(file, source, by_name, {hide.name for hide in file.hides})
    return [*(changed if file.job_digest != job_digest else ()), *hides]


def _hide_changes(file: LayoutFile, source: str, by_name: dict[str, Hide], names: set[str]) -> Iterator[str]:
    for hide in file.hides:
        if hide.name in names and hide.name not in by_name:
            yield f"{source}: the layout uses hide {hide.name}, which was not given"
        elif hide.name in names and by_name[hide.name].digest != hide.digest:
            yield f"{source}: hide {hide.name} has changed since this layout was made; nest it again"


def read_layout(path: Path, drafted: Draft, hides: Sequence[Hide]) -> Layout:
    """Read a layout file and check it against its job and hides.

    Raises:
        FileProblems: not a layout file.
        NestError: it was made for another job or hide, or something on it does not keep clear.
    """
    data = _layout_data(path)
    return layout_from_json(data, drafted.parts, hides, job_digest=drafted.digest, source=str(path))


def read_start(path: Path, drafted: Draft, hides: Sequence[Hide]) -> ResumePoint:
    """Read a layout to go on from: the parts it locks stay, and it is kept if nothing better is found.

    The job may have changed since; then only what is locked stays.

    Raises:
        FileProblems: not a layout file, or what it locks is not in this job or on these hides.
    """
    data = _layout_data(path)
    return resume_point_from_json(data, drafted.parts, hides, job_digest=drafted.digest, source=str(path))


def _layout_data(path: Path) -> object:
    try:
        return json.loads(read_text(path, limit_mb=50))
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise refused(path, f"{where}: not JSON, so not a layout file; nest the job again") from error
    except FileProblems:
        raise
    except (ValueError, RecursionError) as error:
        raise refused(path, f"not a layout file: {error}; nest the job again") from error
