"""A buckle measured on the page: the questions of the command line, in its words and with its checks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import UnitError
from strapwright.core.units import parse_length
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.measuring import BUCKLE_QUESTIONS, answered, buckle_of, entry_of, name_question
from strapwright.page.forms.field import with_unit

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from strapwright.job.measuring import Question
    from strapwright.page.forms.toml_text import Edits

_OWN_KEYS = frozenset(
    {*("bar_section" if one.key in ("bar_width", "bar_height") else one.key for one in BUCKLE_QUESTIONS)}
    - {"given", "bar_kind"}
)
"""Keys of an entry that questions ask for."""

ASKED: Final = {"hole_seat": "Where does the edge of the hole really bear? You may leave this empty."}
"""Questions whose words on the command line are of its keys."""

WAITING: Final = "<p>It is drawn here, to scale, once its measures are in.</p>"
"""What stands in place of a buckle's drawing until then."""

CHOICES: Final = {"opening": "its opening", "for_strap": "the strap it is sold for", "0": "0, a hook"}
"""Answers whose own words say too little."""


@dataclass(frozen=True)
class Measuring:
    """What was answered so far.

    Args:
        answers: that do, by their questions' keys.
        asked: keys of the questions that are asked after those answers.
        mistakes: of answers that do not do, by the same keys.
        buckle: once all is answered; None before.
    """

    answers: Mapping[str, str]
    asked: tuple[str, ...]
    mistakes: Mapping[str, str]
    buckle: Buckle | None


def measured(typed: Mapping[str, str], unit: str = "mm", *, done: bool = False) -> Measuring:
    """Take the answers to all questions at once, in the order they are asked.

    Args:
        typed: what stands in the fields, by their questions' keys.
        unit: of a length without one.
        done: whether an empty field is a mistake by now.

    Example:
        >>> measured({"opening": "1 mm"}).mistakes
        {'opening': 'found "1 mm", expected 6 mm to 150 mm'}
    """
    answers: Mapping[str, str] = {}
    asked, mistakes = [], {}
    for question in BUCKLE_QUESTIONS:
        if not question.applies(answers):
            continue
        asked.append(question.key)
        text = typed.get(question.key, "").strip()
        text = text if question.choices else with_unit(text, unit)
        if not (text or question.default or question.optional or done):
            continue
        try:
            answers = answered(answers, question, text)
        except ValueError as error:
            mistakes[question.key] = str(error)
    whole = not mistakes and all(key in answers for key in asked)
    return Measuring(answers, tuple(asked), mistakes, buckle_of(answers) if whole else None)


def typed_of(entry: Mapping[str, Any]) -> dict[str, str]:
    """Return the answers an entry's table stands for, as they would stand in the fields.

    Example:
        >>> typed_of({"for_strap": "30 mm", "bar_section": [5, "3 mm"], "prongs": 0})["bar_kind"]
        'flat'
    """
    section = entry.get("bar_section")
    typed = {
        "given": "for_strap" if "for_strap" in entry else "opening",
        "bar_kind": "flat" if section is not None else "round",
    }
    if isinstance(section, list):
        typed |= {key: str(value) for key, value in zip(("bar_width", "bar_height"), section, strict=False)}
    keys = {question.key for question in BUCKLE_QUESTIONS}
    return typed | {key: str(value) for key, value in entry.items() if key in keys}


def edits_of(entry: Mapping[str, Any], answers: Mapping[str, str]) -> Edits:
    """Return what answers change of an entry's table; a measure that is the same stays as it is written.

    Args:
        entry: as it stands in the file.
        answers: complete.
    """
    wanted = entry_of(answers)
    edits: Edits = {}
    for key, value in wanted.items():
        if not _same(entry.get(key, _usual(key)), value):
            edits[key,] = value
    gone = [
        key for key in entry if key in _OWN_KEYS and key not in wanted and not _same(entry[key], _usual(key))
    ]
    return edits | dict.fromkeys((key,) for key in gone)


def differences(entry: Mapping[str, Any], typed: Mapping[str, str]) -> list[list[str]]:
    """Return where a file's entry and what was typed differ: the question, in the file, as typed."""
    there = typed_of(entry)
    return [
        [one.ask, there.get(one.key, ""), typed.get(one.key, "")]
        for one in BUCKLE_QUESTIONS
        if one.key in typed and not _same(there.get(one.key) or one.default, typed[one.key] or one.default)
    ]


def name_asked(measuring: Measuring, taken: Collection[str]) -> Question | None:
    """Return the question for a name, with a free one to take; None while there is more to measure."""
    return None if measuring.buckle is None else name_question(measuring.buckle, taken)


def _usual(key: str) -> Any:
    info = Buckle.model_fields[key]
    return None if info.is_required() else info.default


def _same(one: Any, other: Any) -> bool:
    """Whether two values as written stand for the same."""
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    try:
        return bool(abs(parse_length(one) - parse_length(other)) < 1e-9)
    except (UnitError, TypeError):
        return bool(one == other)
