"""The proof: a written text is read back by another reader and measured against its plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from strapwright.errors import ProofError
from strapwright.tolerances import READ_BACK
from strapwright.write.format import format_named

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from strapwright.geometry.contour import Contour
    from strapwright.machine.cut_plan import CutPath, CutSheet

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Proof:
    """What reading a file back showed.

    Args:
        format: the file's format.
        paths_expected: how many paths the plan has.
        paths_read: how many the file has; as many, or there would be no proof.
        greatest_deviation_mm: the furthest any path of one lies from its like in the other.
    """

    format: str
    paths_expected: int
    paths_read: int
    greatest_deviation_mm: float


def prove(text: str, format: str, sheet: CutSheet) -> Proof:  # noqa: A002 - the word the files use
    """Read a written text back and measure it against the sheet it was written from.

    Every path must be there once, on its layer, closed or open as planned, and lie within 0.001 mm of
    the plan; measured both ways, so that neither may have more than the other.

    Args:
        text: as it was written.
        format: its format's name.
        sheet: what it was written from.

    Raises:
        ProofError: anything is missing, added, on another layer or off its place.
    """
    read = format_named(format).read_back(text)
    planned = _by_layer((path.layer, index) for index, path in enumerate(sheet.paths))
    found = _by_layer((path.layer, index) for index, path in enumerate(read))
    for layer in (*planned, *(name for name in found if name not in planned)):
        expected, got = len(planned.get(layer, [])), len(found.get(layer, []))
        if expected != got:
            raise ProofError(
                f'{format} does not read back as planned: layer "{layer}" has {got} of '
                f"{expected} paths; do not cut from this file, write it again"
            )
    worst = 0.0
    for layer, indices in planned.items():
        paths = [sheet.paths[k] for k in indices]
        like = [read[k].contour for k in found[layer]]
        for path, contour in zip(paths, _matched(paths, like), strict=True):
            worst = max(worst, _deviation(path, contour, format))
    return Proof(format, len(sheet.paths), len(read), worst)


def _by_layer(pairs: Iterable[tuple[str, int]]) -> dict[str, list[int]]:
    layers: dict[str, list[int]] = {}
    for layer, index in pairs:
        layers.setdefault(layer, []).append(index)
    return layers


def _matched(paths: Sequence[CutPath], read: list[Contour]) -> list[Contour]:
    """Return the read path that is each planned path's like.

    Files keep the plan's order, so most pairs are found at once; what is left is paired by nearness of
    bounding box and length.
    """
    ours = np.array([_outer_figures(path.contour) for path in paths])
    theirs = np.array([_outer_figures(contour) for contour in read])
    pairs = list(range(len(paths)))
    strayed = np.flatnonzero(np.abs(ours - theirs).max(axis=1) > READ_BACK)
    free = strayed.tolist()
    for index in strayed.tolist():
        apart = np.abs(theirs[free] - ours[index]).max(axis=1)
        pairs[index] = free.pop(int(apart.argmin()))
    return [read[k] for k in pairs]


def _outer_figures(contour: Contour) -> tuple[float, ...]:
    return (*contour.bounding_box, contour.length)


def _deviation(path: CutPath, read: Contour, format: str) -> float:  # noqa: A002
    """Return how far a path and its like lie apart, mm, or refuse the file."""
    which = f"{path.name} of {path.part_id}"
    if path.contour.closed != read.closed:
        state = "open" if path.contour.closed else "closed"
        raise ProofError(
            f"{format} does not read back as planned: {which} is {state}; "
            "do not cut from this file, write it again"
        )
    apart = max(
        float(read.distance_to(path.contour.sample()).max()),
        float(path.contour.distance_to(read.sample()).max()),
    )
    if not apart <= READ_BACK:
        raise ProofError(
            f"{format} does not read back as planned: {which} lies {apart:.4g} mm off, more than "
            f"{READ_BACK:g} mm; do not cut from this file, write it again"
        )
    return apart
