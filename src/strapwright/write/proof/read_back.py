"""The proof: a written text is read back by another reader and measured against its plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.errors import ProofError
from strapwright.core.tolerances import READ_BACK
from strapwright.core.units import beyond
from strapwright.geometry.batch import Many, greatest_of_each
from strapwright.machine.toolpath.runs import face_of, is_compensated
from strapwright.write.formats.drive import trace_drive
from strapwright.write.formats.format import format_named
from strapwright.write.proof.blade import blade_deviation, check_lead_ins
from strapwright.write.readers.path import feed_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.core.arrays import Floats
    from strapwright.geometry.contour import Contour
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.types import CutSheet
    from strapwright.write.formats.format import Format
    from strapwright.write.readers.path import PlannedPath, ReadPath


@dataclass(frozen=True)
class Proof:
    """What reading a file back showed.

    Args:
        format: the file's format.
        paths_read: how many paths file and plan have, each pass of the tool counted.
        greatest_deviation_mm: the furthest any path of one lies from its like in the other.
        blade_deviation_mm: the furthest a simulated blade, driven by the file, lies from its contour beyond
            the lead-in; None where the file drives no trailing blade.
        touch_miss_mm: how far the points of the hide that were touched lie from where they were touched;
            None where none were.
    """

    format: str
    paths_read: int
    greatest_deviation_mm: float
    blade_deviation_mm: float | None = None
    touch_miss_mm: float | None = None


def prove(text: str, format: str, sheet: CutSheet, plan: CutPlan) -> Proof:  # noqa: A002 - the files' word
    """Read a written text back and measure it against the sheet it was written from.

    Every path must be there once, on its layer, closed or open as planned, and lie as near the plan as
    the format allows; measured both ways, so that neither may have more than the other. In a file that
    drives a machine all must be in the plan's order, and a simulated blade must follow every contour.

    Args:
        text: as it was written.
        format: its format's name.
        sheet: what it was written from.
        plan: the sheet's.

    Raises:
        ProofError: anything is missing, added, on another layer or off its place.
    """
    form = format_named(format)
    read = form.read_back(text, plan.machine, face_of(sheet, plan.machine))
    wanted = form.planned(sheet, plan)
    planned, found = _by_layer(wanted), _by_layer(read)
    for layer in (*planned, *(name for name in found if name not in planned)):
        expected, got = len(planned.get(layer, [])), len(found.get(layer, []))
        if expected != got:
            raise _not_as_planned(format, f'layer "{layer}" has {got} of {expected} paths')
    pairs: list[tuple[PlannedPath, Contour]] = []
    for layer, indices in planned.items():
        paths = [wanted[k] for k in indices]
        like = [read[k].contour for k in found[layer]]
        if not form.drives:
            like = _matched(paths, like, form.tolerance)
        pairs += zip(paths, like, strict=True)
    worst = _deviation(pairs, form)
    blade = None
    if form.drives:
        _check_order(wanted, read, format)
        if plan.machine.kind == "laser":
            check_lead_ins(read, sheet, plan.machine, format)
        if is_compensated(plan.machine):
            blade = blade_deviation(read, sheet, plan.machine, format)
    return Proof(format, len(read), worst, blade, _touch_miss(sheet))


def _touch_miss(sheet: CutSheet) -> float | None:
    """Return how far the touched points lie from where they were touched, mm, or refuse the sheet.

    Turn and shift are worked out anew, from the points alone.
    """
    if not sheet.pose.touches:
        return None
    hide, bed = (
        np.array([getattr(touch, where) for touch in sheet.pose.touches]) for where in ("hide", "machine")
    )
    put = np.array([sheet.pose.placement.apply_to_point(*point) for point in hide])
    ways = [complex(*(points[1] - points[0])) for points in (hide, bed, put)]
    off = float(np.hypot(*(put - bed).T).max())
    stretch = abs(abs(ways[1]) - abs(ways[0]))
    straight = abs((ways[2] / ways[1]).imag) * abs(ways[1]) <= READ_BACK
    if off > stretch / 2 + READ_BACK or not straight:
        raise ProofError(
            f"{sheet.name}: the hide's touched points are {off:.3f} mm from where they were touched; do not "
            "cut from this file, touch them again"
        )
    return off


def check_cuts_nothing(text: str, format: str, sheet: CutSheet, plan: CutPlan) -> None:  # noqa: A002
    """Refuse a text that ought to mark nothing and does: whose tool is on, or beam stronger than for tracing.

    Args:
        text: as it was written.
        format: its format's name.
        sheet: it belongs to.
        plan: says the machine.

    Raises:
        ProofError: it cuts, or cannot be read.
    """
    read = format_named(format).read_back(text, plan.machine, face_of(sheet, plan.machine))
    traced = plan.machine.laser.trace_power is not None
    allowed = feed_words(*trace_drive(plan.machine), 0.0) if traced else ""
    if any(run.layer != allowed for run in read):
        raise ProofError(f"{format}: a file that must cut nothing cuts; do not run it, write it again")


def _by_layer(paths: Iterable[PlannedPath | ReadPath]) -> dict[str, list[int]]:
    """Return the numbers of the paths on each layer."""
    layers: dict[str, list[int]] = {}
    for index, path in enumerate(paths):
        layers.setdefault(path.layer, []).append(index)
    return layers


def _check_order(wanted: Sequence[PlannedPath], read: Sequence[ReadPath], format: str) -> None:  # noqa: A002
    """Refuse a file whose runs are in another order: an outline cut too early lets its part move."""
    for path, got in zip(wanted, read, strict=True):
        if path.layer != got.layer:
            raise _not_as_planned(format, f"{path.what} is not where it stands in the cutting order")
        if path.after_stop != got.after_stop:
            lacks = "does not stop" if path.after_stop else "stops"
            raise _not_as_planned(format, f"it {lacks} for another tool before {path.what}")


def _matched(paths: Sequence[PlannedPath], read: list[Contour], tolerance: float) -> list[Contour]:
    """Return the read path that is each planned path's like.

    Files keep the plan's order, so most pairs are found at once; what is left is paired by nearness of
    bounding box and length.
    """
    ours, theirs = _outer_figures([path.contour for path in paths]), _outer_figures(read)
    pairs = list(range(len(paths)))
    strayed = np.flatnonzero(np.abs(ours - theirs).max(axis=1) > tolerance)
    free = strayed.tolist()
    for index in strayed.tolist():
        apart = np.abs(theirs[free] - ours[index]).max(axis=1)
        pairs[index] = free.pop(int(apart.argmin()))
    return [read[k] for k in pairs]


def _outer_figures(contours: Sequence[Contour]) -> Floats:
    """Return each contour's bounding box and length, (C, 5) mm."""
    many = Many.of(contours)
    return np.column_stack([many.boxes, many.lengths])


