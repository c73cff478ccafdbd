"""What a message for the command line calls things, and what they are called on the page."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

    from strapwright.core.findings import Finding
    from strapwright.core.units import Units

FONT_WORDS: Final = r"Put a \1 into the shop's folder “fonts”, then choose it in “Font”."
"""What to do about letters that a font lacks."""

_IN_PAGE_WORDS: Final = (
    (
        r"\s+the\s+strapwright\s+cut\s+command\s+of\s+these\s+files.*?what\s+the\s+machine\s+showed\.",
        r"\n     under “Write one window again” type what the machine showed.",
    ),
    (r"Write backbone = .*? along the back;", "Say where it is in Leather, on the hide's own page;"),
    (r' "X,Y=X,Y"', ""),
    (r"\b(with|pass) --touch\b", "under “Where the hide lies on the bed”"),
    (
        r"strapwright kerf coupon .*? --out coupon, or give",
        "“Make a test piece” on the machine's own page; or give",
    ),
    (r"Then: strapwright kerf record\b[^\n]*", "Then record here what you measured."),
    (
        r"compiling the search, once for this machine",
        "getting the search ready, which happens once on a machine and usually takes 10 to 40 seconds",
    ),
    (
        r"compiling the search; it cannot be kept, since (.*?) \(NUMBA_CACHE_DIR can name another\)",
        r"getting the search ready, usually 10 to 40 seconds; it has to be done each time, since \1",
    ),
    (r"--paper roll:WIDTH\b", "“a roll” in “Paper”"),
    (r", --paper [^\s;]+", " in “Paper”"),
    (r"Give a (TrueType font that has them) with --font FILE\.ttf\.", FONT_WORDS),
    (r"choose one with --belt\b", "choose one"),
    (r"; if they allow it, pass --accept-fume-risk\.", ". If they allow it, confirm it below."),
    (r"\bnest it again\b", "lay it out again"),
    (r"\b(with|pass) --kerf\b", "under “Kerf by hand”"),
    (r"--touch\b", "“Where the hide lies on the bed”"),
    (r"--kerf\b", "“Kerf by hand”"),
    (r"--window\b", "Window"),
    (r"--partial\b", "“Partial”"),
    (r"--layout\b", "layout"),
)
"""Each as a pattern, and what stands for it."""


def in_page_words(text: str) -> str:
    """Return a message with the page's fields named where it names options of a command.

    Example:
        >>> in_page_words("--kerf 9 mm: expected a width over 0")
        '“Kerf by hand” 9 mm: expected a width over 0'
    """
    for words, on_page in _IN_PAGE_WORDS:
        text = re.sub(words, on_page, text, flags=re.DOTALL)
    return text


def finding_words(findings: Iterable[Finding], units: Units) -> list[tuple[str, str]]:
    """Return how much each finding matters, and what was seen and what to do in the page's words."""
    seen = (one.in_units(units) for one in findings)
    return [(one.severity, in_page_words(f"{one.what} {one.do}")) for one in seen]
