"""What a job's sheet shows: each belt with its form, drawing, figures and findings; hides, layout, files."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems
from strapwright.core.units import format_length
from strapwright.files.read import toml_tables
from strapwright.job.draft import draft_sound
from strapwright.job.spec.job import check_job
from strapwright.job.strap_draft import BeltDraft
from strapwright.page.sheet.form import Group, about_form, belt_form, buckle_names
from strapwright.page.sheet.made_view import records_of
from strapwright.page.sheet.permission import not_allowed
from strapwright.page.sheet.shop import LAYOUT, cut_files, read_written

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from strapwright.files.validate import Mistake
    from strapwright.job.strap_draft import StrapDraft
from strapwright.page.sheet.shop import Shop

UNTITLED: Final = "without a name"
"""What a belt is called whose table has no id."""


@dataclass(frozen=True)
class Figure:
    """One line of working, as it is shown.

    Args:
        label: what is worked out.
        formula: in symbols.
        numbers: with the numbers put in.
        value: with its unit.
    """

    label: str
    formula: str
    numbers: str
    value: str


@dataclass(frozen=True)
class StrapView:
    """A belt or other strap as it is shown.

    Args:
        index: its place among the job's tables of its kind.
        title: its id.
        summary: its result in one line; empty where it cannot be drafted.
        drawing: an SVG element; empty likewise.
        findings: severity, what was seen and what to do about it.
        working: how each figure was worked out.
        mistakes: what is wrong with fields, by their keys; those of no field under "".
    """

    index: int
    title: str
    summary: str
    drawing: str
    findings: tuple[tuple[str, str, str], ...]
    working: tuple[Figure, ...]
    mistakes: Mapping[str, str]

    def as_json(self) -> dict[str, Any]:
        """Return it as plain values."""
        return {
            "summary": self.summary,
            "drawing": self.drawing,
            "findings": self.findings,
            "working": [[one.label, one.formula, one.numbers, one.value] for one in self.working],
            "mistakes": dict(self.mistakes),
        }


@dataclass(frozen=True)
class JobView:
    """A job as it is shown.

    Args:
        name: of its folder.
        title: what it is called.
        digest: of its file as it was read.
        belts: its belts.
        forms: the fields of the first; the others' are asked for when they are opened.
        straps: its other straps, which are edited in the file.
        about: the fields of the job as a whole.
        mistakes: what is wrong outside of its belts, by the fields' keys.
        programs: those that may not run yet, by file name.
    """

    name: str
    title: str
    digest: str
    belts: tuple[StrapView, ...]
    forms: tuple[tuple[Group, ...], ...]
    straps: tuple[StrapView, ...]
    about: tuple[Group, ...]
    mistakes: Mapping[str, str]
    programs: Mapping[str, str]


def strap_view(
    tables: Mapping[str, Any], path: Path, kind: str, index: int, *, drawn: bool = True
) -> StrapView:
    """Draft one belt or other strap of a job by itself.

    Args:
        tables: the job's, as written or as they would be.
        path: the job's file.
        kind: of its table: ``"belt"`` or ``"strap"``.
        index: its place among those.
        drawn: whether to draw it.
    """
    entry = tables[kind][index]
    own = {key: value for key, value in tables.items() if key not in ("belt", "strap")} | {kind: [entry]}
    title = str(entry.get("id") or UNTITLED)
    job, mistakes = check_job(own, path)
    if job is None:
        return StrapView(index, title, "", "", (), (), _by_field(mistakes, kind))
    if waiting := not_allowed(job):
        words = f"{', '.join(waiting)}: drawn by a program that you have not allowed yet"
        return StrapView(index, title, "", "", (), (), {"": words})
    drafted, wrong = draft_sound(job)
    if wrong:
        return StrapView(index, title, "", "", (), (), {"": "; ".join(text for _, text in wrong)})
    item = drafted.items[0]
    return StrapView(
        index,
        title,
        _summary(drafted.items),
        _drawing(item, f"{kind}{index}-") if drawn else "",
        tuple((str(one.severity), one.what, one.do) for one in item.findings),
        tuple(Figure(one.label, one.formula, one.numbers, format_length(one.value)) for one in item.steps),
        {},
    )


def mistakes_outside_belts(mistakes: Iterable[Mistake]) -> dict[str, str]:
    """Return mistakes of a job that are in none of its belts and straps, by the fields' keys."""
    return _joined(
        (".".join(str(part) for part in one.loc), one.text)
        for one in mistakes
        if one.loc[:1] not in (("belt",), ("strap",)) or len(one.loc) == 1
    )


