"""The forms of belts, straps, jobs and shop files: what a table shows, what a posted form changes of it."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from strapwright.job.spec.job import Job
from strapwright.job.spec.strap import Belt, StrapTable
from strapwright.page.forms.field import (
    Field,
    Group,
    docstrings,
    ends_of,
    fields_of_model,
    filled,
    fits,
    group_of,
    in_percent,
    model_field,
    model_within,
    shown_in,
    value_of,
)
from strapwright.page.forms.page_words import (
    ABOUT,
    BELT,
    OPTIONAL,
    SKETCH,
    STRAP,
    WAY,
    Groups,
    in_field_words,
)
from strapwright.page.forms.toml_text import value_at, with_edits

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from pydantic import BaseModel

    from strapwright.core.units import Units
    from strapwright.files.validate import Mistake
    from strapwright.job.spec.job import Surroundings
    from strapwright.page.forms.toml_text import Edits, Key

_SHARE: Final = re.compile(r"-?\d+(?:\.\d+)?(?![\w%])")

Condition = tuple[str, str]
"""A field's key and the value it must have, or several with ``|`` between."""

_UNITS: Final = {
    "_mm_s2": ", mm/s²",
    "_mm_s": ", mm/s",
    "_percent": ", %",
    "_per_m2": " of a square metre",
    "_s": ", s",
}
"""What a key's ending says of its unit."""


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
        fields = [filled(one, shown_in(table, one), units) for one in self.fields]
        return tuple(
            Group(title, tuple(one for key in keys for one in fields if f"{one.key}.".startswith(f"{key}.")))
            for title, keys in self.groups
        )

    def visible(self, table: Mapping[str, Any], posted: Mapping[str, str] | None = None) -> tuple[Field, ...]:
        """Return those fields that the choices made show.

        Args:
            table: as written.
            posted: choices made since, by their fields' keys.
        """
        written = {field.key: shown_in(table, field) for field in self.fields} | dict(posted or {})
        values = {field.key: written[field.key] or field.default for field in self.fields}
        return tuple(field for field in self.fields if fits(field, values))

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
        ends, default = ends_of(table)
        changed: Edits = {}
        for number, end in enumerate(ends):
            before = f"ends.{number}."
            own = {key.removeprefix(before): value for key, value in posted.items() if key.startswith(before)}
            if not own:
                continue
            found = self._of_end(number).edits(end, own, ("ends", number), unit)
            tip: Key = ("ends", number, "tip")
            if own.get(WAY) == "tip" and "tip" not in end and not any(key[:3] == tip for key in found):
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
            and not group_of(one.key).startswith("ends.")
        ]
        written = {field.key: posted.get(field.key, "") for field in fields}
        usual = {field.key: field.default for field in self.fields}
        edits: Edits = {}
        for field in fields:
            if field.key.rpartition(".")[2] in (WAY, "given"):
                continue
            if not fits(field, {key: written.get(key) or usual[key] for key, _ in field.when}):
                value: object = None  # belongs to another way
            else:
                value = value_of(field, written[field.key].strip(), unit)
                if field.kind == "yes" and field.default and value is None:
                    value = False  # holds unless it is said not to
                shown = shown_in(table, field)
                if shown == written[field.key].strip() or (
                    field.kind == "several"
                    and isinstance(value, list)
                    and sorted(shown.split(", ")) == sorted(value)
                ):
                    continue  # as it stands there, in its own words
                usual_one = field.kind == "choice" and written[field.key] == field.default
                if usual_one and not shown_in(table, field):
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
    return tuple(fields_of_model(Belt, "", ()))


@cache
def strap_form(*, sketch: bool = False) -> Form:
    """Return the fields of a strap that is no belt.

    Args:
        sketch: whether a program or drawing of one's own draws it, which leaves no measure to be given.
    """
    groups = SKETCH if sketch else STRAP
    kept = {key for _, keys in groups for key in keys}
    fields = tuple(field for field in fields_of_model(StrapTable, "", ()) if group_of(field.key) in kept)
    return Form(groups, fields, OPTIONAL["strap"])


def offering(groups: Sequence[Group], leathers: Iterable[str]) -> tuple[Group, ...]:
    """Return groups whose leather by name is chosen among those of the catalogue.

    Args:
        groups: as shown.
        leathers: names of the catalogue.
    """
    choices = (("", "none"), *((name, name) for name in sorted(leathers)))

    def offered(field: Field) -> Field:
        return replace(field, kind="choice", choices=choices) if field.key == "leather.of" else field

    return tuple(Group(group.title, tuple(map(offered, group.fields))) for group in groups)


