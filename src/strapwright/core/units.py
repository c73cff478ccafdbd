"""Text to millimetres and radians, and back: ``"44 mm"``, ``"4,4 cm"``, ``"1 3/4 in"``, ``"9 oz"``."""

from __future__ import annotations

import math
import re
import unicodedata
from typing import TYPE_CHECKING, Final, Literal

from strapwright.core.errors import UnitError
from strapwright.core.text import quoted

if TYPE_CHECKING:
    from collections.abc import Callable

Units = Literal["mm", "in"]
"""What lengths are shown in to people; inside, and in files for machines, they are mm."""

MM_PER_INCH: Final = 25.4
"""Exact by definition."""

MM_PER_FOOT: Final = 304.8
"""Exact too, and not the float that twelve times the inch comes to."""

MM_PER_OUNCE: Final = MM_PER_INCH / 64
"""Leather's ounce as a thickness: 1/64 in, 0.396875 mm."""

A_LENGTH: Final = 'a length such as "44 mm" or "1 3/4 in"'
A_THICKNESS: Final = 'a thickness such as "3.6 mm" or "9 oz"'
AN_ANGLE: Final = 'an angle such as "90 deg"'

_INCH: Final = (127.0, 5.0)
_MM_PER_UNIT: Final = {
    "": (1.0, 1.0),
    "mm": (1.0, 1.0),
    "cm": (10.0, 1.0),
    "in": _INCH,
    "inch": _INCH,
    "inches": _INCH,
    '"': _INCH,
    "″": _INCH,
    "oz": (127.0, 320.0),
}
"""As whole ratios, so that 1 3/4 in is 44.45 mm and not the float next to it."""
_NUMBER: Final = re.compile(
    r"""(?P<sign>[-+]?)\s*
    (?:(?P<whole>[0-9]+)(?:\s+|\s*-\s*)(?P<over>[0-9]+)\s*/\s*(?P<under>[0-9]+)
      |(?P<only_over>[0-9]+)\s*/\s*(?P<only_under>[0-9]+)
      |(?P<decimal>[0-9]+\.?[0-9]*|[0-9]+,[0-9]+|[.,][0-9]+))
    \s*(?P<unit>[^\W\d_]*|["″°])""",
    re.VERBOSE,
)
_PLAIN_NUMBER: Final = re.compile(r"[-+]?([0-9]{1,15}(?:[.,][0-9]*)?|[.,][0-9]+)")
_THOUSANDS: Final = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
"""A comma that may divide thousands: to one person 1,050 mm is a girth, to another a thin leather."""

_FINEST_FRACTION: Final = 64
_MOST_DIGITS: Final = 9
_SMALL_INCHES: Final = 0.25
"""Below this a 32nd of an inch is too coarse: leather is sold by the 64th."""

_FIGURE: Final = re.compile(r"[-−]?[0-9]+(?:\.[0-9]+)?")
_LENGTHS: Final = re.compile(
    r"(?<![\w./])(?<!in \()"
    r"([-−]?[0-9]+(?:\.[0-9]+)?(?:(?: × | to |–)[-−]?[0-9]+(?:\.[0-9]+)?)*) mm(?![\w²³/]| post)"
)


def parse_length(value: str | float, *, ounces: bool = False) -> float:
    """Read a length as a person writes it.

    Args:
        value: text with a unit (``mm``, ``cm``, or ``in`` with decimals or fractions), or a bare
            number, which is millimetres. The decimal point may be a comma.
        ounces: also take leather's ounces, 1 oz = 1/64 in; for thicknesses only.

    Returns:
        The length in mm; it may be negative or zero, but is always finite.

    Raises:
        UnitError: it cannot be read; the message says what was found and what is accepted.

    Example:
        >>> parse_length("5,4 cm"), parse_length("1 3/4 in"), parse_length(12)
        (54.0, 44.45, 12.0)
        >>> parse_length("9 oz", ounces=True)
        3.571875
    """
    expected = A_THICKNESS if ounces else A_LENGTH
    if not isinstance(value, str):
        return _finite(value, expected)
    number, unit, fraction = _split(value, expected)
    if unit not in _MM_PER_UNIT:
        accepted = "mm, cm, in or oz" if ounces else "mm, cm or in"
        raise _refusal(value, expected, f'the unit "{unit}" is not one of {accepted}')
    if unit == "oz" and not ounces:
        raise _refusal(value, expected, "ounces are for leather's thickness only")
    if fraction and unit == "":
        raise _refusal(value, expected, "a fraction must carry its unit")
    if fraction and unit in ("mm", "cm"):
        raise _refusal(value, expected, f"write parts of a {unit} as decimals")
    if fraction == "alone" and unit == "oz":
        # Shops sell "7/8 oz" for leather of 7 to 8 oz: read as a fraction it would be 0.35 mm.
        raise _refusal(
            value, expected, "it could mean a range of weights or part of an ounce; give what you measured"
        )
    over, under = _MM_PER_UNIT[unit]
    mm = number * over / under
    if not math.isfinite(mm):
        raise _refusal(value, expected)
    return mm


