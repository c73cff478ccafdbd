"""A layout as JSON and back, bound to the job and the hides it was made for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field

from strapwright.errors import FileProblems
from strapwright.files.validate import Strict, validate
from strapwright.findings import Finding, Severity
from strapwright.geometry.transform import Placement

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.hide import Hide
    from strapwright.nesting.layout import Layout
    from strapwright.parts.part import Part

VERSION = 1
"""Version of the layout file; one that strapwright does not know is refused."""

Finite = Annotated[float, Field(allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]


class _Hide(Strict):
    name: str
    digest: str


class _Clearance(Strict):
    gap_mm: NotNegative
    margin_mm: NotNegative
    kerf_mm: NotNegative
    lead_in_mm: NotNegative = 0.0
    shared: bool = False


class _Placed(Strict):
    id: str
    hide: str
    turn_rad: Finite
    x_mm: Finite
    y_mm: Finite


class _Unplaced(Strict):
    id: str
    reason: str


class _Finding(Strict):
    code: str
    severity: Severity
    subject: str
    what: str
    do: str
    numbers: dict[str, Finite]


class LayoutFile(Strict):
    """What a layout file holds."""

    version: Literal[1]
    mark: str = ""
    job_digest: str
    hides: list[_Hide]
    clearance: _Clearance
    seed: int
    steps: Annotated[int, Field(ge=0)]
    bound_area_mm2: NotNegative | None = None
    placed: list[_Placed]
    unplaced: list[_Unplaced]
    findings: list[_Finding]


def layout_to_json(layout: Layout, job_digest: str) -> dict[str, Any]:
    """Return a layout as plain JSON values; parts and hides by name only.

    Turns are in radians, so that every number reads back bit for bit.

    Args:
        layout: the layout.
        job_digest: of the job its parts were drafted from.
    """
    return {
        "version": VERSION,
        "job_digest": job_digest,
        "hides": [{"name": hide.name, "digest": hide.digest} for hide in layout.hides],
        "clearance": {
            "gap_mm": layout.clearance.gap,
            "margin_mm": layout.clearance.margin,
            "kerf_mm": layout.clearance.kerf,
            "lead_in_mm": layout.clearance.lead_in,
            "shared": layout.clearance.shared,
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
            }
            for placed in layout.placed
        ],
        "unplaced": [{"id": left.part.id, "reason": left.reason} for left in layout.unplaced],
        "findings": [finding.as_json() for finding in layout.findings],
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
    from strapwright.nesting.layout import Clearance, Layout, Placed, Unplaced
    from strapwright.nesting.verify import verify

    if isinstance(data, dict) and data.get("version", VERSION) != VERSION:
        found = f"{source}: version: found {data['version']!r}, expected {VERSION}"
        raise FileProblems((f"{found}; nest the job again with this strapwright",))
    file = validate(LayoutFile, data, source)
    by_id = {part.id: part for part in parts}
    by_name = {hide.name: hide for hide in hides}
    problems = _changes(file, source, by_name, job_digest)
    ids = [one.id for one in file.placed] + [one.id for one in file.unplaced]
    problems += [
        f"{source}: part {id_} is not in the job; nest the job again"
        for id_ in dict.fromkeys(ids)
        if id_ not in by_id
    ]
    if problems:
        raise FileProblems(tuple(problems))
    layout = Layout(
        hides=tuple(by_name[hide.name] for hide in file.hides),
        placed=tuple(
            Placed(by_id[one.id], one.hide, Placement(one.turn_rad, one.x_mm, one.y_mm))
            for one in file.placed
        ),
        unplaced=tuple(Unplaced(by_id[one.id], one.reason) for one in file.unplaced),
        clearance=Clearance(
            file.clearance.gap_mm,
            file.clearance.margin_mm,
            file.clearance.kerf_mm,
            file.clearance.lead_in_mm,
            file.clearance.shared,
        ),
        findings=tuple(
            Finding(f.code, f.severity, f.what, f.do, f.subject, f.numbers) for f in file.findings
        ),
        seed=file.seed,
        steps=file.steps,
        bound=file.bound_area_mm2,
    )
    verify(layout, by_id)
    return layout


def _changes(file: LayoutFile, source: str, by_name: dict[str, Hide], job_digest: str) -> list[str]:
    """Return what has changed since the layout was made, one line each."""
    out = []
    if file.job_digest != job_digest:
        out.append(f"{source}: the job has changed since this layout was made; nest it again")
    for hide in file.hides:
        now = by_name.get(hide.name)
        if now is None:
            out.append(f"{source}: the layout uses hide {hide.name}, which was not given")
        elif now.digest != hide.digest:
            out.append(f"{source}: hide {hide.name} has changed since this layout was made; nest it again")
    return out
