"""How a mistake is worded: where it stands, what was found there and what was expected."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from enum import Enum
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, Union, get_args, get_origin

from pydantic import BaseModel

from strapwright.core.text import MOST_SHOWN, quoted
from strapwright.files.fields import Measure

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

Loc = tuple[str | int, ...]
"""Keys and indices from a file's root; indices from 0."""

_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")

_EXPECTED: Final = {
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "int_parsing_size": "a smaller whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a number",
    "string_type": "text in quotes",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "dict_type": "a table",
    "date_type": "a date such as 2026-03-14",
    "date_parsing": "a date such as 2026-03-14",
    "date_from_datetime_parsing": "a date such as 2026-03-14",
    "date_from_datetime_inexact": "a date such as 2026-03-14, without a time",
}
"""What to say for the errors of pydantic that need no number."""

_LIMITS: Final = {
    "greater_than_equal": ("{} or more", "ge"),
    "greater_than": ("more than {}", "gt"),
    "less_than_equal": ("{} or less", "le"),
    "less_than": ("less than {}", "lt"),
    "string_too_short": ("{} or more characters", "min_length"),
    "string_too_long": ("{} or fewer characters", "max_length"),
    "too_short": ("{} or more entries", "min_length"),
    "too_long": ("{} or fewer entries", "max_length"),
}
"""What to say for a limit that was passed, and where pydantic keeps the limit."""


@dataclass(frozen=True)
class Place:
    """A place in a file, and what the model has to say about it.

    Args:
        loc: keys and indices, without the marks pydantic puts in for the branches of a union.
        annotation: the type wanted there; none where the model knows no such place.
        metadata: what annotates that type.
        examples: values that would do.
    """

    loc: Loc
    annotation: Any
    metadata: tuple[Any, ...] = ()
    examples: tuple[Any, ...] = ()

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys the table at this place may have."""
        return tuple(key for kind in members(self.annotation) if _is_model(kind) for key in _fields_of(kind))


def place_of(model: type[BaseModel], loc: Loc) -> Place:
    """Follow keys and indices through a model."""
    place = Place((), model)
    for part in loc:
        kinds = members(place.annotation)
        inner = next((step for kind in kinds if (step := _step(kind, part))), None)
        if inner is not None:
            place = Place((*place.loc, part), *inner)
        elif len(kinds) < 2 or isinstance(part, int):
            place = Place((*place.loc, part), None)
    return place


def said(detail: ErrorDetails, place: Place) -> str:
    """Return what was found and what was expected, for an error of pydantic's own."""
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    if kind == "missing":
        return f"missing, expected {_expected(place)}"
    if kind in ("literal_error", "enum"):
        choices = context["expected"].replace("'", '"')
        hint = did_you_mean(value, re.findall(r'"([^"]*)"', choices)) if isinstance(value, str) else ""
        return f"found {quoted(value)}, expected {choices}{hint}"
    if isinstance(value, str) and kind in ("too_short", "too_long"):
        kind = f"string_{kind}"
    if kind in _LIMITS:
        words, name = _LIMITS[kind]
        limit = context[name]
        found = context.get("actual_length", quoted(value)) if kind.startswith("too_") else quoted(value)
        return f"found {found}, expected {words.format(f'{limit:g}')}"
    if kind == "value_error":
        return str(context["error"])
    if kind in _EXPECTED:
        return f"found {quoted(value)}, expected {_EXPECTED[kind]}"
    return f"found {quoted(value)}, expected {_expected(place)}"


def unknown_key(key: str, allowed: Sequence[str], what: str = "key") -> str:
    """Return what to say of a key nobody knows: the nearest known one, or all of them.

    Example:
        >>> unknown_key("heigth", ["height", "width"])
        'unknown key; did you mean "height"?'
        >>> unknown_key("colour", ["height", "width"])
        'unknown key; expected one of height, width'
    """
    otherwise = f"; expected one of {', '.join(allowed)}" if allowed else ""
    return f"unknown {what}{did_you_mean(key, allowed) or otherwise}"


