"""A job as its sheet shows it: each belt with result, drawing, findings by their fields, and mistakes."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems
from strapwright.core.units import format_length
from strapwright.files.read import toml_tables
from strapwright.job.draft import draft_sound
from strapwright.job.grading import findings_of
from strapwright.job.spec.job import check_job, repeated_id, surroundings_of
from strapwright.job.strap_draft import BeltDraft, working_of
from strapwright.page.forms.field import also_in
from strapwright.page.forms.form import (
    about_form,
    buckle_names,
    form_of,
    offering,
    place_of,
    place_of_mistake,
)
from strapwright.page.sheet.permission import not_allowed
from strapwright.page.sheet.shop import read_written

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from strapwright.core.calculation import Step
    from strapwright.core.findings import Cure, Finding
    from strapwright.core.units import Units
    from strapwright.files.validate import Mistake
    from strapwright.job.spec.job import Job, Surroundings
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.page.forms.field import Field, Group
    from strapwright.page.sheet.shop import Shop

KINDS: Final = ("belt", "strap")
"""Tables of a job that become pieces."""

JOB: Final = "job-"
"""Stands before the key of a field of the job itself."""

_NO_SIZE: Final = {
    "": "missing, expected the size as you measured it",
    "trousers": "missing, expected what the label says, such as 36",
    "sizes": "missing, expected a run of sizes, such as 30-46/2",
}
"""What is said of a size that is not given yet, by how it is sized."""

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
class CureView:
    """A value that does away with a finding, as a button.

    Args:
        key: of its field.
        value: as it is put into the field.
        words: on the button.
    """

    key: str
    value: str
    words: str


@dataclass(frozen=True)
class FoundView:
    """A finding as it is shown.

    Args:
        severity: note, caution or stop.
        what: what was seen.
        do: what to do about it.
        cures: the values that do away with it and have a field.
        ways: fields of the job itself that cause it: their keys and labels.
    """

    severity: str
    what: str
    do: str
    cures: tuple[CureView, ...]
    ways: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class StrapView:
    """A belt or other strap as it is shown.

    Args:
        kind: of its table: ``"belt"`` or ``"strap"``.
        index: its place among the job's tables of its kind.
        title: its id.
        who: it is for, in words; empty where that is not said.
        summary: its result in one line; empty where it cannot be drafted.
        figures: those of the result by their names, in words.
        drawing: an SVG element; empty likewise.
        beside: findings, by the keys of the fields they stand beside.
        rest: those of no field.
        working: how each figure was worked out.
        mistakes: what is wrong with fields, by their keys; those of no field under "".
    """

    kind: str
    index: int
    title: str
    who: str = ""
    summary: str = ""
    figures: tuple[tuple[str, str], ...] = ()
    drawing: str = ""
    beside: Mapping[str, tuple[FoundView, ...]] = field(default_factory=dict)
    rest: tuple[FoundView, ...] = ()
    working: tuple[Figure, ...] = ()
    mistakes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class WorkingView:
    """How one figure was worked out, as it is shown.

    Args:
        title: the figure as it stood where it was clicked.
        steps: in order; none of a figure that is not worked out.
        places: the fields that set it: their keys, labels and values; of a value that is usual, that one.
    """

    title: str
    steps: tuple[Figure, ...]
    places: tuple[tuple[str, str, str], ...]


def drafted_pieces(
    tables: Mapping[str, Any], path: Path, kind: str, index: int, within: Surroundings
) -> tuple[tuple[StrapDraft, ...], Mapping[str, str]]:
    """Return the drafts of one belt or other strap of a job by itself, or what is wrong by its fields' keys.

    Args:
        tables: the job's, as written or as they would be.
        path: the job's file.
        kind: of its table: ``"belt"`` or ``"strap"``.
        index: its place among those.
        within: what the job's shop says.

    Returns:
        One draft, or one for each size of a run; none where something is wrong.
    """
    entry = tables[kind][index]
    own = {key: value for key, value in tables.items() if key not in ("belt", "strap")} | {kind: [entry]}
    job, mistakes = check_job(own, path, within)
    if job is None:
        return (), _by_field(mistakes, kind)
    if twice := repeated_id(tables, kind, index):
        return (), {"id": twice.replace("the id of", "the short name of")}
    if waiting := not_allowed(job):
        return (), {"": f"{', '.join(waiting)}: drawn by a program that you have not allowed yet"}
    drafted, wrong = draft_sound(job)
    if wrong:
        return (), {"": "; ".join(text for _, text in wrong)}
    return drafted.items, {}


def strap_view(
    tables: Mapping[str, Any],
    path: Path,
    kind: str,
    index: int,
    within: Surroundings,
    *,
    drawn: bool = True,
    posted: Mapping[str, str] | None = None,
) -> StrapView:
    """Draft one belt or other strap of a job by itself, and return it as it is shown.

    Args:
        tables: the job's, as written or as they would be.
        path: the job's file.
        kind: of its table: ``"belt"`` or ``"strap"``.
        index: its place among those.
        within: what the job's shop says.
        drawn: whether to draw it, and to show its findings and its working.
        posted: choices of its form that the tables may not show yet.
    """
    entry, units = tables[kind][index], within.units
    title, who = str(entry.get("id") or UNTITLED), str(entry.get("name") or "")
    items, mistakes = drafted_pieces(tables, path, kind, index, within)
    form = form_of(kind, entry, buckle_names(within))
    shown = form.visible(entry, posted)
    if not items:
        said = {key: mistake_in_labels(key, text, form.fields) for key, text in mistakes.items()}
        if "size" in said and said["size"].startswith("missing"):
            way = (posted or {}).get("size.way") or "girth"
            own = "sizes" if way == "sizes" else f"size.{way}"
            known = any(one.key == own for one in shown)
            said[own if known else "size.way"] = _NO_SIZE.get(way, _NO_SIZE[""])
            del said["size"]
        return StrapView(kind, index, title, who, mistakes=_placed(said, shown))
    figures = _figures(items, units)
    summary = " · ".join(words for _, words in figures)
    if not drawn:
        return StrapView(kind, index, title, who, summary, figures)
    beside: dict[str, tuple[FoundView, ...]] = {}
    for one in findings_of(items):
        place = place_of(one.keys, shown)
        key = place.key if place else ""
        found = _found_view(one, items, shown, key, units)
        found = replace(found, ways=_ways_to_the_job(one.keys, key, shown))
        beside[key] = (*beside.get(key, ()), found)
    return StrapView(
        kind,
        index,
        title,
        who,
        summary,
        figures,
        drawing_of(items[0], f"{kind}{index}-", units, figures=True),
        {key: found for key, found in beside.items() if key},
        beside.get("", ()),
        tuple(_figure(step, units) for step in items[0].steps),
    )


def _placed(mistakes: Mapping[str, str], shown: Sequence[Field]) -> dict[str, str]:
    """Return mistakes by the keys of the fields they stand beside; those of no field shown under ""."""
    found = []
    for key, text in mistakes.items():
        place = place_of_mistake(key, shown) if key else None
        found.append((place.key, text) if place else ("", f"{key}: {text}" if key else text))
    return joined(found)


def working_view(
    tables: Mapping[str, Any], path: Path, kind: str, index: int, within: Surroundings, name: str, title: str
) -> WorkingView:
    """Return how one figure of a belt or strap was worked out.

    Args:
        tables: the job's, as written or as they would be.
        path: the job's file.
        kind: of its table: ``"belt"`` or ``"strap"``.
        index: its place among those.
        within: what the job's shop says.
        name: of the figure.
        title: the figure as it stood where it was clicked.

    Raises:
        FileProblems: there is no such figure, or the piece cannot be drafted.
    """
    items, mistakes = drafted_pieces(tables, path, kind, index, within)
    if not items:
        raise FileProblems(tuple(mistakes.values()))
    try:
        found = working_of(items[0], name)
    except (KeyError, ValueError):
        raise FileProblems((f"found no figure {name!r} of this {kind}",)) from None
    entry, form = tables[kind][index], form_of(kind, tables[kind][index], buckle_names(within))
    shown = {one.key: one for group in form.shown(entry, within.units) for one in group.fields}
    visible = form.visible(entry)
    places = dict.fromkeys(place.key for key in found.keys if (place := place_of((key,), visible)))
    named = [(key, shown[key].label, shown[key].said) for key in places]
    if not named:  # what the table leaves to the job
        about = {one.key: one for group in about_form().shown(tables, within.units) for one in group.fields}
        named = [
            (f"{JOB}{key}", _of_the_job(about[key]), about[key].said) for key in found.keys if key in about
        ]
    return WorkingView(title, tuple(_figure(step, within.units) for step in found.steps), tuple(named))


def _figure(step: Step, units: Units) -> Figure:
    return Figure(step.label, step.formula, step.numbers, format_length(step.value, units))


def _found_view(
    finding: Finding, items: Sequence[StrapDraft], shown: Sequence[Field], place: str, units: Units
) -> FoundView:
    """Return a finding as it is shown beside a field; of a run's sizes, with those it is of."""
    said = finding.in_units(units)
    about = said.subject.removeprefix(f"{items[0].run}, ") if len(items) > 1 else ""
    size = f"Size {about}: " if about not in ("", "all sizes") else ""
    fields = {one.key: one for one in shown}
    labels = {one.key: one for one in about_form().fields} | fields
    what, do = (in_labels(text, labels) for text in (said.what, said.do))
    cures = (_cure_view(cure, fields[cure.key], place, units) for cure in said.cures if cure.key in fields)
    return FoundView(str(said.severity), f"{size}{what}", do, tuple(cures))


