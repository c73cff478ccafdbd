"""The catalogue as it is shown and changed: what comes with the program and what is one's own, by kind."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

import tomlkit

from strapwright.core.errors import FileProblems
from strapwright.core.text import numbered
from strapwright.core.units import format_length
from strapwright.files.messages import key_text
from strapwright.files.read import toml_tables
from strapwright.files.validate import attempt
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.catalogue.file import read_catalogue, shipped
from strapwright.job.catalogue.hardware import LeatherStock, PunchEntry, Rivet, ScrewPost, Snap
from strapwright.job.draft import draft_sound
from strapwright.job.spec.job import check_job
from strapwright.page.forms.form import Wording, mistakes_by_field, model_form
from strapwright.page.forms.toml_text import value_at
from strapwright.page.sheet.permission import not_allowed
from strapwright.page.sheet.shop import read_written
from strapwright.page.workshop.hardware_pictures import picture_of
from strapwright.rules.punches import Punch

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from pydantic import BaseModel

    from strapwright.core.units import Units
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.page.forms.form import Form
    from strapwright.page.sheet.shop import Shop


@dataclass(frozen=True)
class Kind:
    """A kind of entry.

    Args:
        key: its table's name in the file.
        many: what its entries are called.
        one: what one of them is called.
        field: where a catalogue has them.
        model: that reads one.
    """

    key: str
    many: str
    one: str
    field: str
    model: type[BaseModel]


KINDS: Final = {
    kind.key: kind
    for kind in (
        Kind("buckle", "Buckles", "buckle", "buckles", Buckle),
        Kind("screw_post", "Screw posts (Chicago screws)", "screw post", "screw_posts", ScrewPost),
        Kind("rivet", "Rivets", "rivet", "rivets", Rivet),
        Kind("snap", "Press studs", "press stud", "snaps", Snap),
        Kind("leather", "Leathers as sold", "leather", "leathers", LeatherStock),
        Kind("punch", "Punches", "punch", "punches", PunchEntry),
    )
}
"""Every kind of entry a catalogue has, by its table's name."""

_LABELS: Final = {
    "name": "Called in lists",
    "price": "Price of one",
    "barrel_diameter": "Barrel, outside",
    "head_diameter": "Larger head",
    "cap_diameter": "Cap",
    "least_stack": "Least leather it holds",
    "most_stack": "Most leather it holds",
    "hole": "Hole for its post",
    "cap_hole": "Hole on the cap's side",
    "stud_hole": "Hole on the stud's side",
    "thickness": "Thickness, from and to",
}

_WHEN: Final = {
    "punch": {"diameter": ("kind", "round"), "length": ("kind", "oval|slot"), "width": ("kind", "oval|slot")}
}


@dataclass(frozen=True)
class Entry:
    """An entry as it is listed.

    Args:
        name: its own.
        address: where it is shown and changed.
        words: its measures, in short.
        picture: to the scale of its kind, an SVG element.
        own: whether it is the shop's own.
        replaces: whether it takes the place of a shipped one.
    """

    name: str
    address: str
    words: str
    picture: str
    own: bool
    replaces: bool


@cache
def entry_form(key: str) -> Form:
    """Return the fields of a kind of entry."""
    model = KINDS[key].model
    names = tuple(info.alias or name for name, info in model.model_fields.items())
    return model_form(model, Wording((("Its measures", names),), _LABELS, _WHEN.get(key, {})))


def address_of(key: str, name: str) -> str:
    """Return where an entry is shown; one that is called "new" is told from one that is to be."""
    return f"/shop/{key}/{quote(name, safe='')}" + ("?own=1" if name == "new" else "")


def listed(catalogue: Path, units: Units) -> tuple[list[tuple[Kind, list[Entry]]], tuple[str, ...]]:
    """Return the entries by kind, one's own first, and what is wrong with one's own file.

    Args:
        catalogue: one's own; need not be there.
        units: of the measures.
    """
    own: Catalogue | None = None
    wrong: tuple[str, ...] = ()
    try:
        own = read_catalogue(catalogue) if catalogue.exists() else None
    except FileProblems as error:
        wrong = error.problems
    found = []
    for kind in KINDS.values():
        theirs: Mapping[str, object] = getattr(shipped(), kind.field)
        ours: Mapping[str, object] = getattr(own, kind.field) if own else {}
        entries = [_listed(kind, name, one, units, True, name in theirs) for name, one in ours.items()]
        entries += [
            _listed(kind, name, one, units, False, False) for name, one in theirs.items() if name not in ours
        ]
        found.append((kind, entries))
    return found, wrong


def _listed(kind: Kind, name: str, entry: object, units: Units, own: bool, replaces: bool) -> Entry:
    drawn = picture_of(entry, f"{name}, {kind.one}")
    return Entry(name, address_of(kind.key, name), measures_of(entry, units), drawn, own, replaces)


