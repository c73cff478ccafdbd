"""The simulated blade follows every tip, slot and hole within 0.02 mm, driven by the written text alone."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.machine.layouts import layout, plate
from tests.write.plans import driven_knife, driven_plan

from strapwright.core.errors import ProofError
from strapwright.core.tolerances import BLADE
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import chain, filleted, line, rectangle, stadium
from strapwright.machine.planning import plan
from strapwright.machine.test_pieces.coupon import coupon
from strapwright.machine.toolpath.runs import START_HEADING, tool_runs
from strapwright.machine.toolpath.spindle_track import opened, spindle_track
from strapwright.parts.part import Feature, Operation
from strapwright.parts.tips import TIPS
from strapwright.rules.leather import Tannage
from strapwright.write.formats.format import FORMATS
from strapwright.write.proof.blade import blade_deviation
from strapwright.write.proof.blade_simulation import follow_each
from strapwright.write.proof.read_back import prove

OFFSETS = [0.3, 0.6, 1.0, 1.5]
DRIVING = [name for name, form in FORMATS.items() if form.drives]


def tipped(tip, width: float = 36.0):
    """A short strap that ends in a tip, with a slot and holes down to the least radius."""
    made = TIPS[tip](width)
    vertices = [(x, y, b) for x, y, b in made.vertices()]
    outline = chain([(-160, -width / 2, 0.0), *vertices, (-160, width / 2, 0.0)])
    return plate(
        Feature("prong slot", Operation.CUT, stadium(-140, 0, 24, 5)),
        Feature("square slot", Operation.CUT, rectangle(-128, 8, -120, 14)),
        Feature("narrow slot", Operation.CUT, stadium(-140, 10, 12, 3.0)),
        *(
            Feature("adjusting hole", Operation.CUT, Contour.circle(-115 + 12 * n, 0, diameter))
            for n, diameter in enumerate((3.0, 3.5, 5.0, 8.0))
        ),
        outline=outline,
    )


@pytest.mark.parametrize("offset", OFFSETS)
@pytest.mark.parametrize("tip", TIPS)
def test_the_blade_follows_every_tip_slot_and_hole(tip, offset):
    turn = (0.0, 37.3, 211.0)[([*TIPS].index(tip) + OFFSETS.index(offset)) % 3]  # each tip in all three
    made = plan(layout((tipped(tip), 500, 300, turn)), driven_knife(offset))
    sheet = made.sheets[0]
    assert sum(path.operation is Operation.CUT for path in sheet.paths) == 8
    for name in DRIVING:
        proof = prove(FORMATS[name].to_text(sheet, made), name, sheet, made)
        assert 0 < proof.blade_deviation_mm <= (0.005 if name == "gcode" else BLADE)


@pytest.mark.parametrize("name", DRIVING)
def test_a_wrong_offset_is_found(name):
    # A blade that trails 0.05 mm more than the profile says, at a sharp tip.
    spear = filleted([(0, -18), (60, 0), (0, 18)], [0, 0, 0])
    made = plan(layout((plate(outline=spear), 300, 300, 0)), driven_knife(0.60))
    text = FORMATS[name].to_text(made.sheets[0], made)
    prove(text, name, made.sheets[0], made)
    wrong = plan(layout((plate(outline=spear), 300, 300, 0)), driven_knife(0.65))
    with pytest.raises(ProofError, match=r"does not read back as planned|simulated blade"):
        prove(text, name, wrong.sheets[0], wrong)


def read_of(made, name: str = "gcode"):
    """The runs of a file, and the plan's own beside them."""
    sheet = made.sheets[0]
    text = FORMATS[name].to_text(sheet, made)
    return FORMATS[name].read_back(text, made.machine), tool_runs(sheet, made.machine)


def one_hole(diameter: float = 8.0, **blade):
    """A plate with a hole, and what its file holds: stroke, lead-in and hole, lead-in and outline."""
    part = plate(Feature("hole", Operation.CUT, Contour.circle(50, 30, diameter)))
    made = plan(layout((part, 300, 300, 30)), driven_knife(**blade))
    read, runs = read_of(made)
    assert [run.turns for run in runs if not run.passes_done][:3] == [True, True, False]
    return made, read, runs


