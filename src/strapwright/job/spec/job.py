"""The job: what a person writes in one TOML or CSV file, validated."""

from __future__ import annotations

import hashlib
import os
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any, Final

from pydantic import AfterValidator, ConfigDict, Field, PrivateAttr

from strapwright.core.errors import FileProblems
from strapwright.core.text import quoted
from strapwright.files.fields import Measure, OneLine, mistake
from strapwright.files.read import read_text, read_toml
from strapwright.files.validate import Strict, attempt, validate
from strapwright.job.catalogue.file import (
    HOUSE_NAME,
    Catalogue,
    LeatherOrName,
    catalogue_for,
    shipped,
    shop_folders,
)
from strapwright.job.catalogue.leather import Leather
from strapwright.job.spec.csv_table import NEEDED, Batch, columns_of, read_batch
from strapwright.job.spec.house import House, HouseFile, PriceTable
from strapwright.job.spec.size import ids_of
from strapwright.job.spec.strap import Belt, StrapTable, drawings_of, expanded

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence
    from pathlib import Path

    from pydantic import BaseModel

    from strapwright.core.units import Units
    from strapwright.files.messages import Loc
    from strapwright.files.validate import Faults, Mistake
    from strapwright.rules.punches import Punch


CSV_LIMIT_MB = 4.0
"""Largest CSV file read, in MB: ten thousand belts of four hundred letters a line."""

_PRICES: Final[dict[str, Any]] = {
    "price": True,
    "leather": {"price_per_m2"},
    "belts": {
        "__all__": {
            "price": True,
            "due": True,
            "buckle": {"price"},
            "dee": {"price"},
            "lining": {"price_per_m2"},
            "leather": {"price_per_m2"},
        }
    },
    "straps": {
        "__all__": {"price": True, "due": True, "ends": {"__all__": {"price"}}, "leather": {"price_per_m2"}}
    },
}
"""What a job says that moves no cut: a layout stays true when prices and promises change."""

_UNDRAWN: Final[dict[str, Any]] = {
    **_PRICES,
    "belts": {"__all__": {**_PRICES["belts"]["__all__"], "drawn_holes": True, "ornaments": True,
                          "tip": {"drawing"}}},
    "straps": {"__all__": {**_PRICES["straps"]["__all__"], "drawing": True,
                           "ends": {"__all__": {"price": True, "tip": {"drawing"}}}}},
}  # fmt: skip
"""The same of a job without drawings."""


class About(Strict):
    """What the job is called."""

    name: Annotated[str, Field(max_length=200), OneLine] = ""
    """The job's name; default the file's name without suffix."""


class LayoutSettings(Strict):
    """How parts lie on the hide."""

    gap: Annotated[float, Measure(least=0.0, most=50.0)] = 2.0
    """Kept between two parts, 0 to 50 mm, default 2 mm."""
    margin: Annotated[float, Measure(least=0.0, most=100.0)] = 3.0
    """Kept from the hide's edge and its flaws, 0 to 100 mm, default 3 mm."""


