"""Fields of the shop's own files, made out of the models that read them."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from pydantic import BaseModel

from strapwright.files.messages import members
from strapwright.page.forms.field import in_percent
from strapwright.page.forms.form import Form
from strapwright.page.forms.form_words import in_field_words
from strapwright.page.forms.model_fields import docstrings, model_field

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from strapwright.files.validate import Mistake
    from strapwright.page.forms.field import Field

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
    percents: Mapping[str, str] = field(default_factory=dict)


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
        inner = next((one for one in members(info.annotation) if _is_model(one)), None)
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
    place: tuple[str, ...] = (),
    tables: Mapping[str, str] = MappingProxyType({}),
) -> dict[str, str]:
    """Return mistakes by the keys of their fields, those of none under ``""``.

    Args:
        form: whose fields.
        mistakes: of the whole file.
        place: of the form's table in it.
        tables: what tables without fields are called, by their names.
    """
    labels, titles = names_of(form)
    found: dict[str, list[str]] = {}
    for one in mistakes:
        whole = tuple(part for part in one.loc if isinstance(part, str) and part != "[key]")
        key = _nearest(form, whole[len(place) :]) if whole[: len(place)] == place else ""
        text = one.text if key else one.line("")
        if any(field.key == key and field.kind == "percent" for field in form.fields) and '"' not in text:
            text = _SHARE.sub(lambda number: in_percent(float(number[0])), text)
        found.setdefault(key, []).append(in_field_words(text, labels, {**titles, **tables}))
    return {key: "; ".join(dict.fromkeys(texts)) for key, texts in found.items()}


def names_of(form: Form) -> tuple[dict[str, str], dict[str, str]]:
    """Return what a form calls a file's keys, by the last part of each, and its tables."""
    labels = {one.place[-1]: one.label for one in form.fields}
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


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)
