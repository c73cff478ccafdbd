"""What to ask about a buckle: questions as data, each with its range and how to measure it."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pydantic_core import PydanticCustomError

from strapwright.core.text import numbered, quoted
from strapwright.files.fields import Measure
from strapwright.files.messages import nearest, place_of
from strapwright.files.read import read_toml
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.catalogue.file import sound_name

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
        near = nearest(text, choices)
        ending = f'; did you mean "{near}"?' if near else ""
        raise ValueError(f"found {quoted(text)}, expected {listed}{ending}")

    return listed, read


def _question(key: str, *, choices: Sequence[str] = (), **table: Any) -> Question:
    """Return a question of `questions.toml`: a choice, or a length with the range of the buckle's own key."""
    allowed, read = _read_choice(choices) if choices else _read_length(_BAR_SECTION.get(key, (key,)))
    return Question(key=key, allowed=allowed, read=read, choices=tuple(choices), **table)


_BAR_SECTION: Final[Mapping[str, Loc]] = {"bar_width": ("bar_section", 0), "bar_height": ("bar_section", 1)}
"""Lengths of a flat bar, two questions for one key."""

CONFIRM: Final = _question("confirm", ask="Append it to the catalogue?", choices=("yes", "no"), default="yes")
"""Asked last, after the summary."""

BUCKLE_QUESTIONS: Final = tuple(
    _question(key, **table) for key, table in read_toml(Path(__file__).with_name("questions.toml")).items()
)
"""In the order they are asked; `catalogue.buckle.Buckle` says what each measure means."""
