"""What to ask about a buckle: questions as data, each with its range and how to measure it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from pydantic_core import PydanticCustomError

from strapwright.core.text import numbered, quoted
from strapwright.files.fields import Measure
from strapwright.files.messages import nearest, place_of
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.catalogue.file import sound_name

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping

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
        applies: whether it is asked at all, after the answers before it.
        choices: the answers there are, where there are just a few.
    """

    key: str
    ask: str
    allowed: str
    read: Callable[[str], str]
    how: str = ""
    default: str = ""
    optional: bool = False
    note: str = ""
    applies: Callable[[Answers], bool] = lambda _: True
    choices: tuple[str, ...] = ()


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


def _length(
    key: str,
    ask: str,
    note: str,
    how: str,
    *,
    place: Loc = (),
    default: str = "",
    optional: bool = False,
    applies: Callable[[Answers], bool] = lambda _: True,
) -> Question:
    """Return a question for a length, its range that of the buckle's own key."""
    metadata = place_of(Buckle, place or (key,)).metadata
    measure = next(one for one in metadata if isinstance(one, Measure))

    def read(text: str) -> str:
        try:
            return _tidy(text, measure.read(text))
        except PydanticCustomError as error:
            raise ValueError(error.message()) from error

    return Question(key, ask, measure.allowed, read, how, default, optional, note, applies)


def _tidy(text: str, mm: float) -> str:
    """Return a length as it was typed, with its unit written out; a long-winded one in millimetres."""
    words = " ".join(text.replace('"', " in").replace("″", " in").split())
    if words[-1:].isdigit() or words.endswith("."):
        words = f"{words.rstrip('.')} mm"
    return words if len(words) <= _LONGEST_ANSWER else f"{mm:.6g} mm"


def _choice(
    key: str,
    ask: str,
    choices: tuple[str, ...],
    default: str,
    *,
    how: str = "",
    note: str = "",
) -> Question:
    """Return a question with a few answers; the beginning of one is enough."""
    listed = ", ".join(choices[:-1]) + f" or {choices[-1]}"

    def read(text: str) -> str:
        word = text.casefold()
        if word in choices:
            return word
        begun = [choice for choice in choices if choice.startswith(word)]
        if len(begun) == 1:
            return begun[0]
        near = nearest(text, choices)
        raise ValueError(
            f"found {quoted(text)}, expected {listed}" + (f'; did you mean "{near}"?' if near else "")
        )

    return Question(key, ask, listed, read, how, default, note=note, choices=choices)


CONFIRM: Final = _choice("confirm", "Append it to the catalogue?", ("yes", "no"), "yes")
"""Asked last, after the summary."""

BUCKLE_QUESTIONS: Final[tuple[Question, ...]] = (
    _choice(
        "given",
        "Do you want to measure its opening, or do you know the strap width it is sold for?",
        ("opening", "for_strap"),
        "opening",
        how="Callipers are more reliable: sizes on a card are nominal.",
    ),
    _length(
        "opening",
        "How wide is it inside, along the bar?",
        "inside width along the bar",
        "Inside jaws between the two sides of the frame, close to the bar.",
        applies=lambda a: a.get("given") == "opening",
    ),
    _length(
        "for_strap",
        "What width of strap is it sold for?",
        "the strap's width it is sold for",
        "The strap is made exactly this wide.",
        applies=lambda a: a.get("given") == "for_strap",
    ),
    _choice(
        "bar_kind",
        "Is the bar that the strap folds over round or flat?",
        ("round", "flat"),
        "round",
        how="Where a roller sits on the bar, measure the roller.",
    ),
    _length(
        "bar_diameter",
        "How thick is the bar?",
        "the bar the strap folds over",
        "Across the bar, where the strap will sit.",
        applies=lambda a: a.get("bar_kind") == "round",
    ),
    _length(
        "bar_width",
        "How wide is the flat bar?",
        "",
        "The wider way of its section.",
        place=("bar_section", 0),
        applies=lambda a: a.get("bar_kind") == "flat",
    ),
    _length(
        "bar_height",
        "How thick is the flat bar?",
        "",
        "The thin way of its section.",
        place=("bar_section", 1),
        applies=lambda a: a.get("bar_kind") == "flat",
    ),
    _choice(
        "bar",
        "Where is the bar?",
        ("heel", "centre"),
        "heel",
        how="heel: at the end, as on most belt buckles; centre: with a loop on either side.",
        note="in the centre, a loop on either side",
    ),
    _length(
        "frame_depth",
        "How far is it from the bar to the front bar?",
        "bar centre to the inner face of the front bar",
        "Measure the gap between the two bars and add half the bar.",
    ),
    _length(
        "rear_depth",
        "How far is it from the bar to the rear bar?",
        "bar centre to the inner face of the rear bar",
        "Measure the gap between the two bars and add half the middle one.",
        applies=lambda a: a.get("bar") == "centre",
    ),
    _choice("prongs", "How many prongs does it have?", ("1", "2", "0"), "1", note="how many; 0 is a hook"),
    _length(
        "prong_width",
        "How wide is the prong?",
        "where it passes the strap",
        "From above, where it will sit in the hole; the wider of two.",
        default="4 mm",
        applies=lambda a: a.get("prongs") in ("1", "2"),
    ),
    _length(
        "prong_thickness",
        "How thick is the prong at its eye?",
        "of the prong, at its eye",
        "The metal where it curls round the bar, not the whole eye.",
        default="3.5 mm",
        applies=lambda a: a.get("prongs") in ("1", "2"),
    ),
    _length(
        "prong_spacing",
        "How far apart are the two prongs?",
        "prongs, centre to centre",
        "Over the outsides of both, less one prong's width.",
        applies=lambda a: a.get("prongs") == "2",
    ),
    _length(
        "hook_depth",
        "How far is it from the bar to where the hook bears?",
        "bar centre to where the hook bears on the hole",
        "Measure from the bar to the hook's bearing side and add half the bar.",
        applies=lambda a: a.get("prongs") == "0",
    ),
    _length(
        "hole_seat",
        'Where does the edge of the hole really bear? (Enter or "none" leaves it out)',
        "where the edge of the hole in use bears, measured",
        "With a holed offcut pulled tight, bar centre to the hole's bearing edge.",
        optional=True,
    ),
)
"""What is asked of a buckle, in order."""