def deviation(read, made) -> float:
    return blade_deviation(read, made.sheets[0], made.machine, "gcode")


def test_the_plain_path_would_leave_the_contour():
    made, read, runs = one_hole()
    assert deviation(read, made) < 0.001
    read[2] = replace(read[2], contour=opened(runs[2].path.contour, 0, 1.0))
    with pytest.raises(ProofError, match=r"a simulated blade is [\d.]+ mm off|turns \d+° further at depth"):
        deviation(read, made)


@pytest.mark.parametrize("name", DRIVING)
@pytest.mark.parametrize("offset", OFFSETS)
@pytest.mark.parametrize("tip", TIPS)
def test_at_depth_the_blade_never_turns_tighter_than_its_least_radius(tip, offset, name):
    # Measured on the simulated blade itself: from any place to any other 20° or more further round, the tip
    # has gone at least as far as a curve of the least radius, 1.5 mm, would take it.
    made = plan(layout((tipped(tip), 500, 300, 37.3)), driven_knife(offset, passes=2))
    read, _ = read_of(made, name)
    traces = follow_each([one.contour for one in read], START_HEADING, offset)
    tightest, shallow = math.inf, 0
    for one, trace in zip(read, traces, strict=True):
        if one.depth <= 0.5 + 1e-9:
            shallow += 1
            continue
        way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(trace.points, axis=0).T))])
        turned = np.concatenate([[0.0], np.cumsum(np.remainder(np.diff(trace.headings) + 3, 2 * np.pi) - 3)])
        turns = np.abs(turned[None, :] - turned[:, None])
        ways = np.abs(way[None, :] - way[:, None])
        far = turns > math.radians(20)
        if far.any():
            tightest = min(tightest, float((ways[far] / turns[far]).min()))
    assert shallow > 8
    assert 1.4 < tightest < 1.8  # the holes and the slot of 1.5 mm themselves


@pytest.mark.parametrize("name", DRIVING)
def test_a_machine_that_allows_for_the_blade_itself_is_not_simulated(name):
    made = driven_plan(driven_knife(mode="plain"))
    text = FORMATS[name].to_text(made.sheets[0], made)
    assert prove(text, name, made.sheets[0], made).blade_deviation_mm is None


def driven_along(made, runs, which: int, tip: Contour, depth: float):
    """A run of a file that takes the tip along a way of our own, from the heading the blade comes with."""
    before = follow_each([run.track for run in runs[:which]], START_HEADING, 0.6)[-1].heading
    return replace(
        read_of(made)[0][which], contour=spindle_track(tip, before, 0.6, 0.05).contour, depth=depth
    )


@pytest.mark.parametrize("radius", [0.3, 0.6, 1.2])
def test_a_lead_in_tighter_than_the_least_radius_is_refused_at_depth_and_taken_shallow(radius):
    # Once round in the waste inside the hole, to where its cut begins.
    made, read, runs = one_hole()
    cut = follow_each([run.track for run in runs], START_HEADING, 0.6)[2]
    (x, y), heading = cut.points[0], cut.headings[0]
    left = 1 if cut.headings[-1] > heading else -1
    half = (x - 2 * left * radius * math.sin(heading), y + 2 * left * radius * math.cos(heading))
    circle = Contour(np.array([(x, y, left), (*half, left), (x, y, 0.0)]), closed=False)
    read[1] = driven_along(made, runs, 1, circle, 0.5)
    assert deviation(read, made) < 0.001
    read[1] = replace(read[1], depth=4.2)
    with pytest.raises(ProofError, match=r"on hole of odd/strap the blade turns \d+° further at depth"):
        deviation(read, made)