class Job(Strict):
    """A job: belts and other straps to make of one sort of leather."""

    model_config = ConfigDict(json_schema_extra={"anyOf": [{"required": ["belt"]}, {"required": ["strap"]}]})

    job: About = About()
    """What it is called."""
    leather: Annotated[LeatherOrName, Field(examples=[{"thickness": "9 oz", "tannage": "vegetable"}])] = None
    """The straps' leather. Needed unless every belt gives its own thickness and tannage."""
    house: House = House()
    """The workshop's settings."""
    layout: LayoutSettings = LayoutSettings()
    price: PriceTable = PriceTable()
    """What the shop calculates with, for the bill; it changes no part."""
    belts: Annotated[tuple[Belt, ...], AfterValidator(expanded), Field(alias="belt")] = ()
    """The belts, each in a [[belt]] table."""
    straps: Annotated[tuple[StrapTable, ...], Field(alias="strap")] = ()
    """Straps that are no belts, each in a [[strap]] table."""
    _catalogue: Catalogue = PrivateAttr(default_factory=shipped)
    _source: str = PrivateAttr(default="")
    _lines: tuple[int, ...] = PrivateAttr(default=())
    _shared: str = PrivateAttr(default="")

    def model_post_init(self, context: Any, /) -> None:
        """Keep the catalogue the job was read with; it is no key of the file."""
        self._catalogue = (context or {}).get("catalogue") or shipped()

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: neither belts nor straps; ids used twice; belts and straps without a leather."""
        kinds = {kind: table.get(kind, ()) for kind in ("belt", "strap")}
        given = [
            ((kind, index), one)
            for kind, tables in kinds.items()
            if isinstance(tables, list | tuple)
            for index, one in enumerate(tables)
        ]
        if not given and all(isinstance(tables, list | tuple) for tables in kinds.values()):
            found = "found none" if "belt" in table or "strap" in table else "missing"
            yield ("belt",), f"{found}, expected [[belt]] or [[strap]] tables"
            return
        yield from _ids_used_twice(given)
        if "leather" not in table:
            yield from _leather_missing(given)

    @property
    def items(self) -> tuple[Belt | StrapTable, ...]:
        """Its belts, then its other straps."""
        return (*self.belts, *self.straps)

    @property
    def name(self) -> str:
        """What the job is called."""
        return self.job.name

    @property
    def catalogue(self) -> Catalogue:
        """What the job may name: what is shipped, and the user's own."""
        return self._catalogue

    @property
    def sketches(self) -> dict[str, str]:
        """The text of the Python files that its belts and straps are drawn by, by name."""
        files = [strap.sketch for strap in self.straps]
        files += [end.tip.sketch for one in self.items for end in one.end_specs if end.tip is not None]
        return {file.name: file.source for file in files if file is not None}

    @property
    def drawings(self) -> dict[str, bytes]:
        """The drawings that its belts and straps use, by name."""
        return {file.name: file.content for one in self.items for file in drawings_of(one)}

    @property
    def shared_file(self) -> str:
        """The job file that a CSV file names for leather, house and prices; empty for none."""
        return self._shared

    @property
    def lines(self) -> tuple[int, ...]:
        """The line of the CSV file each belt was read from; empty for a job that was no CSV file."""
        return self._lines

    def place(self, index: int) -> str:
        """Return where a belt, by its place in ``belts``, stands in the file, in words to begin a message.

        Empty for a job that was no CSV file: its belts are found by their ids.
        """
        return f"{self._source}: line {self._lines[index]}: " if self._lines else ""

    def without(self, lines: Collection[int]) -> Job | None:
        """Return the job without the belts of some of its CSV file's lines; None where no belt is left."""
        kept = [(belt, line) for belt, line in zip(self.belts, self._lines, strict=True) if line not in lines]
        if not kept:
            return None
        job = self.model_copy(update={"belts": tuple(belt for belt, _ in kept)})
        job.__dict__.pop("digest", None)  # a copy takes along what was worked out of all belts
        job._lines = tuple(line for _, line in kept)
        return job

    @cached_property
    def digest(self) -> str:
        """SHA-256 of everything the job says and uses of the catalogue; comments and prices do not count."""
        fasteners = {end.fastener for one in self.items for end in one.end_specs if end.fitting}
        used = self.catalogue.bearing_on(fasteners)
        # A layout made before there was an allowance or a drawing, or without one, stays true.
        unsaid: dict[str, Any] = {} if self.house.girth_allowance else {"house": {"girth_allowance"}}
        said = self.model_dump_json(exclude=(_PRICES if self.drawings else _UNDRAWN) | unsaid)
        return hashlib.sha256(f"{said}\n{used}".encode()).hexdigest()

    def leather_of(self, belt: Belt | StrapTable) -> Leather:
        """Return a belt's or strap's leather: the job's, with what it has otherwise."""
        if belt.leather is None:
            assert self.leather is not None
            return self.leather
        otherwise = {key: value for key, value in belt.leather if value is not None}
        return Leather.model_construct(**{**dict(self.leather or ()), **otherwise})


