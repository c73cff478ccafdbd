"""The words of a handout: sentences by name, with names in braces where the draft's figures go."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from string import Formatter
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems
from strapwright.core.text import quoted
from strapwright.files.messages import unknown_key
from strapwright.files.read import read_toml

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

SHIPPED: Final = Path(__file__).with_name("words.toml")


class Words(dict[str, str]):
    """Sentences by section and name: ``"steps.cut_one"``."""

    def say(self, name: str, /, **figures: str) -> str:
        """Return a sentence with its figures.

        Args:
            name: of the sentence.
            figures: what goes where its names in braces stand.
        """
        return self[name].format(**figures)


@cache
def shipped_words() -> Words:
    """Return the words that come with the program."""
    return Words(_flat(read_toml(SHIPPED)))


def read_words(path: Path) -> Words:
    """Read a translation of the words: the same names, each with the same figures.

    Args:
        path: of the TOML file.

    Raises:
        FileProblems: every mistake in it, one line each.
    """
    own, found = shipped_words(), _flat(read_toml(path))
    problems = [f"{path}: {name}: {unknown_key(name, _near(name, own))}" for name in found if name not in own]
    for name, text in own.items():
        if name not in found:
            problems.append(f"{path}: {name}: missing, expected its sentence")
        elif wrong := _wrong(found[name], text):
            problems.append(f"{path}: {name}: {wrong}")
    if problems:
        raise FileProblems(tuple(problems))
    return Words({name: found[name] for name in own})


def _near(name: str, own: Mapping[str, str]) -> list[str]:
    """Return the names of the same section, or of all where there is no such section."""
    section = name.partition(".")[0]
    return [one for one in own if one.startswith(f"{section}.")] or sorted({one.split(".")[0] for one in own})


def _flat(tables: Mapping[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for section, table in tables.items():
        if isinstance(table, dict):
            found |= {f"{section}.{name}": value for name, value in table.items()}
        else:
            found[section] = table
    return found


def _wrong(found: object, own: str) -> str:
    if not isinstance(found, str):
        return f"found {quoted(found)}, expected text"
    try:
        there, wanted = set(_figures(found)), set(_figures(own))
    except ValueError as error:
        return f"found {quoted(found)}, expected its braces in pairs ({error})"
    if there == wanted:
        return ""
    expected = " ".join(f"{{{name}}}" for name in sorted(wanted)) or "none"
    given = " ".join(f"{{{name}}}" for name in sorted(there)) or "none"
    return f"found the figures {given}, expected {expected}"


def _figures(text: str) -> Iterator[str]:
    for _, name, form, turned in Formatter().parse(text):
        if name is not None:
            yield name + (f":{form}" if form else "") + (f"!{turned}" if turned else "")
