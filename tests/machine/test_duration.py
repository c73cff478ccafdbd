"""How long a sheet takes, against motion worked out by hand."""

from __future__ import annotations

import math
import re
from itertools import pairwise

import numpy as np
import pytest
from tests.machine.bed.test_order import path
from tests.machine.layouts import knife, laser, layout, plate, strap
from tests.write.plans import driven_knife

from strapwright.core.errors import PlanError
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line, rectangle, stadium
from strapwright.machine.duration import ACCELERATION, RAPID, SPEED, duration_of, moves_of, together
from strapwright.machine.planning import plan
from strapwright.machine.profile.machine import Machine, machine_from
from strapwright.parts.part import Operation
from strapwright.write.formats.format import FORMATS

PULL, QUICK, CUTTING = 1000.0, 200.0, 50.0


def machine(**cut: object) -> Machine:
    table = {"name": "timed", "kind": "laser", "bed": [1000, 600]}
    table |= {"rapid_mm_s": QUICK, "acceleration_mm_s2": PULL}
    operation = {"cut": {"layer": "cut", "color": "#009E73", "speed_mm_s": CUTTING} | cut}
    return machine_from({"machine": table, "operation": operation}, "timed.toml")


def cut(contour: Contour):
    return path("a", "outline", Operation.CUT, contour)


def from_rest(length: float, speed: float, pull: float) -> float:
    """Seconds from standstill to standstill: up to speed and down again, or half way and half way."""
    ramp = speed**2 / pull
    return 2 * speed / pull + (length - ramp) / speed if length >= ramp else 2 * math.sqrt(length / pull)


@pytest.mark.parametrize("length", [0.5, 2.5, 100.0])
def test_a_straight_cut_from_rest_to_rest(length):
    time = duration_of([cut(line(0, 0, length, 0))], machine())
    assert time.seconds[Operation.CUT] == pytest.approx(from_rest(length, CUTTING, PULL))
    assert time.lengths[Operation.CUT] == pytest.approx(length)
    assert time.travel_seconds == 0.0


def test_every_corner_is_stopped_at():
    time = duration_of([cut(rectangle(0, 0, 80, 20))], machine())
    sides = (80, 20, 80, 20)
    assert time.seconds[Operation.CUT] == pytest.approx(sum(from_rest(one, CUTTING, PULL) for one in sides))


def test_a_tight_curve_is_taken_slower_than_a_wide_one():
    # 1 mm of radius allows √(1000 · 1) = 31.6 mm/s: a whole turn from rest, at that speed at most.
    tight = duration_of([cut(Contour.circle(0, 0, 2))], machine())
    slow = math.sqrt(PULL * 1.0)
    assert tight.seconds[Operation.CUT] == pytest.approx(from_rest(2 * math.pi, slow, PULL))


def test_a_smooth_joint_is_run_through():
    slot = duration_of([cut(stadium(0, 0, 100, 20))], machine())
    # √(1000 · 10) = 100 mm/s is more than it cuts at, so the whole slot is one run from rest to rest.
    length = 160 + 20 * math.pi
    assert slot.seconds[Operation.CUT] == pytest.approx(from_rest(length, CUTTING, PULL))


@pytest.mark.parametrize("at", [0.5, 1.0, 1.8])
def test_a_joint_on_a_short_straight_changes_nothing(at):
    # Over 2 mm it never reaches its speed: one side of the joint gathers it, the other loses it.
    time = duration_of([cut(Contour.from_points([(0, 0), (at, 0), (2, 0)], closed=False))], machine())
    assert time.seconds[Operation.CUT] == pytest.approx(from_rest(2.0, CUTTING, PULL))


def test_the_motion_stays_within_speed_and_acceleration_when_stepped_through():
    # The same motion by small steps: a speed profile lowered forwards and backwards over a fine grid.
    contour = stadium(0, 0, 30, 3)
    found = duration_of([cut(contour)], machine()).seconds[Operation.CUT]
    steps = 40_000
    s = np.linspace(0, contour.length, steps + 1)
    reach = np.cumsum(contour.segment_lengths)
    most = np.minimum(CUTTING, np.sqrt(PULL * contour.radii))
    mid = np.searchsorted(reach, (s[1:] + s[:-1]) / 2).clip(max=len(contour) - 1)
    squared = np.empty(steps + 1)
    squared[:-1] = most[mid] ** 2
    squared[1:] = np.minimum(squared[1:], np.append(most[mid][1:] ** 2, 0))
    squared[0] = squared[-1] = 0.0
    ds = s[1] - s[0]
    for k in range(steps):
        squared[k + 1] = min(squared[k + 1], squared[k] + 2 * PULL * ds)
    for k in range(steps - 1, -1, -1):
        squared[k] = min(squared[k], squared[k + 1] + 2 * PULL * ds)
    speeds = np.sqrt(squared)
    assert found == pytest.approx(float((2 * ds / (speeds[1:] + speeds[:-1])).sum()), rel=1e-3)


