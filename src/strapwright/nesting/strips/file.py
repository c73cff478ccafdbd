"""The strips file: strap blanks in stock, as a CSV table or in TOML, and the text of one."""

from __future__ import annotations

import json
import re
from itertools import chain
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import AfterValidator, Field

from strapwright.core.errors import FileProblems, UnitError
from strapwright.core.text import quoted
from strapwright.core.units import parse_length, trimmed
from strapwright.files.atomic_write import MARK
from strapwright.files.fields import Count, Measure, OneLine, Thickness, mistake
from strapwright.files.read import read_text, read_toml, refused
from strapwright.files.validate import Strict, attempt, validate
from strapwright.job.spec.csv_table import columns_of, read_batch
from strapwright.nesting.hide.types import FlawKind
from strapwright.nesting.strips.types import Strip, StripFlaw
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from strapwright.files.validate import Faults

MOST_STRIPS: Final = 1000
"""A plan takes no more strips than this."""

_NEEDED: Final = ("id", "width", "length")

_A_FLAW: Final = re.compile(r"(?P<kind>[a-z]+)\s*:?\s+(?P<start>.+?)\s*(?:\bto\b|–|-)\s*(?P<end>.+)", re.I)
_A_NUMBER: Final = re.compile(r"[\d.,/ ]+")
_UNIT: Final = re.compile(r"[a-z\"']+$", re.I)

_FLAWS_EXPECTED: Final = (
    'stretches such as "hole 430 mm to 480 mm; mark 900 mm to 912 mm; loose 20 in to 24 in"'
)


def read_flaws(text: str) -> tuple[StripFlaw, ...]:
    """Return the flawed stretches a text names, measured from the strip's start.

    Raises:
        ValueError: it cannot be read.

    Example:
        >>> read_flaws("hole 430-480; loose 20 to 24 in")
        (StripFlaw(kind=<FlawKind.HOLE: 'hole'>, start=430.0, end=480.0),
         StripFlaw(kind=<FlawKind.LOOSE: 'loose'>, start=508.0, end=609.6))
    """
    found = []
    for one in (piece.strip() for piece in re.split(r"[;\n]|,\s*(?=[A-Za-z])", text)):
        if not one:
            continue
        match = _A_FLAW.fullmatch(one)
        try:
            kind = FlawKind("hole" if match and match["kind"].lower() == "void" else match["kind"].lower())  # type: ignore[index]
            assert match is not None
            first, last = match["start"], match["end"]
            unit = _UNIT.search(last.strip())
            if unit and _A_NUMBER.fullmatch(first):  # "20 to 24 in": the unit holds for both
                first = f"{first.strip()} {unit.group()}"
            start, end = parse_length(first), parse_length(last)
        except (TypeError, ValueError, UnitError):
            raise mistake(f"found {quoted(one)}, expected {_FLAWS_EXPECTED}") from None
        if not 0 <= start < end:
            raise mistake(f"found {quoted(one)}, expected two places, the nearer to the start first")
        found.append(StripFlaw(kind, start, end))
    return tuple(found)


def _flaws_text(text: str) -> str:
    read_flaws(text)
    return text


class StripTable(Strict):
    """Strips that are all alike."""

    id: Annotated[str, Field(min_length=1, max_length=80), OneLine]
    """What you call them, such as what is written on them."""

    width: Annotated[float, Measure(least=5.0, most=500.0)]
    """Across, as ripped; a wider strip is cut down to a part's width, a narrower one does not fit."""

    length: Annotated[float, Measure(least=20.0, most=20_000.0)]
    """From raw end to raw end."""

    thickness: Thickness | None = None
    """Leave it out if it was not measured."""

    tannage: Tannage | None = None
    """How it was tanned: only parts of the same tannage are cut from it. Leave it out if you do not know."""

    quantity: Annotated[Count, Field(ge=1, le=MOST_STRIPS)] = 1
    """How many are alike."""

    flaws: Annotated[str, AfterValidator(_flaws_text)] = ""
    """Flawed stretches, measured from the start along the strip, a semicolon between two: "hole 430 mm to
    480 mm; mark 900 mm to 912 mm". A hole (or void) lies between parts, a mark where it is not seen, loose
    leather where a part carries no load."""

    better_end: Literal["start", "end"] | None = None
    """The end with the better leather: straps lie with their tip to it. Leave it out where both are alike."""

    parent: Annotated[str, Field(max_length=80), OneLine] = ""
    """Of a leftover: the strip it was cut from."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Say where a flaw lies beyond the strip's end."""
        try:
            length, flaws = parse_length(table["length"]), read_flaws(table["flaws"])
        except (KeyError, TypeError, ValueError):
            return  # said of the key itself
        for flaw in flaws:
            if flaw.end > length + 1e-6:
                yield (
                    ("flaws",),
                    f"found a {flaw.kind} up to {flaw.end:g} mm on a strip {length:g} mm long, expected less",
                )


