"""The job: what a person writes in one TOML or CSV file, validated."""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import Field, PrivateAttr

from strapwright.errors import FileProblems
from strapwright.files.fields import Measure, mistake
from strapwright.files.read import read_text, read_toml
from strapwright.files.validate import Strict, attempt, schema_of, validate
from strapwright.job.batch import Batch, columns_of, read_batch
from strapwright.job.belt import Belt
from strapwright.job.catalogue import Catalogue, LeatherOrName, catalogue_for, shipped
from strapwright.job.leather import Leather
from strapwright.units import quoted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from pydantic_core import PydanticCustomError

    from strapwright.files.wording import Loc
    from strapwright.job.buckle import Buckle

CSV_LIMIT_MB = 4.0
"""Largest CSV file read, in MB: some twenty thousand belts."""


class About(Strict):
    """What the job is called."""

    name: Annotated[
        str, Field(max_length=200, description="The job's name; default the file's name without suffix.")
    ] = ""


class House(Strict):
    """Settings of the workshop that hold for every belt of the job."""

    strap_clearance: Annotated[
        float,
        Measure(least=0.0, most=8.0),
        Field(
            description="What a callipered opening loses to make the strap's width, 0 to 8 mm, default "
            "2 mm: edges swell with finish and the strap must run freely.",
        ),
    ] = 2.0
    neutral_axis: Annotated[
        float,
        Field(
            strict=True,
            ge=0.3,
            le=0.6,
            description="K, where the unstretched layer lies at the fold, as a share of the thickness "
            "from the inside, 0.3 to 0.6, default 0.5.",
        ),
    ] = 0.5
    fold_play: Annotated[
        float,
        Measure(least=0.0, most=3.0),
        Field(
            description="Air between bar and fold, 0 to 3 mm, default 0.25 mm; the fold is never wrapped "
            "dead tight.",
        ),
    ] = 0.25
    keeper_ease_width: Annotated[
        float,
        Measure(least=0.0, most=10.0),
        Field(description="What a keeper is wider inside than the strap, 0 to 10 mm, default 1 mm."),
    ] = 1.0
    keeper_ease_height: Annotated[
        float,
        Measure(least=0.0, most=10.0),
        Field(
            description="What a keeper is higher inside than the layers it holds, 0 to 10 mm, default 1.5 mm."
        ),
    ] = 1.5

    strain_caution: Annotated[
        float,
        Field(
            strict=True,
            ge=0.1,
            le=0.7,
            description="Stretch of the grain in the fold, as a share, above which the draft warns, 0.1 to "
            "0.7, default 0.4; a published requirement for vegetable leather allows 0.5.",
        ),
    ] = 0.40
    longest_tail: Annotated[
        float,
        Measure(least=60.0, most=600.0),
        Field(
            description="Free end past the bar at the tightest hole above which the draft warns, 60 to "
            "600 mm, default 280 mm: longer runs into the next trouser loop.",
        ),
    ] = 280.0


class LayoutSettings(Strict):
    """How parts lie on the hide."""

    gap: Annotated[
        float,
        Measure(least=0.0, most=50.0),
        Field(description="Kept between two parts, 0 to 50 mm, default 2 mm."),
    ] = 2.0
    margin: Annotated[
        float,
        Measure(least=0.0, most=100.0),
        Field(description="Kept from the hide's edge and its flaws, 0 to 100 mm, default 3 mm."),
    ] = 3.0