def test_a_corner_turned_at_depth_is_refused():
    made = plan(layout((plate(outline=rectangle(0, 0, 100, 60)), 300, 300, 0)), driven_knife())
    read, runs = read_of(made)
    assert deviation(read, made) < 0.001
    corners = [k for k, run in enumerate(runs) if run.turns and runs[k - 1].path is run.path]
    assert len(corners) == 4
    for k in corners:
        deep = [*read]
        deep[k] = replace(read[k], depth=4.2)
        with pytest.raises(ProofError, match=r"the blade turns \d+° further at depth"):
            deviation(deep, made)


def test_a_lead_in_across_a_part_is_found():
    made, read, runs = one_hole()
    contour = runs[4].path.contour
    x, y = contour.starts[0]
    inside = contour.point_at(contour.length / 2)
    tip = Contour.from_points([(x, y), inside], closed=False)
    read[3] = driven_along(made, runs, 3, tip, 0.5)
    with pytest.raises(ProofError, match="the lead-in of outline of odd/strap cuts into a part"):
        deviation(read, made)


def test_a_lead_in_out_of_a_hole_is_found():
    made, read, runs = one_hole()
    x, y = runs[2].path.contour.starts[0]
    read[1] = driven_along(made, runs, 1, line(x, y - 8, x, y), 0.5)
    with pytest.raises(ProofError, match="the lead-in of hole of odd/strap cuts into a part"):
        deviation(read, made)


def test_an_uncut_stretch_is_found():
    made, read, _ = one_hole(overcut=0.0)
    last = read[-1].contour
    read[-1] = replace(read[-1], contour=Contour(last.vertices[:-1], closed=False))
    with pytest.raises(ProofError, match=r"a simulated blade is [\d.]+ mm off outline"):
        deviation(read, made)


@pytest.mark.parametrize("further", [0.1, 0.5])
def test_a_cut_that_runs_on_past_a_corner_is_found(further):
    made = plan(layout((plate(outline=rectangle(0, 0, 100, 60)), 300, 300, 0)), driven_knife(overcut=0.0))
    read, runs = read_of(made)
    assert [run.turns for run in runs[1:4]] == [False, True, False]
    edge = read[3].contour.vertices  # to (400, 360); straight on there is no turn, and nothing is left uncut
    on = np.add(edge, [(0.0, 0.0, 0.0), (0.0, further, 0.0)])
    assert deviation(read, made) < 0.001
    read[3] = replace(read[3], contour=Contour(on, closed=False))
    with pytest.raises(ProofError, match=rf"a simulated blade is {further} mm off outline of odd/strap"):
        deviation(read, made)


@pytest.mark.parametrize("passes", [1, 2, 3])
def test_every_pass_is_measured_by_itself(passes):
    made, read, runs = one_hole(passes=passes)
    holes = [
        k for k, run in enumerate(runs) if run.path is not None and run.path.name == "hole" and not run.turns
    ]
    assert [round(read[k].depth, 3) for k in holes] == [
        round(4.2 * n / passes, 3) for n in range(1, passes + 1)
    ]
    assert deviation(read, made) < 0.001
    cut = read[holes[-1]].contour
    read[holes[-1]] = replace(
        read[holes[-1]], contour=Contour(cut.vertices[: len(cut) // 2 + 1], closed=False)
    )
    with pytest.raises(ProofError, match="mm off hole"):
        deviation(read, made)


@pytest.mark.parametrize("name", DRIVING)
@pytest.mark.parametrize("offset", OFFSETS)
def test_the_blade_follows_the_short_strokes_of_lettering(offset, name):
    # Strokes no longer than the blade trails, one after the other: were they ended on the plotter's whole
    # units, the blade would turn about on them and stand backwards in the next.
    made = coupon(driven_knife(offset), Tannage.VEGETABLE, 3.6)
    (sheet,) = made.sheets
    assert min(path.contour.length for path in sheet.paths if path.name == "label") < 2.5
    proof = prove(FORMATS[name].to_text(sheet, made), name, sheet, made)
    assert 0 < proof.blade_deviation_mm <= BLADE
