"""A field of every key of a model, with the model's own docstrings as help, so that a range is said once."""

from __future__ import annotations

from datetime import date
from enum import Enum
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from strapwright.core.units import format_length
from strapwright.files.fields import Measure
from strapwright.files.messages import members
from strapwright.files.validate import key_docstrings
from strapwright.job.spec.strap import Belt, StrapTable
from strapwright.job.spec.strap_end import StrapEnd
from strapwright.page.forms.field import Field, Kind, group_of
from strapwright.page.forms.page_words import LABELS, LEFT_OUT, OPTIONAL, WAY, WAYS, WHEN, WORDS

if TYPE_CHECKING:
    from collections.abc import Iterator


def fields_of_model(
    model: type[BaseModel], before: str, when: tuple[tuple[str, str], ...], only: tuple[str, ...] = ()
) -> Iterator[Field]:
    """Yield the fields of a model and of those within it, or of some of its keys."""
    within = group_of(before.rstrip("."))
    own = before.removeprefix(f"{within}.") if within.startswith("ends.") else before
    ways = WAYS.get("ends" if within.startswith("ends.") and not own else before.rstrip("."))
    if ways:
        key = f"{before}{WAY}"
        yield Field(key, _label(key), "", "choice", ways[0][0], ways, when)
    about = docstrings(model)
    for name, info in model.model_fields.items():
        alias = info.alias or name
        key = f"{before}{alias}"
        if f"{own}{alias}" in LEFT_OUT or (only and alias not in only):
            continue
        shown = (*when, *_when(key))
        if ways and any(alias == way for way, _ in ways):
            shown = (*when, (f"{before}{WAY}", alias))
        inner = next((one for one in members(info.annotation) if _is_model(one)), None)
        if key == "ends":
            for number in (0, 1):
                yield from fields_of_model(StrapEnd, f"ends.{number}.", ())
        elif inner is None:
            yield model_field(key, info, about.get(name, ""), shown)
        elif key == "buckle":
            yield Field("buckle.way", _label("buckle.way"), "", "choice", "name", WAYS["buckle"])
            named = (("buckle.way", "name"),)
            yield Field("buckle", "Buckle", about.get(name, ""), "choice", when=named)
            for field in fields_of_model(inner, "buckle.", (("buckle.way", "measured"),)):
                if field.key != "buckle.way":
                    yield field
        elif issubclass(model, Belt | StrapTable) and key in OPTIONAL[model.goods]:
            shown = (*shown, *_when(f"{key}.given"))
            yield Field(f"{key}.given", _label(f"{key}.given"), about.get(name, ""), "yes", when=shown)
            yield from fields_of_model(inner, f"{key}.", (*shown, (f"{key}.given", "yes")))
        else:
            yield from fields_of_model(inner, f"{key}.", shown)


def _when(key: str) -> tuple[tuple[str, str], ...]:
    """Return the choice a field belongs to, if it does to one; of a strap's end, one of that end."""
    end = f"{group_of(key)}." if key.startswith("ends.") else ""
    own = key.removeprefix(end)
    found = WHEN.get(f"ends.{own}" if end else own) or WHEN.get(own)
    return ((f"{end}{found[0]}", found[1]),) if found else ()


@cache
def docstrings(model: type[BaseModel]) -> dict[str, str]:
    """Return what is said of each key of a table; where several models make it, by the nearest."""
    found: dict[str, str] = {}
    for kind in model.__mro__:
        if _is_model(kind) and kind is not BaseModel:
            found = dict(key_docstrings(kind)) | found
    return found


def model_field(key: str, info: FieldInfo, about: str, when: tuple[tuple[str, str], ...]) -> Field:
    """Return the field of one key of a model.

    Args:
        key: dotted, below its table.
        info: what the model says of it.
        about: its help; empty takes what its type says of itself.
        when: fields it belongs to, each with the value it needs.
    """
    about = about or _said_within(info)
    kind, choices = _kind(info)
    default = info.default
    if default is True:
        shown = "yes"
    elif kind == "several" and isinstance(default, tuple):
        shown = ", ".join(map(str, default))
    elif isinstance(default, bool | tuple) or default is None or info.is_required():
        shown = ""
    elif kind == "length":
        shown = format_length(default) if isinstance(default, float) else str(default)
    elif isinstance(default, float):
        shown = f"{default:g}"
    else:
        shown = str(getattr(default, "value", default))
    if kind == "choice":
        words = dict(choices)
        rest = f"usual: {words[shown]}" if shown in words else "as usual"
        choices = (("", rest), *((value, word) for value, word in choices))
    return Field(key, _label(key), about, kind, shown, choices, when)


def _within(annotation: Any) -> Iterator[Any]:
    """Yield what annotates a type, or a branch of it."""
    if get_origin(annotation) is Annotated:
        yield from annotation.__metadata__
    for branch in get_args(annotation):
        yield from _within(branch)


def _said_within(info: FieldInfo) -> str:
    """Return what a field says of itself, or the type of its value."""
    said = [
        info.description,
        *(one.description for one in _within(info.annotation) if isinstance(one, FieldInfo)),
    ]
    return next((words for words in said if words), "")


def _kind(info: FieldInfo) -> tuple[Kind, tuple[tuple[str, str], ...]]:
    kinds = members(info.annotation)
    one: Any = kinds[0] if kinds else str
    if get_origin(one) is Literal:
        return "choice", _choices(one)
    if isinstance(one, type) and issubclass(one, Enum):
        return "choice", tuple((str(each.value), str(each.value)) for each in one)
    if get_origin(one) is tuple:
        inner = get_args(one)[0]
        if any(isinstance(each, Measure) for each in _within(inner)):
            return "lengths", ()
        if get_origin(inner) is Literal:
            return "several", _choices(inner)
        return "words", ()
    if one is bool:
        return "yes", ()
    if one is int:
        return "count", ()
    if one is date:
        return "date", ()
    if one is float:
        said = (*info.metadata, *_within(info.annotation))
        measured = any(isinstance(each, Measure) for each in said) or "strap_width" in (info.examples or ())
        return ("length" if measured else "number"), ()
    return "text", ()


def _choices(literal: Any) -> tuple[tuple[str, str], ...]:
    return tuple((str(one), WORDS.get(str(one), str(one).replace("_", " "))) for one in get_args(literal))


def _is_model(kind: object) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _label(key: str) -> str:
    last = key.rpartition(".")[2] if not key.endswith(".given") else key.split(".")[-2]
    key = key.replace(group_of(key), "ends", 1) if key.startswith("ends.") else key
    words = LABELS.get(key) or LABELS.get(key.removeprefix("ends."), last.replace("_", " "))
    return words[:1].upper() + words[1:]
