"""SVG as it is written: true size, the bed's frame, one group an operation, arcs as arcs."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from tests.machine.layouts import DAY, layout, strap
from tests.write.plans import driven_laser, driven_plan, small_plan

from strapwright.drawing.svg import path_data
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line, rectangle, stadium
from strapwright.machine.planning import plan
from strapwright.machine.profile.machine import machine_from
from strapwright.parts.part import Operation
from strapwright.write.formats.svg import Svg
from strapwright.write.readers.svg import read_svg

SPACE = {"s": "http://www.w3.org/2000/svg"}


def written(made):
    return Svg().to_text(made.sheets[0], made)


def test_it_is_true_size_from_0_0_with_the_beds_back_edge_on_top():
    made = small_plan()
    root = ElementTree.fromstring(written(made))
    assert (root.get("width"), root.get("height")) == ("1000mm", "600mm")
    assert root.get("viewBox") == "0 0 1000 600"
    [first, *_] = [path for path in made.sheets[0].paths if path.operation is Operation.SCORE]
    x, y = first.contour.starts[0]
    drawn = root.find("s:g/s:path", SPACE).get("d")
    assert re.findall(r"[\d.]+", drawn)[:2] == [f"{x:g}", f"{600 - y:g}"]


def test_each_operation_has_a_group_named_after_its_layer_with_its_own_colour():
    root = ElementTree.fromstring(written(small_plan()))
    groups = {g.get("id"): g for g in root.findall("s:g", SPACE)}
    assert list(groups) == ["score", "punch", "cut"]
    assert [g.get("stroke") for g in groups.values()] == ["#E69F00", "#CC79A7", "#009E73"]
    assert {g.get("fill") for g in groups.values()} == {"none"}
    assert {g.get("stroke-width") for g in groups.values()} == {"0.1"}
    assert not root.findall("s:g/s:g", SPACE)


def test_every_line_is_solid():
    assert "dash" not in written(small_plan())


@pytest.mark.parametrize(("given", "width"), [("hairline", "0.01"), ("0.25 mm", "0.25"), (None, "0.1")])
def test_lines_are_as_wide_as_the_profile_says(given, width):
    made = driven_plan(driven_laser(**({} if given is None else {"svg_stroke": given})))
    root = ElementTree.fromstring(written(made))
    assert {g.get("stroke-width") for g in root.findall("s:g", SPACE)} == {width}


def test_every_path_is_there_once():
    made = small_plan()
    assert written(made).count("<path ") == len(made.sheets[0].paths)


def test_no_arc_sweeps_further_than_120_degrees():
    arcs = 0
    for data in re.findall(r' d="([^"]*)"', written(small_plan())):
        points = [complex(*map(float, p)) for p in re.findall(r"(-?[\d.]+),(-?[\d.]+)(?=[MLAZ]|$)", data)]
        words = re.findall(r"[MLA]", data)
        arcs += words.count("A")
        radii = [float(r) for r in re.findall(r"A([\d.]+),", data)]
        ends = [k for k, word in enumerate(words) if word == "A"]
        for k, radius in zip(ends, radii, strict=True):
            half = abs(points[k] - points[k - 1]) / 2 / radius
            assert 2 * math.degrees(math.asin(min(half, 1.0))) <= 120.0001
        assert " 1 0 " not in data
        assert " 1 1 " not in data
    assert arcs > 30


def test_a_half_turn_counter_clockwise_on_the_bed():
    assert path_data(Contour([(2, 0, 1), (-2, 0, 0)], closed=False), 9) == "M2,9A2,2 0 0 0 0,7A2,2 0 0 0 -2,9"


def test_a_closed_path_of_lines_leaves_its_last_line_to_z():
    assert path_data(rectangle(1, 2, 5, 4), 9) == "M1,7L5,7L5,5L1,5Z"


def test_an_open_line():
    assert path_data(line(0, 0, 12.3456789, 0), 9) == "M0,9L12.3456789,9"


@given(
    x=st.floats(-3000, 3000),
    y=st.floats(-3000, 3000),
    bulges=st.lists(
        st.one_of(st.just(0.0), st.floats(1e-7, 2.5), st.floats(-2.5, -1e-7)), min_size=3, max_size=6
    ),
)
@settings(max_examples=80, deadline=None)
def test_any_contour_reads_back_where_it_was(x, y, bulges):
    angles = np.linspace(0, 2 * np.pi, len(bulges), endpoint=False)
    contour = Contour(np.column_stack([x + 50 * np.cos(angles), y + 50 * np.sin(angles), bulges]))
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
        f'<g><title>cut</title><path d="{path_data(contour, 9)}"/></g></svg>'
    )
    [read] = read_svg(text)
    assert read.contour.distance_to(contour.sample(6)).max() < 2e-5
    assert contour.distance_to(read.contour.sample(6)).max() < 2e-5
    assert read.contour.closed


@pytest.mark.parametrize("sweep", [119.9, 120.0, 120.1, 150, 179.99999, 180, 180.00001, 200, 300, 359])
def test_arcs_near_a_half_turn_and_beyond_keep_their_shape(sweep):
    bulge = math.tan(math.radians(sweep) / 4)
    contour = Contour([(0, 0, bulge), (30, 5, 0)])
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
        f'<g><title>cut</title><path d="{path_data(contour, 9)}"/></g></svg>'
    )
    [read] = read_svg(text)
    # At 359 degrees the radius is over 100 times the chord, so rounding weighs more.
    assert read.contour.distance_to(contour.sample(16)).max() < (1e-6 if sweep < 350 else 2e-5)


def test_the_same_plan_gives_the_same_text():
    assert written(small_plan()) == written(small_plan())


def test_names_are_escaped_and_control_characters_left_out():
    text = written(small_plan('<Gürtel> & "秋" ]]> \x07 -- 🐎'))
    root = ElementTree.fromstring(text)
    assert root.find("s:title", SPACE).text == '<Gürtel> & "秋" ]]> -- 🐎'
    told = root.find("s:desc", SPACE).text.splitlines()
    assert told[0] == 'job: <Gürtel> & "秋" ]]> -- 🐎'
    assert told[2] == "machine: test laser, bed 1000 x 600 mm"
    assert (
        told[4] == "hide sits: as drawn, the hide file's 0, 0 at x 0.00, y 0.00 mm from the front left corner"
    )
    assert "unattended" in told[5]


def test_layer_names_with_quotes_and_blanks_are_ids_without_blanks():
    machine = machine_from(
        {
            "machine": {"name": "m", "kind": "laser", "bed": [1000, 600]},
            "kerf": [{"material": "vegetable", "thickness": 3.6, "width": 0.2, "measured": DAY}],
            "operation": {"cut": {"layer": "all 'cut' & through", "color": "#010203"}},
        },
        "m.toml",
    )
    made = plan(layout((strap(), 100, 100, 0)), machine)
    root = ElementTree.fromstring(written(made))
    assert "all-'cut'-&-through" in {g.get("id") for g in root.findall("s:g", SPACE)}
    assert {p.layer for p in read_svg(written(made))} == {
        machine.settings(p.operation).layer for p in made.sheets[0].paths
    }


def test_an_arc_that_hardly_rises_is_a_line():
    assert path_data(Contour([(0, 0, 1e-9), (40, 0, 0)], closed=False), 9) == "M0,9L40,9"


def test_a_slot_keeps_its_round_ends():
    assert path_data(stadium(0, 0, 20, 4), 9).count("A") == 4