def read_job(path: Path, catalogue: Path | None = None) -> Job:
    """Read a job file: TOML, or with the suffix ``.csv`` one belt a line.

    Args:
        path: the job file; named in messages as given here.
        catalogue: a file of the user's own entries; default ``catalogue.toml`` beside the job and in
            its shop, if any.

    Returns:
        The job, every buckle resolved, and named after the file where it gives no name.

    Raises:
        FileProblems: the catalogue or the job cannot be read, or every mistake in it, one line each.
    """
    if is_batch(path):
        batch = read_batch(read_text(path, limit_mb=CSV_LIMIT_MB), columns_of(Belt))
        job, problems = sort_batch(batch, path, catalogue_for(path, catalogue))
        if problems or job is None:
            raise FileProblems(tuple(text for _, text in problems))
        return job
    data = _within_house(read_toml(path), path)
    context = {"catalogue": catalogue_for(path, catalogue), "folder": path.parent}
    job = validate(Job, data, str(path), context=context)
    return _named(job, path)


@dataclass(frozen=True)
class Surroundings:
    """What a job's folder and shop say beside its own file.

    Args:
        catalogue: what the job may name.
        house: the tables of the shop's ``house.toml`` that hold for every job.
        units: that figures are shown in.
    """

    catalogue: Catalogue
    house: Mapping[str, Any]
    units: Units


def surroundings_of(job: Path) -> Surroundings:
    """Return what a job's folder and shop say beside its own file.

    Args:
        job: the job's file, which need not be there.

    Raises:
        FileProblems: the shop's house file or a catalogue has mistakes.
    """
    house, units = _house_tables(job)
    return Surroundings(catalogue_for(job), MappingProxyType(house), units)


def house_units(job: Path) -> Units:
    """Return the units that figures of a job are shown in, by its shop's ``house.toml``.

    Raises:
        FileProblems: that file has mistakes.
    """
    return _house_tables(job)[1]


def check_job(
    tables: dict[str, Any], path: Path, within: Surroundings | None = None
) -> tuple[Job | None, tuple[Mistake, ...]]:
    """Return the job that tables make as they would be read from a file, or every mistake in them.

    Args:
        tables: as a TOML file holds them; need not be what stands in the file.
        path: of the file, whose folder and shop say the rest.
        within: what they say, where it has been read already.

    Raises:
        FileProblems: the shop's house file or a catalogue has mistakes.
    """
    around = within or surroundings_of(path)
    context = {"catalogue": around.catalogue, "folder": path.parent}
    job, mistakes = attempt(Job, _over(dict(around.house), tables), context=context)
    return (None if job is None else _named(job, path)), mistakes


def _within_house(tables: dict[str, Any], job: Path) -> dict[str, Any]:
    """Return a job's tables with what its shop's ``house.toml`` says; key by key the job's own win."""
    return _over(_house_tables(job)[0], tables)


def _house_tables(job: Path) -> tuple[dict[str, Any], Units]:
    """Return what a job's ``house.toml`` says of it, checked, and the units that figures are shown in.

    Raises:
        FileProblems: the file cannot be read, or every mistake in it; one that is not there says nothing.
    """
    path = shop_folders(job)[-1] / HOUSE_NAME
    if not os.path.isfile(path):
        return {}, "mm"
    house = read_toml(path)
    units = validate(HouseFile, house, str(path)).units
    house.pop("units", None)  # says how figures are shown, and nothing of the job
    return house, units


def _over(below: dict[str, Any], own: dict[str, Any]) -> dict[str, Any]:
    """Return tables with others laid over them, key by key.

    Example:
        >>> _over({"a": {"x": 1, "y": 2}}, {"a": {"y": 3}, "b": 4})
        {'a': {'x': 1, 'y': 3}, 'b': 4}
    """
    both = (key for key in own if isinstance(own[key], dict) and isinstance(below.get(key), dict))
    return {**below, **own, **{key: _over(below[key], own[key]) for key in both}}


def is_batch(path: Path) -> bool:
    """Whether a job file is a CSV file, one belt a line."""
    return path.suffix.lower() == ".csv"


