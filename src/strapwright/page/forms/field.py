"""A form's fields: one for every key of a model; what stands in one, and what is written for it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from enum import Enum
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from strapwright.core.errors import UnitError
from strapwright.core.units import Units, format_length, lengths_in, parse_length
from strapwright.files.fields import Measure
from strapwright.files.messages import members
from strapwright.files.validate import key_docstrings
from strapwright.job.spec.strap import Belt, StrapTable
from strapwright.job.spec.strap_end import StrapEnd
from strapwright.page.forms.page_words import LABELS, LEFT_OUT, OPTIONAL, WAY, WAYS, WHEN, WORDS
from strapwright.page.forms.toml_text import value_at

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from strapwright.page.forms.toml_text import Key


Kind = Literal[
    "text",
    "length",
    "count",
    "number",
    "percent",
    "choice",
    "yes",
    "date",
    "lengths",
    "words",
    "list",
    "several",
]

_PLAIN: Final[Mapping[Any, Kind]] = {bool: "yes", int: "count", date: "date"}


@dataclass(frozen=True)
class Field:
    """One field of a form.

    Args:
        key: dotted, below its belt: ``"holes.count"``.
        label: what stands beside it.
        help: what may be written and what it decides.
        kind: how it is written.
        default: what holds where nothing is written.
        choices: of a choice, each as it stands in the file and as it is read here.
        when: shown only where another field has a value: its key and that value; empty for always.
        value: as it stands in the field.
        path: where it stands below its table, where its key's dots do not say it.
        also: the same length in the page's units, where it is written in others.
    """

    key: str
    label: str
    help: str
    kind: Kind
    default: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    when: tuple[tuple[str, str], ...] = ()
    value: str = ""
    path: tuple[str, ...] = ()
    also: str = ""

    @property
    def place(self) -> Key:
        """Where it stands below its table."""
        return self.path or tuple(int(part) if part.isdigit() else part for part in self.key.split("."))

    @property
    def said(self) -> str:
        """What it stands at, in words: a choice's own, and what is usual where nothing is written."""
        value = self.value or self.default
        return dict(self.choices).get(value, value)


@dataclass(frozen=True)
class Group:
    """Fields that stand together.

    Args:
        title: what they are about.
        fields: the fields, in order.
    """

    title: str
    fields: tuple[Field, ...]


def group_of(key: str) -> str:
    """Return what a field's key belongs to: the table it is in; of a strap's ends, which of them.

    Example:
        >>> group_of("holes.count"), group_of("ends.0.tip.shape"), group_of("id")
        ('holes', 'ends.0', 'id')
    """
    parts = key.split(".")
    return ".".join(parts[: 2 if parts[0] == "ends" else 1])


def also_in(field: Field, value: str, units: Units) -> str:
    """Return a length that is written in other units than the page's in those; empty for any other value."""
    if field.kind != "length" or not value:
        return ""
    try:
        mm = parse_length(value, ounces=True)
    except UnitError:
        return ""
    metric = value.rstrip().endswith(("mm", "cm")) or value.rstrip()[-1:].isdigit()
    return format_length(mm, units) if metric == (units == "in") else ""


def filled(field: Field, value: str, units: Units) -> Field:
    """Return a field with what stands in it, what is usual and what is said in the page's units."""
    also = also_in(field, value, units)
    if units == "mm":
        return replace(field, value=value, also=also)
    default, about = lengths_in(field.default, units), lengths_in(field.help, units)
    return replace(field, value=value, also=also, default=default, help=about)


def fits(field: Field, values: Mapping[str, str]) -> bool:
    """Whether the choices a field belongs to are made."""
    return all(values[key] in value.split("|") for key, value in field.when)


def ends_of(table: Mapping[str, Any]) -> tuple[list[dict[str, Any]], bool]:
    """Return a strap's two ends, and whether they are those of a strap that says nothing of them."""
    ends = table.get("ends")
    if isinstance(ends, list) and len(ends) == 2 and all(isinstance(end, dict) for end in ends):
        return ends, False
    return [{"tip": "square"}, {"tip": "square"}], True


