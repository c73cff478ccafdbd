"""HP-GL as it is written: few instructions, whole units, a pen an operation; and what its reader refuses."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from tests.write.plans import batch_plan, driven_knife, driven_laser, driven_plan
from tests.write.rounding_plotter import apart, plotted

from strapwright.core.errors import PlanError, ProofError
from strapwright.core.tolerances import HPGL_CHORD, HPGL_VERTEX
from strapwright.geometry.contour import Contour
from strapwright.machine.profile.machine import Axes, machine_from
from strapwright.machine.profile.machine_keys import Limits
from strapwright.machine.toolpath.runs import tool_runs
from strapwright.parts.part import Operation
from strapwright.write.cut_files import write_plan
from strapwright.write.formats.drive import in_machine
from strapwright.write.formats.hpgl import UNIT, Hpgl, _drawn
from strapwright.write.proof.read_back import prove
from strapwright.write.readers.hpgl import read_hpgl


def text_of(made) -> str:
    return Hpgl().to_text(made.sheets[0], made)


def test_only_plain_instructions_are_used_and_places_are_whole_units():
    text = text_of(driven_plan(driven_knife()))
    lines = [line for line in text.splitlines() if not line.startswith("CO")]
    words = {word for line in lines for word in re.findall(r"[A-Z]{2}", line)}
    assert words == {"IN", "PA", "PU", "PD", "SP", "VS", "AA"}
    for line in lines:
        if line.startswith(("PU", "PA")) and "," in line:
            assert re.fullmatch(r"P[UA]-?\d+(?:,-?\d+)+;", line)
        if line.startswith("AA"):
            assert re.fullmatch(r"AA-?\d+,-?\d+,-?[\d.]+,[\d.]+;", line)


def test_the_outline_check_goes_round_the_job_with_the_pen_up():
    for machine in (driven_laser(), driven_knife()):
        made = driven_plan(machine)
        text = write_plan(made, ["hpgl"], "a").texts["a-outline.plt"]
        assert read_hpgl(text, machine.axes) == []
        assert "PD" not in [line[:2] for line in text.splitlines()]
        corners = [tuple(map(int, xy)) for xy in re.findall(r"^PU(-?\d+),(-?\d+);", text, flags=re.M)]
        assert len(corners) == 5
        assert corners[0] == corners[-1]
        boxes = [run.track.bounding_box for run in tool_runs(made.sheets[0], machine)]
        x, y = machine.axes.of(min(box[0] for box in boxes), min(box[1] for box in boxes))
        assert corners[0] == (round(x / 0.025), round(y / 0.025))


def test_every_operation_has_its_pen_and_its_velocity():
    machine = driven_knife()
    text = text_of(driven_plan(machine))
    for operation in Operation:
        pen, velocity = machine.settings(operation).pen, machine.settings(operation).velocity
        assert f"PU;SP{pen};VS{velocity:g};" in text
    assert "VS" not in text_of(driven_plan())


def test_arcs_are_no_longer_than_a_quarter_turn_and_name_a_chord_angle():
    arcs = re.findall(r"^AA[-\d]+,[-\d]+,([-\d.]+),([\d.]+);", text_of(driven_plan()), flags=re.M)
    assert len(arcs) > 100
    for sweep, chord in arcs:
        assert 0 < abs(float(sweep)) <= 90
        assert 0.5 <= float(chord) <= 180 or float(chord) == pytest.approx(abs(float(sweep)), abs=1e-4)


@pytest.mark.parametrize("machine", [driven_laser, driven_knife], ids=["laser", "knife"])
@pytest.mark.parametrize("origin", ["front_left", "back_right", "front_right"])
def test_it_reads_back_within_the_grids_bounds_in_the_machines_own_frame(machine, origin):
    made = driven_plan(
        machine(origin=origin) if machine is driven_laser else machine(machine={"origin": origin})
    )
    proof = prove(text_of(made), "hpgl", made.sheets[0], made)
    assert 1e-3 < proof.greatest_deviation_mm <= 0.018


def test_a_moved_vertex_fails():
    made = driven_plan()
    text = text_of(made)
    moved = re.sub(r"PU(\d+),", lambda m: f"PU{int(m[1]) + 3},", text, count=1)
    assert moved != text
    with pytest.raises(ProofError, match=r"fold line of ada/strap is [\d.]+ mm off, more than 0\.018 mm"):
        prove(moved, "hpgl", made.sheets[0], made)


BAD = {
    "cut short": ("IN;\nPA;\nPU;", "cut short"),
    "another instruction": ("IN;\nPA;\nCI40;\nSP0;\n", "holds CI"),
    "the pen left down": ("IN;\nPA;\nSP1;\nPU0,0;\nPD;\nPA9,9;\nSP0;\n", "ends with the pen down"),
    "going nowhere": ("IN;\nPA;\nSP1;\nPU0,0;\nPD;\nPA0,0;\nPU;\nSP0;\n", "goes nowhere"),
    "no numbers": ("IN;\nPA;\nSP1;\nPU0,0;\nPD;\nAAx;\nPU;\nSP0;\n", "cannot be drawn"),
    "no number at all": (
        "IN;\nPA;\nSP1;\nPU0,0;\nPD;\nPA9,nan;\nPU;\nSP0;\n",
        "cannot be drawn: found PA9,nan",
    ),
    "an arc without its angle": ("IN;\nPA;\nSP1;\nPU0,0;\nPD;\nAA9,9;\nPU;\nSP0;\n", "found AA9,9"),
    "two places in one": ("IN;\nPA;\nSP1;\nPU0,0;\nPD;\nPA9,9,8,8;\nPU;\nSP0;\n", "found PA9,9,8,8"),
}


def test_a_pen_that_goes_down_and_draws_nothing_makes_no_run():
    assert read_hpgl("IN;\nPA;\nSP1;\nPU9,9;\nPD;\nPU;\nSP0;\n", Axes(0.0, 0.0, 1, 1)) == []


@pytest.mark.parametrize("case", BAD)
def test_what_is_not_ours_is_refused(case):
    text, why = BAD[case]
    with pytest.raises(ProofError, match=why):
        read_hpgl(text, Axes(0.0, 0.0, 1, 1))


@pytest.mark.parametrize("kind", ["laser", "knife", "knife that allows for its blade"])
@pytest.mark.parametrize("origin", ["front_left", "back_right", "front_right"])
def test_a_plotter_that_rounds_where_each_chord_ends_stays_within_three_hundredths(kind, origin):
    table = {"bed": [1500, 800], "origin": origin}
    mode = "exact" if kind == "knife" else "plain"
    machine = driven_laser(**table) if kind == "laser" else driven_knife(machine=table, mode=mode)
    worst = 0.0
    for made in (batch_plan(8, machine), driven_plan(machine)):
        [sheet] = made.sheets
        runs = tool_runs(sheet, machine)
        drawn = plotted(text_of(made))
        assert len(drawn) == len(runs)
        for points, run in zip(drawn, runs, strict=True):
            worst = max(worst, apart(points, in_machine(run.track, machine.axes)))
    assert 0.0125 < worst <= 0.03


@pytest.mark.parametrize(
    ("radius", "sweep"),
    [
        *((radius, sweep) for radius in (0.3, 1.0, 8.0, 60.0, 500.0) for sweep in (12.0, -40.0, 179.0)),
        *((radius, sweep) for radius in (944.0, 946.0, 4000.0) for sweep in (0.2, 3.0, -20.0)),
        (60_000.0, 0.2),
    ],
)
def test_arcs_of_any_size_are_drawn_true_by_plotters_that_round_and_those_that_do_not(radius, sweep):
    bulge = math.tan(math.radians(sweep) / 4)
    chord = 2 * radius * math.sin(math.radians(abs(sweep)) / 2)
    x, y = 300.0123, 200.0077
    track = Contour([(x, y, 0), (x + 3, y + 1, bulge), (x + 3 + chord, y + 1, 0)], closed=False)
    words = "\n".join(_drawn([track], 1_000_000)[0])
    [read] = read_hpgl(f"IN;\nPA;\nSP1;\n{words}\nSP0;\n", Axes(0.0, 0.0, 1, 1))
    assert track.distance_to(read.contour.vertices[:, :2]).max() <= HPGL_VERTEX
    assert read.contour.distance_to(track.sample(8)).max() <= HPGL_VERTEX + HPGL_CHORD
    [points] = plotted(words)
    assert apart(points, track) <= 0.03


@pytest.mark.parametrize("radius", [0.25, 0.3, 0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 20.0])
def test_holes_wherever_they_lie_are_drawn_true_by_both_kinds_of_plotters(radius):
    places = np.random.default_rng(7).uniform(0.0, 400.0, (60, 2))
    tracks = [Contour.circle(x, y, radius) for x, y in places]
    words = ["\n".join(run) for run in _drawn(tracks, 1_000_000)]
    read = read_hpgl("\n".join(["IN;", "PA;", "SP1;", *words, "SP0;", ""]), Axes(0.0, 0.0, 1, 1))
    for track, run, points in zip(tracks, read, plotted("\n".join(words)), strict=True):
        assert track.distance_to(run.contour.vertices[:, :2]).max() <= HPGL_VERTEX
        assert run.contour.distance_to(track.sample(8)).max() <= HPGL_VERTEX + HPGL_CHORD
        assert apart(points, track) <= 0.03


def test_coordinates_beyond_a_plotters_range_are_refused_with_the_limit():
    machine = driven_laser().model_copy(update={"limits": Limits(hpgl_units=12_000)})
    with pytest.raises(PlanError) as caught:
        text_of(driven_plan(machine))
    for line in str(caught.value).splitlines():
        assert re.fullmatch(
            r"Marrow side: \w+/\w+ reaches [\d.]+ mm from the machine's zero, \d+ plotter units; "
            r"'driven laser' takes 12000 in HP-GL, 300\.0 mm; lay the hide nearer to the zero, or set "
            r"limits\.hpgl_units to what its manual says",
            line,
        )
    with pytest.raises(ProofError, match=r"goes to \d+ plotter units; the machine takes 12000"):
        Hpgl().read_back(text_of(driven_plan()), machine)


def test_centres_of_arcs_stay_within_a_plotters_range_too():
    """A tip's wide arc near the far edge has its centre far beyond what is drawn."""
    furthest = max(
        abs(float(value))
        for run in tool_runs(driven_plan().sheets[0], driven_laser())
        for value in run.track.bounding_box
    )
    machine = driven_laser().model_copy(update={"limits": Limits(hpgl_units=math.ceil(furthest / UNIT))})
    made = driven_plan(machine)
    places = re.findall(r"^(?:PU|PA|AA)(-?\d+),(-?\d+)", text_of(made), flags=re.M)
    assert max(abs(int(value)) for place in places for value in place) <= machine.limits.hpgl_units
    prove(text_of(made), "hpgl", made.sheets[0], made)


def test_a_profile_that_says_no_range_has_the_usual_one():
    table = {"name": "m", "kind": "laser", "bed": [600, 400]}
    assert machine_from({"machine": table}, "m.toml").limits.hpgl_units == 32_767