def sort_batch(
    batch: Batch, path: Path, catalogue: Catalogue
) -> tuple[Job | None, tuple[tuple[int, str], ...]]:
    """Return the job that the good lines of a CSV file make, and what is wrong with the others.

    Args:
        batch: as read from the file.
        path: of the file.
        catalogue: what its belts may name.

    Returns:
        The job, or None where no line is good or the column names are wrong; and every mistake with the
        number of its line, in the order of the lines.

    Raises:
        FileProblems: the job file it names cannot be read, holds belts or has mistakes.
    """
    context = {"catalogue": catalogue, "folder": path.parent}
    shared = _within_house(_shared(batch, path), path)
    found = list(batch.problems)
    found += [(batch.head, text) for text in _columns_missing(batch, shared)]
    job, mistakes = (
        attempt(Job, {**shared, "belt": batch.belts}, context=context) if batch.belts else (None, ())
    )
    of_all = [one for one in mistakes if one.loc[:1] != ("belt",) and one.loc[:1] and one.loc[0] in shared]
    if of_all:
        raise FileProblems(tuple(one.line(str(path.parent / batch.job_file)) for one in of_all))
    if not batch.belts and not found:
        found.append((batch.last_line, "found no belts, expected a line for each below the column names"))
    told = [one for one in mistakes if not (one.missing and batch.lacks(one.loc))]
    problems = [(line, f"{path}: line {line}: {text}") for line, text in found]
    problems += [(batch.line_of(one.loc), one.line(str(path), batch.place)) for one in told]
    problems.sort(key=lambda problem: problem[0])
    bad = {line for line, _ in problems}
    if any(line <= batch.head for line in bad):
        return None, tuple(problems)
    good = [(belt, line) for belt, line in zip(batch.belts, batch.lines, strict=True) if line not in bad]
    if bad:
        belts = [belt for belt, _ in good]
        job, mistakes = attempt(Job, {**shared, "belt": belts}, context=context) if belts else (None, ())
        assert not mistakes, "lines that are good among others are good by themselves"
    if job is None:
        return None, tuple(problems)
    job = _from_lines(job, path, [line for _, line in good])
    job._shared = batch.job_file
    return job, tuple(problems)


def _shared(batch: Batch, path: Path) -> dict[str, Any]:
    """Return the tables of the job file that a CSV file names for all its belts; none where it names none."""
    if not batch.job_file:
        return {}
    try:
        tables = read_toml(path.parent / batch.job_file)
    except FileProblems as error:
        raise FileProblems(
            tuple(f"{path}: the job file it names: {text}" for text in error.problems)
        ) from error
    kinds = [f"[[{kind}]]" for kind in ("belt", "strap") if kind in tables]
    if kinds:
        text = f"found {' and '.join(kinds)}, expected none: the belts stand in {path.name}"
        raise FileProblems((f"{path.parent / batch.job_file}: {text}",))
    return tables


def _columns_missing(batch: Batch, shared: Mapping[str, Any]) -> Iterator[str]:
    for key in sorted(batch.absent, key=list(NEEDED).index):
        if not key.startswith("leather"):
            yield f"{key}: found no column for it, expected {NEEDED[key]}"
        elif "leather" not in shared:
            name = batch.job_file or "FILE.toml"
            where = f"a [leather] table in {name}" if batch.job_file else f'a first line "# job: {name}"'
            yield f"{key}: found no column for it, expected {NEEDED[key]}, or {where}, for the leather of all"


def _from_lines(job: Job, path: Path, lines: Sequence[int]) -> Job:
    """Return a job that knows the line each belt comes from; a graded one makes several of one line."""
    groups = groupby(job.belts, key=lambda belt: belt.run or belt.id)
    counts = [len(list(group)) for _, group in groups]
    job = _named(job, path)
    job._source = str(path)
    job._lines = tuple(line for line, count in zip(lines, counts, strict=True) for _ in range(count))
    return job


def _named(job: Job, path: Path) -> Job:
    return job if job.name else job.model_copy(update={"job": About(name=path.stem)})


