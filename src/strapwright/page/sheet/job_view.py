"""What a job's sheet shows: its pieces, what is said of it as a whole, the hides of its layout."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems
from strapwright.files.read import toml_tables
from strapwright.job.spec.job import check_job, surroundings_of
from strapwright.page.forms.form import about_form, buckle_names, form_of, offering
from strapwright.page.sheet.permission import not_allowed
from strapwright.page.sheet.piece_view import StrapView, joined, strap_view
from strapwright.page.sheet.shop import LAYOUT, read_written

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from strapwright.files.validate import Mistake
    from strapwright.job.spec.job import Job, Surroundings
    from strapwright.page.forms.field import Group
    from strapwright.page.sheet.shop import Shop

KINDS: Final = ("belt", "strap")
"""Tables of a job that become pieces."""


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


def hides_of_layout(folder: Path, file: str = LAYOUT) -> tuple[str, ...]:
    """Return the names of the hides a job's layout lies on; none where there is no layout."""
    try:
        data = json.loads((folder / file).read_text("utf-8"))
        return tuple(str(one["name"]) for one in data["hides"])
    except (OSError, ValueError, KeyError, TypeError):
        return ()


def _list(tables: Mapping[str, Any], key: str) -> list[Any]:
    found = tables.get(key, [])
    return found if isinstance(found, list) else []
