"""Text made safe to show: on one line, without control characters, escaped for markup."""

from __future__ import annotations

import html
from unicodedata import category


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


def printable(text: str) -> str:
    r"""Return text with control characters and line ends escaped: it stays one line and moves no cursor.

    Spaces of any width stay, the no-break space between a figure and its unit among them.

    Example:
        >>> printable("a\x1b[2J\u2028b"), printable("Žofie 3\u2009×\u20095")
        ('a\\x1b[2J\\u2028b', 'Žofie 3\u2009×\u20095')
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or category(c) == "Zs" else ascii(c)[1:-1] for c in text)


def printable_lines(text: str) -> str:
    """Return text of several lines, each made `printable`."""
    return "\n".join(map(printable, text.split("\n")))
