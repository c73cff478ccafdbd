"""The catalogue: buckles known by name, those shipped and a maker's own."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo

from strapwright.files.fields import mistake
from strapwright.files.read import read_toml
from strapwright.files.validate import Strict, schema_of, validate
from strapwright.files.wording import nearest
from strapwright.job.buckle import Buckle
from strapwright.units import quoted

if TYPE_CHECKING:
    from collections.abc import Mapping

CATALOGUE_NAME = "catalogue.toml"
"""The file looked for beside a job."""

_SHIPPED = Path(__file__).with_name("buckles.toml")


def _sound_name(name: str) -> str:
    if not 1 <= len(name) <= 40 or name != name.strip() or not name.isprintable():
        raise mistake(
            f"found the name {quoted(name)}, expected 1 to 40 printable characters, no space at either end"
        )
    return name


class Catalogue(Strict):
    """A catalogue file: one ``[buckle.NAME]`` table for each buckle."""

    buckle: Annotated[
        dict[Annotated[str, AfterValidator(_sound_name)], Buckle],
        Field(
            min_length=1,
            description="Buckles by name, each in a table [buckle.NAME]; a job calls them by that name.",
            examples=[{"wide-50": {"opening": "52 mm", "bar_diameter": "5 mm", "frame_depth": "45 mm"}}],
        ),
    ]


def read_catalogue(path: Path) -> Mapping[str, Buckle]:
    """Read a catalogue file.

    Returns:
        Its buckles by name; each carries that name, unless it has one of its own.

    Raises:
        FileProblems: the file cannot be read, or every mistake in it.
    """
    catalogue = validate(Catalogue, read_toml(path), str(path))
    return MappingProxyType(
        {
            name: buckle if buckle.name else buckle.model_copy(update={"name": name})
            for name, buckle in catalogue.buckle.items()
        }
    )


@cache
def shipped_buckles() -> Mapping[str, Buckle]:
    """Return the buckles that come with strapwright: invented ones, of plausible sizes.

    Example:
        >>> shipped_buckles()["double-46"].prongs
        2
    """
    return read_catalogue(_SHIPPED)


def buckles_for(job: Path, catalogue: Path | None = None) -> Mapping[str, Buckle]:
    """Return the buckles a job may name: those shipped, and a maker's own, which win.

    Args:
        job: the job file; a ``catalogue.toml`` in its folder is the maker's own.
        catalogue: another file to take instead of that one.

    Raises:
        FileProblems: the maker's own catalogue cannot be read, or every mistake in it.
    """
    own = catalogue
    if own is None and (beside := job.with_name(CATALOGUE_NAME)).exists():
        own = beside
    return {**shipped_buckles(), **read_catalogue(own)} if own is not None else shipped_buckles()


def catalogue_schema() -> dict[str, Any]:
    """Return the JSON Schema of a catalogue file."""
    return schema_of(Catalogue, "strapwright catalogue")


def _by_name(value: object, info: ValidationInfo) -> object:
    """Replace a name by the buckle it stands for; leave tables to their own validation."""
    if not isinstance(value, str):
        return value
    known: Mapping[str, Buckle] = (info.context or {}).get("buckles") or shipped_buckles()
    if value in known:
        return known[value]
    near = nearest(value, list(known))
    ending = f'; did you mean "{near}"?' if near else ""
    raise mistake(f"found {quoted(value)}, expected a buckle of the catalogue ({', '.join(known)}){ending}")


BuckleOrName = Annotated[Buckle, BeforeValidator(_by_name, json_schema_input_type=str | Buckle)]
"""A buckle, which a file may also call by its name in the catalogue."""
