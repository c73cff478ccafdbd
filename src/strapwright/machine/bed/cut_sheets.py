"""The cut sheets of one hide: common lines, bridges, first cut, bed or windows, cutting order."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from strapwright.core.errors import PlanError
from strapwright.core.findings import Finding, Severity
from strapwright.core.tolerances import CLEARANCE
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line
from strapwright.geometry.transform import Placement
from strapwright.machine.bed.bed_limits import hide_beside_bed, hide_past_bed, off_bed
from strapwright.machine.bed.order import end_of, in_order, in_order_by_tool
from strapwright.machine.bed.registration import registration_holes, scrap_findings, scrap_places
from strapwright.machine.bed.windows import WindowPaths, check_windows, in_windows
from strapwright.machine.hide_pose import HidePose, pose_findings
from strapwright.machine.toolpath.bridges import bridged
from strapwright.machine.toolpath.common_line import share_edges
from strapwright.machine.toolpath.long_edges import LAY_BY, on_bed_only
from strapwright.machine.toolpath.runs import check_depths
from strapwright.machine.types import FIRST_CUT, BedWindow, CutPath, CutSheet
from strapwright.nesting.hide.types import patches
from strapwright.nesting.layout.types import direction_of
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.machine.hide_pose import Point
    from strapwright.machine.profile.machine import Machine
    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import PlacedPart


Paths = tuple[CutPath, ...]


@dataclass(frozen=True)
class LaidPart:
    """A part on a hide and how it is made.

    Args:
        placed: the part and where it lies on the hide.
        paths: of the tool's middle, in the part's frame.
        marks: to lay it by, in the part's frame; none where it is cut whole.
        kerf: width of the cut in its leather, mm.
    """

    placed: PlacedPart
    paths: tuple[CutPath, ...]
    marks: tuple[CutPath, ...]
    kerf: float


@dataclass(frozen=True)
class HideSheets:
    """What is cut from one hide.

    Args:
        sheets: in the order they are cut.
        whole: all paths as on a bed long enough, where the hide is cut in windows.
        bridges: how many each part's outline has, by its id.
        findings: what was noticed.
    """

    sheets: tuple[CutSheet, ...]
    whole: tuple[CutSheet, ...]
    bridges: Mapping[str, int]
    findings: tuple[Finding, ...]


def hide_sheets(
    hide: Hide, parts: Sequence[LaidPart], machine: Machine, touched: HidePose | None = None
) -> HideSheets:
    """Return the sheets of one hide.

    Args:
        hide: the hide.
        parts: those on it.
        machine: the machine.
        touched: how the hide lies, where it was touched; None: as drawn, or as the sheets say.

    Raises:
        PlanError: parts that lie off the bed, one line each, or that cannot be cut in windows.
    """
    pose = touched or HidePose()
    laid = [_on_bed(part, part.paths, pose) for part in parts]
    off = [line for paths in laid for line in off_bed(paths, machine)]
    through = bool(off) and machine.pass_through
    if off and not through:
        raise PlanError("\n".join(off))
    if through:
        check_windows(machine)
        pose = _drawn_through(hide, parts, machine, touched)
        laid = [_on_bed(part, part.paths, pose) for part in parts]
    thickest, zones = _thicknesses(hide, parts, pose, machine)
    check_depths(hide.name, thickest, min(part.placed.part.thickness for part in parts), machine)
    pieces, bridges, findings = _pieces(hide, parts, laid, pose, machine, through=through)
    findings += pose_findings(hide, pose)
    squared, by_hand = first_cut(hide, pose, machine, max(part.kerf for part in parts), in_windows=through)
    findings += by_hand
    # Straps cut to width beforehand lie on the bed instead of the hide.
    leather = None if machine.ends_only else pose.placement.apply(Contour.from_points(hide.outline))
    blank = CutSheet(
        hide.name, hide.name, *machine.bed, (), pose, leather=leather, thickness=thickest, zones=zones
    )
    outlines = _closed(parts, pose)
    xs, ys = zip(*(pose.placement.apply_to_point(*corner) for corner in hide.outline.tolist()), strict=True)
    if not through:
        findings += hide_past_bed(hide.name, (max(xs), max(ys)), machine)
        sheets = _sheets(blank, pieces, outlines, squared, machine)
        return HideSheets(tuple(sheets), (), bridges, tuple(findings))
    reaches = in_windows(pieces, machine, machine.window_margin if touched else None)
    shares = [(after.low, before.high) for before, after in pairwise(reaches)]
    places: list[tuple[Point, ...]] = [() for _ in shares]
    if machine.registration == "scrap" and not machine.ends_only:
        places = scrap_places(hide, pose.placement, list(outlines.values()), shares, machine)
        findings += scrap_findings(hide.name, places)
    findings += hide_beside_bed(hide.name, min(ys), max(ys), machine)
    findings.append(_window_finding(hide.name, reaches, machine))
    windows = tuple(_windows(blank, reaches, places, outlines, machine))
    whole = replace(
        blank, paths=tuple(path for piece in pieces for path in piece), leather=None, thickness=0.0, zones=()
    )
    return HideSheets(windows, (whole,), bridges, tuple(findings))


def _on_bed(part: LaidPart, paths: Paths, pose: HidePose) -> Paths:
    """Return paths in a part's frame where they lie on the bed."""
    put = part.placed.placement.then(pose.placement)
    contours = put.apply_to_each([path.contour for path in paths])
    return tuple(replace(path, contour=one) for path, one in zip(paths, contours, strict=True))


