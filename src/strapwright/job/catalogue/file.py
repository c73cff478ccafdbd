"""The catalogue: buckles, fasteners, leathers and punches by name, those shipped and your own."""

from __future__ import annotations

import json
import os
import tomllib
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any, Final, TypeVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, Field, ValidationInfo

from strapwright.core.errors import FileProblems
from strapwright.core.text import quoted
from strapwright.files.atomic_write import write_whole
from strapwright.files.fields import mistake
from strapwright.files.messages import did_you_mean
from strapwright.files.read import read_bytes, read_toml
from strapwright.files.validate import Strict, validate
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.catalogue.hardware import Fastener, LeatherStock, PunchEntry, Rivet, ScrewPost, Snap
from strapwright.job.catalogue.leather import Leather, LeatherByName

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from strapwright.rules.punches import Punch

NEW_FILE: Final = "# Your own buckles, fasteners, leathers and punches, one table each.\n"
"""How a catalogue begins that was not there before."""

_TRIAL: Final = '[buckle."{}"]\nopening = "40 mm"\nbar_diameter = "4 mm"\nframe_depth = "36 mm"\n'

CATALOGUE_NAME = "catalogue.toml"
"""The file of a job's folder or shop that holds one's own buckles, fasteners, leathers and punches."""


HOUSE_NAME = "house.toml"
"""The file that makes a folder a shop: what it says holds for every job in it."""


_SHIPPED = ("buckles.toml", "hardware.toml")


Entry = TypeVar("Entry", bound=BaseModel)


def sound_name(name: str) -> str:
    """Return an entry's name as it is.

    Raises:
        PydanticCustomError: no name for a table.
    """
    if not 1 <= len(name) <= 40 or name != name.strip() or not name.isprintable():
        raise mistake(
            f"found the name {quoted(name)}, expected 1 to 40 printable characters, no space at either end"
        )
    return name


EntryName = Annotated[str, AfterValidator(sound_name)]
"""What an entry is called: the last word of its table's head."""


class CatalogueFile(Strict):
    """A catalogue file: tables of six kinds, each under the entry's name."""

    buckle: Annotated[
        dict[EntryName, Buckle],
        Field(examples=[{"wide-50": {"opening": "52 mm", "bar_diameter": "5 mm", "frame_depth": "45 mm"}}]),
    ] = {}  # noqa: RUF012  # pydantic copies it
    """Buckles by name, each in a table [buckle.NAME]; a job calls them by that name."""
    screw_post: Annotated[
        dict[EntryName, ScrewPost],
        Field(
            examples=[{"brass-7": {"length": "7 mm", "barrel_diameter": "5 mm", "head_diameter": "10 mm"}}]
        ),
    ] = {}  # noqa: RUF012
    """Screw posts, each in a table [screw_post.NAME]."""
    rivet: Annotated[
        dict[EntryName, Rivet],
        Field(
            examples=[{"cap-9": {"least_stack": 5, "most_stack": 7, "cap_diameter": "9 mm", "hole": "3 mm"}}]
        ),
    ] = {}  # noqa: RUF012
    """Rivets, each in a table [rivet.NAME]."""
    snap: Annotated[
        dict[EntryName, Snap],
        Field(
            examples=[
                {
                    "big-15": {
                        "least_stack": 3,
                        "most_stack": 5,
                        "cap_diameter": "15 mm",
                        "cap_hole": "5 mm",
                        "stud_hole": "4 mm",
                    }
                }
            ]
        ),
    ] = {}  # noqa: RUF012
    """Press studs, each in a table [snap.NAME]."""
    leather: Annotated[
        dict[EntryName, LeatherStock],
        Field(examples=[{"oak-9": {"thickness": ["3.4 mm", "3.8 mm"], "tannage": "vegetable"}}]),
    ] = {}  # noqa: RUF012
    """Leathers one buys, each in a table [leather.NAME]."""
    punch: Annotated[dict[EntryName, PunchEntry], Field(examples=[{"no-5": {"diameter": "5 mm"}}])] = {}  # noqa: RUF012
    """Punches you own, each in a table [punch.NAME]; where there are any, holes are checked against them."""


