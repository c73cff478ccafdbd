"""The forms of belts, straps and jobs: what a table shows in them, and what a posted form changes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from strapwright.job.spec.job import Job
from strapwright.job.spec.strap import Belt, StrapTable
from strapwright.page.forms.field import Field, Group, ends_of, filled, fits, group_of, shown_in, value_of
from strapwright.page.forms.form_words import ABOUT, BELT, OPTIONAL, SKETCH, STRAP, WAY, Groups
from strapwright.page.forms.job_file import value_at, with_edits
from strapwright.page.forms.model_fields import fields_of_model

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.core.units import Units
    from strapwright.job.spec.job import Surroundings
    from strapwright.page.forms.job_file import Edits, Key


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
        for number in range(
            len(ends) if any(group_of(field.key) == "ends.0" for field in self.fields) else 0
        ):
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