def _deviation(pairs: Sequence[tuple[PlannedPath, Contour]], form: Format) -> float:
    """Return how far the vertices of any path's like lie from it, mm, or refuse the file."""
    if not pairs:
        return 0.0
    for path, read in pairs:
        planned = path.contour
        if form.drives:
            if planned.closed and np.hypot(*(read.starts[0] - read.ends[-1])) > 2 * form.tolerance:
                raise _not_as_planned(form.name, f"{path.what} is open")
        elif planned.closed != read.closed:
            state = "open" if planned.closed else "closed"
            raise _not_as_planned(form.name, f"{path.what} is {state}")
    ours, theirs = Many.of([path.contour for path, _ in pairs]), Many.of([read for _, read in pairs])
    points, counts = theirs.sample(1 if form.chord else 4)
    apart = greatest_of_each(ours.distances(points, counts), counts)
    points, counts = ours.sample()
    missed = greatest_of_each(theirs.distances(points, counts), counts) - form.chord
    furthest = np.maximum(apart, missed)
    worst = int(np.argmax(furthest))
    if not furthest[worst] <= form.tolerance:
        what = pairs[worst][0].what
        off = f"{beyond(furthest[worst], form.tolerance)} mm off, more than {form.tolerance:g} mm"
        raise _not_as_planned(form.name, f"{what} is {off}")
    return float(furthest[worst])


def _not_as_planned(format: str, what: str) -> ProofError:  # noqa: A002
    return ProofError(
        f"{format} does not read back as planned: {what}; do not cut from this file, write it again"
    )
