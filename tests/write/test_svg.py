"""SVG as it is written: true size, the bed's frame, one group an operation, arcs as arcs."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.machine.layouts import DAY, layout, strap
from tests.write.plans import small_plan

from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line, rectangle, stadium
from strapwright.machine.plan import plan
from strapwright.machine.profile import machine_from
from strapwright.write.svg import Svg, path_data
from strapwright.write.svg_reader import read_svg

SPACE = {"s": "http://www.w3.org/2000/svg"}


def written(made):
    return Svg().to_text(made.sheets[0], made)


def test_it_is_true_size_with_y_up_on_the_bed():
    root = ElementTree.fromstring(written(small_plan()))
    assert (root.get("width"), root.get("height")) == ("1000mm", "600mm")
    assert root.get("viewBox") == "0 -600 1000 600"


def test_each_operation_has_a_group_named_after_its_layer_with_its_own_colour_and_dashes():
    root = ElementTree.fromstring(written(small_plan()))
    groups = {g.get("id"): g for g in root.findall("s:g", SPACE)}
    assert list(groups) == ["score", "punch", "cut"]
    assert [g.get("stroke") for g in groups.values()] == ["#E69F00", "#CC79A7", "#009E73"]
    assert len({g.get("stroke-dasharray") for g in groups.values()}) == 3
    assert {g.get("fill") for g in groups.values()} == {"none"}
    assert {g.get("stroke-width") for g in groups.values()} == {"0.1"}
    inner = groups["punch"].findall("s:g", SPACE)
    assert [(g.get("id"), g.find("s:title", SPACE).text) for g in inner] == [("punch-4.5-mm", "punch 4.5 mm")]


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
    assert path_data(Contour([(2, 0, 1), (-2, 0, 0)], closed=False)) == "M2,0A2,2 0 0 0 0,-2A2,2 0 0 0 -2,0"


def test_a_closed_path_of_lines_leaves_its_last_line_to_z():
    assert path_data(rectangle(1, 2, 5, 4)) == "M1,-2L5,-2L5,-4L1,-4Z"


def test_an_open_line():
    assert path_data(line(0, 0, 12.3456789, 0)) == "M0,0L12.3456789,0"


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
        '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 -9 9 9">'
        f'<g><title>cut</title><path d="{path_data(contour)}"/></g></svg>'
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
        '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 -9 9 9">'
        f'<g><title>cut</title><path d="{path_data(contour)}"/></g></svg>'
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
        told[4] == "hide lies: as drawn, the hide file's 0, 0 at x 0.00, y 0.00 mm from the front left corner"
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
    assert {p.layer for p in read_svg(written(made))} == {p.layer for p in made.sheets[0].paths}


def test_an_arc_that_hardly_rises_is_a_line():
    assert path_data(Contour([(0, 0, 1e-9), (40, 0, 0)], closed=False)) == "M0,0L40,0"


def test_a_slot_keeps_its_round_ends():
    assert path_data(stadium(0, 0, 20, 4)).count("A") == 4
