"""SVG arcs against the example of the SVG recommendation and against svgpathtools.

Scalable Vector Graphics (SVG) 1.1, "Paths", section 8.3.8 "The elliptical arc curve commands", example
arcs01: a pie of three quarters and one of a quarter, radius 150. The lengths are exact arithmetic from its
path data; a browser measures 1006.958 and 535.653, its own flattening included.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from svgpathtools import Arc, parse_path
from tests.write.plans import batch_plan, small_plan

from strapwright.drawing.svg import path_data
from strapwright.geometry.contour import Contour
from strapwright.write.formats.svg import Svg
from strapwright.write.readers.svg import read_svg

THREE_QUARTERS = "M300,200 h-150 a150,150 0 1,0 150,-150 z"
QUARTER = "M275,175 v-150 a150,150 0 0,0 -150,150 z"


def example(*data: str) -> list[Contour]:
    """The example's paths as our reader takes them, in a frame 400 mm high."""
    body = "".join(f'<g><title>pie</title><path d="{one}"/></g>' for one in data)
    frame = 'width="1200mm" height="400mm" viewBox="0 0 1200 400"'
    text = f'<svg xmlns="http://www.w3.org/2000/svg" {frame}>{body}</svg>'
    return [path.contour for path in read_svg(text)]


def test_the_recommendations_example_has_the_lengths_it_must_have():
    three_quarters, quarter = example(THREE_QUARTERS, QUARTER)
    assert three_quarters.length == pytest.approx(300 + 225 * math.pi, abs=1e-9)
    assert three_quarters.length == pytest.approx(1006.8583, abs=5e-5)
    assert quarter.length == pytest.approx(300 + 75 * math.pi, abs=1e-9)
    assert quarter.length == pytest.approx(535.6194, abs=5e-5)


def test_it_lies_within_a_browsers_own_flattening():
    three_quarters, quarter = example(THREE_QUARTERS, QUARTER)
    assert three_quarters.length == pytest.approx(1006.958, abs=0.15)
    assert quarter.length == pytest.approx(535.653, abs=0.15)


def test_large_arc_and_sweep_flags_mean_what_they_say():
    three_quarters, quarter = example(THREE_QUARTERS, QUARTER)
    assert abs(three_quarters.area) == pytest.approx(0.75 * math.pi * 150**2)
    assert abs(quarter.area) == pytest.approx(0.25 * math.pi * 150**2)
    # The centre of the first pie is (300, 200) in the example's frame, where y runs down.
    assert three_quarters.bounding_box == pytest.approx((150, 50, 450, 350))
    assert quarter.bounding_box == pytest.approx((125, 225, 275, 375))


@pytest.mark.parametrize("data", [THREE_QUARTERS, QUARTER])
def test_our_writer_draws_the_example_again(data):
    [contour] = example(data)
    again = parse_path(path_data(contour, 400.0))
    original = parse_path(data)
    assert again.length() == pytest.approx(original.length(), rel=1e-9)
    points = [original.point(t) for t in np.linspace(0, 1, 41)]
    shifted = [(point.real, 400.0 - point.imag) for point in points]
    assert contour.distance_to(shifted).max() < 1e-7
    drawn = [again.point(t) for t in np.linspace(0, 1, 41)]
    assert contour.distance_to([(p.real, 400.0 - p.imag) for p in drawn]).max() < 1e-6


@pytest.mark.parametrize("made", [small_plan(), batch_plan()], ids=["small", "batch"])
def test_svgpathtools_measures_every_path_as_long_as_the_exact_contour(made):
    sheet = made.sheets[0]
    lengths = sorted(path.contour.length for path in sheet.paths)
    text = Svg().to_text(sheet, made)
    drawn = [parse_path(part.split('"', 1)[0]) for part in text.split(' d="')[1:]]
    assert sorted(path.length() for path in drawn) == pytest.approx(lengths, abs=2e-6)
    arcs = [segment for path in drawn for segment in path if isinstance(segment, Arc)]
    assert len(arcs) > 20
    assert max(abs(arc.delta) for arc in arcs) <= 120.0001


@pytest.mark.parametrize("made", [small_plan(), batch_plan()], ids=["small", "batch"])
def test_our_reader_sees_every_path_where_svgpathtools_sees_it(made):
    sheet = made.sheets[0]
    text = Svg().to_text(sheet, made)
    drawn = [parse_path(part.split('"', 1)[0]) for part in text.split(' d="')[1:]]
    for read, path in zip(read_svg(text), drawn, strict=True):
        points = np.array([segment.point(t) for segment in path for t in np.linspace(0, 1, 9)])
        seen = np.column_stack([points.real, sheet.height - points.imag])
        assert read.contour.distance_to(seen).max() < 1e-9
        assert read.contour.length == pytest.approx(path.length(), abs=1e-9)


def test_an_arc_too_short_in_its_radius_is_a_half_turn():
    # F.6.6 of the recommendation: such a radius is scaled up until the arc just reaches.
    [read] = example("M0,0A4.9999999,4.9999999 0 0 1 10,0")
    assert read.length == pytest.approx(5 * math.pi)
    assert read.bounding_box == pytest.approx((0, 400, 10, 405))


def test_a_half_turn_within_a_ten_thousandth_of_a_radian_is_not_snapped():
    # Written as one arc, svgpathtools would take it for exactly half a turn, 0.05 mm off at this radius.
    sweep = math.pi - 9e-5
    contour = Contour(
        np.array([(500.0, 0.0, math.tan(sweep / 4)), (500 * math.cos(sweep), 500 * math.sin(sweep), 0.0)])
    )
    drawn = parse_path(path_data(contour, 400.0))
    points = [drawn.point(t) for t in np.linspace(0, 1, 60)]
    assert contour.distance_to([(p.real, 400.0 - p.imag) for p in points]).max() < 1e-6
