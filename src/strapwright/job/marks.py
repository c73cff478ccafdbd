"""The marks a belt carries on its turn-back: what they say, and what to know of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PartError
from strapwright.core.findings import Cure, Finding, Severity
from strapwright.geometry.lettering.characters import LEAST_HEIGHT
from strapwright.parts.marks import place_marks

if TYPE_CHECKING:
    from strapwright.job.dimensions.turned_end import EndFigures
    from strapwright.job.spec.size import Size
    from strapwright.job.spec.strap import Belt, StrapTable
    from strapwright.parts.strap import Strap

_OWN: Final = "maker's mark"
_HELD: Final = "\N{NO-BREAK SPACE}"
"""A blank at which no line is broken: a size or a number stays in one piece."""


def with_marks(
    asked: Belt | StrapTable, strap: Strap, end: EndFigures | None
) -> tuple[Strap, tuple[Finding, ...]]:
    """Return a strap with the marks that are asked for, and what is to be said of them.

    Args:
        asked: what is asked for.
        strap: without marks.
        end: what was worked out for its first end; None for a tip, which carries none.

    Raises:
        PartError: a mark has a character that cannot be written.
    """
    wanted = marks_of(asked)
    if asked.marks is None or end is None or not wanted:
        return strap, ()
    height = asked.marks.height
    try:
        made = place_marks(
            tuple(text if what == _OWN else text.replace(" ", _HELD) for what, text in wanted),
            strap,
            height=height,
            fold_end=end.half_turn / 2,
            head_radius=end.head_radius,
        )
    except PartError as error:
        raise PartError(f"marks: {error}") from error
    findings = [_no_room(asked.id, *wanted[index]) for index in made.left_out]
    if made.features and made.height < height:
        findings.append(
            Finding(
                "mark-smaller",
                Severity.NOTE,
                f"The marks are made {made.height:g} mm high: {height:g} mm does not fit on the turn-back.",
                "Leave it so, or make turn_back longer or the marks fewer if you want them larger.",
                asked.id,
                {"height_mm": made.height, "asked_mm": height},
                ("marks.height",),
                (Cure("marks.height", f"{made.height:g} mm"),),
            )
        )
    return replace(strap, marks=made.features), tuple(findings)


def marks_of(asked: Belt | StrapTable) -> tuple[tuple[str, str], ...]:
    """Return the marks asked for: what each is, in words, and what it says.

    Args:
        asked: what is asked for.
    """
    marks = asked.marks
    if marks is None:
        return ()
    found = [(_OWN, " ".join(marks.text.split()))] if marks.text else []
    if marks.number:
        found.append(("belt's number", asked.id))
    if marks.size and asked.size:
        found.append(("size", size_in_short(asked.size)))
    return tuple(found)


def size_in_short(size: Size) -> str:
    """Return the size a belt is made to, in a word or two: the trouser size, or the length given in cm.

    Args:
        size: as the job says it.

    Example:
        >>> from strapwright.job.spec.size import Size
        >>> size_in_short(Size(girth="96 cm")), size_in_short(Size(trousers=34))
        ('96 cm', '34')
    """
    if size.trousers is not None:
        return f"{size.trousers:g}"
    given = (size.girth, size.belt_size, size.worn_to_hole)
    length = next((one for one in given if one is not None), 0.0)
    return f"{round(length / 10, 1):g} cm"


def _no_room(belt_id: str, what: str, text: str) -> Finding:
    return Finding(
        "mark-no-room",
        Severity.CAUTION,
        f'The {what} "{text}" does not fit on the turn-back at {LEAST_HEIGHT:g} mm, the least height, and '
        "is left out.",
        "Make turn_back longer, ask for fewer or shorter marks, or stamp it by hand.",
        belt_id,
        {"least_height_mm": LEAST_HEIGHT},
        ("marks.text", "turn_back"),
    )
