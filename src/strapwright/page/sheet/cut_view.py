"""A job's cuts in their order, with their times, to be played back before anything is cut."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from strapwright.drawing.path_data import path_data
from strapwright.machine.duration import clock

if TYPE_CHECKING:
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.duration import Move
    from strapwright.machine.types import CutSheet

TRAVEL: Final = "travel"
"""What a move with the tool off is called."""


def cuts_json(plan: CutPlan) -> dict[str, Any]:
    """Return every move of a plan, sheet by sheet: when it begins, how long it takes, what it does and where.

    Moves of no length, as of a knife that lifts, only take their time. Paths are in bed mm, y down.

    Args:
        plan: of one machine.

    Raises:
        PlanError: a spindle would have to leave the bed.
    """
    sheets = [_sheet(sheet, moves) for sheet, moves in zip(plan.sheets, plan.moves, strict=True)]
    return {"machine": plan.machine.name, "sheets": sheets}


def _sheet(sheet: CutSheet, moves: tuple[Move, ...]) -> dict[str, Any]:
    total = moves[-1].ends if moves else 0.0
    boxes = [path.contour.bounding_box for path in sheet.paths]
    low_x, low_y = min(0.0, *(box[0] for box in boxes)), min(0.0, *(box[1] for box in boxes))
    high_x = max(sheet.width, *(box[2] for box in boxes))
    high_y = max(sheet.height, *(box[3] for box in boxes))
    return {
        "name": sheet.name,
        "box": [low_x, -high_y, high_x - low_x, high_y - low_y],
        "bed": [sheet.width, sheet.height],
        "seconds": total,
        "words": f"{len(sheet.paths)} paths, about {clock(total)}",
        "moves": [_move(move) for move in moves],
    }


def _move(move: Move) -> dict[str, Any]:
    run = move.run
    return {
        "begins": round(move.begins, 3),
        "seconds": round(move.seconds, 3),
        "kind": TRAVEL if run is None else str(run.operation),
        "part": "" if run is None or run.path is None else f"{run.path.part_id}: {run.path.name}",
        "number": move.number,
        "path": "" if move.track is None else path_data(move.track),
    }
