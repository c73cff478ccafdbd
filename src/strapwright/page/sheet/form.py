"""The fields of belts and straps, made of the job's own models, so that a range or a key is said once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import Enum
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from strapwright.core.errors import UnitError
from strapwright.core.units import Units, format_length, lengths_in, parse_length
from strapwright.files.fields import Measure
from strapwright.files.messages import members
from strapwright.files.validate import key_docstrings
from strapwright.job.spec.job import Job
from strapwright.job.spec.strap import Belt, StrapTable
from strapwright.job.spec.strap_end import StrapEnd
from strapwright.page.sheet.form_words import (
    ABOUT,
    BELT,
    LABELS,
    LEFT_OUT,
    OPTIONAL,
    SKETCH,
    STRAP,
    WAY,
    WAYS,
    WHEN,
    WORDS,
    Groups,
)
from strapwright.page.sheet.job_file import value_at, with_edits

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from strapwright.job.spec.job import Surroundings
    from strapwright.page.sheet.job_file import Edits, Key

Kind = Literal[
    "text", "length", "count", "number", "choice", "yes", "date", "lengths", "words", "list", "several"
]


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
    def place(self) -> tuple[str, ...]:
        """Where it stands below its table."""
        return self.path or tuple(self.key.split("."))

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


def buckle_names(within: Surroundings) -> tuple[str, ...]:
    """Return the names of the buckles a job may call, in order."""
    return tuple(sorted(within.catalogue.buckles))


@dataclass(frozen=True)
class Form:
    """The fields of one kind of table.

    Args:
        groups: titles, and the keys that stand below each.
        fields: in the order of the model.
        optional: tables that may be left out as a whole.
    """

    groups: Groups
    fields: tuple[Field, ...]
    optional: tuple[str, ...] = ()

    def shown(self, table: Mapping[str, Any], units: Units = "mm") -> tuple[Group, ...]:
        """Return the fields with what stands in a table as it is written.

        Args:
            table: as written.
            units: of what is usual, and of what is said.
        """
        filled = [_filled(one, _shown(table, one), units) for one in self.fields]
        return tuple(
            Group(title, tuple(one for key in keys for one in filled if f"{one.key}.".startswith(f"{key}.")))
            for title, keys in self.groups
        )

    def visible(self, table: Mapping[str, Any], posted: Mapping[str, str] | None = None) -> tuple[Field, ...]:
        """Return those fields that the choices made show.

        Args:
            table: as written.
            posted: choices made since, by their fields' keys.
        """
        written = {field.key: _shown(table, field) for field in self.fields} | dict(posted or {})
        values = {field.key: written[field.key] or field.default for field in self.fields}
        return tuple(field for field in self.fields if _fits(field, values))

    def edits(
        self, table: Mapping[str, Any], posted: Mapping[str, str], place: Key, unit: str = "mm"
    ) -> Edits:
        """Return what a posted form changes of a table.

        Args:
            table: as written.
            posted: values by their fields' keys; a tick that is not set is not posted.
            place: of the table in its file.
            unit: of a length without one.
        """
        edits = self._own_edits(table, posted, place, unit)
        ends, default = _ends(table)
        changed: Edits = {}
        for number in range(len(ends) if any(_group(field.key) == "ends.0" for field in self.fields) else 0):
            form, before = self._of_end(number), f"ends.{number}."
            own = {key.removeprefix(before): value for key, value in posted.items() if key.startswith(before)}
            if not own:
                continue
            found = form.edits(ends[number], own, ("ends", number), unit)
            tip: Key = ("ends", number, "tip")
            if (
                own.get(WAY) == "tip"
                and "tip" not in ends[number]
                and not any(key[:3] == tip for key in found)
            ):
                changed[tip] = own.get("tip.shape") or "english_point"  # an end has no usual way
            changed |= found
        if changed and default:
            return edits | {(*place, "ends"): with_edits({"ends": ends}, changed)["ends"]}
        return edits | {(*place, *key): value for key, value in changed.items()}

    def _of_end(self, number: int) -> Form:
        """Return the fields of one end by themselves."""
        before = f"ends.{number}."
        return Form(
            (),
            tuple(
                replace(
                    field,
                    key=field.key.removeprefix(before),
                    when=tuple((key.removeprefix(before), value) for key, value in field.when),
                )
                for field in self.fields
                if field.key.startswith(before)
            ),
        )

    def _own_edits(self, table: Mapping[str, Any], posted: Mapping[str, str], place: Key, unit: str) -> Edits:
        """Return what a posted form changes of a table, its ends left out."""
        named = table.get("tip") if isinstance(table.get("tip"), str) else None
        if named is not None:
            table = {**table, "tip": {"shape": named}}
        fields = [
            one
            for one in self.fields
            if (one.key in posted or one.kind in ("yes", "several"))
            and not _group(one.key).startswith("ends.")
        ]
        written = {field.key: posted.get(field.key, "") for field in fields}
        usual = {field.key: field.default for field in self.fields}
        edits: Edits = {}
        for field in fields:
            if field.key.rpartition(".")[2] in (WAY, "given"):
                continue
            if not _fits(field, {key: written.get(key) or usual[key] for key, _ in field.when}):
                value: object = None  # belongs to another way
            else:
                value = _value(field, written[field.key].strip(), unit)
                if field.kind == "yes" and field.default and value is None:
                    value = False  # holds unless it is said not to
                shown = _shown(table, field)
                if shown == written[field.key].strip() or (
                    field.kind == "several"
                    and isinstance(value, list)
                    and sorted(shown.split(", ")) == sorted(value)
                ):
                    continue  # as it stands there, in its own words
                usual_one = field.kind == "choice" and written[field.key] == field.default
                if usual_one and not _shown(table, field):
                    continue  # picked by eye, where nothing stands and the usual one holds
            key = field.place
            if value is None and (value_at(table, key) is None or isinstance(value_at(table, key), Mapping)):
                continue  # nothing there, or a table whose own fields say what becomes of it
            edits[*place, *key] = value
        if named is not None:
            edits = _unfolded(edits, (*place, "tip"), named)
        edits = _tables(self.optional, table, written, place) | edits
        # What is set comes first, so that no table is emptied and written anew, or taken out once it is set.
        kept = {key: value for key, value in edits.items() if value is not None}
        gone = [key for key in edits if key not in kept and not any(one[: len(key)] == key for one in kept)]
        return kept | dict.fromkeys(gone)


def place_of(keys: Sequence[str], shown: Sequence[Field]) -> Field | None:
    """Return the field that stands for the first of some keys that has one; None where none has.

    Args:
        keys: of a table, dotted.
        shown: the fields there are to stand beside.
    """
    fields = {field.key: field for field in shown}
    places = (f"{key}{more}" for key in keys for more in ("", ".given", f".{WAY}", ".shape"))
    return next((fields[place] for place in places if place in fields), None)


def place_of_mistake(key: str, shown: Sequence[Field]) -> Field | None:
    """Return the field that a mistake stands beside: its own, or the first of its table; None for none."""
    place = place_of((key,), shown)
    return place or next((one for one in shown if one.key.startswith(f"{key}.")), None)


def differences(
    groups: Iterable[Group], posted: Mapping[str, str], place: Key, edits: Edits
) -> list[list[str]]:
    """Return the fields a form changes where its file is another by now: label, in the file, as posted.

    Args:
        groups: the form as its file fills it now.
        posted: values by their fields' keys.
        place: of the table in its file.
        edits: what the posted form changes of it.
    """
    fields = [one for group in groups for one in group.fields]
    return [
        [one.label, one.value, posted.get(one.key, "")] for one in fields if (*place, *one.place) in edits
    ]


def belt_form(buckles: Sequence[str]) -> Form:
    """Return the fields of a belt.

    Args:
        buckles: names of the catalogue.
    """
    choices = tuple((name, name) for name in buckles)
    fields = (replace(one, choices=choices) if one.key == "buckle" else one for one in _belt_fields())
    return Form(BELT, tuple(fields), OPTIONAL["belt"])


@cache
def _belt_fields() -> tuple[Field, ...]:
    return tuple(_of_model(Belt, "", ()))


@cache
def strap_form(*, sketch: bool = False) -> Form:
    """Return the fields of a strap that is no belt.

    Args:
        sketch: whether a program of one's own draws it, which leaves no measure to be given.
    """
    groups = SKETCH if sketch else STRAP
    kept = {key for _, keys in groups for key in keys}
    fields = tuple(field for field in _of_model(StrapTable, "", ()) if _group(field.key) in kept)
    return Form(groups, fields, OPTIONAL["strap"])


def form_of(kind: str, table: Mapping[str, Any], buckles: Sequence[str]) -> Form:
    """Return the fields of a belt or another strap.

    Args:
        kind: of its table: ``"belt"`` or ``"strap"``.
        table: as written.
        buckles: names of the catalogue.
    """
    return belt_form(buckles) if kind == "belt" else strap_form(sketch="sketch" in table)


@cache
def about_form() -> Form:
    """Return the fields of a job itself: what it is called, its leather, what is kept clear."""
    return Form(ABOUT, tuple(_of_model(Job, "", (), ("job", "leather", "layout"))))


def _unfolded(edits: Edits, tip: Key, shape: str) -> Edits:
    """Return edits of a tip that is written as its shape's name alone: the name stays one where it can."""
    own = {key: value for key, value in edits.items() if key[: len(tip)] == tip}
    if own.keys() == {(*tip, "shape")}:
        return {tip if key in own else key: value for key, value in edits.items()}
    return {tip: {"shape": shape}, **edits} if own else edits