def _drawn_through(
    hide: Hide, parts: Sequence[LaidPart], machine: Machine, touched: HidePose | None
) -> HidePose:
    """Return how a hide lies that is drawn through along x: touched, as drawn, or to be laid so."""
    turn = -math.remainder(direction_of(hide, [part.placed for part in parts]), math.pi)
    pose = touched or (HidePose(Placement(turn), "laid") if abs(turn) > 1e-9 else HidePose())
    boxes = [path.contour.bounding_box for part in parts for path in _on_bed(part, part.paths, pose)]
    low, high = min(box[1] for box in boxes), max(box[3] for box in boxes)
    least, most = machine.window_margin, machine.bed[1] - machine.window_margin
    if high - low > most - least + CLEARANCE:
        raise PlanError(
            f"the parts on {hide.name} reach over {high - low:.1f} mm across the direction it is moved; "
            f"windows of {machine.name!r} are {most - least:g} mm wide; cut the hide into strips first, each "
            "a hide of its own, or use a larger bed"
        )
    inside = low >= least - CLEARANCE and high <= most + CLEARANCE
    first = min(box[0] for box in boxes)
    if touched is not None:
        if not inside:
            past, side = (least - low, "front") if low < least - CLEARANCE else (high - most, "back")
            raise PlanError(
                f"the parts on {hide.name} lie {past:.1f} mm too far to the {side} where it was touched, for "
                f"windows of {machine.name!r} stay {least:g} mm from its edge; move it and touch it again"
            )
        if first < least - CLEARANCE:
            raise PlanError(
                f"the parts on {hide.name} begin too far to the left where it was touched, for windows of "
                f"{machine.name!r} stay {least:g} mm from the bed's edge; push it to the right by "
                f"{least - first:.1f} mm or more and touch it again"
            )
        return pose
    if inside:
        return pose
    return HidePose(Placement(pose.placement.turn, 0.0, least - low), "laid")


def _pieces(
    hide: Hide,
    parts: Sequence[LaidPart],
    laid: Sequence[Paths],
    pose: HidePose,
    machine: Machine,
    *,
    through: bool,
) -> tuple[tuple[Paths, ...], dict[str, int], list[Finding]]:
    """Return the paths on the bed by piece, edges shared and bridges left; with the marks to lay parts by."""
    findings: list[Finding] = []
    pieces = tuple(laid)
    if machine.share_edges and not machine.ends_only:
        shared = share_edges(pieces)
        pieces = shared.pieces
        if shared.edges:
            findings.append(_shared_finding(hide.name, shared.edges, shared.saved))
    bridges: dict[str, int] = {}
    if machine.bridges is not None and not machine.ends_only:
        turns = {p.placed.part.id: (p.placed.placement.turn + pose.placement.turn, p.kerf) for p in parts}
        pieces = tuple(_with_bridges(piece, turns, machine, bridges) for piece in pieces)
    if machine.ends_only:
        marks = [on_bed_only(_on_bed(p, p.marks, pose), machine, through=through) for p in parts]
        pieces = tuple((*piece, *own) for piece, own in zip(pieces, marks, strict=True))
    return pieces, bridges, findings


