"""The size of a belt as written: who it is for, what was measured, a run of sizes (``"30-46/2"``)."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import Field

from strapwright.core.errors import UnitError
from strapwright.core.text import quoted
from strapwright.core.units import MM_PER_INCH, parse_length
from strapwright.files.fields import Count, Measure, Number, mistake
from strapwright.files.validate import Strict, one_of
from strapwright.job.catalogue.leather import LEATHER_THICKNESS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from strapwright.files.validate import Faults


class OldBelt(Strict):
    """The belt that ``worn_to_hole`` was measured on, where it differs from the new one."""

    thickness: Annotated[float | None, LEATHER_THICKNESS] = None
    """Its leather, 0.8 to 12 mm; default the new belt's."""
    bar_diameter: Annotated[float | None, Measure(least=1.0, most=25.0)] = None
    """Its buckle's bar, 1 to 25 mm; default the new buckle's."""
    frame_depth: Annotated[float | None, Measure(least=3.0, most=150.0)] = None
    """Its buckle's frame depth, 3 to 150 mm, its prong taken as thick as the new one's; default the new
    buckle's. Give this or hole_seat."""
    hole_seat: Annotated[float | None, Measure(least=1.0, most=150.0)] = None
    """Its bar's centre to the edge of the hole in use that bears, 1 to 150 mm, measured as the belt is worn;
    more reliable than frame_depth."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: its seat given in two ways."""
        if "frame_depth" in table and "hole_seat" in table:
            yield ("frame_depth",), "found beside hole_seat, expected just one of the two"


class Size(Strict):
    """Who the belt is for: give exactly one way of saying it."""

    worn_to_hole: Annotated[float | None, Measure(least=100.0, most=3000.0)] = None
    """Measured on a belt that fits, from the outer end of the fold to the edge of the hole in use where the
    prong has worn it, 100 to 3000 mm."""
    girth: Annotated[float | None, Measure(least=150.0, most=3000.0)] = None
    """Waist or girth: taped snug where the belt is worn, over the clothes, 150 to 3000 mm."""
    belt_size: Annotated[float | None, Measure(least=100.0, most=3000.0), Field(examples=["965 mm"])] = None
    """As belts are sold: from the outer end of the fold to the centre of the middle hole, 100 to 3000 mm; of
    an even count, the nearer of the middle two. It places the middle hole, whichever hole_in_use says."""
    trousers: Annotated[Number | None, Field(ge=20, le=70)] = None
    """Trouser size in inches, 20 to 70: 2 in more from the fold to the centre of the hole in use, a rule of
    thumb only; a tape is more reliable."""
    old: OldBelt | None = None
    """With worn_to_hole: the old belt's own measures, where they differ."""
    hole_in_use: Annotated[Count | None, Field(ge=1, le=15)] = None
    """The adjusting hole that fits, 1 = nearest the buckle; default the middle one."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: not exactly one way of sizing; an old belt without a measure taken on it."""
        if wrong := one_of(table, "worn_to_hole", "girth", "belt_size", "trousers"):
            yield (), wrong
        if "old" in table and "worn_to_hole" not in table:
            yield ("old",), "found without worn_to_hole, expected only with it"


Unit = Literal["", "mm", "cm", "in"]

MOST_SIZES: Final = 40
"""More sizes than this in one run are taken for a slip."""

_TROUSERS: Final = (20.0, 70.0)

_GIRTHS: Final = (150.0, 3000.0)

_LONGEST_TEXT: Final = 300

_MM_PER: Final[dict[Unit, float]] = {"": 1.0, "mm": 1.0, "cm": 10.0, "in": MM_PER_INCH}

_BARE: Final = re.compile(r"[0-9]{1,6}(\.[0-9]{0,6})?")

_NO_STEP: Final = re.compile(r"[^/]*[0-9a-z\"] *[-–] *[0-9.][^/]*")

_EXPECTED: Final = (
    'a run of trouser sizes such as "30-46/2", or of girths such as "80 cm-110 cm/5 cm", or a list such as '
    "[30, 32, 34]"
)


@dataclass(frozen=True)
class RunSize:
    """One size of a run.

    Args:
        label: as people call it: ``30``, ``80 cm``.
        trousers: the trouser size in inches, or None.
        girth: the girth, mm, or None.
    """

    label: str
    trousers: float | None = None
    girth: float | None = None

    @property
    def mark(self) -> str:
        """What sets the size's belt apart from the others of its run, at the end of its id."""
        return "-" + self.label.replace(" ", "")


@dataclass(frozen=True)
class _Part:
    """A number as written: a bare one, or a length in mm with the unit it was written in."""

    value: float
    unit: Unit

    def label(self, value: float) -> str:
        """Return another value the way this one was written."""
        number = f"{round(value / _MM_PER[self.unit], 4):g}"
        return f"{number} {self.unit}" if self.unit else number


