"""Text made safe to show: on one line, without control characters, escaped for markup."""

from __future__ import annotations

import html
from itertools import count
from typing import TYPE_CHECKING, Final
from unicodedata import category

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

MOST_SHOWN: Final = 60
"""Longest text of a user's shown whole in a message, characters."""


def escape(text: str, *, quote: bool = False) -> str:
    r"""Return text as it may stand in SVG or HTML: markup and control characters escaped.

    All text of a drawing or a page passes here, whoever wrote it: XML takes no control characters at all, and
    one that turns the reading direction would show another name than the file holds.

    Args:
        text: plain.
        quote: for the value of an attribute.

    Example:
        >>> escape("a <b>\x1b\u202e"), escape('"', quote=True)
        ('a &lt;b&gt;\\x1b\\u202e', '&quot;')
    """
    return html.escape(printable_lines(text), quote=quote)


def one_line(text: str) -> str:
    r"""Return text without line breaks or other characters a file's comment cannot hold.

    Example:
        >>> one_line("two\nlines\x07")
        'two lines'
    """
    if not text.isprintable():
        text = "".join(c if c.isprintable() else " " for c in text)
    return " ".join(text.split())


def printable(text: str, *, spaces: bool = True) -> str:
    r"""Return text with control characters and line ends escaped: it stays one line and moves no cursor.

    Args:
        text: any.
        spaces: spaces of any width stay, the no-break space between a figure and its unit among them.

    Example:
        >>> printable("a\x1b[2J\u2028b"), printable("Žofie 3\u2009×\u20095")
        ('a\\x1b[2J\\u2028b', 'Žofie 3\u2009×\u20095')
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or (spaces and category(c) == "Zs") else ascii(c)[1:-1] for c in text)


def numbered(name: str, between: str = "-") -> Iterator[str]:
    """Yield a name, then the same with 2, 3 and so on behind it: the first that is not taken is free.

    Example:
        >>> next(name for name in numbered("side") if name not in {"side", "side-2"})
        'side-3'
    """
    yield name
    for number in count(2):
        yield f"{name}{between}{number}"


def counted(number: int, one: str, several: str = "") -> str:
    """Return how many there are, in words.

    Example:
        >>> counted(1, "outline"), counted(2, "outline"), counted(0, "hole or slot", "holes and slots")
        ('1 outline', '2 outlines', '0 holes and slots')
    """
    return f"{number} {one if number == 1 else several or one + 's'}"


def first_few(names: Sequence[str], most: int) -> str:
    """Return names in one line: the first few, and how many more there are.

    Example:
        >>> first_few(["ann", "bo", "cy", "di"], 2)
        'ann, bo and 2 more'
    """
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def printable_lines(text: str) -> str:
    """Return text of several lines, each made `printable`."""
    return "\n".join(map(printable, text.split("\n")))


def quoted(value: object) -> str:
    """Show a found value on one line, as a file would hold it: text in quotes, and not too long.

    Example:
        >>> quoted("abc"), quoted(True), quoted(2.5), quoted({"a": 1})
        ('"abc"', 'true', '2.5', 'a table')
    """
    if isinstance(value, str):
        kept = value if len(value) <= MOST_SHOWN else value[: MOST_SHOWN - 3] + "…"
        kept = kept.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{printable(kept, spaces=False)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**15 else "a huge number"
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list" if value else "an empty list"
    return "nothing" if value is None else f"a {type(value).__name__}"
