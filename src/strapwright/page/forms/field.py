"""One field of a form: what stands in it, and what is written for it into its file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Literal

from strapwright.core.errors import UnitError
from strapwright.core.units import Units, format_length, lengths_in, parse_length
from strapwright.page.forms.page_words import WAY, WAYS
from strapwright.page.forms.toml_text import value_at

if TYPE_CHECKING:
    from collections.abc import Mapping

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