def _ways_to_the_job(keys: Sequence[str], place: str, shown: Sequence[Field]) -> tuple[tuple[str, str], ...]:
    """Return the fields of the job that cause a finding sooner than the one it stands beside."""
    about = {one.key: one for one in about_form().fields}
    found = []
    for key in keys:
        own = place_of((key,), shown)
        if own is not None and own.key == place:
            break
        if own is None and key in about:
            found.append((f"{JOB}{key}", _of_the_job(about[key])))
    return tuple(found)


def _of_the_job(one: Field) -> str:
    """Return what a field of the job itself is called among those of a belt."""
    whose = "the job's leather" if one.key.startswith("leather.") else "the job"
    return f"{one.label} of {whose}"


def in_labels(text: str, fields: Mapping[str, Field]) -> str:
    """Return words of a file's keys with the labels of their fields instead.

    Args:
        text: of a finding, such as "holes.last_to_tip is 40 mm" or 'write use = "dress"'.
        fields: by their keys.
    """

    def label(key: str) -> str:
        return f"“{fields[key].label}”"

    def chosen(found: re.Match[str]) -> str:
        key, value = found.groups()
        if key not in fields:
            return found[0]
        return f"choose {dict(fields[key].choices).get(value, value)} in {label(key)}"

    text = re.sub(r'write ([a-z_.]+) = "([^"]+)"', chosen, text)
    return re.sub(
        r"(?<![\w.])[a-z_]+(?:\.[a-z_]+)+", lambda one: label(one[0]) if one[0] in fields else one[0], text
    )


