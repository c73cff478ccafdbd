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
from strapwright.geometry.transform import Placement, moved as moved_by
from strapwright.machine.hide_pose import HidePose, pose_findings
from strapwright.machine.sheet.bed import hide_beside_bed, hide_past_bed, off_bed
from strapwright.machine.sheet.order import end_of, in_order, in_order_by_tool
from strapwright.machine.sheet.registration import registration_holes, scrap_findings, scrap_places
from strapwright.machine.sheet.window import WindowPaths, check_windows, in_windows, onto_bed
from strapwright.machine.toolpath.bridges import bridged
from strapwright.machine.toolpath.common_line import share_edges
from strapwright.machine.toolpath.long_edges import LAY_BY, on_bed_only
from strapwright.machine.toolpath.runs import check_depths
from strapwright.machine.types import FIRST_CUT, BedWindow, CutPath, CutSheet
from strapwright.nesting.hide.thickness import patches
from strapwright.nesting.layout.types import direction_of
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from strapwright.machine.profile.machine import Machine
    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import PlacedPart


PathGroup = tuple[CutPath, ...]


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
    laid = [tuple(_paths(part, pose)) for part in parts]
    off = [line for paths in laid for line in off_bed(paths, machine)]
    through = bool(off) and machine.pass_through
    if off and not through:
        raise PlanError("\n".join(off))
    if through:
        check_windows(machine)
        pose = _drawn_through(hide, parts, machine, touched)
        laid = [tuple(_paths(part, pose)) for part in parts]
    thicknesses = _thicknesses(hide, parts, pose, machine)
    check_depths(hide.name, thicknesses[0], min(part.placed.part.thickness for part in parts), machine)
    outlines = _closed(parts, pose)
    pieces, bridges, findings = _pieces(hide, parts, laid, pose, machine, through=through)
    findings += pose_findings(hide, pose)
    squared, by_hand = first_cut(hide, pose, machine, max(part.kerf for part in parts), in_windows=through)
    findings += by_hand
    far = [pose.placement.apply_to_point(*corner) for corner in hide.outline.tolist()]
    if not through:
        corner = max(x for x, _ in far), max(y for _, y in far)
        findings += hide_past_bed(hide.name, corner, machine)
        sheets = _numbered(
            hide,
            outlines,
            thicknesses,
            pose,
            [WindowPaths(0.0, machine.bed[0], pieces)],
            [()],
            machine,
            None,
            squared,
        )
        return HideSheets(sheets, (), bridges, tuple(findings))
    reaches = in_windows(pieces, machine, machine.window_margin if touched else None)
    zones = [(after.low, before.high) for before, after in pairwise(reaches)]
    places: list[tuple[tuple[float, float], ...]] = [() for _ in zones]
    if machine.registration == "scrap" and not machine.ends_only:
        places = scrap_places(hide, pose.placement, list(outlines.values()), zones, machine)
        findings += scrap_findings(hide.name, places)
    findings += hide_beside_bed(hide.name, min(y for _, y in far), max(y for _, y in far), machine)
    findings.append(_window_finding(hide.name, reaches, machine))
    sheets = _numbered(
        hide, outlines, thicknesses, pose, reaches, [*places, ()], machine, machine.window_margin
    )
    everything = tuple(path for piece in pieces for path in piece)
    whole = CutSheet(hide.name, hide.name, *machine.bed, everything, pose)
    return HideSheets(sheets, (whole,), bridges, tuple(findings))


def _paths(part: LaidPart, pose: HidePose) -> list[CutPath]:
    """Return a part's paths where they lie on the bed."""
    put = part.placed.placement.then(pose.placement)
    return [replace(path, contour=put.apply(path.contour)) for path in part.paths]


def _drawn_through(
    hide: Hide, parts: Sequence[LaidPart], machine: Machine, touched: HidePose | None
) -> HidePose:
    """Return how a hide lies that is drawn through along x: touched, as drawn, or to be laid so."""
    turn = -math.remainder(direction_of(hide, [part.placed for part in parts]), math.pi)
    pose = touched or (HidePose(Placement(turn), "laid") if abs(turn) > 1e-9 else HidePose())
    boxes = [path.contour.bounding_box for part in parts for path in _paths(part, pose)]
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
    laid: Sequence[PathGroup],
    pose: HidePose,
    machine: Machine,
    *,
    through: bool,
) -> tuple[tuple[PathGroup, ...], dict[str, int], list[Finding]]:
    """Return the paths on the bed by piece, edges shared and bridges left; with the marks to lay parts by."""
    findings: list[Finding] = []
    pieces: tuple[PathGroup, ...] = tuple(laid)
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
        marks = [_paths(replace(part, paths=part.marks), pose) for part in parts]
        pieces = tuple(
            (*piece, *on_bed_only(own, machine, through=through))
            for piece, own in zip(pieces, marks, strict=True)
        )
    return pieces, bridges, findings


