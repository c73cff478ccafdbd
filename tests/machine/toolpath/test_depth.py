"""How deep a blade goes: through the hide at its thickest, a little into the bed, and never past either."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.machine.layouts import hide, keeper, layout, strap
from tests.write.plans import driven_knife, driven_laser

from strapwright.core.errors import PlanError
from strapwright.geometry.shapes import line
from strapwright.machine.planning import plan
from strapwright.machine.test_pieces.coupon import coupon
from strapwright.machine.toolpath.runs import cut_depth_on, depth_of, tool_runs
from strapwright.nesting.hide.types import ThicknessZone
from strapwright.parts.part import Operation
from strapwright.rules.leather import Tannage
from strapwright.write.cut_files import write_plan
from strapwright.write.cut_sheet_text import cut_sheet
from strapwright.write.formats.format import FORMATS
from strapwright.write.proof.read_back import prove


def knife(**keys):
    """A knife that goes through 5 mm."""
    return driven_knife(**{"max_thickness": 5.0} | keys)


def box(x0: float, y0: float, x1: float, y1: float):
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def zoned(*zones: tuple[float, tuple[float, float, float, float]], thickness: float | None = 3.6):
    """A hide of 1500 × 800 mm, some of it of other thicknesses."""
    made = tuple(ThicknessZone(thick, box(*place)) for thick, place in zones)
    return replace(hide(), thickness=thickness, thickness_zones=made)


def planned(machine, side=None, thickness: float = 3.6):
    parts = (
        (strap(thickness=thickness), 120.0, 60.0, 20.0),
        (keeper(thickness=thickness), 420.0, 40.0, 90.0),
    )
    return plan(layout(*parts, hides=(side,) if side is not None else ()), machine)


THICK = zoned((4.4, (900, 500, 1400, 780)))


@pytest.mark.parametrize(
    ("side", "depth"),
    [(None, 3.9), (zoned(), 3.9), (zoned(thickness=3.5), 3.8), (THICK, 4.7), (zoned(thickness=None), 3.9)],
)
def test_a_cut_goes_through_the_hides_thickest_zone_and_a_little_into_the_bed(side, depth):
    made = planned(knife(cut_depth=None), side)
    assert cut_depth_on(made.sheets[0], made.machine) == pytest.approx(depth)


@pytest.mark.parametrize(
    ("cut_depth", "wrong"),
    [
        (3.5, "3.60 mm thick at its thickest and would not be cut through"),
        (4.7, "3.60 mm thick at its thickest and would be cut 1.10 mm into the bed"),
    ],
)
def test_a_blade_set_too_shallow_or_too_deep_is_refused_with_what_it_may_be(cut_depth, wrong):
    with pytest.raises(PlanError) as caught:
        planned(knife(cut_depth=cut_depth))
    assert str(caught.value) == (
        f"Marrow side is {wrong}: blade.cut_depth of 'driven knife' is {cut_depth:g} mm; expected 3.60 to "
        "4.60 mm (blade.bed_takes is 1 mm), or no cut_depth: then it is the thickness and into_bed"
    )


@pytest.mark.parametrize("cut_depth", [3.6, 4.2, 4.6])
def test_a_depth_from_the_thickness_to_what_the_bed_takes_is_accepted(cut_depth):
    made = planned(knife(cut_depth=cut_depth))
    assert cut_depth_on(made.sheets[0], made.machine) == cut_depth
    with pytest.raises(PlanError, match=r"4\.40 mm thick at its thickest and would not be cut through"):
        planned(knife(cut_depth=min(cut_depth, 4.3)), THICK)


def test_a_hide_thicker_somewhere_than_the_blade_goes_through_is_refused():
    with pytest.raises(
        PlanError, match=r"Marrow side is 4\.40 mm thick at its thickest; the blade .* through 4 mm"
    ):
        planned(knife(cut_depth=None, max_thickness=4.0), THICK)


def test_the_least_depth_a_message_names_is_accepted():
    nine_ounces = zoned(thickness=9 * 25.4 / 64)
    with pytest.raises(PlanError, match=r"expected 3\.58 to 4\.57 mm"):
        planned(knife(cut_depth=3.57), nine_ounces)
    for depth in (3.58, 4.57):
        assert (
            cut_depth_on(planned(knife(cut_depth=depth), nine_ounces).sheets[0], knife(cut_depth=depth))
            == depth
        )


def test_a_test_piece_is_held_to_the_same():
    with pytest.raises(PlanError, match=r"the test piece is 3\.00 mm thick .* 1\.20 mm into the bed"):
        coupon(knife(), Tannage.VEGETABLE, 3.0)
    made = coupon(knife(cut_depth=None), Tannage.VEGETABLE)
    with pytest.raises(
        PlanError, match=r"how deep to cut is not known.*give the thickness, or blade\.cut_depth"
    ):
        write_plan(made, ["gcode"], "x")


def test_a_score_that_would_cut_through_is_refused():
    with pytest.raises(PlanError, match=r"a score 2 mm deep would cut through leather of 1\.80 mm; lower"):
        planned(knife(cut_depth=None, score_depth=2.0), thickness=1.8)


@pytest.mark.parametrize("z_zero", ["leather", "bed"])
def test_where_the_leather_is_thinner_a_score_lies_lower_and_a_cut_as_deep_as_anywhere(z_zero):
    thin = zoned((3.3, (80, 0, 600, 400)), (4.0, (900, 500, 1400, 780)))
    made = planned(knife(cut_depth=None, passes=2, z_zero=z_zero), thin)
    sheet, machine = made.sheets[0], made.machine
    runs = tool_runs(sheet, machine)
    scores = {round(depth_of(run, sheet, machine), 6) for run in runs if run.operation == "score"}
    assert scores == {1.1, 1.2}  # 4.0 − 3.3 below the thickest place's face, and 0.4 or 0.5 mm deep
    cuts = {round(depth_of(run, sheet, machine), 6) for run in runs if run.operation == "cut"}
    assert cuts == {2.15, 4.3}
    text = FORMATS["gcode"].to_text(sheet, made)
    proof = prove(text, "gcode", sheet, made)
    assert proof.paths_read == len(tool_runs(sheet, machine))
    assert proof.blade_deviation_mm < 0.005


@pytest.mark.parametrize("passes", [1, 2, 3])
def test_passes_are_as_many_as_the_thickest_leather_asks_for(passes):
    made = planned(knife(cut_depth=None, depth_per_pass=4.7 / passes), THICK)
    runs = [run for run in tool_runs(made.sheets[0], made.machine) if run.operation is Operation.CUT]
    assert {run.passes for run in runs} == {passes}
    deepest = [depth_of(run, made.sheets[0], made.machine) for run in runs]
    assert max(deepest) == pytest.approx(4.7)
    assert min(deepest) == pytest.approx(4.7 / passes)


def test_the_zones_move_with_the_hide_from_window_to_window():
    machine = knife(cut_depth=None, machine={"bed": [300, 600], "pass_through": True})
    thin = zoned((3.2, (0, 0, 200, 800)))
    made = plan(layout((strap(length=500), 150.0, 80.0, 0.0), hides=(thin,)), machine)
    assert len(made.sheets) > 1
    for sheet in made.sheets:
        x = 200.0 - sheet.window.shift
        left, right = (line(x + past, 100, x + past, 120) for past in (-5.0, 5.0))
        assert (sheet.thickness_under(left), sheet.thickness_under(right)) == (3.2, 3.6)
    assert write_plan(made, ["gcode", "dxf", "dxf_r12"], "w").blade_deviation_mm < 0.005


def test_the_sheet_says_where_z_is_zero_the_depth_and_the_passes():
    text = cut_sheet(
        planned(knife(cut_depth=None, depth_per_pass=2.0, machine={"formats": ["gcode"]}), THICK)
    )
    assert "  [ ] Z zero: on the leather's face where it is thickest, 4.4 mm\n" in text
    assert "  Cut 4.7 mm deep, 0.3 mm into the bed, in 3 passes of 1.57 mm\n" in text
    assert "  Score and mark 0.5 mm deep\n" in text
    bed = cut_sheet(planned(knife(z_zero="bed", machine={"formats": ["gcode"]})))
    assert "  [ ] Z zero: on the bed, beside the leather, whose face is 3.6 mm above it\n" in bed
    assert "Z zero" not in cut_sheet(planned(driven_laser()))
