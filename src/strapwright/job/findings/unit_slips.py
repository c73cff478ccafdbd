"""Slips of unit: a measure far from what is usual for what is made, and the unit it was likely meant in.

The windows are wide: common practice where a trade has a habit, else from memory of what is sold and made.
Outside them a measure may still be right, so it is a caution that says what it would be in another unit.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from strapwright.core.findings import Cure, Finding, Severity
from strapwright.core.units import MM_PER_INCH, MM_PER_OUNCE
from strapwright.files.read import read_toml

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.job.spec.strap import Belt, StrapTable
    from strapwright.job.strap_draft import StrapDraft

    Window = Sequence[float]

COLLAR_WIDTH: Final = 30.0
"""A strap no wider than this round less than `COLLAR_GIRTH` is taken for a collar, mm."""

COLLAR_GIRTH: Final = 500.0
"""Girth below which a narrow belt is taken for a collar, mm."""

_WINDOWS: Final[dict[str, dict[str, Window]]] = read_toml(Path(__file__).with_name("usual_measures.toml"))
"""What is usual of each measure by what is made: least and most, mm."""

_TROUSERS: Final = (24.0, 54.0)
"""Trouser sizes, in: outside them another country's numbers are likelier."""

_CONTINENTAL: Final = 16.0
"""A continental trouser size less this is about the size in inches (from memory)."""

_LINED: Final = 0.8
"""Leather that is lined may be as thin, mm."""

_MM_PER: Final = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH, "oz": MM_PER_OUNCE}

_SLIPS: Final = (("cm", "in"), ("in", "cm"), ("mm", "cm"), ("cm", "mm"), ("mm", "in"), ("in", "mm"))
"""Units that are taken for one another: as written, as meant; the commonest first."""

_THICKNESS_SLIPS: Final = (("mm", "oz"), ("oz", "mm"), ("in", "mm"), ("cm", "mm"))


def unit_slips(item: StrapDraft) -> Iterator[Finding]:
    """Yield a caution for every measure of a belt or strap that is likely a slip of unit.

    Args:
        item: its draft.
    """
    asked, fit, made = item.spec, item.figures, "strap"
    if fit is not None:
        narrow = fit.width <= COLLAR_WIDTH and fit.girth_in_use < COLLAR_GIRTH
        made = "collar" if asked.dee is not None or narrow else "belt"
    for key, windows in _WINDOWS.items():
        if made in windows:
            low, high = windows[made]
            if asked.lining is not None and key == "leather.thickness":
                low = _LINED
            owner = item if key == "leather.thickness" else asked
            yield from _slips(asked, key, _values(owner, key), (low, high), made)
    trousers = asked.size.trousers if asked.size is not None else None
    if trousers is not None and not _TROUSERS[0] <= trousers <= _TROUSERS[1]:
        inches, usual = trousers - _CONTINENTAL, f"{_TROUSERS[0]:g} to {_TROUSERS[1]:g} in"
        meant = f"; a continental {trousers:g} is about {inches:g} in" if inches >= _TROUSERS[0] else ""
        yield Finding(
            "unit-slip",
            Severity.CAUTION,
            f"size.trousers is {trousers:g}; usual are {usual}{meant}.",
            "Give the size in inches, or tape the waist or girth. If that is intended, ignore this.",
            numbers={"trousers": trousers},
            keys=("size.trousers",),
        )


def _values(owner: object, key: str) -> list[float]:
    """Return what stands under a dotted key, every one of a list."""
    found = [owner]
    for name in key.split("."):
        nested = [getattr(one, name, None) for one in found]
        found = [one for value in nested for one in (value if isinstance(value, tuple) else (value,))]
    return [one for one in found if isinstance(one, float | int)]


def _slips(
    asked: Belt | StrapTable, key: str, values: list[float], window: Window, made: str
) -> Iterator[Finding]:
    low, high = window
    for value in dict.fromkeys(values):
        if low - 1e-9 <= value <= high + 1e-9:
            continue
        thickness = key.endswith(("thickness", "stacks"))
        meant = _likely(value, window, _THICKNESS_SLIPS if thickness else _SLIPS)
        written, perhaps, keys, cures = f"{value:.4g} mm", "", _keys(asked, key, value), []
        if meant is not None:
            number, unit, other, mm = meant
            written = f"{number:g} {unit}" + (f" ({value:.4g} mm)" if unit != "mm" else "")
            told = "" if other == "mm" else f" ({mm:.4g} mm)"
            perhaps = f" Perhaps {number:g} {other}{told} was meant."
            # What stands in a list, or in the catalogue, is no value of one key.
            if not key.endswith(("stacks", "bar_section")) and not (key[:6] == "buckle" and "buckle" in keys):
                cures = [Cure(one, f"{number:g} {other}") for one in keys]
        yield Finding(
            "unit-slip",
            Severity.CAUTION,
            f"{key} is {written}; usual for a {made} are {low:g} to {high:g} mm.{perhaps}",
            "Check the number and its unit. If that is intended, ignore this.",
            numbers={"value_mm": value, **({"meant_mm": meant[3]} if meant else {})},
            keys=keys,
            cures=tuple(cures[:1]),
        )


def _keys(asked: Belt | StrapTable, key: str, value: float) -> tuple[str, ...]:
    """Return the keys of a table that hold a value: of its ends, of those that have it."""
    group, _, last = key.partition(".")
    if group == "ends":
        places = [place for place, end in enumerate(asked.ends) if value in _values(end, last)]  # type: ignore[union-attr]
        return tuple(f"ends.{place}.{last}" for place in places)
    if group == "buckle" and asked.buckle is not None and asked.buckle.name:
        return (key, "buckle")
    return (key,)


def _likely(
    value: float, window: Window, slips: tuple[tuple[str, str], ...]
) -> tuple[float, str, str, float] | None:
    """Return the number as likely written, its unit, the unit it was meant in and that length, mm.

    Example:
        >>> _likely(380.0, (500.0, 1600.0), _SLIPS)
        (38.0, 'cm', 'in', 965.2)
        >>> _likely(9.0, (1.5, 7.0), _THICKNESS_SLIPS)
        (9.0, 'mm', 'oz', 3.571875)
    """
    for unit, other in slips:
        number = round(value / _MM_PER[unit], 4)
        # as people write them: halves of a centimetre, 64ths or hundredths of an inch
        parts = (2,) if unit == "cm" else (64, 100)
        written_so = min(abs(number * n - round(number * n)) for n in parts) < 0.02
        mm = round(number * _MM_PER[other], 6)
        if written_so and number > 0 and window[0] <= mm <= window[1]:
            return number, unit, other, mm
    return None