def repeated_id(tables: Mapping[str, Any], kind: str, index: int) -> str:
    """Return what is wrong with the id of a belt or strap that another one has; empty where none has.

    Args:
        tables: of the job file.
        kind: of its table: ``"belt"`` or ``"strap"``.
        index: its place among those.
    """
    given: list[tuple[Loc, Any]] = [
        ((each, number), one) for each in ("belt", "strap") for number, one in enumerate(tables.get(each, ()))
    ]
    given.sort(key=lambda one: one[0] == (kind, index))  # the others keep theirs
    for loc, error in _ids_used_twice(given):
        if loc == (kind, index, "id") and not isinstance(error, str) and error.context:
            return str(error.context["text"]).format(other=f"another {error.context['other'][0]}")
    return ""


def _ids_used_twice(given: Sequence[tuple[Loc, Any]]) -> Faults:
    first: dict[str, Loc] = {}
    for loc, belt in given:
        belt_id = _given(belt, "id")
        if not isinstance(belt_id, str):
            continue
        belt_id = unicodedata.normalize("NFC", belt_id)
        sizes = _given(belt, "sizes") if loc[0] == "belt" else None
        for one in (belt_id, *(ids_of(belt_id, sizes) if sizes is not None else ())):
            if one in first and first[one] != loc:
                made = f"makes {quoted(one)}" if one != belt_id else f"found {quoted(one)} again"
                text = f"{made}, already the id of {{other}}; expected its own"
                yield (*loc, "id"), mistake(text, other=first[one])
                break
            first.setdefault(one, loc)


def _leather_missing(given: Sequence[tuple[Loc, Any]]) -> Faults:
    """Yield one mistake where no belt or strap says anything of its leather, else one for each gap."""
    own = [(loc, _given(belt, "leather")) for loc, belt in given]
    if all(leather is None for _, leather in own):
        yield ("leather",), "missing, expected a table with thickness and tannage"
        return
    for loc, leather in own:
        for key in ("thickness", "tannage"):
            if _given(leather, key) is None:
                yield (*loc, "leather", key), "missing, expected here or in a [leather] table for all belts"


def _given(table: Any, key: str) -> Any:
    """Return what a table or an already validated model has under a key; none where there is neither."""
    return table.get(key) if isinstance(table, Mapping) else getattr(table, key, None)


def catalogue_text(job: Job) -> str:
    """Return, as a catalogue file, all that bears on a job: read beside it, the same draft comes of it.

    It holds the buckles and the leather the job names, every fastener there was to choose from, and the
    punches that are owned. Lengths are bare numbers, mm.

    Args:
        job: as it was read.
    """
    import tomlkit

    known = job.catalogue
    buckles = {belt.buckle.name for belt in job.belts} & set(known.buckles)
    leathers = {job.leather.of} & set(known.leathers) if job.leather is not None else set()
    entries: dict[str, Mapping[str, BaseModel]] = {
        "buckle": {name: known.buckles[name] for name in sorted(buckles)},
        "screw_post": known.screw_posts,
        "rivet": known.rivets,
        "snap": known.snaps,
        "leather": {name: known.leathers[name] for name in sorted(leathers)},
    }
    tables = {kind: {name: _as_table(one, name) for name, one in of.items()} for kind, of in entries.items()}
    tables["punch"] = {name: _punch(punch) for name, punch in known.owned_punches.items()}
    head = "# All of the catalogue that this job was drafted with; lengths in mm.\n\n"
    return head + tomlkit.dumps({kind: table for kind, table in tables.items() if table})


def house_text(job: Job) -> str:
    """Return, as a house file, every setting and price a job was drafted with; lengths are bare numbers, mm.

    Args:
        job: as it was read.
    """
    import tomlkit

    tables = {
        "house": job.house.model_dump(mode="json"),
        "price": job.price.model_dump(mode="json", exclude_none=True),
    }
    return "# The settings and prices that this job was drafted with; lengths in mm.\n\n" + tomlkit.dumps(
        tables
    )


def _as_table(entry: BaseModel, name: str) -> dict[str, Any]:
    values = entry.model_dump(mode="json", exclude_none=True, exclude_unset=True)
    if values.get("name") == name:
        del values["name"]
    return values


def _punch(punch: Punch) -> dict[str, Any]:
    if punch.kind == "round":
        return {"diameter": punch.length}
    return {"kind": punch.kind, "length": punch.length, "width": punch.width}