def test_passes_count_and_open_paths_are_gone_back_to():
    time = duration_of([cut(line(0, 0, 100, 0))], machine(passes=3))
    assert time.seconds[Operation.CUT] == pytest.approx(3 * from_rest(100, CUTTING, PULL))
    assert time.travel == pytest.approx(200)
    assert time.travel_seconds == pytest.approx(2 * from_rest(100, QUICK, PULL))


def test_travel_is_timed_from_the_beds_corner():
    time = duration_of([cut(line(30, 40, 60, 40)), cut(line(60, 90, 60, 95))], machine())
    assert time.travel == pytest.approx(100)
    assert time.travel_seconds == pytest.approx(2 * from_rest(50, QUICK, PULL))
    assert time.total == pytest.approx(time.seconds[Operation.CUT] + time.travel_seconds)


def test_what_the_profile_does_not_give_is_assumed_and_told():
    time = duration_of([cut(line(0, 50, 100, 50))], laser())
    assert time.seconds[Operation.CUT] == pytest.approx(from_rest(100, SPEED, ACCELERATION))
    assert time.travel_seconds == pytest.approx(from_rest(50, RAPID, ACCELERATION))
    assert time.assumed == ("cut at 20 mm/s", "travel at 100 mm/s", "acceleration 500 mm/s²")
    assert duration_of([cut(line(0, 50, 100, 50))], machine()).assumed == ()


def test_sheets_add_up():
    one, two = (duration_of([cut(line(0, 0, long, 0))], knife()) for long in (30, 50))
    both = together([one, two])
    assert both.total == pytest.approx(one.total + two.total)
    assert both.lengths[Operation.CUT] == pytest.approx(80)
    assert both.assumed == one.assumed


def test_a_knifes_lead_ins_swivels_and_lifts_take_their_time():
    # No acceleration to speak of, so that time is way by speed: what the file travels, its Z moves included.
    swift = driven_knife().model_copy(update={"rapid_mm_s": 100.0, "acceleration_mm_s2": 1e9})
    made = plan(layout((plate(outline=rectangle(0, 0, 100, 60)), 300, 300, 0)), swift)
    (time,) = made.durations
    text = FORMATS["gcode"].to_text(made.sheets[0], made)
    feed, place, quick, slow = 0.0, np.zeros(3), 0.0, 0.0
    for text_line in text.splitlines():
        words = dict(re.findall(r"([A-Z])(-?[\d.]+)", re.sub(r"\(.*?\)", "", text_line)))
        feed = float(words.get("F", 60 * feed)) / 60
        if not {"X", "Y", "Z"} & words.keys():
            continue
        there = np.array([float(words.get(axis, old)) for axis, old in zip("XYZ", place, strict=True)])
        way = math.dist(there, place)
        if "I" in words:
            radius = math.hypot(float(words["I"]), float(words["J"]))
            way = 2 * radius * math.asin(min(1.0, way / 2 / radius))
            assert way < 3.0  # lead-in and swivels, less than a half turn each
        if words["G"] == "0":
            quick += way / 100.0
        else:
            slow += way / feed
        place = there
    assert time.total == pytest.approx(quick + slow, rel=0.01)
    assert time.total > 1.1 * duration_of(made.sheets[0].paths, made.machine).total
    assert time.lengths[Operation.CUT] == pytest.approx(320.0)


def test_a_sheet_whose_spindle_leaves_the_bed_is_still_reckoned():
    made = plan(layout((plate(outline=rectangle(0, 0, 100, 60)), 0.1, 300, 0)), driven_knife())
    with pytest.raises(PlanError, match="the spindle runs ahead"):
        FORMATS["gcode"].to_text(made.sheets[0], made)
    assert made.durations[0].total == duration_of(made.sheets[0].paths, made.machine).total


@pytest.mark.parametrize(
    "tool", [laser(), driven_knife(), driven_knife(passes=3)], ids=["laser", "knife", "passes"]
)
def test_moves_follow_each_other_without_a_gap_and_add_up_to_the_time(tool):
    made = plan(layout((strap(), 120, 60, 0), (plate(belt="bo"), 500, 200, 20)), tool)
    [sheet], [time] = made.sheets, made.durations
    moves = moves_of(sheet, made.machine)
    assert moves[0].begins == 0.0
    here = np.zeros(2)
    for before, after in pairwise(moves):
        assert after.begins == pytest.approx(before.ends)
    for move in moves:
        if move.track is not None:
            assert np.hypot(*(move.track.starts[0] - here)) < 1e-6
            here = move.track.ends[-1]
    assert moves[-1].ends == pytest.approx(time.total)
    assert sum(m.seconds for m in moves if m.run is None) == pytest.approx(time.travel_seconds)
    # Each path's runs stand together, in the order the paths are cut.
    order = dict.fromkeys(m.number for m in moves if m.number)
    assert list(order) == list(range(1, len(sheet.paths) + 1))
    assert all(
        m.run.path is sheet.paths[m.number - 1] for m in moves if m.run is not None and m.run.path is not None
    )
