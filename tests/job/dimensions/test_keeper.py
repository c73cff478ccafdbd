"""The keeper between the layers: one stack for posts, girth and rows, and rows that close over it or stop."""

from __future__ import annotations

import math
import re

import pytest
from tests.job.test_draft import codes, drafted

from strapwright.core.errors import PartError
from strapwright.core.findings import Severity
from strapwright.job.spec.fittings import FastenerHoles, Keeper

LAPPED = {"width": 20, "join": "lap"}
FULL = LAPPED | {"thickness": 4}


def stop(one):
    return next(finding for finding in one.findings if finding.code == "keeper-thick")


def test_a_lapped_keeper_is_of_2_mm_leather_unless_it_says_otherwise():
    # common practice: 1.6 to 2.4 mm
    assert drafted(thickness=4.0, keeper=LAPPED).figures.layers.keeper == 2.0
    assert drafted(thickness=4.0, keeper=FULL).figures.layers.keeper == 4.0
    assert drafted(thickness=4.0, keeper={"width": 20}).figures.layers.keeper == 4.0
    assert drafted(thickness=1.4, keeper=LAPPED).figures.layers.keeper == 1.4
    assert "keeper-leather" in codes(drafted(thickness=4.0, keeper=LAPPED))
    assert "keeper-leather" not in codes(drafted(thickness=4.0, keeper=FULL))


@pytest.mark.parametrize(
    ("keeper", "stack"),
    [
        ({"width": 20}, 4.0),
        (LAPPED, 4.0),
        (FULL, 8.0),
        (FULL | {"skive": True}, 4.0),
        (FULL | {"held": "row_b", "thickness": 2.4}, 4.8),
    ],
)
def test_what_the_keeper_puts_between_the_layers_is_one_figure(keeper, stack):
    one = drafted(thickness=4.0, keeper=keeper, size={"girth": 950})
    got = one.figures
    assert got.layers.keeper_stack == pytest.approx(stack)
    assert got.seat.doubled == pytest.approx(4.0 + stack)
    assert {2 * closing.rise for closing in got.end.closings} == {stack}
    if got.end.keeper_held == "row_b":
        assert one.posts[1].stack == pytest.approx(8.0 + stack)


@pytest.mark.parametrize("thickness", [1.5, 2.4, 3.6, 4.0, 4.8])
@pytest.mark.parametrize("keeper", [{"width": 20}, LAPPED, LAPPED | {"skive": True}])
def test_usual_keepers_let_their_rows_close(thickness, keeper):
    assert "keeper-thick" not in codes(drafted(thickness=thickness, keeper=keeper))


@pytest.mark.parametrize("thickness", [2.4, 3.6, 4.0])
@pytest.mark.parametrize("keeper", [{"width": 20}, LAPPED])
def test_rows_of_small_rivets_stand_as_far_off_as_a_usual_keeper_needs_to_close(thickness, keeper):
    one = drafted(thickness=thickness, keeper=keeper, fastener="rivet")
    d = one.figures.end.posts[0].holes[0]
    pitch = one.figures.end.rows[1] - one.figures.end.rows[0]
    needed = max(closing.least_way for closing in one.figures.end.closings)
    assert "keeper-thick" not in codes(one)
    assert pitch == pytest.approx(max(20 + 3 + d, math.ceil(2 * (20 + 2 * needed) - 1e-9) / 2))


@pytest.mark.parametrize("held", ["between", "row_a", "row_b"])
def test_a_lapped_keeper_of_full_strap_thickness_is_a_stop_with_its_cures_in_order(held):
    found = stop(drafted(thickness=4.0, keeper=FULL | {"held": held}))
    assert found.severity is Severity.STOP
    assert "8.0 mm between the layers, its lap being 4.0 mm twice" in found.what
    cures = ("Skive the lap", "butt the join", "take keeper leather of", "or move the rows apart")
    places = [found.do.index(cure) for cure in cures]
    assert places == sorted(places)


@pytest.mark.parametrize("held", ["between", "row_a", "row_b"])
def test_each_cure_that_is_named_cures(held):
    keeper = FULL | {"held": held}
    found = stop(drafted(thickness=4.0, keeper=keeper))
    thin = float(re.search(r"leather of ([\d.]+) mm or less", found.do)[1])
    apart = float(re.search(r"spacing_along = ([\d.]+)\)", found.do)[1])
    for cured in (
        {"keeper": keeper | {"skive": True}},
        {"keeper": keeper | {"join": "butt"}},
        {"keeper": keeper | {"thickness": thin}},
        {"keeper": keeper, "fastener_holes": {"spacing_along": apart}},
    ):
        assert "keeper-thick" not in codes(drafted(thickness=4.0, **cured)), cured
    for short in (
        {"keeper": keeper | {"thickness": thin + 0.1}},
        {"keeper": keeper, "fastener_holes": {"spacing_along": apart - 0.6}},
    ):
        assert "keeper-thick" in codes(drafted(thickness=4.0, **short)), short


def test_a_sewn_end_has_no_rows_to_move():
    found = stop(drafted(thickness=4.0, keeper=FULL, fastener="stitched"))
    assert "move the rows" not in found.do
    assert "The seam ends 4.0 mm from its edge" in found.what


def test_a_sliding_keeper_lies_outside_the_layers_and_stops_nothing():
    one = drafted(thickness=4.0, keeper=FULL | {"held": "slides"})
    assert one.figures.end.closings == ()
    assert "keeper-thick" not in codes(one)


def test_rows_set_further_apart_keep_the_keeper_in_their_middle():
    end = drafted(keeper={"width": 20}, fastener_holes={"spacing_along": 36}).figures.end
    assert end.rows[1] - end.rows[0] == 36
    assert end.keeper_end - 10 == pytest.approx(sum(end.rows) / 2)
    assert end.mates[0] - end.mates[1] == pytest.approx(36)
    with pytest.raises(PartError, match=r"spacing_along is 24 mm; .* allow 28 mm or more"):
        drafted(keeper={"width": 20}, fastener_holes={"spacing_along": 24, "diameter": 5})


@pytest.mark.parametrize(
    ("table", "model", "wrong"),
    [
        ({"skive": True}, Keeper, 'found with join = "butt", expected only with join = "lap"'),
        ({"rows": 1, "spacing_along": 30}, FastenerHoles, "found with rows = 1, expected only with 2 rows"),
    ],
)
def test_what_goes_with_nothing_is_a_mistake(table, model, wrong):
    with pytest.raises(ValueError, match=wrong):
        model.model_validate(table)