class Job(Strict):
    """A job: belts to make of one sort of leather."""

    job: Annotated[About, Field(description="What it is called.")] = About()
    leather: Annotated[
        LeatherOrName,
        Field(
            description="The straps' leather. Needed unless every belt gives its own thickness and tannage.",
            examples=[{"thickness": "9 oz", "tannage": "vegetable"}],
        ),
    ] = None
    house: Annotated[House, Field(description="The workshop's settings.")] = House()
    layout: Annotated[LayoutSettings, Field(description="How parts lie on the hide.")] = LayoutSettings()
    belts: Annotated[
        tuple[Belt, ...],
        Field(alias="belt", min_length=1, description="The belts, each in a [[belt]] table."),
    ]
    _catalogue: Catalogue = PrivateAttr(default_factory=shipped)

    def model_post_init(self, context: Any, /) -> None:
        """Keep the catalogue the job was read with; it is no key of the file."""
        self._catalogue = (context or {}).get("catalogue") or shipped()

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
        """Yield: ids used twice; belts without a leather."""
        belts = table.get("belt")
        if not isinstance(belts, list | tuple):
            return
        yield from _ids_used_twice(belts)
        if "leather" not in table:
            yield from _leather_missing(belts)

    @property
    def name(self) -> str:
        """What the job is called."""
        return self.job.name

    @property
    def catalogue(self) -> Catalogue:
        """What the job may name: what is shipped, and the maker's own."""
        return self._catalogue

    @cached_property
    def digest(self) -> str:
        """SHA-256 of everything the job says and uses of the catalogue; comments do not count."""
        used = self.catalogue.bearing_on(belt.fastener for belt in self.belts)
        return hashlib.sha256(f"{self.model_dump_json()}\n{used}".encode()).hexdigest()

    def buckle_of(self, belt: Belt) -> Buckle:
        """Return a belt's buckle, as it stands inline or in the catalogue."""
        return belt.buckle

    def leather_of(self, belt: Belt) -> Leather:
        """Return a belt's leather: the job's, with what the belt has otherwise."""
        own = belt.leather
        if own is None:
            assert self.leather is not None
            return self.leather
        base = self.leather
        thickness = own.thickness if base is None or own.thickness is not None else base.thickness
        tannage = own.tannage if base is None or own.tannage is not None else base.tannage
        price = own.price_per_m2 if base is None or own.price_per_m2 is not None else base.price_per_m2
        assert thickness is not None
        assert tannage is not None
        temper = own.temper or (base.temper if base else None)
        return Leather.model_construct(
            thickness=thickness,
            tannage=tannage,
            price_per_m2=price,
            temper=temper,
            of=base.of if base else "",
        )


def read_job(path: Path, catalogue: Path | None = None) -> Job:
    """Read a job file: TOML, or with the suffix ``.csv`` one belt a line.

    Args:
        path: the job file; named in messages as given here.
        catalogue: a file of the maker's own entries; default ``catalogue.toml`` beside the job, if any.

    Returns:
        The job, every buckle resolved, and named after the file where it gives no name.

    Raises:
        FileProblems: the catalogue or the job cannot be read, or every mistake in it, one line each.
    """
    if path.suffix.lower() == ".csv":
        batch = read_batch(read_text(path, limit_mb=CSV_LIMIT_MB), columns_of(Belt))
        return _from_batch(batch, path, {"catalogue": catalogue_for(path, catalogue)})
    data = read_toml(path)
    job = validate(Job, data, str(path), context={"catalogue": catalogue_for(path, catalogue)})
    return job if job.name else _named(job, path)


def job_schema() -> dict[str, Any]:
    """Return the JSON Schema of a job file, for editors."""
    return schema_of(Job, "strapwright job")


def _from_batch(batch: Batch, path: Path, context: Mapping[str, Any]) -> Job:
    job, mistakes = attempt(Job, {"belt": batch.belts}, context=context) if batch.belts else (None, ())
    found = list(batch.problems)
    if not batch.belts and not found:
        found.append((batch.last_line, "found no belts, expected a line for each below the column names"))
    told = [one for one in mistakes if not (one.missing and batch.lacks(one.loc))]
    lines = [(line, f"{path}: line {line}: {text}") for line, text in found]
    lines += [(batch.line_of(one.loc), one.line(str(path), batch.place)) for one in told]
    if lines or job is None:
        raise FileProblems(tuple(text for _, text in sorted(lines, key=lambda item: item[0])))
    return _named(job, path)


def _named(job: Job, path: Path) -> Job:
    return job.model_copy(update={"job": About(name=path.stem)})


def _ids_used_twice(belts: Sequence[Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
    first: dict[str, int] = {}
    for index, belt in enumerate(belts):
        belt_id = _given(belt, "id")
        if not isinstance(belt_id, str):
            continue
        belt_id = unicodedata.normalize("NFC", belt_id)
        if belt_id in first:
            text = f"found {quoted(belt_id)} again, already the id of {{other}}; expected its own"
            yield ("belt", index, "id"), mistake(text, other=("belt", first[belt_id]))
        first.setdefault(belt_id, index)


def _leather_missing(belts: Sequence[Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
    """Yield one mistake where no belt says anything of its leather, else one for each gap."""
    own = [_given(belt, "leather") for belt in belts]
    if all(leather is None for leather in own):
        yield ("leather",), mistake("missing, expected a table with thickness and tannage")
        return
    for index, leather in enumerate(own):
        for key in ("thickness", "tannage"):
            if _given(leather, key) is None:
                yield (
                    ("belt", index, "leather", key),
                    mistake("missing, expected here or in a [leather] table for all belts"),
                )


def _given(table: Any, key: str) -> Any:
    """Return what a table or an already validated model has under a key; none where there is neither."""
    return table.get(key) if isinstance(table, Mapping) else getattr(table, key, None)