def form_of(kind: str, table: Mapping[str, Any], buckles: Sequence[str]) -> Form:
    """Return the fields of a belt or another strap.

    Args:
        kind: of its table: ``"belt"`` or ``"strap"``.
        table: as written.
        buckles: names of the catalogue.
    """
    return (
        belt_form(buckles) if kind == "belt" else strap_form(sketch="sketch" in table or "drawing" in table)
    )


@cache
def about_form() -> Form:
    """Return the fields of a job itself: what it is called, its leather, what is kept clear."""
    return Form(ABOUT, tuple(fields_of_model(Job, "", (), ("job", "leather", "layout"))))


def _unfolded(edits: Edits, tip: Key, shape: str) -> Edits:
    """Return edits of a tip that is written as its shape's name alone: the name stays one where it can."""
    own = {key: value for key, value in edits.items() if key[: len(tip)] == tip}
    if own.keys() == {(*tip, "shape")}:
        return {tip if key in own else key: value for key, value in edits.items()}
    return {tip: {"shape": shape}, **edits} if own else edits


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


@dataclass(frozen=True)
class Wording:
    """How the fields of a file are called and which belong together.

    Args:
        groups: titles, and the keys that stand below each.
        labels: of fields whose key alone says too little, by their keys.
        when: what a field or all of a table belongs to, by its key.
        left_out: keys that have no field.
        percents: keys of shares, which are filled in per cent; each with its help.
    """

    groups: tuple[tuple[str, tuple[str, ...]], ...]
    labels: Mapping[str, str]
    when: Mapping[str, Condition]
    left_out: tuple[str, ...] = ()
    percents: Mapping[str, str] = dataclasses.field(default_factory=dict)


def model_form(model: type[BaseModel], wording: Wording) -> Form:
    """Return a form with a field for every key of a model and of the tables within it."""
    model.model_rebuild()  # tables that stand further down in a module are not known to it before
    return Form(wording.groups, tuple(_fields(model, wording, "", ())))


def _fields(
    model: type[BaseModel], wording: Wording, before: str, when: tuple[Condition, ...]
) -> Iterator[Field]:
    about = docstrings(model)
    for name, info in model.model_fields.items():
        key = f"{before}{info.alias or name}"
        if key in wording.left_out:
            continue
        shown = (*when, wording.when[key]) if key in wording.when else when
        inner = model_within(info)
        if inner is not None:
            yield from _fields(inner, wording, f"{key}.", shown)
            continue
        field = model_field(key, info, about.get(name, ""), shown)
        kind = "list" if field.kind == "words" else field.kind
        field = replace(field, label=wording.labels.get(key) or _label(key), kind=kind)
        if key in wording.percents:
            usual = in_percent(float(field.default)) if field.default else ""
            field = replace(field, kind="percent", default=usual, help=wording.percents[key])
        yield field


def mistakes_by_field(
    form: Form,
    mistakes: Iterable[Mistake],
    tables: Mapping[str, str] = MappingProxyType({}),
) -> dict[str, str]:
    """Return mistakes by the keys of their fields, those of none under ``""``.

    Args:
        form: whose fields.
        mistakes: of the whole file.
        tables: what tables without fields are called, by their names.
    """
    labels, titles = names_of(form)
    found: dict[str, list[str]] = {}
    for one in mistakes:
        whole = tuple(part for part in one.loc if isinstance(part, str) and part != "[key]")
        key = _nearest(form, whole)
        text = one.text if key else one.line("")
        if any(field.key == key and field.kind == "percent" for field in form.fields) and '"' not in text:
            text = _SHARE.sub(lambda number: in_percent(float(number[0])), text)
        found.setdefault(key, []).append(in_field_words(text, labels, {**titles, **tables}))
    return {key: "; ".join(dict.fromkeys(texts)) for key, texts in found.items()}


def names_of(form: Form) -> tuple[dict[str, str], dict[str, str]]:
    """Return what a form calls a file's keys, by the last part of each, and its tables."""
    labels = {str(one.place[-1]): one.label for one in form.fields}
    return labels, {keys[0].rpartition(".")[2]: title for title, keys in form.groups if len(keys) == 1}


def _nearest(form: Form, loc: tuple[str, ...]) -> str:
    """Return the key of the field a mistake stands at: at its place, above it or first below it."""
    if not loc:
        return ""
    above = (one.key for one in form.fields if one.place == loc[: len(one.place)])
    below = (one.key for one in form.fields if one.place[: len(loc)] == loc)
    return next(above, "") or next(below, "")


def _label(key: str) -> str:
    """Return a field's label by its key.

    Example:
        >>> _label("machine.rapid_mm_s"), _label("limits.least_hole")
        ('Rapid, mm/s', 'Least hole')
    """
    words = key.rpartition(".")[2]
    ending = next((one for one in _UNITS if words.endswith(one)), "")
    words = words.removesuffix(ending).replace("_", " ") + _UNITS.get(ending, "")
    return words[:1].upper() + words[1:]