def _group(key: str) -> str:
    """Return what a field's key belongs to: the table it is in; of a strap's ends, which of them.

    Example:
        >>> _group("holes.count"), _group("ends.0.tip.shape"), _group("id")
        ('holes', 'ends.0', 'id')
    """
    parts = key.split(".")
    return ".".join(parts[: 2 if parts[0] == "ends" else 1])


def _filled(field: Field, value: str, units: Units) -> Field:
    """Return a field with what stands in it, what is usual and what is said in the page's units."""
    also = also_in(field, value, units)
    if units == "mm":
        return replace(field, value=value, also=also)
    default, about = lengths_in(field.default, units), lengths_in(field.help, units)
    return replace(field, value=value, also=also, default=default, help=about)


def _fits(field: Field, values: Mapping[str, str]) -> bool:
    """Whether the choices a field belongs to are made."""
    return all(values[key] in value.split("|") for key, value in field.when)


def _ends(table: Mapping[str, Any]) -> tuple[list[dict[str, Any]], bool]:
    """Return a strap's two ends, and whether they are those of a strap that says nothing of them."""
    ends = table.get("ends")
    if isinstance(ends, list) and len(ends) == 2 and all(isinstance(end, dict) for end in ends):
        return ends, False
    return [{"tip": "square"}, {"tip": "square"}], True