def _joined(found: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Return texts by their keys, those of one key together."""
    texts: dict[str, str] = {}
    for key, text in found:
        texts[key] = f"{texts[key]}; {text}" if key in texts else text
    return texts


def job_view(shop: Shop, name: str) -> JobView:
    """Return a job as it stands in its file.

    Raises:
        FileProblems: it cannot be read, or is no TOML.
    """
    path = shop.job(name)
    written = read_written(path)
    tables = toml_tables(written.text, path)
    for kind in ("belt", "strap"):
        if not all(isinstance(one, dict) for one in _list(tables, kind)):
            raise FileProblems((f"{path}: {kind}: expected [[{kind}]] tables",))
    form, about = belt_form(buckle_names(path)), tables.get("job")
    belts = _list(tables, "belt")
    title = about.get("name") if isinstance(about, dict) else ""
    job, mistakes = check_job(tables, path)
    return JobView(
        name,
        str(title or name),
        written.digest,
        tuple(strap_view(tables, path, "belt", index, drawn=index == 0) for index in range(len(belts))),
        tuple(form.shown(belt) for belt in belts[:1]),
        tuple(
            strap_view(tables, path, "strap", index, drawn=False)
            for index in range(len(_list(tables, "strap")))
        ),
        about_form().shown(tables),
        mistakes_outside_belts(mistakes),
        {} if job is None else not_allowed(job),
    )


@dataclass(frozen=True)
class Progress:
    """How far a job is.

    Args:
        name: of its folder.
        title: what it is called.
        belts: how many it makes, in words.
        due: the day the first is promised for; empty for none.
        stage: "drafted", "laid out", "cut files written", "made", or what is wrong.
        drawing: of its first belt, small; empty for none.
    """

    name: str
    title: str
    belts: str
    due: str
    stage: str
    drawing: str


def progress_of(shop: Shop, name: str) -> Progress:
    """Return how far a job is, by the files in its folder."""
    try:
        path = shop.job(name)
        job, mistakes = check_job(toml_tables(read_written(path).text, path), path)
    except FileProblems as error:
        return Progress(name, name, "", "", error.problems[0], "")
    if job is None:
        return Progress(name, name, "", "", f"{len(mistakes)} to mend: {mistakes[0].line('')}", "")
    orders: list[Any] = [*job.belts, *job.straps]
    count = sum(one.quantity for one in orders)
    due = min((str(one.due) for one in orders if one.due), default="")
    stage = "drafted"
    if (path.parent / LAYOUT).is_file():
        stage = "laid out"
    if cut_files(path):
        stage = "cut files written"
    if records_of(shop.folder, job.name):
        stage = "made"
    drawing = ""
    if not not_allowed(job):
        drafted, _ = draft_sound(job)
        drawing = _drawing(drafted.items[0], f"{name}-") if drafted.items else ""
    kind = "belt" if not job.straps else "piece"
    return Progress(name, job.name, f"{count} {kind}{'s' if count != 1 else ''}", due, stage, drawing)


def hides_of_layout(folder: Path, file: str = LAYOUT) -> tuple[str, ...]:
    """Return the names of the hides a job's layout lies on; none where there is no layout."""
    try:
        data = json.loads((folder / file).read_text("utf-8"))
        return tuple(str(one["name"]) for one in data["hides"])
    except (OSError, ValueError, KeyError, TypeError):
        return ()


def _drawing(item: StrapDraft, own: str) -> str:
    from strapwright.drawing.belt.job_drawing import piece_drawing
    from strapwright.drawing.svg import element

    return element(piece_drawing(item), own=own)


def _summary(items: tuple[StrapDraft, ...]) -> str:
    item = items[0]
    words = [f"strap {format_length(item.width)} wide", f"leather {format_length(item.thickness)}"]
    if len(items) > 1:
        return " · ".join([f"{len(items)} sizes", *words])
    words.append(f"blank {format_length(item.blank_length)} long")
    if isinstance(item, BeltDraft):
        low, high = sorted(round(girth / 10) for girth in item.figures.girths[:2])
        words.append(f"fits {low} to {high} cm")
    return " · ".join(words)


def _by_field(mistakes: tuple[Mistake, ...], kind: str) -> dict[str, str]:
    """Return mistakes of a job with one belt by the keys of its fields; others together under ``""``."""
    found = []
    for one in mistakes:
        own = one.loc[2:] if one.loc[:2] == (kind, 0) else ()
        key = ".".join(part for part in own if isinstance(part, str))
        found.append((key, one.text if key else one.line("")))
    return _joined(found)


def _list(tables: Mapping[str, Any], key: str) -> list[Any]:
    found = tables.get(key, [])
    return found if isinstance(found, list) else []
