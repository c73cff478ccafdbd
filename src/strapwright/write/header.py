"""What every cut file says of itself: job, hide, machine, kerf and the machine's cautions."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING, Final

from strapwright.trade.safety import cautions

if TYPE_CHECKING:
    from strapwright.machine.cut_plan import CutPlan, CutSheet

_SIGNS: Final = str.maketrans(
    {"×": "x", "–": "-", "−": "-", ";": ",", "ß": "ss", "ø": "o", "Ø": "O", "ł": "l"}
)
_NOT_KEPT: Final = re.compile(r"[^A-Za-z0-9 .,:'+\-_=/]")


def header_lines(sheet: CutSheet, plan: CutPlan) -> tuple[str, ...]:
    """Return what a file of a sheet says of itself, one fact or caution a line."""
    machine = plan.machine
    return tuple(
        one_line(text)
        for text in (
            f"job: {plan.job_name or 'without a name'}",
            f"hide: {sheet.hide}",
            f"machine: {machine.name}, bed {sheet.width:g} x {sheet.height:g} mm",
            f"kerf: {kerf_words(plan)}",
            f"hide lies: {lie_words(sheet)}",
            *window_words(sheet),
            *([f"date: {plan.day.isoformat()}"] if plan.day is not None else []),
            *cautions(machine.kind),
        )
    )


def lie_words(sheet: CutSheet) -> str:
    """Return how the hide lies for a sheet, moved along as far as its window has it."""
    return sheet.lie.words(sheet.window.shift if sheet.window is not None else 0.0)


def window_words(sheet: CutSheet) -> tuple[str, ...]:
    """Return which window a sheet is and where the hide is to be put for it; nothing for a whole bed."""
    window = sheet.window
    lay_by = (
        ("mark these lines on paper fixed to the bed, then lay the straps on them",) if sheet.lay_by else ()
    )
    if window is None:
        return lay_by
    words = [f"window: {window.number} of {window.count}"]
    if window.pins:
        words.append(f"hide moved on by {window.pins} pins, {window.advance:.3f} mm, towards lower x")
    elif window.number > 1:
        words.append(f"hide moved on by {window.advance:.3f} mm towards lower x")
    if window.holes:
        at = " and ".join(f"x {x:.2f}, y {y:.2f} mm" for x, y in window.holes)
        words.append(f"registration holes of the window before lie at {at}")
    return (*words, *lay_by)


def kerf_words(plan: CutPlan) -> str:
    """Return the kerf of each leather in words.

    Where all leathers have the same, it is told once; a plan that allows for none, as a test piece's,
    says so.
    """
    if not plan.kerfs:
        return "not allowed for, the cuts run on the lines themselves"
    widths = sorted({kerf.width for kerf in plan.kerfs})
    if not any(widths):
        return "none, the blade takes nothing away"
    if len(widths) == 1:
        return f"{widths[0]:.3g} mm, allowed for in the paths"
    each = ", ".join(f"{k.width:.3g} mm in {k.tannage} {k.thickness:.3g} mm" for k in plan.kerfs)
    return f"{each}, allowed for in the paths"


def plain_comment(text: str) -> str:
    r"""Return text that a controller's comment can hold: letters, figures and a few signs, all ASCII.

    Parentheses and semicolons end comments, and some controllers obey single signs such as ``!`` and ``~``
    even within one.

    Example:
        >>> plain_comment("Žofie's job (no. 2) 600 × 400; go!")
        "Zofie's job no. 2 600 x 400, go"
    """
    plain = unicodedata.normalize("NFKD", one_line(text).translate(_SIGNS))
    return " ".join(_NOT_KEPT.sub("", plain).split())


def one_line(text: str) -> str:
    r"""Return text without line breaks or other characters a file's comment cannot hold.

    Example:
        >>> one_line("two\nlines\x07")
        'two lines'
    """
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
