"""The simulated blade follows every tip, slot and hole within 0.02 mm, driven by the written text alone."""

from __future__ import annotations

import math

import pytest
from tests.machine.layouts import layout, plate
from tests.write.plans import driven_knife, driven_plan

from strapwright.errors import ProofError
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import chain, filleted, line, rectangle, stadium
from strapwright.machine.blade import joined, opened, spindle_track, started_at
from strapwright.machine.coupon import coupon
from strapwright.machine.plan import plan
from strapwright.machine.tool_runs import tool_runs
from strapwright.parts.part import Feature, Operation
from strapwright.parts.tips import TIPS
from strapwright.tolerances import BLADE
from strapwright.trade.leather import Tannage
from strapwright.write.blade_proof import blade_deviation
from strapwright.write.follower import follow
from strapwright.write.format import FORMATS
from strapwright.write.proof import prove

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


@pytest.mark.parametrize("name", DRIVING)
@pytest.mark.parametrize("offset", OFFSETS)
@pytest.mark.parametrize("tip", TIPS)
def test_the_blade_follows_every_tip_slot_and_hole(tip, offset, name):
    for turn in (0.0, 37.3, 211.0):
        made = plan(layout((tipped(tip), 500, 300, turn)), driven_knife(offset))
        sheet = made.sheets[0]
        assert sum(path.operation is Operation.CUT for path in sheet.paths) == 8
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


def test_the_plain_path_would_leave_the_contour():
    made = driven_plan(driven_knife(0.6))
    plain = driven_plan(driven_knife(0.6, mode="plain"))

    runs = FORMATS["gcode"].read_back(FORMATS["gcode"].to_text(plain.sheets[0], plain), plain.machine)
    with pytest.raises(ProofError, match=r"a simulated blade lies [\d.]+ mm off"):
        blade_deviation([run.contour for run in runs], made.sheets[0], made.machine, "gcode")


@pytest.mark.parametrize("name", DRIVING)
def test_a_machine_that_allows_for_the_blade_itself_is_not_simulated(name):
    made = driven_plan(driven_knife(mode="plain"))
    text = FORMATS[name].to_text(made.sheets[0], made)
    assert prove(text, name, made.sheets[0], made).blade_deviation_mm is None


def test_a_lead_in_across_a_part_is_found():
    made = driven_plan(driven_knife())

    tracks, heading = [], 0.0
    for run in tool_runs(made.sheets[0], made.machine):
        if run.path is not None and run.path.name == "outline" and run.path.part_id == "ada/keeper":
            outline = run.path.contour
            around = opened(started_at(outline, 0, 0.5), 0, 1.0)
            x, y = around.starts[0]
            cos, sin = around.tangent_at(0.0)
            inward = math.atan2(cos, -sin)
            start = (x + 6 * math.cos(inward), y + 6 * math.sin(inward))
            track = spindle_track(joined([line(*start, x, y), around]), heading, 0.6, 0.4)
            run = run.__class__(run.path, track.contour, track.swivels)
        tracks.append(run.track)
        heading = follow(run.track, heading, 0.6).heading
    with pytest.raises(ProofError, match="the lead-in of outline of ada/keeper cuts into a part"):
        blade_deviation(tracks, made.sheets[0], made.machine, "gcode")


def test_a_lead_in_out_of_a_hole_is_found():
    part = plate(Feature("hole", Operation.CUT, Contour.circle(50, 30, 8)))
    made = plan(layout((part, 300, 300, 0)), driven_knife())

    stroke, hole, *rest = tool_runs(made.sheets[0], made.machine)
    around = opened(hole.path.contour, 0, 1.0)
    x, y = around.starts[0]
    track = spindle_track(joined([line(x, y - 6, x, y), around]), 0.0, 0.6, 0.4)
    tracks = [stroke.track, track.contour, *(run.track for run in rest)]
    with pytest.raises(ProofError, match="the lead-in of hole of odd/strap leaves the hole"):
        blade_deviation(tracks, made.sheets[0], made.machine, "gcode")


def test_an_uncut_stretch_is_found():
    made = driven_plan(driven_knife(overcut=0.0))
    text = FORMATS["gcode"].to_text(made.sheets[0], made)
    runs = FORMATS["gcode"].read_back(text, made.machine)
    tracks = [run.contour for run in runs]
    last = tracks[-1]
    tracks[-1] = Contour(last.vertices[:-1], closed=False)
    with pytest.raises(ProofError, match=r"a simulated blade lies [\d.]+ mm off outline"):
        blade_deviation(tracks, made.sheets[0], made.machine, "gcode")


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