def _with_bridges(
    piece: Paths, turns: Mapping[str, tuple[float, float]], machine: Machine, made: dict[str, int]
) -> Paths:
    """Return a piece with bridges in the outline of each of its parts."""
    assert machine.bridges is not None
    paths: list[CutPath] = []
    for part in dict.fromkeys(path.part_id for path in piece):
        mine = [path for path in piece if path.part_id == part]
        outer = [path for path in mine if path.is_outline]
        inner = [path for path in mine if not path.is_outline]
        holes = [path.contour for path in inner if path.operation is not Operation.SCORE]
        along, kerf = turns[part]
        runs, made[part] = bridged([path.contour for path in outer], along, holes, machine.bridges, kerf)
        paths += [*inner, *(replace(outer[0], contour=run) for run in runs)]
    return tuple(paths)


def _closed(parts: Sequence[LaidPart], pose: HidePose) -> dict[str, Contour]:
    """Return each part's outline as it is cut, or as it is drawn where the machine does not cut all of it."""
    found: dict[str, Contour] = {}
    for part in parts:
        outer = [path.contour for path in part.paths if path.is_outline and path.contour.closed]
        put = part.placed.placement.then(pose.placement)
        found[part.placed.part.id] = put.apply(outer[0] if outer else part.placed.part.outline)
    return found


def _thicknesses(
    hide: Hide, parts: Sequence[LaidPart], pose: HidePose, machine: Machine
) -> tuple[float, tuple[tuple[float, Contour], ...]]:
    """Return how thick a hide is where it is thickest, and its zones on the bed, for a blade.

    Where it was not measured it is taken to be as thick as the thickest part on it. Straps cut to width
    beforehand lie on the bed instead of the hide.
    """
    if machine.blade is None:
        return 0.0, ()
    wanted = max(part.placed.part.thickness for part in parts)
    if machine.ends_only:
        return wanted, ()
    zones = tuple(
        (thickness or wanted, pose.placement.apply(Contour.from_points(corners)))
        for thickness, corners in patches(hide)
    )
    return max((thick for thick, _ in zones), default=hide.thickness or wanted), zones


def _sheets(
    blank: CutSheet,
    pieces: Sequence[Sequence[CutPath]],
    outlines: Mapping[str, Contour],
    first: Sequence[CutPath],
    machine: Machine,
) -> Iterator[CutSheet]:
    """Yield what is to be marked first, then what is cut.

    Args:
        blank: the sheet without its paths.
        pieces: where they lie on the bed.
        outlines: of every part on the hide, closed, on the bed.
        first: what is cut before any piece, in its order.
        machine: the machine.
    """
    marks = [[path for path in piece if path.name in LAY_BY] for piece in pieces]
    cuts = [[path for path in piece if path.name not in LAY_BY] for piece in pieces]
    closed = {path.part_id for piece in cuts for path in piece if path.is_outline and path.contour.closed}
    blank = replace(blank, other_outlines=tuple(one for part, one in outlines.items() if part not in closed))
    if any(marks):
        backing = replace(blank, leather=None, thickness=0.0, zones=(), lay_by=True)
        yield replace(backing, name=f"{blank.name}, lay by", paths=in_order(marks))
    if any(cuts) or first:
        by_tool = machine.group_by == "tool"
        paths = in_order_by_tool(cuts, first) if by_tool else (*first, *in_order(cuts, end_of(first)))
        yield replace(blank, paths=paths)


