"""A hide from a drawing: which closed shapes are its outline and which its flaws, by layer or group."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import FileProblems
from strapwright.core.findings import Finding, Severity
from strapwright.files.read import digest_of
from strapwright.geometry.drawings.file import gathered_from
from strapwright.geometry.drawings.gathered import LEFT_OUT, Drawn, Gathered, Wanted, listed, plain_name
from strapwright.nesting.hide.types import OTHER_HOLE, Flaw, FlawKind

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from strapwright.core.arrays import Floats


SHOWN: Final = ("outline", *FlawKind)
"""What layers or groups are named, as messages list it."""

NAMES: Final = (*SHOWN, OTHER_HOLE)
"""Layers of a DXF drawing, or groups of an SVG drawing, that say what a shape is."""

HIDE: Final = Wanted(NAMES, "draw a line round the flaw")
"""What is looked for in a drawing of a hide."""


@dataclass(frozen=True, eq=False)
class DrawnHide:
    """A hide as a drawing has it.

    Args:
        outline: its corners, (N, 2) mm, curves flattened inward.
        flaws: curves flattened outward.
        digest: SHA-256 of the file.
        gathered: what was found beside them.
    """

    outline: Floats
    flaws: tuple[Flaw, ...]
    digest: str
    gathered: Gathered


def read_drawing(path: Path) -> DrawnHide:
    """Read the outline and flaws of a hide from a DXF or SVG drawing.

    Args:
        path: the drawing; DXF or SVG by its suffix.

    Raises:
        FileProblems: what is wrong with the drawing.
    """
    gathered = gathered_from(path, HIDE)
    container = "layer" if path.suffix.lower() == ".dxf" else "group"
    named = [(plain_name(shape.name), shape) for shape in gathered.shapes]
    if problems := gathered.problems or _misnamed(gathered, named, container):
        raise FileProblems(tuple(dict.fromkeys(problems)))
    outline = next(shape for name, shape in named if name == "outline").polygon("inward")
    flaws = tuple(
        Flaw(FlawKind(name), shape.polygon("outward")) for name, shape in named if name != "outline"
    )
    return DrawnHide(outline, flaws, digest_of(path), gathered)


def _misnamed(gathered: Gathered, named: Sequence[tuple[str, Drawn]], container: str) -> list[str]:
    """Return what is wrong with the names in a drawing, one line each."""
    source = gathered.source
    expected = f"{', '.join(SHOWN[:-1])} or {SHOWN[-1]}"
    outlines = sum(name == "outline" for name, _ in named)
    strange = list(dict.fromkeys(shape.name for name, shape in named if name not in NAMES))
    problems = [
        f'{source}: found closed shapes in {container} "{name}", expected {container} {expected}; '
        f'anything else goes into a {container} named "{LEFT_OUT}"'
        for name in strange
        if name
    ]
    if "" in strange:
        problems.append(
            f"{source}: found closed shapes in no named {container}, expected {container} {expected}"
        )
    left = listed([*gathered.not_shown, *gathered.no_shapes])
    but = f" (left out: {left})" if left else ""
    if not named:
        problems.append(f"{source}: found no closed shape, expected one in a {container} named outline{but}")
    elif outlines != 1 and not (strange and not outlines):
        problems.append(
            f"{source}: found {outlines} closed shapes in {container} outline, expected exactly one"
            + ("" if outlines else but)
        )
    return problems


def drawing_findings(gathered: Gathered, subject: str) -> tuple[Finding, ...]:
    """Return a finding for what is not shown in a hide's drawing and one for what is no shape, if any.

    Args:
        gathered: what was found in it.
        subject: name of the hide.
    """
    kinds = (
        ("drawing-not-shown", Severity.CAUTION, gathered.not_shown, "the drawing does not show it",
         "If it is a flaw, show it in the drawing and save again."),
        ("drawing-left-out", Severity.NOTE, gathered.no_shapes, "it is not a closed shape",
         f'If it is a flaw, draw a closed line round it; mere notes go into "{LEFT_OUT}".'),
    )  # fmt: skip
    return tuple(
        Finding(
            code,
            severity,
            f"Left out, because {why}: {listed(words)}.",
            do,
            subject=subject,
            numbers={"left_out": float(len(words))},
        )
        for code, severity, words, why, do in kinds
        if words
    )