def _tables(
    optional: Sequence[str], belt: Mapping[str, Any], written: Mapping[str, str], place: Key
) -> Edits:
    """Return what becomes of tables that may be left out, or stand for a name."""
    edits: Edits = {}
    for key in optional:
        given, there = written.get(f"{key}.given") == "yes", belt.get(key)
        if key == "keeper":
            if not given and there != "none":
                edits[*place, key] = "none"
            elif given and there == "none":
                edits[*place, key] = None
        elif not given and there is not None:
            edits[*place, key] = None
        elif given and there is None:
            edits[*place, key] = {}
    return edits


def _of_model(
    model: type[BaseModel], before: str, when: tuple[tuple[str, str], ...], only: tuple[str, ...] = ()
) -> Iterator[Field]:
    """Yield the fields of a model and of those within it, or of some of its keys."""
    within = _group(before.rstrip("."))
    own = before.removeprefix(f"{within}.") if within.startswith("ends.") else before
    ways = WAYS.get("ends" if within.startswith("ends.") and not own else before.rstrip("."))
    if ways:
        key = f"{before}{WAY}"
        yield Field(key, "How", "", "choice", ways[0][0], ways, when)
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
                yield from _of_model(StrapEnd, f"ends.{number}.", ())
        elif inner is None:
            yield model_field(key, info, about.get(name, ""), shown)
        elif key == "buckle":
            yield Field("buckle.way", "How", "", "choice", "name", WAYS["buckle"])
            named = (("buckle.way", "name"),)
            yield Field("buckle", "Buckle", about.get(name, ""), "choice", when=named)
            for field in _of_model(inner, "buckle.", (("buckle.way", "measured"),)):
                if field.key != "buckle.way":
                    yield field
        elif issubclass(model, Belt | StrapTable) and key in OPTIONAL[model.goods]:
            shown = (*shown, *_when(f"{key}.given"))
            yield Field(f"{key}.given", _label(f"{key}.given"), about.get(name, ""), "yes", when=shown)
            yield from _of_model(inner, f"{key}.", (*shown, (f"{key}.given", "yes")))
        else:
            yield from _of_model(inner, f"{key}.", shown)


def _when(key: str) -> tuple[tuple[str, str], ...]:
    """Return the choice a field belongs to, if it does to one; of a strap's end, one of that end."""
    end = f"{_group(key)}." if key.startswith("ends.") else ""
    own = key.removeprefix(end)
    found = WHEN.get(f"ends.{own}" if end else own) or WHEN.get(own)
    return ((f"{end}{found[0]}", found[1]),) if found else ()


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
    key = key.replace(_group(key), "ends", 1) if key.startswith("ends.") else key
    words = LABELS.get(key) or LABELS.get(key.removeprefix("ends."), last.replace("_", " "))
    return words[:1].upper() + words[1:]


def _shown(belt: Mapping[str, Any], field: Field) -> str:
    """Return what stands in a field: the value as it is written in the file."""
    if field.key.startswith("ends."):
        whose = _group(field.key)
        ends, _ = _ends(belt)
        return _shown(ends[int(whose[-1])], replace(field, key=field.key.removeprefix(f"{whose}.")))
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
    return str(value)


def _value(field: Field, text: str, unit: str) -> object:
    """Return what is written into the file for a field's text; text that is no number stays text."""
    if field.kind == "yes":
        return True if text == "yes" else None
    if field.kind == "several":
        return [part.strip() for part in text.split(",") if part.strip()]
    if not text:
        return None
    if field.kind == "count" or (field.kind == "choice" and text.isdigit()):
        return int(text) if text.lstrip("-").isdigit() else text
    if field.kind == "number":
        return parsed_number(text)
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


def with_unit(text: str, unit: str) -> str:
    """Return a length with its unit: a bare number is of the page's own.

    Example:
        >>> with_unit("38", "in"), with_unit("38 mm", "in"), with_unit("1 1/2", "in")
        ('38 in', '38 mm', '1 1/2 in')
    """
    return f"{text} {unit}" if text[-1:].isdigit() else text