def _windows(
    blank: CutSheet,
    reaches: Sequence[WindowPaths],
    places: Sequence[Sequence[Point]],
    outlines: Mapping[str, Contour],
    machine: Machine,
) -> Iterator[CutSheet]:
    """Yield the sheets of every window, the hide moved along.

    Args:
        blank: the sheet without its paths, before the hide is moved along.
        reaches: the windows.
        places: of the registration holes cut in each but the last, likewise.
        outlines: of every part on the hide, closed, likewise.
        machine: the machine.
    """
    shift = 0.0
    pitch = machine.pin_pitch if machine.registration == "bed_pins" else None
    for number, (reach, before, after) in enumerate(
        zip(reaches, [(), *places], [*places, ()], strict=True), 1
    ):
        shift, last = reach.low - machine.window_margin, shift
        advance = shift - last if number > 1 else 0.0
        put = Placement(0.0, -shift, 0.0)
        window = BedWindow(
            number,
            len(reaches),
            shift,
            advance,
            round(advance / pitch) if pitch else 0,
            tuple((x - shift, y) for x, y in before),
        )
        name = f"{blank.name}, window {number} of {len(reaches)}"
        pieces = [[path.moved(put) for path in piece] for piece in reach.pieces]
        holes = [path.moved(put) for path in registration_holes(after, machine)]
        yield from _sheets(
            replace(blank.moved(put), name=name, window=window),
            pieces,
            {part: put.apply(one) for part, one in outlines.items()},
            in_order([holes]),
            machine,
        )


def _window_finding(hide: str, reaches: Sequence[WindowPaths], machine: Machine) -> Finding:
    by = "registration holes in scrap"
    if machine.registration == "bed_pins":
        by = "pins on the bed's edge"
    elif machine.ends_only:
        by = "the lay-by lines, and along the strap by the advance given, from a mark on its edge,"
    return Finding(
        "cut-in-windows",
        Severity.NOTE,
        f"It is longer than the bed of {machine.name!r}: it is cut in {len(reaches)} windows, each a "
        f"file of its own, and the hide is placed again by {by} between them.",
        "Cut them in order; before each, put the hide where its sheet says.",
        hide,
        {"windows": float(len(reaches))},
    )


def _shared_finding(hide: str, edges: int, saved: float) -> Finding:
    return Finding(
        "edges-shared",
        Severity.NOTE,
        f"{edges} straight edge{'s are' if edges > 1 else ' is'} shared by two parts and cut once: "
        f"{saved:.0f} mm less to cut.",
        "Hold the hide flat: parts that share an edge come free on that side sooner.",
        hide,
        {"edges": float(edges), "saved_mm": saved},
    )


def first_cut(
    hide: Hide, pose: HidePose, machine: Machine, kerf: float, *, in_windows: bool
) -> tuple[tuple[CutPath, ...], list[Finding]]:
    """Return the path that squares a hide's raw edge, or a caution where it is left to the hand.

    The leather that stays lies to the left of the path, and half the kerf is taken from the right.

    Args:
        hide: the hide.
        pose: how it lies on the bed.
        machine: the machine.
        kerf: width of the cut, mm.
        in_windows: whether the hide is drawn through: an edge to measure from is not pieced together.

    Returns:
        One path on the bed, with a caution if a blade cuts it, or no path and why; nothing for a hide
        without a first cut.
    """
    cut = hide.first_cut
    if cut is None:
        return (), []
    (ax, ay), (bx, by) = cut.start, cut.end
    length = math.hypot(bx - ax, by - ay)
    right_x, right_y = (by - ay) / length * kerf / 2, (ax - bx) / length * kerf / 2
    drawn = line(ax + right_x, ay + right_y, bx + right_x, by + right_y)
    path = CutPath(hide.name, FIRST_CUT, Operation.CUT, pose.placement.apply(drawn))
    if machine.ends_only:
        why = f"{machine.name!r} leaves long edges to the bench"
    elif in_windows:
        why = "an edge to measure from is not pieced together out of windows"
    elif any(off_bed([path], machine)):
        why = f"it is {length:.0f} mm long and leaves the bed of {machine.name!r}"
    else:
        x, y = path.contour.starts[0].tolist()
        from_edge = Finding(
            "first-cut-from-edge",
            Severity.CAUTION,
            f"The blade begins the first cut at the hide's edge, at x {x:.0f}, y {y:.0f} mm on the bed, "
            "where it may fold the leather.",
            "Tape the hide's edge down there and lay a strip of scrap against it.",
            hide.name,
        )
        return (path,), [from_edge] if machine.kind == "drag_knife" else []
    return (), [
        Finding(
            "first-cut-by-hand",
            Severity.CAUTION,
            f"The first cut, which squares the raw edge, is not in the files: {why}.",
            "Cut it by hand along a straightedge before the hide goes on the bed: everything is placed "
            "from it.",
            hide.name,
        )
    ]
