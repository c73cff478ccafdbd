"""Holding bridges: as many and as wide as asked, and clear of tips and holes."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from tests.machine.layouts import keeper, laser, layout, strap

from strapwright.core.findings import Severity
from strapwright.geometry.contour import Contour
from strapwright.machine.planning import plan
from strapwright.machine.profile.tool_keys import Bridges
from strapwright.parts.part import Operation

KERF = 0.3


def bridged_plan(*placed, count=4, width=1.5, keep_out=12.0, **changes):
    machine = laser().model_copy(
        update={"bridges": Bridges(count=count, width=width, keep_out=keep_out)} | changes
    )
    return plan(layout(*placed), machine, kerf=KERF)


def outline_runs(made, part):
    return [p.contour for p in made.sheets[0].paths if p.part_id == part and p.name == "outline"]


def cut_away(made) -> shapely.Geometry:
    """Everything the beam takes away, with flat ends so that a run's end is where it stops."""
    lines = [
        shapely.LineString(np.vstack([p.contour.sample(64), p.contour.starts[:1]][: 1 + p.contour.closed]))
        for p in made.sheets[0].paths
        if p.operation is Operation.CUT
    ]
    return shapely.union_all([one.buffer(KERF / 2, cap_style="flat", quad_segs=32) for one in lines])


@pytest.mark.parametrize("turn", [0.0, 17.3, 90.0, 180.0])
def test_an_outline_leaves_as_open_runs_with_bridges_as_wide_as_asked(turn):
    made = bridged_plan((strap(), 400, 300, turn))
    runs = outline_runs(made, "ada/strap")
    assert len(runs) == 4
    assert not any(run.closed for run in runs)
    [whole] = outline_runs(plan(layout((strap(), 400, 300, turn)), laser(), kerf=KERF), "ada/strap")
    assert sum(run.length for run in runs) == pytest.approx(whole.length - 4 * (1.5 + KERF))
    for run in runs:
        assert whole.distance_to(run.sample()).max() < 1e-9
        # Each gap is as wide as the bridge and one kerf: from a run's end to the nearest other's start.
        gaps = [math.dist(run.ends[-1], other.starts[0]) for other in runs]
        assert min(gaps) == pytest.approx(1.5 + KERF)


def test_the_leather_left_standing_holds_the_part_and_is_as_wide_as_asked():
    made = bridged_plan((strap(), 400, 300, 0), count=3)
    sheet = shapely.box(200, 200, 900, 400).difference(cut_away(made))
    big = max(sheet.geoms, key=lambda g: g.area) if sheet.geom_type == "MultiPolygon" else sheet
    middle = shapely.Point(500, 300 - 12)
    assert big.contains(middle)  # part and scrap are one piece still
    # Pinched by the beam's width alone the bridges are all that joins them.
    freed = big.buffer(-1.6 / 2 - 0.3).buffer(1e-3)
    assert freed.geom_type == "MultiPolygon"


@pytest.mark.parametrize("count", [1, 2, 5, 8])
def test_bridges_keep_clear_of_tips_ends_and_holes(count):
    part = strap(length=500)
    made = bridged_plan((part, 200, 300, 0), count=count, keep_out=15.0)
    runs = outline_runs(made, "ada/strap")
    holes = [f.contour for f in part.features if f.operation is not Operation.SCORE]
    for run in runs:
        for x, y in (run.starts[0], run.ends[-1]):
            assert abs(y - 300) == pytest.approx(19 + KERF / 2)  # on a long edge
            assert -70 + 4 + 15 <= x - 200 <= 500 - 70 - 19 - 15
            gap = min(hole.distance_to([(x - 200, y - 300)])[0] for hole in holes)
            assert gap > 15.0


def test_bridges_are_spread_over_both_long_edges():
    runs = outline_runs(bridged_plan((strap(length=900), 90, 300, 0), count=6), "ada/strap")
    above = [run.starts[0][0] for run in runs if run.starts[0][1] > 300]
    assert len(above) == 3
    assert max(above) - min(above) > 400


def test_a_part_without_room_has_fewer_and_that_is_told():
    made = bridged_plan((keeper(), 100, 100, 0), (strap(), 400, 300, 0), count=4, keep_out=50.0)
    assert [p.contour.closed for p in made.sheets[0].paths if p.part_id == "ada/keeper"][-1] is False
    [found] = [f for f in made.findings if f.code == "bridges-fewer"]
    assert found.severity is Severity.CAUTION
    assert found.numbers == {"asked": 4.0, "least": 1.0}
    none = bridged_plan((keeper(), 100, 100, 0), count=2, keep_out=60.0)
    [outline] = outline_runs(none, "ada/keeper")
    assert outline.closed
    [found] = [f for f in none.findings if f.code == "bridges-fewer"]
    assert found.what == (
        "Not every outline has space for 2 bridges 60 mm from tips, ends and holes: ada/keeper 0."
    )
    assert found.subject == "ada/keeper"


def test_without_bridges_an_outline_is_one_closed_path():
    [outline] = outline_runs(plan(layout((strap(), 400, 300, 0)), laser()), "ada/strap")
    assert isinstance(outline, Contour)
    assert outline.closed