def mistake_in_labels(key: str, text: str, fields: Sequence[Field]) -> str:
    """Return what is wrong with a field or a table, with labels instead of the file's keys.

    Args:
        key: where it is, dotted.
        text: what is wrong, such as "found both opening and for_strap, expected exactly one of the two".
        fields: those of the form.

    Example:
        >>> mistake_in_labels("buckle", 'missing, expected with bar = "centre"', ())
        'missing, expected with bar = "centre"'
    """
    inside = {one.key.rpartition(".")[2]: one for one in fields if one.key.rpartition(".")[0] == key}
    beside = {one.key.rpartition(".")[2]: one for one in fields if _table(one.key) == _table(key)}
    named = {**beside, **inside}

    def label(found: re.Match[str]) -> str:
        return f"“{named[found[0]].label}”" if found[0] in named else found[0]

    def listed(found: re.Match[str]) -> str:
        return found[1] + re.sub(r"[a-z_]+", label, found[2])

    def given(found: re.Match[str]) -> str:
        if found[1] not in named:
            return found[0]
        value = found[2].strip('"')
        return f"“{named[found[1]].label}”: {dict(named[found[1]].choices).get(value, value)}"

    text = text.replace(", or a list such as [30, 32, 34]", "")
    text = re.sub(r"(exactly one of |found both |found beside |found without )([a-z_, ]+)", listed, text)
    text = re.sub(r'\b([a-z_]+) = ("[^"]*"|\d+)', given, text)
    return re.sub(r'(?<![\w."“])[a-z]+(?:_[a-z]+)+(?![\w."])', label, text)


