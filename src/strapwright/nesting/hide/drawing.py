"""A hide from a drawing: which closed shapes are its outline and which its flaws, by layer or group."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import FileProblems
from strapwright.files.read import digest_of
from strapwright.nesting.hide.drawn_shapes import LEFT_OUT, NAMES, SHOWN, Drawn, Gathered, listed, plain_name
from strapwright.nesting.hide.types import Flaw, FlawKind

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from strapwright.core.arrays import Floats


SUFFIXES: Final = (".dxf", ".svg")
"""Endings of the drawings a hide is read from."""


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
    if path.suffix.lower() == ".dxf":
        from strapwright.nesting.hide.drawing_dxf import shapes_in_dxf

        gathered, container = shapes_in_dxf(path), "layer"
    else:
        from strapwright.nesting.hide.drawing_svg import shapes_in_svg

        gathered, container = shapes_in_svg(path), "group"
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
