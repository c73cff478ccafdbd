"""Messages of the command line in the words of the page: fields instead of options."""

from __future__ import annotations

import re
from typing import Final

INSTEAD: Final[tuple[tuple[str, str], ...]] = (
    (r": strapwright kerf coupon .* --out coupon", " and record its kerf in Shop"),
    (r"\bgive the width with --kerf", "type the width in “Kerf by hand”"),
    (r"\bgive it with --kerf", "type it in “Kerf by hand”"),
    (r"--kerf (?=[\d.]+ mm:)", "kerf by hand, "),
    (r"\bleave --kerf out", "leave “Kerf by hand” empty"),
    (r"\buse --partial\b", "tick “Partial”"),
    (r"\bgive them with --touch\b", "type them under “Where the hide lies on the bed”"),
    (r"--window writes one window again", "a window is written again"),
    (r"use the same --out as for those", "write all of them first"),
    (
        r"give job, hide, machine, --layout, --kerf and --touch as",
        "choose machine, kerf and touches as",
    ),
    (r", --paper (?:roll:)?[\w.]+", ""),
    (r" with --font FILE\.ttf", " on the command line"),
    (r", or print without --layout\b", ""),
)
"""What a message says of an option, as a pattern, and what the page says."""


def in_page_words(text: str) -> str:
    """Return a message with the page's fields where it names options of a command.

    Example:
        >>> in_page_words("nothing is cut; fix it, or use --partial to cut the rest")
        'nothing is cut; fix it, or tick “Partial” to cut the rest'
    """
    for pattern, words in INSTEAD:
        text = re.sub(pattern, words, text)
    return text


def problem_lines(error: Exception) -> list[str]:
    """Return what an error says, line by line, in the words of the page."""
    return [in_page_words(line) for line in str(error).splitlines()]