@dataclass(frozen=True)
class Catalogue:
    """Everything a job may name, by kind and name.

    Args:
        buckles: to fold the strap round.
        screw_posts: barrels and heads.
        rivets: with the stacks they hold.
        snaps: press studs, with the stacks they hold.
        leathers: what comes under a name.
        punches: all that are known, shipped sizes included.
        owned_punches: those of the user's own file; empty where it lists none.
    """

    buckles: Mapping[str, Buckle]
    screw_posts: Mapping[str, ScrewPost]
    rivets: Mapping[str, Rivet]
    snaps: Mapping[str, Snap]
    leathers: Mapping[str, LeatherStock]
    punches: Mapping[str, Punch]
    owned_punches: Mapping[str, Punch]

    def __post_init__(self) -> None:
        """Make the mappings read-only, whatever they were given as: shipped ones are shared."""
        for field in fields(self):
            object.__setattr__(self, field.name, MappingProxyType(dict(getattr(self, field.name))))

    def __reduce__(self) -> tuple[type[Catalogue], tuple[dict[str, Any], ...]]:
        """Pickle and copy through plain dicts: a read-only view can do neither."""
        return Catalogue, tuple(dict(getattr(self, field.name)) for field in fields(self))

    def extended(self, own: Catalogue) -> Catalogue:
        """Return this catalogue with another's entries added; of two with one name the other's stands."""
        merged = (getattr(self, field.name) | getattr(own, field.name) for field in fields(self))
        return Catalogue(*merged)

    def fasteners(self, kind: str) -> Mapping[str, Fastener]:
        """Return the fasteners of one kind by name.

        Args:
            kind: ``"screw_post"``, ``"rivet"`` or ``"snap"``; there are none of another, such as
                ``"stitched"``.
        """
        kinds: dict[str, Mapping[str, Fastener]] = {
            "screw_post": self.screw_posts,
            "rivet": self.rivets,
            "snap": self.snaps,
        }
        return kinds.get(kind, {})

    def bearing_on(self, fasteners: Iterable[str]) -> str:
        """Return as JSON what bears on belts besides their buckles: for a job's digest.

        Args:
            fasteners: those the belts use: ``"screw_post"``, ``"rivet"``, ``"snap"``.
        """
        found: dict[str, Any] = {
            kind: {name: entry.model_dump(mode="json", exclude={"price"}) for name, entry in entries.items()}
            for kind in sorted(set(fasteners))
            if (entries := self.fasteners(kind))
        }
        found["punch"] = {name: [p.kind, p.length, p.width] for name, p in self.owned_punches.items()}
        return json.dumps(found, sort_keys=True)


def read_catalogue(path: Path) -> Catalogue:
    """Read a catalogue file, and nothing but what stands in it.

    Returns:
        Its entries by kind and name; each carries that name, unless it has one of its own. Its punches
        count as owned.

    Raises:
        FileProblems: the file cannot be read, or every mistake in it.
    """
    return _catalogue(validate(CatalogueFile, read_toml(path), str(path)))


@cache
def shipped() -> Catalogue:
    """Return what comes with strapwright: invented entries, of plausible sizes; no punch is owned.

    Example:
        >>> shipped().buckles["double-46"].prongs
        2
        >>> shipped().screw_posts["1/4 in"].length
        6.35
    """
    tables: dict[str, Any] = {}
    for name in _SHIPPED:
        tables |= read_toml(Path(__file__).with_name(name))
    found = _catalogue(validate(CatalogueFile, tables, " and ".join(_SHIPPED)))
    values = {field.name: getattr(found, field.name) for field in fields(found)}
    return Catalogue(**{**values, "owned_punches": {}})


def shop_folders(job: Path) -> tuple[Path, ...]:
    """Return the folders in which to look for what holds for a job, the nearest first.

    They are the job's own and those above it, up to the one that holds ``house.toml``: the shop. Where there
    is no shop, the job's own folder is all.

    Args:
        job: the job file.
    """
    real = job.parent.resolve()
    for above, folder in enumerate((real, *real.parents)):
        if os.path.isfile(folder / HOUSE_NAME):
            return (job.parent, *real.parents[:above])
    return (job.parent,)


def own_catalogues(job: Path) -> tuple[Path, ...]:
    """Return the catalogues of one's own that a job may name entries of, the nearest first."""
    paths = (folder / CATALOGUE_NAME for folder in shop_folders(job))
    return tuple(path for path in paths if os.path.exists(path))


def catalogue_for(job: Path, catalogue: Path | None = None) -> Catalogue:
    """Return what a job may name: what is shipped, and your own, which wins; the nearest wins over others.

    Args:
        job: the job file; a ``catalogue.toml`` in its folder or its shop is your own.
        catalogue: another file to take instead of those.

    Raises:
        FileProblems: a catalogue of your own cannot be read, or every mistake in it.
    """
    found = shipped()
    for path in reversed(own_catalogues(job) if catalogue is None else (catalogue,)):
        found = found.extended(read_catalogue(path))
    return found


