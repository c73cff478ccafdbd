"""The proof of windows: put together, their files cut what one long bed would cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.errors import ProofError
from strapwright.core.tolerances import READ_BACK
from strapwright.geometry.intervals import left_of, lengths_at
from strapwright.geometry.transform import moved
from strapwright.machine.types import REGISTRATION

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.geometry.contour import Contour
    from strapwright.machine.types import CutSheet

    Run = tuple[str, Contour]


@dataclass(frozen=True)
class WindowProof:
    """What putting the windows of a hide together showed.

    Args:
        hide: its name.
        format: of the files that were read back, or ``"plan"`` where the plan's own paths were taken.
        windows: how many sheets were put together.
        paths: of the whole.
        greatest_deviation_mm: the furthest any run lies from the whole.
        greatest_gap_mm: the longest stretch of the whole that no run covers.
    """

    hide: str
    format: str
    windows: int
    paths: int
    greatest_deviation_mm: float
    greatest_gap_mm: float


def prove_windows(
    whole: CutSheet,
    windows: Sequence[tuple[CutSheet, Iterable[Run]]],
    format: str = "plan",  # noqa: A002 - the word the files use
    tolerance: float = READ_BACK,
    layers: Sequence[str] | None = None,
) -> WindowProof:
    """Return what putting the windows of a hide together shows, measured against the whole.

    Every run, moved back to where the hide lay first, must lie on a path of the whole that has its layer,
    or be a registration hole; and every path of the whole must be covered from end to end.

    Args:
        whole: all paths, as they would be on a bed long enough.
        windows: each sheet, and what its file holds: layers and paths on the bed.
        format: of the files.
        tolerance: how far a run may lie off, and a gap be long, mm.
        layers: of each path of the whole; None: its operation.

    Raises:
        ProofError: a run that lies nowhere on the whole, or a gap.
    """
    boxes = np.array([path.contour.bounding_box for path in whole.paths])
    on = np.array(layers or [path.operation for path in whole.paths])
    covered: list[list[tuple[float, float]]] = [[] for _ in whole.paths]
    furthest = 0.0
    for sheet, runs in windows:
        shift = sheet.window.shift if sheet.window is not None else 0.0
        for layer, contour in runs:
            run = moved(contour, shift, 0.0)
            points = run.sample(8)
            low, high = points.min(axis=0) - tolerance, points.max(axis=0) + tolerance
            # A run's samples lie within the box of the path it is of.
            near = (on == layer) & (boxes[:, :2] <= high).all(axis=1) & (boxes[:, 2:] >= low).all(axis=1)
            off = np.inf
            for number in np.flatnonzero(near):
                of = whole.paths[number].contour
                apart = float(np.max(of.distance_to(points)))
                if apart <= tolerance:
                    covered[number].append(_stretch(of, run))
                    off = min(off, apart)
            if off > tolerance and not _is_registration(sheet, contour, tolerance):
                x, y = contour.starts[0]
                raise ProofError(
                    f"{format}: {sheet.name} has a run from x {x:.3f}, y {y:.3f} mm that is no part of the "
                    "whole; do not cut from these files, write them again"
                )
            furthest = max(furthest, off if off <= tolerance else 0.0)
    widest = 0.0
    for path, stretches in zip(whole.paths, covered, strict=True):
        gap = _gap(stretches, path.contour.length, closed=path.contour.closed)
        if gap > tolerance:
            raise ProofError(
                f"{format}: the windows of {whole.hide} leave {gap:.3f} mm of {path.name} of {path.part_id} "
                "uncut; do not cut from these files, write them again"
            )
        widest = max(widest, gap)
    return WindowProof(whole.hide, format, len(windows), len(whole.paths), furthest, widest)


def _is_registration(sheet: CutSheet, contour: Contour, tolerance: float) -> bool:
    return any(
        path.part_id == REGISTRATION
        and float(np.max(path.contour.distance_to(contour.sample()))) <= tolerance
        and float(np.max(contour.distance_to(path.contour.sample()))) <= tolerance
        for path in sheet.paths
    )


def _stretch(path: Contour, run: Contour) -> tuple[float, float]:
    """Return what of a path's length a run on it covers; past the first vertex it goes on counting."""
    if run.closed:
        return 0.0, path.length
    at = lengths_at(path, run.sample(8))
    if path.closed:  # follow it past the first vertex: samples are never half a round apart
        steps = np.diff(at)
        steps -= np.round(steps / path.length) * path.length
        at = at[0] + np.concatenate(([0.0], np.cumsum(steps)))
    return float(np.min(at)), float(np.max(at))


def _gap(stretches: Sequence[tuple[float, float]], total: float, *, closed: bool) -> float:
    """Return the longest stretch of a length that is not covered, mm."""
    laid = [
        (low + turn, high + turn)
        for low, high in stretches
        for turn in ((-total, 0, total) if closed else (0,))
    ]
    return max((high - low for low, high in left_of((0.0, total), laid)), default=0.0)
