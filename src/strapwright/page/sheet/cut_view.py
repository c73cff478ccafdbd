"""A job's cuts in their order with their times, to be played back; its cut files, and what they are of."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.drawing.svg import path_data
from strapwright.files.atomic_write import MARK
from strapwright.machine.duration import clock
from strapwright.machine.types import HOLE_NAMES
from strapwright.page.forms.page_words import in_page_words
from strapwright.page.sheet.shop import LAYOUT, OUT, cut_files, digest_of

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from strapwright.core.units import Units
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.duration import Move
    from strapwright.machine.types import CutSheet

TRAVEL: Final = "travel"
"""What a move with the tool off is called."""

INDEX: Final = ".strapwright-cut.json"
"""The file among a job's cut files that says what was written last, of which layout and how it was proved."""

OTHER_LAYOUT: Final = "made from another layout; write the files again before you cut"
OLDER_JOB: Final = "made before the job was changed; lay it out and write the files again before you cut"
OTHER_RUN: Final = "not of the files written last; do not cut from it unless you know what it is"
CHANGED: Final = "changed since it was written here; do not cut from it unless you know what it is"


@dataclass(frozen=True)
class WrittenCuts:
    """A job's cut files.

    Args:
        files: each with what is wrong with it; empty for one that is as it was written last.
        older: what is wrong with all of them; empty where they are of the job's layout.
        machine: file of the machine they were written for; empty where that is not known.
        proved: what was proved of them, in a line; empty likewise.
        windows: how many windows the hides were cut in at most; 1 for a whole bed.
    """

    files: tuple[tuple[str, str], ...]
    older: str = ""
    machine: str = ""
    proved: str = ""
    windows: int = 1

    @property
    def good(self) -> int:
        """How many are as they were written last, of the job's layout."""
        return sum(not wrong for _, wrong in self.files)


def cut_index(before: Mapping[str, Any], texts: Mapping[str, str | bytes], **about: str | int) -> str:
    """Return the index of cut files.

    Args:
        before: what it said before, where these are only some of the files; else nothing.
        texts: the files as they will be on disk.
        about: layout (its digest), job (its digest), machine, proved, windows.
    """
    digests = dict(before.get("files", {})) | {
        name: digest_of(text.encode() if isinstance(text, str) else text) for name, text in texts.items()
    }
    data = {"mark": MARK, **{key: value for key, value in before.items() if key != "mark"}, **about}
    return json.dumps(data | {"files": digests}, indent=1) + "\n"


def read_index(job: Path) -> dict[str, Any]:
    """Return what the index of a job's cut files says; nothing where there is none, or it is broken.

    Nothing either where a command has cut there since, from another layout: then it is of other files.
    """
    data = _index(job)
    return data if data and data["files"].get(LAYOUT) == _digest(job.parent / OUT / LAYOUT) else {}


def _index(job: Path) -> dict[str, Any]:
    try:
        data = json.loads((job.parent / OUT / INDEX).read_text("utf-8"))
        return data if isinstance(data["files"], dict) else {}
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def written_cuts(job: Path, digest: str) -> WrittenCuts:
    """Return a job's cut files, each with what it is of.

    Args:
        job: the job's file.
        digest: of the job as it is now; empty where it cannot be read.
    """
    index, folder = read_index(job), job.parent / OUT
    earlier = _index(job).get("files", {})
    laid = job.parent / LAYOUT
    if not laid.is_file():  # cut by a command that laid it out itself
        laid = folder / LAYOUT
    try:
        of_job = json.loads(laid.read_text("utf-8")).get("job_digest")
    except (OSError, ValueError, AttributeError):
        of_job = None
    all_wrong = OLDER_JOB if of_job != digest else ""
    if not all_wrong and (index.get("layout") if index else _digest(folder / LAYOUT)) != _digest(laid):
        all_wrong = OTHER_LAYOUT
    files = []
    for name in cut_files(job):
        own, now = earlier.get(name), _digest(folder / name)
        if index:
            wrong = "" if own == now else CHANGED if own else OTHER_RUN
        else:  # what lies there as it was before a command cut there, from another layout
            wrong = OTHER_RUN if own == now else ""
        files.append((name, all_wrong or wrong))
    if not index:
        return WrittenCuts(tuple(files), all_wrong)
    windows = index.get("windows", 1)
    return WrittenCuts(
        tuple(files),
        all_wrong,
        str(index.get("machine", "")),
        str(index.get("proved", "")),
        windows if isinstance(windows, int) else 1,
    )


def _digest(path: Path) -> str:
    try:
        return digest_of(path.read_bytes())
    except OSError:
        return ""


def cuts_json(plan: CutPlan, units: Units = "mm") -> dict[str, Any]:
    """Return every move of a plan, sheet by sheet: when it begins, how long it takes, what it does and where.

    Moves of no length, as of a knife that lifts, only take their time. Paths are in bed mm, y down.

    Args:
        plan: of one machine.
        units: of lengths in words.

    Raises:
        PlanError: a spindle would have to leave the bed.
    """
    from strapwright.core.findings import grouped_findings
    from strapwright.write.formats.header import kerf_words

    sheets = [_sheet(sheet, moves, plan, units) for sheet, moves in zip(plan.sheets, plan.moves, strict=True)]
    findings = [
        {
            "severity": str(found.severity),
            "words": in_page_words(" ".join([found.what, found.do])),
            "of": ", ".join(subjects),
        }
        for found, subjects in grouped_findings(one.in_units(units) for one in plan.findings)
    ]
    return {
        "machine": plan.machine.name,
        "kerf": kerf_words(plan),
        "frame": f"{plan.machine.frame}, {plan.machine.frame_axes}",
        "sheets": sheets,
        "findings": findings,
    }


def _sheet(sheet: CutSheet, moves: tuple[Move, ...], plan: CutPlan, units: Units) -> dict[str, Any]:
    from strapwright.write.cut_sheet_text import sheet_lines

    total = moves[-1].ends if moves else 0.0
    boxes = [path.contour.bounding_box for path in sheet.paths]
    left, low, right, high = (pick(box[k] for box in boxes) for k, pick in enumerate((min, min, max, max)))
    if sheet.leather is not None and sheet.window is None:
        boxes.append(sheet.leather.bounding_box)
    low_x, low_y = min(0.0, *(box[0] for box in boxes)), min(0.0, *(box[1] for box in boxes))
    high_x = max(sheet.width, *(box[2] for box in boxes))
    high_y = max(sheet.height, *(box[3] for box in boxes))
    window = sheet.window
    return {
        "name": sheet.name,
        "box": [low_x, -high_y, high_x - low_x, high_y - low_y],
        "cuts": [left, -high, right - left, high - low],
        "bed": [sheet.width, sheet.height],
        "seconds": total,
        "words": f"{len(sheet.paths)} paths, about {clock(total)}",
        "leather": "" if sheet.leather is None else path_data(sheet.leather),
        "holes": [
            [name, x, -y] for name, (x, y) in zip(HOLE_NAMES, window.holes if window else (), strict=False)
        ],
        "steps": in_page_words("\n".join(sheet_lines(sheet, plan, units))).split("\n"),
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