def parse_angle(value: str | float) -> float:
    """Read an angle written in degrees.

    Args:
        value: text with ``deg`` or ``°``, or a bare number, which is degrees.

    Returns:
        The angle in radians, finite.

    Raises:
        UnitError: it cannot be read.

    Example:
        >>> parse_angle("180 deg")
        3.141592653589793
    """
    if not isinstance(value, str):
        return math.radians(_finite(value, AN_ANGLE))
    number, unit, fraction = _split(value, AN_ANGLE)
    if unit not in ("", "deg", "degree", "degrees", "°"):
        raise _refusal(value, AN_ANGLE, f'the unit "{unit}" is not deg')
    if fraction:
        raise _refusal(value, AN_ANGLE, "write parts of a degree as decimals")
    if not math.isfinite(number):
        raise _refusal(value, AN_ANGLE)
    return math.radians(number)


def format_length(mm: float, unit: Units = "mm", finest: int = 32) -> str:
    """Write a length for a person to read.

    Args:
        mm: the length in mm.
        unit: ``"mm"``: two decimals at most; ``"in"``: the nearest fraction, as on a ruler.
        finest: smallest part of an inch; below a quarter of an inch it is 1/64, below that a decimal.

    Example:
        >>> format_length(54.0), format_length(3.571875)
        ('54 mm', '3.57 mm')
        >>> format_length(44.45, "in"), format_length(50.0, "in"), format_length(3.6, "in")
        ('1 3/4 in', '1 31/32 in', '9/64 in')
    """
    if unit == "mm":
        return f"{trimmed(mm, 2)} mm"
    inches = mm / MM_PER_INCH
    if abs(inches) < _SMALL_INCHES:
        finest = max(finest, _FINEST_FRACTION)
    parts = round(abs(inches) * finest)
    if parts == 0:
        return f"{trimmed(inches, 3)} in"
    whole, rest = divmod(parts, finest)
    shared = math.gcd(rest, finest)
    fraction = f"{rest // shared}/{finest // shared}" if rest else ""
    text = " ".join(part for part in (str(whole) if whole else "", fraction) if part)
    return f"{'-' if inches < 0 else ''}{text} in"


def lengths_in(text: str, unit: Units) -> str:
    """Return a sentence with its lengths in mm given in another unit.

    Lengths of one sentence that differ stay different: the fractions get finer, and then decimals. A post
    keeps the size it is sold by, and what stands in brackets after inches stays in mm.

    Args:
        text: a sentence such as those of findings, its lengths written as ``12.5 mm`` or ``6 × 27 mm``.
        unit: ``"mm"`` returns it as it is.

    Example:
        >>> lengths_in("A strap of 40 mm is 2.8 to 4.0 mm thick, the 1/4 in (6.35 mm) post is short.", "in")
        'A strap of 1 9/16 in is 7/64 to 5/32 in thick, the 1/4 in (6.35 mm) post is short.'
        >>> lengths_in("It reaches 280.2 mm, more than 280 mm.", "in")
        'It reaches 11.031 in, more than 11.024 in.'
    """
    if unit == "mm":
        return text
    numbers = {float(one.replace("−", "-")) for run in _LENGTHS.findall(text) for one in _FIGURE.findall(run)}
    forms: list[Callable[[float], str]] = [
        lambda mm: format_length(mm, "in"),
        lambda mm: format_length(mm, "in", _FINEST_FRACTION),
        lambda mm: f"{trimmed(mm / MM_PER_INCH, 3)} in",
    ]
    form = next((form for form in forms if len({form(mm) for mm in numbers}) == len(numbers)), forms[-1])

    def converted(run: re.Match[str]) -> str:
        figures = _FIGURE.sub(lambda one: form(float(one[0].replace("−", "-"))).removesuffix(" in"), run[1])
        return f"{figures} in"

    return _LENGTHS.sub(converted, text)


def parse_number(text: str) -> float | None:
    """Read a plain number, its decimal point a point or a comma; None where it is none.

    A comma that may divide thousands is not read: ``1,050``.

    Example:
        >>> parse_number("12,50"), parse_number(".5"), parse_number("1,050"), parse_number("3.6 mm")
        (12.5, 0.5, None, None)
    """
    match = _PLAIN_NUMBER.fullmatch(text.strip())
    if match is None or _THOUSANDS.fullmatch(match[1]):
        return None
    return float(text.strip().replace(",", "."))