def _table(key: str) -> str:
    return key.rpartition(".")[0]


def _cure_view(cure: Cure, of: Field, place: str, units: Units) -> CureView:
    """Return a cure as a button beside a field; of another field, with that one's label."""
    there = of.key == place
    if cure.value is None:
        return CureView(cure.key, "", "leave it out" if there else f"leave “{of.label}” out")
    if cure.value is True:
        return CureView(cure.key, "yes", f"tick “{of.label}”")
    value = str(cure.value)
    words = dict(of.choices).get(value, value)
    if also := also_in(of, value, units):
        words = f"{words} ({also})"
    return CureView(cure.key, value, f"use {words}" if there else f"{of.label}: {words}")


def joined(found: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Return texts by their keys, those of one key together."""
    texts: dict[str, str] = {}
    for key, text in found:
        texts[key] = f"{texts[key]}; {text}" if key in texts else text
    return texts


def drawing_of(item: StrapDraft, own: str, units: Units, *, figures: bool = False) -> str:
    """Return the drawing of one belt or strap as an SVG element.

    Args:
        item: its draft.
        own: put before its ids, so that two drawings of a page share none.
        units: of its figures.
        figures: whether they are buttons.
    """
    from strapwright.drawing.belt.job_drawing import piece_drawing
    from strapwright.drawing.svg import element

    return element(piece_drawing(item, units=units), own=own, figures=figures)


def _figures(items: Sequence[StrapDraft], units: Units) -> tuple[tuple[str, str], ...]:
    """Return the result by the names of its figures, in words."""
    item = items[0]
    found = [
        ("width", f"strap {format_length(item.width, units)} wide"),
        ("leather", f"leather {format_length(item.thickness, units)}"),
    ]
    if len(items) > 1:
        return (("sizes", f"{len(items)} sizes"), *found)
    found.append(("blank", f"blank {format_length(item.blank_length, units)} long"))
    if isinstance(item, BeltDraft):
        low, high = sorted(item.figures.girths[:2])
        shown = (
            f"{round(low / 10)} to {round(high / 10)} cm"
            if units == "mm"
            else f"{format_length(low, units, 8).removesuffix(' in')} to {format_length(high, units, 8)}"
        )
        found.append(("fits", f"fits {shown}"))
    return tuple(found)


def _by_field(mistakes: tuple[Mistake, ...], kind: str) -> dict[str, str]:
    """Return mistakes of a job with one belt by the keys of its fields; others together under ``""``."""
    found = []
    for one in mistakes:
        own = one.loc[2:] if one.loc[:2] == (kind, 0) else ()
        ends = own[:2] if own[:1] == ("ends",) else ()
        kept = (*ends, *(part for part in own[len(ends) :] if isinstance(part, str)))
        key = ".".join(str(part) for part in kept)
        found.append((key, one.text) if key else ("", mistake_of_job(one)))
    return joined(found)


def mistake_of_job(one: Mistake) -> str:
    """Return what is wrong with a job as a whole, with its field named where it has one.

    Example:
        >>> from strapwright.files.validate import Mistake
        >>> print(mistake_of_job(Mistake(("leather", "tannage"), 'found "veg"')))
        Tannage of the job's leather: found "veg"
    """
    key = ".".join(str(part) for part in one.loc)
    place = place_of_mistake(key, about_form().fields) if key else None
    return f"{_of_the_job(place)}: {one.text}" if place else one.line("")


def first_to_mend(
    tables: Mapping[str, Any], path: Path, mistakes: Sequence[Mistake], within: Surroundings
) -> str:
    """Return the first mistake of a job in the words that it has on the job's sheet.

    Args:
        tables: as written.
        path: the job's file.
        mistakes: all of them, in order.
        within: what the job's shop says.
    """
    one = mistakes[0]
    if one.loc[:1] not in (("belt",), ("strap",)) or len(one.loc) < 2:
        return mistake_of_job(one)
    kind, index = str(one.loc[0]), int(one.loc[1])
    if not isinstance(entry := tables[kind][index], dict):
        return one.line("")
    view = strap_view(tables, path, kind, index, within, drawn=False)
    labels = {each.key: each.label for each in form_of(kind, entry, buckle_names(within)).fields}
    for key, text in sorted(view.mistakes.items(), key=lambda one: not one[0]):  # those of a field first
        return f"{view.title}, {labels[key]}: {text}" if key else f"{view.title}: {text}"
    return one.line("")


@dataclass(frozen=True)
class JobView:
    """A job as it is shown.

    Args:
        name: of its folder.
        title: what it is called.
        digest: of its file as it was read.
        pieces: its belts, then its other straps.
        count: how many it makes, in words; of a file with mistakes, how many it has.
        form: the fields of the first; the others' are asked for when they are opened.
        about: the fields of the job as a whole.
        mistakes: what is wrong outside of its belts, by the fields' keys.
        programs: those that may not run yet, by file name.
        within: what its shop says.
    """

    name: str
    title: str
    digest: str
    pieces: tuple[StrapView, ...]
    count: str
    form: tuple[Group, ...]
    about: tuple[Group, ...]
    mistakes: Mapping[str, str]
    programs: Mapping[str, str]
    within: Surroundings


def mistakes_outside_belts(mistakes: Iterable[Mistake]) -> dict[str, str]:
    """Return mistakes of a job that are in none of its belts and straps, by the fields' keys."""
    return joined(
        (".".join(str(part) for part in one.loc), one.text)
        for one in mistakes
        if one.loc[:1] not in (("belt",), ("strap",)) or len(one.loc) == 1
    )


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
    about, within = tables.get("job"), surroundings_of(path)
    places = [(kind, index) for kind in KINDS for index in range(len(_list(tables, kind)))]
    title = about.get("name") if isinstance(about, dict) else ""
    job, mistakes = check_job(tables, path, within)
    groups: tuple[Group, ...] = ()
    if places:
        kind, index = places[0]
        entry = tables[kind][index]
        groups = form_of(kind, entry, buckle_names(within)).shown(entry, within.units)
    return JobView(
        name,
        str(title or name),
        written.digest,
        tuple(strap_view(tables, path, *place, within, drawn=place == places[0]) for place in places),
        count_of(job) if job else f"{len(places)} in the file",
        groups,
        offering(about_form().shown(tables, within.units), within.catalogue.leathers),
        mistakes_outside_belts(mistakes),
        {} if job is None else not_allowed(job),
        within,
    )


def count_of(job: Job) -> str:
    """Return how many belts, or pieces where some are none, a job makes, in words."""
    orders: tuple[Any, ...] = (*job.belts, *job.straps)
    count, kind = sum(one.quantity for one in orders), "piece" if job.straps else "belt"
    return f"{count} {kind}{'s' if count != 1 else ''}"


def _list(tables: Mapping[str, Any], key: str) -> list[Any]:
    found = tables.get(key, [])
    return found if isinstance(found, list) else []
