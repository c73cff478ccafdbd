"""Measuring a buckle: what to ask, one thing at a time, and the catalogue entry the answers make.

The questions stand in ``buckle_questions.toml``, in their order, each with its drawing and how to measure
it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pydantic_core import PydanticCustomError

from strapwright.core.text import numbered, quoted
from strapwright.core.units import format_length
from strapwright.files.fields import Measure
from strapwright.files.messages import did_you_mean, key_text, place_of
from strapwright.files.read import read_toml
from strapwright.files.validate import attempt
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.catalogue.file import shipped, sound_name
from strapwright.job.spec.house import House
from strapwright.rules.sizing import strap_width

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping, Sequence

    from strapwright.files.messages import Loc

    Answers = Mapping[str, str]


_LONGEST_ANSWER: Final = 24
"""Longest length kept as it was typed; beyond it the entry has the millimetres."""


@dataclass(frozen=True)
class Question:
    """One thing to ask.

    Args:
        key: what the answer is called.
        ask: the question, one line.
        allowed: what may be answered, in words.
        read: takes what was typed and returns what goes into the entry; raises ValueError with one line.
        how: how to measure it; empty for a choice that explains itself.
        default: what an empty answer means; empty where there must be one.
        optional: whether an empty answer leaves it out.
        note: the comment beside the key in the entry.
        when: the answers to earlier questions after which it is asked; empty if always.
        choices: the answers there are, where there are just a few.
        drawing: what to measure, in plain ASCII; its lines, each with its end.
    """

    key: str
    ask: str
    allowed: str
    read: Callable[[str], str]
    how: str = ""
    default: str = ""
    optional: bool = False
    note: str = ""
    when: Mapping[str, Sequence[str]] = field(default_factory=dict)
    choices: tuple[str, ...] = ()
    drawing: str = ""

    def applies(self, answers: Answers) -> bool:
        """Whether it is asked at all, after the answers before it."""
        return all(answers.get(key) in wanted for key, wanted in self.when.items())


def name_question(buckle: Buckle, taken: Collection[str]) -> Question:
    """Return the question for a buckle's name, with a free one to take.

    Args:
        buckle: as measured.
        taken: names the catalogue file has already.
    """
    size = buckle.opening or buckle.for_strap or 0.0
    stem = f"my-{('hook', 'single', 'double')[buckle.prongs]}-{size:.0f}"
    return Question(
        "name",
        "What should jobs call it?",
        "1 to 40 characters",
        lambda text: check_name(text, taken),
        default=next(name for name in numbered(stem) if name not in taken),
    )


def check_name(name: str, taken: Collection[str]) -> str:
    """Return a buckle's name as it is.

    Args:
        name: the name wanted for it.
        taken: names the catalogue file has already; a shipped buckle's may be used again.

    Raises:
        ValueError: no name for a table, or taken; one line.
    """
    try:
        sound_name(name)
    except PydanticCustomError as error:
        raise ValueError(error.message()) from error
    if name in taken:
        raise ValueError(f"found {quoted(name)}, which the catalogue has already; expected another name")
    return name


def _read_length(place: Loc) -> tuple[str, Callable[[str], str]]:
    """Return the range of a length of the buckle, in words, and what reads one as it is typed."""
    measure = next(one for one in place_of(Buckle, place).metadata if isinstance(one, Measure))

    def read(text: str) -> str:
        try:
            return _tidy(text, measure.read(text))
        except PydanticCustomError as error:
            raise ValueError(error.message()) from error

    return measure.allowed, read


def _tidy(text: str, mm: float) -> str:
    """Return a length as it was typed, with its unit written out; a long-winded one in millimetres."""
    words = " ".join(text.replace('"', " in").replace("″", " in").split())
    if words[-1:].isdigit() or words.endswith("."):
        words = f"{words.rstrip('.')} mm"
    return words if len(words) <= _LONGEST_ANSWER else f"{mm:.6g} mm"


def _read_choice(choices: Sequence[str]) -> tuple[str, Callable[[str], str]]:
    """Return a few answers, in words, and what reads one of them: its beginning is enough."""
    listed = ", ".join(choices[:-1]) + f" or {choices[-1]}"

    def read(text: str) -> str:
        word = text.casefold()
        if word in choices:
            return word
        begun = [choice for choice in choices if choice.startswith(word)]
        if len(begun) == 1:
            return begun[0]
        raise ValueError(f"found {quoted(text)}, expected {listed}{did_you_mean(text, choices)}")

    return listed, read


def _question(key: str, *, choices: Sequence[str] = (), **table: Any) -> Question:
    """Return a question as its table has it: a choice, or a length with the range of the buckle's own key."""
    allowed, read = _read_choice(choices) if choices else _read_length(_BAR_SECTION.get(key, (key,)))
    return Question(key=key, allowed=allowed, read=read, choices=tuple(choices), **table)


_BAR_SECTION: Final[Mapping[str, Loc]] = {"bar_width": ("bar_section", 0), "bar_height": ("bar_section", 1)}
"""Lengths of a flat bar, two questions for one key."""

CONFIRM: Final = _question("confirm", ask="Append it to the catalogue?", choices=("yes", "no"), default="yes")
"""Asked last, after the summary."""

BUCKLE_QUESTIONS: Final = tuple(
    _question(key, **table)
    for key, table in read_toml(Path(__file__).with_name("buckle_questions.toml")).items()
)
"""In the order they are asked; `catalogue.buckle.Buckle` says what each measure means."""


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
