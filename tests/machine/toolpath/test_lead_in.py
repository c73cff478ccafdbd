"""How a laser enters its cuts: at the turn-back's end, from the waste, and on past the start."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from tests.machine.layouts import laser, layout, plate, small_layout, strap
from tests.write.plans import driven_laser, driven_plan

from strapwright.core.errors import ProofError
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import stadium
from strapwright.geometry.transform import mirrored
from strapwright.machine.duration import time_of
from strapwright.machine.planning import plan
from strapwright.machine.profile.tool_keys import Bridges, Laser
from strapwright.machine.toolpath.compensate import compensate
from strapwright.machine.toolpath.lead_in import begun_at_the_rear
from strapwright.machine.toolpath.runs import tool_runs
from strapwright.parts.part import Feature, Operation
from strapwright.parts.strap import strip_outline
from strapwright.parts.tips import TIPS
from strapwright.parts.tips.square import Square
from strapwright.write.cut_files import write_plan
from strapwright.write.formats.format import format_named
from strapwright.write.proof.blade import check_lead_ins
from strapwright.write.proof.read_back import prove
from strapwright.write.readers.path import ReadPath


def led(machine=None, **keys):
    return (machine or laser()).model_copy(
        update={"laser": Laser(**({"lead_in": 3.0, "overcut": 1.0} | keys))}
    )


def polygon(contour: Contour) -> shapely.Polygon:
    return shapely.Polygon(contour.sample(64))


@pytest.mark.parametrize("corner", ["round", "miter"])
@pytest.mark.parametrize("turn", [0.0, 23.0, 180.0])
def test_an_outline_begins_at_the_turn_backs_end_and_never_near_the_tip(corner, turn):
    machine = led().model_copy(update={"corner": corner})
    made = plan(layout((strap(), 500, 300, turn)), machine)
    [path] = [p for p in made.sheets[0].paths if p.is_outline]
    placed = layout((strap(), 500, 300, turn)).placed[0]
    x0, _, x1, _ = strap().outline.bounding_box
    rear = np.array(placed.placement.apply_to_point(x0, 0.0))
    assert np.hypot(*(path.contour.starts[0] - rear)) < 25  # half a strap's width, not its length
    along = [np.cos(np.radians(turn)), np.sin(np.radians(turn))]
    assert abs((path.contour.starts[0] - rear) @ along) < 1.0
    assert x1 - x0 > 100


@pytest.mark.parametrize("shape", sorted(TIPS))
@pytest.mark.parametrize("over", [False, True])
def test_whatever_the_tip_it_is_entered_at_the_other_end(shape, over):
    square = strip_outline(-70.0, Square(38.0, 4.0), 300.0, TIPS[shape](38.0))
    outline = compensate(mirrored(square) if over else square, 0.2, "outside", name="a")
    assert begun_at_the_rear(outline, 0.2).starts[0][0] == pytest.approx(-70.1, abs=1e-6)
    # With a tip at either end it is the foremost point of one, and so no shoulder.
    both = strip_outline(-70.0, TIPS[shape](38.0), 300.0, TIPS[shape](38.0))
    begun = begun_at_the_rear(compensate(both, 0.2, "outside", name="b"), 0.2)
    assert begun.starts[0][0] < -69.0
    assert begun.length == pytest.approx(compensate(both, 0.2, "outside", name="b").length)


def test_no_lead_in_touches_a_finished_part_and_all_cuts_have_one():
    made = plan(small_layout(), led())
    finished = [polygon(p.placement.apply(p.part.outline)) for p in small_layout().placed]
    kerf = made.kerf
    runs = [run for run in tool_runs(made.sheets[0], made.machine) if run.from_waste]
    cuts = [path for path in made.sheets[0].paths if path.operation is Operation.CUT]
    assert [run.path for run in runs] == cuts
    for run in runs:
        lead = shapely.LineString(run.track.vertices[:2, :2])
        assert any(lead.length == pytest.approx(share * 3.0) for share in (1.0, 0.5, 0.25, 0.1))
        burnt = lead.buffer(kerf / 2)
        for part in finished:
            holes = [polygon(path.contour) for path in cuts if not path.is_outline]
            leather = part.difference(shapely.union_all([hole.buffer(kerf / 2) for hole in holes]))
            assert burnt.intersection(leather).area < 1e-3  # of a kerf's own roundness at the very start
        done = run.track.length - lead.length - run.path.contour.length
        assert done == pytest.approx(1.0)


def test_the_files_prove_it_and_one_that_leads_through_a_part_is_refused():
    made = driven_plan(led(driven_laser()))
    files = write_plan(made, ["gcode", "hpgl"], "a")
    assert files.greatest_deviation_mm < 0.03
    sheet = made.sheets[0]
    runs = tool_runs(sheet, made.machine)
    bad = next(run for run in runs if run.path.is_outline)
    inside = polygon(bad.path.contour).representative_point().coords[0]
    through = Contour(np.vstack([[*inside, 0.0], bad.track.vertices[1:]]), closed=False)
    read = [ReadPath("", through if run is bad else run.track) for run in runs]
    with pytest.raises(ProofError, match=r"the lead-in of outline of .* cuts into a part"):
        check_lead_ins(read, sheet, made.machine, "gcode")


def test_grouped_by_tool_an_outline_begins_there_too():
    made = plan(small_layout(), led().model_copy(update={"group_by": "tool"}))
    apart = {path.part_id: path for path in plan(small_layout(), led()).sheets[0].paths if path.is_outline}
    for path in made.sheets[0].paths:
        if path.is_outline:
            assert path.contour == apart[path.part_id].contour


def test_holes_and_slots_are_entered_from_inside():
    features = (
        Feature("hole", Operation.CUT, Contour.circle(20, 30, 6)),
        Feature("hole", Operation.CUT, Contour.circle(30, 30, 1.2)),
        Feature("slot", Operation.CUT, stadium(60, 30, 26, 5)),
    )
    made = plan(layout((plate(*features), 100, 100, 0)), led())
    for run in tool_runs(made.sheets[0], made.machine):
        if run.path.name in ("hole", "slot"):
            assert run.from_waste
            lead = shapely.LineString(run.track.vertices[:2, :2])
            assert polygon(run.path.contour).buffer(1e-3).contains(lead)


def test_without_the_keys_nothing_changes_and_with_an_overcut_alone_it_starts_on_the_line():
    plain = plan(small_layout(), laser())
    runs = tool_runs(plain.sheets[0], plain.machine)
    assert all(run.track is run.path.contour for run in runs)
    made = plan(small_layout(), led(lead_in=0.0))
    assert not any(run.from_waste for run in tool_runs(made.sheets[0], made.machine))
    [note] = [found for found in made.findings if found.code.startswith("laser-")]
    assert note.code == "laser-lead-in"
    assert "go on 1 mm past their start" in note.what


def test_shared_edges_and_bridges_begin_on_the_line_and_are_told():
    machine = led().model_copy(update={"bridges": Bridges(count=2, width=1.0, keep_out=20.0)})
    made = plan(small_layout(), machine)
    assert "laser-no-lead-in" in {found.code for found in made.findings}
    assert "laser-no-lead-in" not in {found.code for found in plan(small_layout(), led()).findings}


def test_a_lead_in_takes_its_time():
    made, plain = driven_plan(led(driven_laser())), driven_plan(driven_laser())
    longer = time_of(made.sheets[0], made.machine).seconds[Operation.CUT]
    assert longer > time_of(plain.sheets[0], plain.machine).seconds[Operation.CUT]


@pytest.mark.parametrize("form", ["dxf", "svg"])
def test_drawings_hold_closed_outlines_that_begin_there(form):
    made = plan(small_layout(), led())
    text = format_named(form).to_text(made.sheets[0], made)
    assert prove(text, form, made.sheets[0], made).paths_read == len(made.sheets[0].paths)