class StripsFile(Strict):
    """A strips file."""

    strip: Annotated[list[StripTable], Field(min_length=1)]


def read_strips(paths: Sequence[Path]) -> tuple[Strip, ...]:
    """Read the strips of several files, in the order of the files.

    Args:
        paths: ``.toml`` or ``.csv`` files, or folders of them, each in the order of names.

    Raises:
        FileProblems: everything that is wrong with the first file that is not sound, one line each; two
            strips of one id; or too many strips.
    """
    found: dict[str, Strip] = {}
    for path in chain.from_iterable(map(_files_of, paths)):
        for strip in _read_file(path):
            if strip.id in found:
                other = found[strip.id].source
                also = "" if other == str(path) else f" and in {other}"
                raise refused(path, f"found the id {quoted(strip.id)} twice{also}, expected each just once")
            found[strip.id] = strip
    if (count := sum(strip.quantity for strip in found.values())) > MOST_STRIPS:
        raise refused(paths[-1], f"found {count:,} strips in all, expected at most {MOST_STRIPS:,}")
    return tuple(found.values())


def _files_of(path: Path) -> list[Path]:
    if not path.is_dir():
        return [path]
    files = sorted(file for file in path.iterdir() if file.suffix.lower() in (".toml", ".csv"))
    if not files:
        raise refused(path, "found a folder without strips, expected .csv or .toml files in it")
    return files


def _read_file(path: Path) -> Iterable[Strip]:
    suffix = path.suffix.lower()
    if suffix == ".toml":
        return (_strip(table, path) for table in validate(StripsFile, read_toml(path), str(path)).strip)
    if suffix == ".csv":
        return (_strip(table, path) for table in _read_csv(path))
    found = f'"{suffix}"' if suffix else "no ending"
    raise refused(path, f"found {found}, expected a strips file: .csv or .toml")


def _read_csv(path: Path) -> list[StripTable]:
    columns = columns_of(StripTable)
    batch = read_batch(read_text(path, limit_mb=4.0), columns)
    problems = list(batch.problems)
    if batch.job_file:
        problems.append((1, "found a job file named, expected strips only; leave that line out"))
    if batch.belts and (absent := [key for key in _NEEDED if key not in batch.names]):
        problems.append((batch.head, f"no column {' and no column '.join(absent)}; add it"))
    elif not batch.belts and not problems:
        problems.append((batch.head, "found no strips below the column names, expected one a line"))
    else:
        file, mistakes = attempt(StripsFile, {"strip": list(batch.belts)})
        if file is not None and not problems:
            return file.strip
        problems += [(batch.line_of(one.loc), one.line("", batch.place)) for one in mistakes if batch.belts]
    lines = (text if text.startswith("line ") else f"line {line}: {text}" for line, text in sorted(problems))
    raise FileProblems(tuple(f"{path}: {line}" for line in lines))


def _strip(table: StripTable, path: Path) -> Strip:
    return Strip(**dict(table) | {"flaws": read_flaws(table.flaws)}, source=str(path))


def strips_to_toml(strips: Iterable[Strip], notes: Iterable[str] = ()) -> str:
    """Return strips as a strips file, which reads back as the same strips.

    Args:
        strips: the strips.
        notes: lines that stand at the head as comments.

    Example:
        >>> print(strips_to_toml([Strip("a", 38.0, 1010.5, 3.6)]))
        # strapwright-...0
        <BLANKLINE>
        [[strip]]
        id = "a"
        width = "38 mm"
        length = "1010.5 mm"
        thickness = "3.6 mm"
        <BLANKLINE>
    """
    lines = [*(f"# {note}" for note in notes), f"# {MARK}"]
    for one in strips:
        lines += ["", "[[strip]]", f"id = {json.dumps(one.id, ensure_ascii=False)}"]
        if one.parent:
            lines.append(f"parent = {json.dumps(one.parent, ensure_ascii=False)}")
        lines += [f'width = "{trimmed(one.width, 3)} mm"', f'length = "{trimmed(one.length, 3)} mm"']
        if one.thickness is not None:
            lines.append(f'thickness = "{trimmed(one.thickness, 3)} mm"')
        if one.tannage is not None:
            lines.append(f'tannage = "{one.tannage}"')
        if one.quantity > 1:
            lines.append(f"quantity = {one.quantity}")
        if one.flaws:
            said = (f"{f.kind} {trimmed(f.start, 3)} mm to {trimmed(f.end, 3)} mm" for f in one.flaws)
            lines.append(f'flaws = "{"; ".join(said)}"')
        if one.better_end is not None:
            lines.append(f'better_end = "{one.better_end}"')
    return "\n".join([*lines, ""])
