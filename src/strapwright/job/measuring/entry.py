"""Measuring a buckle: what to ask, one thing at a time, and the catalogue entry the answers make."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from strapwright.core.text import quoted
from strapwright.core.units import format_length
from strapwright.files.messages import key_text
from strapwright.files.validate import attempt
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.catalogue.file import shipped
from strapwright.job.measuring.questions import BUCKLE_QUESTIONS, CONFIRM, name_question
from strapwright.job.spec.job import House
from strapwright.rules.sizing import strap_width

if TYPE_CHECKING:
    from collections.abc import Collection

    from strapwright.job.measuring.questions import Answers, Question


def next_question(answers: Answers, taken: Collection[str], *, name: str = "") -> Question | None:
    """Return what to ask next, or None after the last answer.

    Args:
        answers: those given so far, by key, in the order they were asked.
        taken: names of buckles the catalogue file has already.
        name: the buckle's name where it is known and not to be asked for.

    Example:
        >>> next_question({}, ()).key
        'given'
        >>> next_question({"given": "for_strap"}, ()).key
        'for_strap'
    """
    for question in BUCKLE_QUESTIONS:
        if question.key not in answers and question.applies(answers):
            return question
    if not name and "name" not in answers:
        return name_question(buckle_of(answers), taken)
    return None if "confirm" in answers else CONFIRM


def answered(answers: Answers, question: Question, text: str) -> dict[str, str]:
    """Return the answers with one more.

    Args:
        answers: those before it.
        question: what was asked.
        text: what was typed; empty for the default.

    Raises:
        ValueError: it does not do, alone or with those before it; one line that says why.

    Example:
        >>> answered({}, next_question({}, ()), "opening")
        {'given': 'opening'}
    """
    text = text.strip() or question.default
    if question.optional and text.casefold() == "none":
        text = ""
    if not text and not question.optional:
        raise ValueError(f"found nothing, expected {question.allowed}")
    now = {**answers, question.key: question.read(text) if text else ""}
    open_ones = [q for q in BUCKLE_QUESTIONS if q.key not in now and not q.optional and q.applies(now)]
    if not open_ones:
        _, mistakes = attempt(Buckle, entry_of(now))
        if mistakes:
            raise ValueError(mistakes[0].line(""))
    return now


def entry_of(answers: Answers) -> dict[str, Any]:
    """Return the buckle's table as a catalogue file has it; defaults that need no saying are left out.

    Example:
        >>> entry_of({"given": "opening", "opening": "49 mm", "bar": "heel", "prongs": "2"})
        {'opening': '49 mm', 'prongs': 2}
    """
    entry: dict[str, Any] = {}
    for question in BUCKLE_QUESTIONS:
        key, answer = question.key, answers.get(question.key, "")
        if not answer or key in ("given", "bar_kind") or (key, answer) in (("bar", "heel"), ("prongs", "1")):
            continue
        if key in ("bar_width", "bar_height"):
            entry.setdefault("bar_section", []).append(answer)
        else:
            entry[key] = int(answer) if key == "prongs" else answer
    return entry


def buckle_of(answers: Answers) -> Buckle:
    """Return the buckle that complete answers make."""
    return Buckle.model_validate(entry_of(answers))


def entry_text(name: str, answers: Answers) -> str:
    r"""Return the buckle as a TOML table to append to a catalogue, with a comment beside each measure.

    Args:
        name: of the buckle.
        answers: complete.

    Example:
        >>> print(entry_text("crew 46", {"opening": "46 mm", "bar_diameter": "5 mm"}), end="")
        [buckle."crew 46"]
        opening = "46 mm"                      # inside width along the bar
        bar_diameter = "5 mm"                  # the bar the strap folds over
    """
    notes = {"bar_section": "width and height of the flat bar the strap folds over"}
    notes |= {question.key: question.note for question in BUCKLE_QUESTIONS}
    lines = [f"[buckle.{key_text(name)}]"]
    for key, value in entry_of(answers).items():
        shown = f"[{', '.join(quoted(one) for one in value)}]" if isinstance(value, list) else quoted(value)
        lines.append(f"{f'{key} = {shown}':<38} # {notes[key]}")
    return "\n".join(lines) + "\n"


def summary(name: str, answers: Answers) -> str:
    """Return the buckle as it will stand in the catalogue, and what strap it takes.

    Args:
        name: of the buckle.
        answers: complete.
    """
    return "\n".join([entry_text(name, answers), *takes(name, answers)])


def takes(name: str, answers: Answers) -> list[str]:
    """Return what strap a buckle takes, and whose place it does, a sentence each.

    Args:
        name: of the buckle.
        answers: complete.
    """
    buckle, lines = buckle_of(answers), []
    if buckle.for_strap is not None:
        lines.append(f"It takes a strap {_both(buckle.for_strap)} wide, as it is sold for.")
    elif buckle.opening is not None:
        clearance = House().strap_clearance
        width = strap_width(buckle.opening, clearance)
        off = f"{format_length(buckle.opening)} less the usual clearance of {format_length(clearance)}"
        lines.append(f"It takes a strap {_both(width)} wide: {off}.")
    if name in shipped().buckles:
        lines.append("It takes the place of the shipped buckle of that name.")
    return lines


def _both(mm: float) -> str:
    return f"{format_length(mm)} ({format_length(mm, 'in')})"
