"""On which line of a file a mistake stands: its key looked for in the text, as the file is written."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    Place = tuple[tuple[str, int], ...]
    """Names from the file's root, each with its number in a list from 1; 0 where none is said."""

_NAME: Final = r"""(?:"[^"\n]*"|'[^'\n]*'|[\w-]+)"""
_HEADER: Final = re.compile(rf"\s*(\[\[?)\s*({_NAME}(?:\s*\.\s*{_NAME})*)\s*\]\]?\s*(?:#.*)?")
_ENTRY: Final = re.compile(rf"\s*({_NAME}(?:\s*\.\s*{_NAME})*)\s*=")
_PLACE: Final = re.compile(rf"{_NAME}(?:\[\d+\])?(?:\.{_NAME}(?:\[\d+\])?)*(?=: )")
_STEP: Final = re.compile(rf"({_NAME})(?:\[(\d+)\])?")


def with_lines(problems: Sequence[str], source: str, text: str) -> tuple[str, ...]:
    """Return mistakes in a file without its name, each with the line of its key where one has it.

    Args:
        problems: one line each, as the file's reader has them.
        source: what they call the file.
        text: what is in it.
    """
    found = []
    for problem in problems:
        words = problem.removeprefix(f"{source}: ")
        line = None if re.match(r"line \d", words) else line_of(words, text)
        found.append(f"line {line}: {words}" if line else words)
    return tuple(found)


def line_of(words: str, text: str) -> int | None:
    r"""Return the line of the key that a mistake begins with, or of the table it would stand in, from 1.

    Example:
        >>> line_of("belt[2].buckle: found 3", "[[belt]]\nid = 'a'\n[[belt]]\nbuckle = 3\n")
        4
        >>> line_of("belt[2].size: missing", "[[belt]]\nid = 'a'\n[[belt]]\nbuckle = 3\n")
        3
    """
    place = _PLACE.match(words)
    if place is None:
        return None
    wanted = tuple((_bare(name), int(number or 0)) for name, number in _STEP.findall(place[0]))
    best, line = 0, None
    for number, steps in _places(text):
        if best < len(steps) <= len(wanted) and all(map(_is_same, steps, wanted)):
            best, line = len(steps), number
    return line


def _is_same(one: tuple[str, int], other: tuple[str, int]) -> bool:
    return one[0] == other[0] and (0 in (one[1], other[1]) or one[1] == other[1])


def _places(text: str) -> Iterator[tuple[int, Place]]:
    """Yield what stands on each line that begins a table or says a key."""
    counts = Counter[tuple[str, ...]]()
    table: Place = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.fullmatch(line):
            names = _names(header[2])
            if header[1] == "[[":
                counts[names] += 1
            table = tuple((name, counts[names[: at + 1]]) for at, name in enumerate(names))
            yield number, table
        elif entry := _ENTRY.match(line):
            yield number, (*table, *((name, 0) for name in _names(entry[1])))


def _names(dotted: str) -> tuple[str, ...]:
    return tuple(_bare(name) for name in re.findall(_NAME, dotted))


def _bare(name: str) -> str:
    return name[1:-1] if name[:1] in ('"', "'") else name