def measures_of(entry: object, units: Units) -> str:
    """Return an entry's measures in a few words.

    Args:
        entry: of the catalogue.
        units: of the measures.
    """

    def said(mm: float | None) -> str:
        return format_length(mm or 0.0, units)

    match entry:
        case Buckle():
            wide = f"opening {said(entry.opening)}" if entry.opening else ""
            wide = wide or f"for a strap of {said(entry.for_strap)}"
            prongs = ("hook", "1 prong", "2 prongs")[entry.prongs]
            return f"{wide}, frame depth {said(entry.frame_depth)}, {prongs}"
        case ScrewPost():
            return f"barrel {said(entry.barrel_diameter)}, head {said(entry.head_diameter)}"
        case Rivet() | Snap():
            stack = f"{said(entry.least_stack)} to {said(entry.most_stack)}"
            return f"holds {stack}, cap {said(entry.cap_diameter)}"
        case LeatherStock():
            least, most = map(said, entry.thickness)
            return f"{least} to {most}, {entry.tannage}"
        case Punch():
            return entry.size if entry.kind == "round" else f"{entry.kind} {entry.size}"
    raise TypeError(entry)


def own_table(catalogue: Path, key: str, name: str) -> dict[str, Any] | None:
    """Return an entry's table of one's own catalogue as it is written; None where it has no such one.

    Raises:
        FileProblems: the file cannot be read, or is no TOML.
    """
    if not catalogue.exists():
        return None
    found = value_at(toml_tables(read_written(catalogue).text, catalogue), (key, name))
    return found if isinstance(found, dict) else None


def shipped_table(key: str, name: str) -> dict[str, Any] | None:
    """Return a shipped entry as a table that could stand in a file; None where there is none."""
    entry = getattr(shipped(), KINDS[key].field).get(name)
    match entry:
        case None:
            return None
        case Punch(kind="round"):
            return {"diameter": format_length(entry.length)}
        case Punch():
            lengths = {"length": format_length(entry.length), "width": format_length(entry.width)}
            return {"kind": entry.kind, **lengths}
    form = {field.key: field.kind for field in entry_form(key).fields}
    table: dict[str, Any] = {}
    for of, value in entry.model_dump(mode="json", exclude_none=True, exclude_unset=True).items():
        if of == "name" and value == name:
            continue
        if form[of] == "lengths":
            table[of] = [format_length(one) for one in value]
        else:
            table[of] = format_length(value) if form[of] == "length" else value
    return table


def table_text(key: str, name: str, table: Mapping[str, Any]) -> str:
    r"""Return an entry as a TOML table.

    Example:
        >>> print(table_text("rivet", "cap 9", {"hole": "3 mm", "price": 0.2}), end="")
        [rivet."cap 9"]
        hole = "3 mm"
        price = 0.2
    """
    lines = [f"{of} = {tomlkit.item(value).as_string()}" for of, value in table.items()]
    return "\n".join([f"[{key}.{key_text(name)}]", *lines]) + "\n"


def entry_of(key: str, name: str, table: Mapping[str, Any]) -> tuple[object | None, dict[str, str]]:
    """Return the entry a table makes, or the mistakes in it by the keys of their fields.

    Args:
        key: its kind.
        name: its own; need not be a sound one yet.
        table: as written.
    """
    kind = KINDS[key]
    model, mistakes = attempt(kind.model, dict(table))
    if model is None:
        return None, mistakes_by_field(entry_form(key), mistakes)
    return (model.as_punch(name) if isinstance(model, PunchEntry) else model), {}


def free_name(wanted: str, taken: frozenset[str]) -> str:
    """Return a name like another that is not taken.

    Example:
        >>> free_name("single-40", frozenset({"single-40", "single-40-own"}))
        'single-40-own-2'
    """
    return next(one for one in numbered(f"{wanted[:34]}-own") if one not in taken)


def users_of(shop: Shop, key: str, name: str) -> list[tuple[str, str]]:
    """Return the jobs that use an entry, each with what in it does.

    A buckle or leather is named by a job; a fastener is chosen for it, and a punch is owned for all of them.

    Args:
        shop: whose jobs are looked through.
        key: the entry's kind.
        name: its own.
    """
    found = []
    for job in shop.jobs():
        try:
            path = shop.job(job)
            tables = toml_tables(read_written(path).text, path)
        except FileProblems:
            continue
        by_name = key in ("buckle", "leather")
        users = set(_named(tables, key, name)) if by_name else _set_with(tables, path, key, name)
        if users:
            found.append((job, ", ".join(sorted(users))))
    return found


def _named(value: Any, key: str, name: str, at: str = "") -> Iterator[str]:
    """Yield the ids of tables in which an entry is called by its name; "the job" for one without."""
    if isinstance(value, list):
        for one in value:
            yield from _named(one, key, name, at)
    elif isinstance(value, dict):
        at = str(value.get("id") or at)
        wanted = value.get("buckle") if key == "buckle" else value.get("leather")
        if wanted == name or (isinstance(wanted, dict) and wanted.get("of") == name):
            yield at or "the job"
        for one in value.values():
            yield from _named(one, key, name, at)


def _set_with(tables: dict[str, Any], path: Path, key: str, name: str) -> set[str]:
    """Return the ids of a job's straps whose fasteners are of a name."""
    job, _ = check_job(tables, path)
    if job is None or not_allowed(job):
        return set()
    drafted, _ = draft_sound(job)
    return {
        item.id
        for item in drafted.items
        for end in item.ends
        if end.figures and end.spec.fastener == key and any(post.name == name for post in end.figures.posts)
    }