def shown_in(belt: Mapping[str, Any], field: Field) -> str:
    """Return what stands in a field: the value as it is written in the file."""
    if field.key.startswith("ends."):
        whose = group_of(field.key)
        ends, _ = ends_of(belt)
        return shown_in(ends[int(whose[-1])], replace(field, key=field.key.removeprefix(f"{whose}.")))
    *above, last = field.key.split(".")
    table = value_at(belt, tuple(above))
    if field.key == WAY:
        return next((way for way, _ in WAYS["ends"] if way in belt), field.default)
    if last == WAY and above == ["size"]:
        if "sizes" in belt:
            return "sizes"
        return next(
            (way for way, _ in WAYS["size"] if isinstance(table, dict) and way in table), field.default
        )
    if last == WAY:
        return "measured" if isinstance(table, dict) else "name"
    if last == "given":
        if above == ["keeper"]:
            return "" if table == "none" else "yes"
        return "yes" if table is not None else ""
    value = value_at(belt, field.place)
    if field.key == "tip.shape" and isinstance(belt.get("tip"), str):
        return str(belt["tip"])
    if value is None and (field.kind == "several" or (field.kind == "yes" and last != "given")):
        return field.default
    if value is None or isinstance(value, dict):
        return ""
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, list):
        return ", ".join(str(one) for one in value)
    return in_percent(value) if field.kind == "percent" else str(value)


def value_of(field: Field, text: str, unit: str) -> object:
    """Return what is written into the file for a field's text; text that is no number stays text."""
    if field.kind == "yes":
        return True if text == "yes" else None
    if field.kind == "several":
        return [part.strip() for part in text.split(",") if part.strip()]
    if not text:
        return None
    if field.kind == "count" or (field.kind == "choice" and text.isdecimal()):
        try:
            return int(text) if text.lstrip("-").isdecimal() else text
        except ValueError:
            return text
    if field.kind == "number":
        return parsed_number(text)
    if field.kind == "percent":
        number = parsed_number(text.removesuffix("%").rstrip())
        return number if isinstance(number, str) else float(f"{number / 100:.10g}")
    if field.kind == "date":
        try:
            return date.fromisoformat(text)
        except ValueError:
            return text
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if field.kind == "list":
        return parts
    if field.kind == "words":
        return parts if len(parts) > 1 else text
    if field.kind == "lengths":
        return [with_unit(part, unit) for part in parts]
    return with_unit(text, unit) if field.kind == "length" else text


def parsed_number(text: str) -> int | float | str:
    """Return a number as it is written into a file; text that is none stays text, for the reader to refuse.

    Example:
        >>> parsed_number("34"), parsed_number("0,35"), parsed_number("dear")
        (34, 0.35, 'dear')
    """
    try:
        return int(text) if text.isdecimal() else float(text.replace(",", "."))
    except ValueError:
        return text


def in_percent(share: object) -> str:
    """Return a share as it stands in a field that is filled in per cent.

    Example:
        >>> in_percent(0.3), in_percent("dear")
        ('30 %', 'dear')
    """
    return f"{100 * share:.10g} %" if isinstance(share, int | float) else str(share)


def units_of(asked: Mapping[str, str]) -> Units:
    """Return the units that a form asks for."""
    return "in" if asked.get("units") == "in" else "mm"


def with_unit(text: str, unit: str) -> str:
    """Return a length with its unit: a bare number is of the page's own.

    Example:
        >>> with_unit("38", "in"), with_unit("38 mm", "in"), with_unit("1 1/2", "in")
        ('38 in', '38 mm', '1 1/2 in')
    """
    return f"{text} {unit}" if text[-1:].isdigit() else text


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
        inner = model_within(info)
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
    if plain := _PLAIN.get(one):
        return plain, ()
    if one is float:
        measured = measures_within(info) or "strap_width" in (info.examples or ())
        return ("length" if measured else "number"), ()
    return "text", ()


def _choices(literal: Any) -> tuple[tuple[str, str], ...]:
    return tuple((str(one), WORDS.get(str(one), str(one).replace("_", " "))) for one in get_args(literal))


def model_within(info: FieldInfo) -> type[BaseModel] | None:
    """Return the model of the table that a key stands for; None for a single value."""
    return next((one for one in members(info.annotation) if _is_model(one)), None)


def measures_within(info: FieldInfo) -> list[Measure]:
    """Return what a key's value is measured as; nothing for one that is no measure."""
    return [one for one in (*info.metadata, *_within(info.annotation)) if isinstance(one, Measure)]


def _is_model(kind: object) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _label(key: str) -> str:
    last = key.rpartition(".")[2] if not key.endswith(".given") else key.split(".")[-2]
    key = key.replace(group_of(key), "ends", 1) if key.startswith("ends.") else key
    words = LABELS.get(key) or LABELS.get(key.removeprefix("ends."), last.replace("_", " "))
    return words[:1].upper() + words[1:]