def _with_bridges(
    piece: PathGroup,
    turns: Mapping[str, tuple[float, float]],
    machine: Machine,
    made: dict[str, int],
) -> PathGroup:
    """Return a piece with bridges in the outline of each of its parts."""
    assert machine.bridges is not None
    paths: list[CutPath] = []
    for part in dict.fromkeys(path.part_id for path in piece):
        mine = [path for path in piece if path.part_id == part]
        outer = [path for path in mine if path.is_outline]
        holes = [
            path.contour for path in mine if not path.is_outline and path.operation is not Operation.SCORE
        ]
        along, kerf = turns[part]
        runs, made[part] = bridged([path.contour for path in outer], along, holes, machine.bridges, kerf)
        paths += [path for path in mine if not path.is_outline]
        paths += [replace(outer[0], contour=run) for run in runs]
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
        (patch.thickness or wanted, pose.placement.apply(Contour.from_points(patch.polygon)))
        for patch in patches(hide)
    )
    return max((thick for thick, _ in zones), default=hide.thickness or wanted), zones


def _numbered(
    hide: Hide,
    outlines: Mapping[str, Contour],
    thicknesses: tuple[float, tuple[tuple[float, Contour], ...]],
    pose: HidePose,
    reaches: Sequence[WindowPaths],
    places: Sequence[Sequence[tuple[float, float]]],
    machine: Machine,
    margin: float | None,
    squared: Sequence[CutPath] = (),
) -> tuple[CutSheet, ...]:
    """Return the sheets: for each window what is to be marked first, then what is cut.

    Args:
        hide: the hide.
        outlines: of every part on it, closed, on the bed.
        thicknesses: of the hide where it is thickest, mm, and of its zones, on the bed.
        pose: how it lies on the bed.
        reaches: the windows, or the one reach of a bed that takes everything.
        places: of the registration holes cut in each, before the hide is moved along.
        machine: the machine.
        margin: where on the bed a window begins, mm; None where there are no windows.
        squared: the first cut of a raw edge, where the machine makes it.
    """
    sheets: list[CutSheet] = []
    thickest, zones = thicknesses
    # Straps cut to width beforehand lie on the bed instead of the hide.
    leather = None if machine.ends_only else pose.placement.apply(Contour.from_points(hide.outline))
    before = 0.0
    held: Sequence[tuple[float, float]] = ()
    for number, (reach, holes) in enumerate(zip(reaches, places, strict=True), 1):
        shift = 0.0 if margin is None else reach.low - margin
        window = None
        name = hide.name
        if margin is not None:
            advance = shift - before if number > 1 else 0.0
            pitch = machine.pin_pitch if machine.registration == "bed_pins" else None
            pins = round(advance / pitch) if pitch else 0
            now = tuple((x - shift, y) for x, y in held)
            window = BedWindow(number, len(reaches), shift, advance, pins, now)
            name = f"{hide.name}, window {number} of {len(reaches)}"
        before, held = shift, holes
        moved = [[onto_bed(path, shift) for path in piece] for piece in reach.pieces]
        marks = [[path for path in piece if path.name in LAY_BY] for piece in moved]
        cuts = [[path for path in piece if path.name not in LAY_BY] for piece in moved]
        first = (
            *squared,
            *in_order([[onto_bed(path, shift) for path in registration_holes(holes, machine)]]),
        )
        cut = {path.part_id for piece in cuts for path in piece if path.is_outline and path.contour.closed}
        other_outlines = tuple(
            moved_by(one, -shift, 0.0) for part, one in outlines.items() if part not in cut
        )
        blank = CutSheet(name, hide.name, *machine.bed, (), pose, window, other_outlines=other_outlines)
        if leather is not None:
            blank = replace(blank, leather=moved_by(leather, -shift, 0.0))
        if any(marks):
            lines = in_order(marks)
            lay_by = replace(blank, name=f"{name}, lay by", paths=lines, lay_by=True, leather=None)
            sheets.append(lay_by)
        if any(cuts) or first:
            zones_now = tuple((thick, moved_by(place, -shift, 0.0)) for thick, place in zones)
            blank = replace(blank, thickness=thickest, zones=zones_now)
            by_tool = machine.group_by == "tool"
            paths = in_order_by_tool(cuts, first) if by_tool else (*first, *in_order(cuts, end_of(first)))
            sheets.append(replace(blank, paths=paths))
    return tuple(sheets)


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
    layer = machine.settings(Operation.CUT).layer
    drawn = line(ax + right_x, ay + right_y, bx + right_x, by + right_y)
    path = CutPath(hide.name, FIRST_CUT, Operation.CUT, pose.placement.apply(drawn), layer)
    if machine.ends_only:
        why = f"{machine.name!r} leaves long edges to the bench"
    elif in_windows:
        why = "an edge to measure from is not pieced together out of windows"
    elif off_bed([path], machine):
        why = f"it is {length:.0f} mm long and leaves the bed of {machine.name!r}"
    else:
        return (path,), _from_the_edge(hide, path) if machine.kind == "drag_knife" else []
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


def _from_the_edge(hide: Hide, path: CutPath) -> list[Finding]:
    """Return what to do where a blade comes to the leather at its edge, and may fold it."""
    x, y = path.contour.starts[0].tolist()
    return [
        Finding(
            "first-cut-from-edge",
            Severity.CAUTION,
            f"The blade begins the first cut at the hide's edge, at x {x:.0f}, y {y:.0f} mm on the bed, "
            "where it may fold the leather.",
            "Tape the hide's edge down there and lay a strip of scrap against it.",
            hide.name,
        )
    ]
