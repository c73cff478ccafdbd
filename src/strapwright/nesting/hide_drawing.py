"""A hide from a drawing: which closed shapes are its outline and which its flaws, by layer or group."""

from __future__ import annotations

from collections.abc import Callable  # noqa: TC003 -- part of a dataclass's signature
from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.errors import FileProblems
from strapwright.files.read import digest_of
from strapwright.nesting.hide import Flaw, FlawKind

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    from strapwright.geometry.polygon import Side

    Floats = NDArray[np.float64]

SUFFIXES = (".dxf", ".svg")
"""Endings of the drawings a hide is read from."""

NAMES = ("outline", *FlawKind)
"""Layers of a DXF drawing, or groups of an SVG drawing, that say what a shape is."""

LEFT_OUT = "notes"
"""The layer or group for everything that is neither outline nor flaw."""

JOIN = 0.1
"""Ends of lines and arcs that lie nearer than this are joined, mm."""


@dataclass(frozen=True)
class Drawn:
    """One closed shape of a drawing.

    Args:
        name: its layer or group, as written.
        polygon: makes its corners, (N, 2) mm, flattened inward or outward.
    """

    name: str
    polygon: Callable[[Side], Floats]


def read_drawing(path: Path) -> tuple[Floats, tuple[Flaw, ...], str]:
    """Read the outline and flaws of a hide from a DXF or SVG drawing.

    Args:
        path: the drawing; its suffix tells which.

    Returns:
        The outline's corners (arcs flattened inward), the flaws (arcs flattened outward), and the
        file's SHA-256.

    Raises:
        FileProblems: what is wrong with the drawing.
    """
    if path.suffix.lower() == ".dxf":
        from strapwright.nesting.hide_dxf import shapes_in_dxf

        shapes, container = shapes_in_dxf(path), "layer"
    else:
        from strapwright.nesting.hide_svg import shapes_in_svg

        shapes, container = shapes_in_svg(path), "group"
    named = [(shape.name.casefold().strip(), shape) for shape in shapes]
    problems = _misnamed(str(path), named, container)
    if problems:
        raise FileProblems(tuple(problems))
    outline = next(shape for name, shape in named if name == "outline").polygon("inward")
    flaws = tuple(
        Flaw(FlawKind(name), shape.polygon("outward")) for name, shape in named if name != "outline"
    )
    return outline, flaws, digest_of(path)


def _misnamed(source: str, named: Sequence[tuple[str, Drawn]], container: str) -> list[str]:
    """Return what is wrong with the names in a drawing, one line each."""
    expected = f"{', '.join(NAMES[:-1])} or {NAMES[-1]}"
    outlines = sum(name == "outline" for name, _ in named)
    strange = list(dict.fromkeys(shape.name for name, shape in named if name not in NAMES))
    problems = [
        f'{source}: found closed shapes in {container} "{name}", expected {container} {expected}; '
        f'what is none of these goes into a {container} named "{LEFT_OUT}"'
        for name in strange
        if name
    ]
    if "" in strange:
        problems.append(
            f"{source}: found closed shapes in no named {container}, expected {container} {expected}"
        )
    if not named:
        problems.append(f"{source}: found no closed shape, expected one in a {container} named outline")
    elif outlines != 1 and not (strange and not outlines):
        problems.append(
            f"{source}: found {outlines} closed shapes in {container} outline, expected exactly one"
        )
    return problems


def refused(source: Path | str, text: str) -> FileProblems:
    """Return the error for a drawing in which one thing keeps the rest from being read."""
    return FileProblems((f"{source}: {text}",))