def nearest(word: str, known: Sequence[str]) -> str:
    """Return the known word a mistyped one is nearest to, or an empty text where none is near.

    Example:
        >>> nearest("Bar-Diameter", ["bar", "bar_diameter"])
        'bar_diameter'
    """
    plain = {_comparable(one): one for one in known}
    close = get_close_matches(_comparable(word[:80]), list(plain), n=1, cutoff=0.7)
    return plain[close[0]] if close else ""


def did_you_mean(word: str, known: Sequence[str]) -> str:
    """Return a question to end a message with: whether the nearest known word was meant; empty for none.

    Example:
        >>> did_you_mean("squar", ["round", "square"])
        '; did you mean "square"?'
    """
    near = nearest(word, known)
    return f'; did you mean "{near}"?' if near else ""


def path_text(loc: Loc) -> str:
    """Return a place as a person reads it, indices counted from 1.

    Example:
        >>> path_text(("belt", 1, "buckle", "opening"))
        'belt[2].buckle.opening'
    """
    out = ""
    for part in loc:
        if isinstance(part, int):
            out += f"[{part + 1}]"
        elif part != "[key]":
            out += ("." if out else "") + key_text(part)
    return out


def key_text(key: str) -> str:
    """Return a key as TOML writes it: quoted where it is not a plain word, cut where it is very long."""
    return key if len(key) <= MOST_SHOWN and _BARE_KEY.fullmatch(key) else quoted(key)


def members(annotation: Any) -> tuple[Any, ...]:
    """Return the branches of a type: itself or a union's, without ``None`` and annotations."""
    origin = get_origin(annotation)
    if origin is Annotated:
        return members(get_args(annotation)[0])
    if origin in (Union, UnionType):
        return tuple(kind for one in get_args(annotation) for kind in members(one))
    return () if annotation in (None, NoneType) else (annotation,)


def _expected(place: Place) -> str:
    measure = next((one for one in place.metadata if isinstance(one, Measure)), None)
    if measure is not None:
        return measure.expected
    such = f" such as {_written(place.examples[0])}" if place.examples else ""
    kind = next(iter(members(place.annotation)), None)
    origin = get_origin(kind)
    if origin is Literal:
        return "one of " + ", ".join(quoted(choice) for choice in get_args(kind))
    if isinstance(kind, type) and issubclass(kind, Enum):
        return "one of " + ", ".join(quoted(choice.value) for choice in kind)
    if origin in (list, tuple):
        if place.loc and any(_is_model(entry) for entry in members(get_args(kind)[0])):
            return f"[[{path_text(place.loc)}]] tables"
        return "a list" + such
    if origin is dict or _is_model(kind):
        by_name = place.examples and isinstance(place.examples[0], str)
        return ("a name or a table" if by_name else "a table") + such
    plain = ((str, "text"), (bool, "true or false"), (int, "a whole number"), (float, "a number"))
    return next((words for one, words in plain if kind is one), "a value") + such


def _written(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key_text(key)} = {_written(entry)}" for key, entry in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_written(entry) for entry in value) + "]"
    return quoted(value)


def _comparable(word: str) -> str:
    return word.casefold().replace("-", "_").replace(" ", "_")


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _fields_of(model: type[BaseModel]) -> dict[str, Any]:
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _step(kind: Any, part: str | int) -> tuple[Any, tuple[Any, ...], tuple[Any, ...]] | None:
    """Return annotation, metadata and examples one key or index further in, where there is one."""
    if isinstance(part, str) and _is_model(kind):
        field = _fields_of(kind).get(part)
        return field and (field.annotation, tuple(field.metadata), tuple(field.examples or ()))
    origin, inner = get_origin(kind), get_args(kind)
    if isinstance(part, int) and origin in (list, tuple, Sequence) and inner:
        fixed = origin is tuple and inner[-1] is not Ellipsis
        if fixed and part >= len(inner):
            return None
        return _split(inner[part] if fixed else inner[0])
    if isinstance(part, str) and origin in (dict, Mapping):
        return (inner[0], (), ()) if part == "[key]" else _split(inner[1])
    return None


def _split(annotation: Any) -> tuple[Any, tuple[Any, ...], tuple[Any, ...]]:
    if get_origin(annotation) is Annotated:
        inner = get_args(annotation)
        return inner[0], tuple(inner[1:]), ()
    return annotation, (), ()
