from __future__ import annotations

import math

import pytest
from hypothesis import given, strategies as st

from strapwright.core.errors import UnitError
from strapwright.core.text import quoted
from strapwright.core.units import MM_PER_INCH, format_length, parse_angle, parse_length

LENGTH = 'a length such as "44 mm" or "1 3/4 in"'
THICKNESS = 'a thickness such as "3.6 mm" or "9 oz"'


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("54 mm", 54.0),
        ("54mm", 54.0),
        ("  54   MM ", 54.0),
        ("5.4 cm", 54.0),
        ("5,4 cm", 54.0),
        ("98,1mm", 98.1),
        ("1,375 in", 34.925),
        ("0,125 mm", 0.125),
        (",5 mm", 0.5),
        ("54", 54.0),
        (".5 mm", 0.5),
        ("1.75in", 44.45),
        ("1 3/4 in", 44.45),
        ("1-3/4 in", 44.45),
        ("1 ¾ in", 44.45),
        ("1¾ in", 44.45),
        ("½ in", 12.7),
        ("1/2 in", 12.7),
        ("5/4 inches", 31.75),
        ('2"', 50.8),
        ("2 1/8″", 53.975),
        ("-3 mm", -3.0),
        ("−3 mm", -3.0),  # a typographic minus
        ("-1 1/2 in", -38.1),
        ("0", 0.0),
        (54, 54.0),
        (54.5, 54.5),
    ],
)
def test_lengths_are_read_as_people_write_them(text: str | float, mm: float) -> None:
    assert parse_length(text) == mm


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("abc", f'found "abc", expected {LENGTH}'),
        ("", f'found "", expected {LENGTH}'),
        ("mm", f'found "mm", expected {LENGTH}'),
        (
            "54 furlongs",
            f'found "54 furlongs", expected {LENGTH}; the unit "furlongs" is not one of mm, cm or in',
        ),
        ("9 oz", f'found "9 oz", expected {LENGTH}; ounces are for leather\'s thickness only'),
        ("1/2", f'found "1/2", expected {LENGTH}; a fraction must carry its unit'),
        ("1/2 mm", f'found "1/2 mm", expected {LENGTH}; write parts of a mm as decimals'),
        ("1 3/0 in", f'found "1 3/0 in", expected {LENGTH}; a fraction cannot be over 0'),
        ("1 5/4 in", f'found "1 5/4 in", expected {LENGTH}; 5/4 after a whole number must be less than 1'),
        (
            "1,050 mm",
            (
                f'found "1,050 mm", expected {LENGTH}; the comma may divide thousands '
                "or decimals; write 1050 or 1.05"
            ),
        ),
        ("5,4,1 cm", f'found "5,4,1 cm", expected {LENGTH}'),
        ("5, mm", f'found "5, mm", expected {LENGTH}'),
        ("1 2 mm", f'found "1 2 mm", expected {LENGTH}'),
        ("54 mm 2", f'found "54 mm 2", expected {LENGTH}'),
        ("nan", f'found "nan", expected {LENGTH}'),
        ("1e400 mm", f'found "1e400 mm", expected {LENGTH}'),
        ("٥٤ mm", f'found "٥٤ mm", expected {LENGTH}'),
        ("54 mm\x00", f'found "54 mm\\x00", expected {LENGTH}'),
        (math.nan, f"found nan, expected {LENGTH}"),
        (math.inf, f"found inf, expected {LENGTH}"),
        (10**400, f"found a huge number, expected {LENGTH}"),
        ("9" * 500, f'found "{"9" * 57}…", expected {LENGTH}'),
        ("1/" + "9" * 9000 + " in", f'found "1/{"9" * 55}…", expected {LENGTH}'),
        (True, f"found true, expected {LENGTH}"),
        (None, f"found nothing, expected {LENGTH}"),
        ([54], f"found a list, expected {LENGTH}"),
    ],
)
def test_what_is_no_length_is_refused_in_one_line(value: object, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_length(value)  # type: ignore[arg-type]
    assert str(caught.value) == message


def test_ounces_are_read_for_thicknesses() -> None:
    assert parse_length("9 oz", ounces=True) == 3.571875
    assert parse_length("8 1/2 oz", ounces=True) == 3.3734375


def test_a_lone_fraction_of_ounces_is_refused_because_shops_mean_a_range_by_it() -> None:
    with pytest.raises(UnitError) as caught:
        parse_length("7/8 oz", ounces=True)
    assert str(caught.value) == (
        f'found "7/8 oz", expected {THICKNESS}; it could mean a range of weights or part of an ounce; '
        "give what you measured"
    )


def test_degrees_become_radians() -> None:
    for value in ("90 deg", "90°", "90 degrees", "90", 90, 90.0):
        assert parse_angle(value) == pytest.approx(math.pi / 2)
    assert parse_angle("-45 deg") == pytest.approx(-math.pi / 4)


@pytest.mark.parametrize("value", ["90 rad", "1/2 deg", "right", True, math.nan])
def test_what_is_no_angle_is_refused(value: object) -> None:
    with pytest.raises(UnitError, match='expected an angle such as "90 deg"'):
        parse_angle(value)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("mm", "as_mm", "as_inches"),
    [
        (54.0, "54 mm", "2 1/8 in"),
        (44.45, "44.45 mm", "1 3/4 in"),
        (25.4, "25.4 mm", "1 in"),
        (12.7, "12.7 mm", "1/2 in"),
        (-12.7, "-12.7 mm", "-1/2 in"),
        (0.0, "0 mm", "0 in"),
        (-0.001, "0 mm", "0 in"),
        (1000.0, "1000 mm", "39 3/8 in"),
        (3.6, "3.6 mm", "9/64 in"),  # below a quarter of an inch by the 64th, as leather is sold
        (1.0, "1 mm", "3/64 in"),
        (0.1, "0.1 mm", "0.004 in"),
    ],
)
def test_lengths_are_shown_as_a_ruler_has_them(mm: float, as_mm: str, as_inches: str) -> None:
    assert format_length(mm) == as_mm
    assert format_length(mm, "in") == as_inches


@given(st.floats(-10_000, 10_000))
def test_what_is_shown_reads_back_within_its_rounding(mm: float) -> None:
    assert parse_length(format_length(mm)) == pytest.approx(mm, abs=0.00501)
    assert parse_length(format_length(mm, "in")) == pytest.approx(mm, abs=MM_PER_INCH / 64 + 1e-6)


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused_in_one_line(text: str) -> None:
    try:
        mm = parse_length(text, ounces=True)
    except UnitError as error:
        refusal = str(error)
    else:
        refusal = ""
        assert math.isfinite(mm)
    assert len(refusal.splitlines()) <= 1


@given(st.one_of(st.text(max_size=200), st.integers(), st.floats(), st.booleans(), st.none()))
def test_a_found_value_is_shown_on_one_short_line(value: object) -> None:
    assert len(quoted(value).splitlines()) == 1
    assert quoted(value).isprintable()