def _catalogue(file: CatalogueFile) -> Catalogue:
    punches = {name: entry.as_punch(name) for name, entry in file.punch.items()}
    return Catalogue(
        buckles=_named(file.buckle),
        screw_posts=_named(file.screw_post),
        rivets=_named(file.rivet),
        snaps=_named(file.snap),
        leathers=_named(file.leather),
        punches=punches,
        owned_punches=punches,
    )


def _named(entries: Mapping[str, Entry]) -> dict[str, Entry]:
    return {
        name: entry if getattr(entry, "name", "") else entry.model_copy(update={"name": name})
        for name, entry in entries.items()
    }


def _by_name(value: object, info: ValidationInfo) -> object:
    """Replace a name by the buckle it stands for; leave tables to their own validation."""
    return _entry(value, _within(info).buckles, "a buckle") if isinstance(value, str) else value


def _from_stock(value: object, info: ValidationInfo) -> object:
    """Fill in what the catalogue says of a leather that is named; leave other tables alone."""
    if not isinstance(value, dict) or not isinstance(value.get("of"), str) or not value["of"]:
        return value
    stock = _entry(value["of"], _within(info).leathers, "a leather")
    known = {key: getattr(stock, key) for key in ("tannage", "temper", "price_per_m2")}
    return {"thickness": round(sum(stock.thickness) / 2, 6), **known, **value}


def _within(info: ValidationInfo) -> Catalogue:
    """Return the catalogue a file is read with."""
    return (info.context or {}).get("catalogue") or shipped()


def _entry(name: str, known: Mapping[str, Entry], what: str) -> Entry:
    if name in known:
        return known[name]
    hint = did_you_mean(name, list(known))
    raise mistake(f"found {quoted(name)}, expected {what} of the catalogue ({', '.join(known)}){hint}")


BuckleOrName = Annotated[Buckle, BeforeValidator(_by_name, json_schema_input_type=str | Buckle)]
"""A buckle, which a file may also call by its name in the catalogue."""


LeatherOrName = Annotated[
    Leather | None, BeforeValidator(_from_stock, json_schema_input_type=Leather | LeatherByName)
]
"""The straps' leather, which a file may also take from the catalogue, in whole or in part."""


def buckle_names(path: Path) -> frozenset[str]:
    """Return the names of the buckles a catalogue file has, after seeing that another can be appended.

    Args:
        path: the file; one that is not there has none.

    Raises:
        FileProblems: it cannot be read, has mistakes, or holds its buckles in a way that nothing can
            follow.
    """
    if not path.exists():
        return frozenset()
    names = frozenset(read_catalogue(path).buckles)
    trial = "trial"
    while trial in names:
        trial += "-"
    with_entry(path, "buckle", trial, _TRIAL.format(trial))
    return names


def append_buckle(path: Path, name: str, text: str) -> None:
    """Append a buckle's table to a catalogue file, whole or not at all.

    What stands in the file stays byte for byte; the table follows after an empty line, with the file's
    own line ends. A file that is not there is begun.

    Args:
        path: the catalogue.
        name: of the buckle.
        text: its table, TOML.

    Raises:
        FileProblems: the file has mistakes, a buckle of that name, or nothing can follow in it.
        OutputError: it cannot be written.
    """
    # The person named the file and asked for the addition, and nothing that stands in it is touched.
    write_whole({path: with_entry(path, "buckle", name, text)}, force=path.exists())


def with_entry(path: Path, kind: str, name: str, text: str) -> bytes:
    """Return a catalogue file as it is with one more entry at its end; nothing is written.

    Args:
        path: the catalogue; one that is not there is begun.
        kind: of the entry: ``"buckle"``, ``"rivet"`` and so on.
        name: of the entry.
        text: its table, TOML.

    Raises:
        FileProblems: the file has mistakes, an entry of that kind and name, or nothing can follow in it.
    """
    if not path.exists():
        return f"{NEW_FILE}\n{text}".encode()
    validate(CatalogueFile, before := read_toml(path), str(path))
    if name in before.get(kind, {}):
        what = kind.replace("_", " ")
        raise FileProblems((f"{path}: found a {what} {quoted(name)} already, expected another name",))
    old = read_bytes(path)
    end = "\r\n" if b"\r\n" in old else "\n"
    gap = end if not old or old.endswith(b"\n") else 2 * end
    new = old + (gap + text.replace("\n", end)).encode()
    try:
        after = tomllib.loads(new.decode("utf-8-sig"))
    except tomllib.TOMLDecodeError:
        problem = f"{path}: {kind}: found an inline table, which no other can follow; expected"
        raise FileProblems((f"{problem} a [{kind}.NAME] table for each",)) from None
    after[kind].pop(name)
    assert after == {kind: {}, **before}
    return new