def read_sizes(value: object) -> tuple[RunSize, ...]:
    """Read a run of sizes as a person writes it.

    Args:
        value: ``"from-to/step"``, or a list (or text with commas) of single sizes. Bare numbers are trouser
            sizes in inches, 20 to 70; lengths with their unit are girths, 150 to 3000 mm.

    Returns:
        The sizes in the order written, 1 to 40 of them.

    Raises:
        PydanticCustomError: it is no run; the message says what was found and what is accepted.

    Example:
        >>> [size.label for size in read_sizes("30-36/2")]
        ['30', '32', '34', '36']
        >>> [(size.label, size.girth) for size in read_sizes(["80 cm", "32.5 in"])]
        [('80 cm', 800.0), ('32.5 in', 825.5)]
    """
    if isinstance(value, tuple) and value and all(isinstance(one, RunSize) for one in value):
        return value
    found = quoted(value)
    if isinstance(value, str) and len(value) <= _LONGEST_TEXT:
        ends = _from_to_step(value)
        if ends is not None:
            return _sound(tuple(_run(found, *ends)), found)
        if _NO_STEP.fullmatch(value):
            raise mistake(f'found {found}, expected a step after the run too, such as "30-46/2"')
        value = value.split(",")
    entries = value if isinstance(value, list | tuple) else [value]
    parts = [_part(entry if isinstance(entry, str) else _bare_text(entry)) for entry in entries]
    for entry, part in zip(entries, parts, strict=True):
        if part is None:
            inside = f"{quoted(entry)} in the list" if len(entries) > 1 else found
            raise mistake(f"found {inside}, expected {_EXPECTED}")
    return _sound(tuple(_size(part, part.value) for part in parts if part is not None), found)


def ids_of(belt_id: str, sizes: object) -> tuple[str, ...]:
    """Return the ids a belt's run makes; none where the run is not sound."""
    try:
        return tuple(belt_id + size.mark for size in read_sizes(sizes))
    except ValueError:  # a PydanticCustomError is one; it is reported where the run itself is read
        return ()


def _run(found: str, first: _Part, last: _Part, step: _Part) -> Iterable[RunSize]:
    if len({bool(part.unit) for part in (first, last, step)}) > 1:
        raise mistake(
            f"found {found}, a length beside a bare number; expected all trouser sizes, such as "
            '"30-46/2", or the unit with each, such as "80 cm-110 cm/5 cm"'
        )
    if step.value <= 0:
        raise mistake(f"found {found}, a step of {step.label(step.value)}; expected one above 0")
    if last.value < first.value:
        turned = f"{last.label(last.value)}-{first.label(first.value)}/{step.label(step.value)}"
        raise mistake(f'found {found}, which runs downwards; expected the smaller size first: "{turned}"')
    steps = (last.value - first.value) / step.value
    whole = math.floor(steps + 1e-6)
    if steps - whole > 1e-6:
        below, above = (first.value + count * step.value for count in (whole, whole + 1))
        raise mistake(
            f"found {found}, and from {first.label(first.value)} to {last.label(last.value)} is no whole "
            f"number of steps of {step.label(step.value)}; expected an end of {first.label(below)} or "
            f"{first.label(above)}"
        )
    if whole + 1 > MOST_SIZES:
        raise mistake(f"found {found}, {whole + 1} sizes; expected at most {MOST_SIZES} in one run")
    return (_size(first, first.value + count * step.value) for count in range(whole + 1))


def _size(written: _Part, value: float) -> RunSize:
    label = written.label(value)
    return RunSize(label, girth=round(value, 6)) if written.unit else RunSize(label, trousers=value)


def _sound(sizes: tuple[RunSize, ...], found: str) -> tuple[RunSize, ...]:
    """Refuse sizes out of range, of two kinds, found twice, none, or too many."""
    if not sizes:
        raise mistake(f"found {found}, expected {_EXPECTED}")
    if len(sizes) > MOST_SIZES:
        raise mistake(f"found a list of {len(sizes)} sizes, expected at most {MOST_SIZES} in one run")
    if len({size.girth is None for size in sizes}) > 1:
        raise mistake(
            f"found {found} with trouser sizes and girths in it, expected all of one kind: bare numbers, or "
            "lengths with their unit"
        )
    seen: set[str] = set()
    for size in sizes:
        if size.trousers is not None and not _TROUSERS[0] <= size.trousers <= _TROUSERS[1]:
            raise mistake(
                f"found {found}, and {size.label} is no trouser size; expected {_TROUSERS[0]:g} to "
                f'{_TROUSERS[1]:g}, or girths with their unit such as "80 cm-110 cm/5 cm"'
            )
        if size.girth is not None and not _GIRTHS[0] <= size.girth <= _GIRTHS[1]:
            raise mistake(
                f"found {found}, with a girth of {size.label}; expected {_GIRTHS[0]:g} to {_GIRTHS[1]:g} mm"
            )
        if size.label in seen:
            raise mistake(f"found {found} with {size.label} in it twice, expected each size once")
        seen.add(size.label)
    return sizes


def _from_to_step(text: str) -> tuple[_Part, _Part, _Part] | None:
    """Return the three parts of a run, or None where the text is not of that form.

    Fractions of an inch hold a dash or a slash themselves, so every way of parting the text is tried.
    """
    text = text.replace("–", "-")
    dashes = [place for place, character in enumerate(text) if character == "-"]
    slashes = [place for place, character in enumerate(text) if character == "/"]
    for dash, slash in product(dashes[:6], slashes[-6:]):
        if dash < slash:
            parts = (_part(text[:dash]), _part(text[dash + 1 : slash]), _part(text[slash + 1 :]))
            first, last, step = parts
            if first is not None and last is not None and step is not None:
                return first, last, step
    return None


def _part(text: str) -> _Part | None:
    text = text.strip()
    if _BARE.fullmatch(text):
        return _Part(float(text), "")
    try:
        value = parse_length(text)
    except UnitError:
        return None
    if text[-1].isdigit() or text[-1] == "." or value < 0:  # no unit: neither a trouser size nor a girth
        return None
    ending = text[-2:].lower()
    return _Part(value, "mm" if ending == "mm" else "cm" if ending == "cm" else "in")


def _bare_text(entry: object) -> str:
    return f"{entry:g}" if isinstance(entry, int | float) and not isinstance(entry, bool) else ""