def divided_figures(text: str, example: str) -> list[str]:
    """Return each of several figures with commas or semicolons between.

    A comma between two digits is a decimal comma, unless the number before it has a decimal point.

    Args:
        text: as it was typed.
        example: of several figures, for the message.

    Raises:
        UnitError: it cannot be said which comma is which.

    Example:
        >>> divided_figures("98,1;98,0", "8;12"), divided_figures("98.1mm,98.0mm", "8;12")
        (['98,1', '98,0'], ['98.1mm', '98.0mm'])
    """
    figures = re.split(r";|(?<!\d),|,(?!\d)", re.sub(r"(\.\d+),", r"\1;", text))
    if any(len(re.findall(r"\d,", one)) > 1 for one in figures):
        raise UnitError(f'found "{text}", expected one figure, or several with semicolons: {example}')
    return figures


def beyond(value: float, limit: float, digits: int = 0) -> str:
    """Return a number with as many decimals as it takes to differ from a limit it has passed.

    Args:
        value: what was found.
        limit: what it has passed, as it stands in the same message.
        digits: fewest decimals.

    Example:
        >>> beyond(44.2, 40), beyond(40.2, 40), beyond(0.502, 0.5, 2)
        ('44', '40.2', '0.502')
    """
    while digits < _MOST_DIGITS and float(f"{value:.{digits}f}") == float(f"{limit:.{digits}f}"):
        digits += 1
    return f"{value:.{digits}f}"


def percent_beyond(share: float, limit: float) -> str:
    """Return a share in per cent, with as many decimals as it takes to differ from a limit it has passed.

    Example:
        >>> percent_beyond(0.404, 0.40), percent_beyond(0.44, 0.40), percent_beyond(0.00502, 0.005)
        ('40.4%', '44%', '0.502%')
    """
    digits = max(0, len(f"{limit * 100:.6g}".partition(".")[2]))
    return f"{beyond(share * 100, limit * 100, digits)}%"


def _refusal(value: object, expected: str, why: str = "") -> UnitError:
    return UnitError(f"found {quoted(value)}, expected {expected}" + (f"; {why}" if why else ""))


def _finite(value: object, expected: str) -> float:
    """Return a number as a finite float; truth values are no lengths, though Python counts them."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _refusal(value, expected)
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise _refusal(value, expected)
    return number


def _split(text: str, expected: str) -> tuple[float, str, str]:
    """Return number, unit, and the kind of fraction: none (``""``), ``"alone"`` or ``"mixed"``."""
    match = _NUMBER.fullmatch(_plain_signs(text))
    if match is None:
        raise _refusal(text, expected)
    sign = -1.0 if match["sign"] == "-" else 1.0
    unit = match["unit"].lower()
    if (decimal := match["decimal"]) is not None:
        number = decimal.replace(",", ".")
        if unit in ("", "mm") and _THOUSANDS.fullmatch(decimal):
            either = f"{decimal.replace(',', '')} or {number.rstrip('0').rstrip('.')}"
            raise _refusal(text, expected, f"the comma may divide thousands or decimals; write {either}")
        return sign * float(number), unit, ""
    over, under = match["over"] or match["only_over"], match["under"] or match["only_under"]
    # Longer runs of digits are no measurement, and would be slow or refused by int().
    if len(over) > 6 or len(under) > 6 or len(match["whole"] or "") > 6:
        raise _refusal(text, expected)
    if int(under) == 0:
        raise _refusal(text, expected, "a fraction cannot be over 0")
    if match["whole"] is None:
        return sign * int(over) / int(under), unit, "alone"
    if int(over) >= int(under):
        raise _refusal(text, expected, f"{over}/{under} after a whole number must be less than 1")
    return sign * (int(match["whole"]) + int(over) / int(under)), unit, "mixed"


def json_mm(value: float) -> float:
    """Return a length as JSON shows it: to a ten-thousandth of a millimetre, and no negative zero.

    Example:
        >>> json_mm(-0.00001), json_mm(12.34567)
        (0.0, 12.3457)
    """
    return round(value, 4) + 0.0


def _plain_signs(text: str) -> str:
    """Return the text with typographic minus signs and fractions written plainly."""
    out = []
    for char in text.strip():
        if char == "−":
            out.append("-")
        elif unicodedata.decomposition(char).startswith("<fraction>"):
            out.append(" " + unicodedata.normalize("NFKC", char).replace("⁄", "/"))
        else:
            out.append(char)
    return "".join(out).strip()


def trimmed(value: float, decimals: int) -> str:
    """Return a number to so many decimals, one or more, without needless noughts.

    Example:
        >>> trimmed(38.5, 3), trimmed(-0.0001, 3)
        ('38.5', '0')
    """
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
