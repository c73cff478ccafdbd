"""Belts in the round: volumes, holes, one solid each, and what touches."""

from __future__ import annotations

import importlib
import math
from dataclasses import replace

import numpy as np
import pytest
from tests.solid.belts import KEYS, WORK, as_drafted, as_worn, asked, folded, modelled, openings

from strapwright.core.errors import PartError
from strapwright.job.folding import TIP_TAPER
from strapwright.job.spec.house import House
from strapwright.solid import modeller
from strapwright.solid.modeller import cadquery, making, one_solid
from strapwright.solid.touching import greatest_miss, holes_miss

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def models():
    return {name: (asked(*keys), as_drafted(name)) for name, keys in KEYS.items()}


def thickness_at(drafted, s):
    """The strap's own leather at s, by the rules as they are told to makers: skived fold, skived tip."""
    layers = drafted.figures.layers
    last = drafted.strap.holes.xs[-1] + drafted.strap.holes.reach / 2
    knots = (drafted.figures.end.half_turn / 2, drafted.figures.lining_start, last, last + TIP_TAPER)
    thin = layers.outer * layers.tip / layers.strap
    return np.interp(s, knots, (layers.fold, layers.outer, layers.outer, thin))


def expected_volume(drafted):
    """Area times thickness, slice by slice along the strap: holes out, outline followed."""
    strap = drafted.strap
    edges = np.linspace(-strap.buckle_end.turn_back, strap.span, 40_001)
    middle = (edges[1:] + edges[:-1]) / 2
    tall = np.linspace(0.0, strap.width / 2, 401)[1:] - strap.width / 800
    ends = middle > strap.span - strap.tip.reach
    ends |= middle < -strap.buckle_end.turn_back + strap.buckle_end.corner_radius
    widths = np.full(len(middle), strap.width)
    grid = np.array(np.meshgrid(middle[ends], tall, indexing="ij")).reshape(2, -1).T
    inside = strap.outline.contains(grid).reshape(int(ends.sum()), -1)
    widths[ends] = 2 * inside.sum(axis=1) * strap.width / 800
    volume = float((widths * np.diff(edges) * thickness_at(drafted, middle)).sum())
    for hole in openings(drafted):
        x0, _, x1, _ = hole.bounding_box
        volume -= hole.area * float(thickness_at(drafted, np.linspace(x0, x1, 51)).mean())
    return volume


@pytest.mark.parametrize("name", KEYS)
def test_the_folded_strap_is_as_much_leather_as_the_flat_one(models, name):
    drafted, model = models[name]
    assert model.piece("leather").volume == pytest.approx(expected_volume(drafted), rel=0.003)


@pytest.mark.parametrize("name", ["single prong, keeper", "two prongs, 52 mm", "centre bar", "hook"])
def test_a_strap_of_one_thickness_is_its_area_times_that_within_a_hundredth(models, name):
    drafted, model = models[name]
    area = drafted.strap.outline.area - sum(hole.area for hole in openings(drafted))
    assert model.piece("leather").volume == pytest.approx(area * drafted.figures.layers.outer, rel=0.001)


@pytest.mark.parametrize("share", [0.4, 0.6])
def test_another_neutral_axis_keeps_the_volume_within_a_hundredth(share):
    drafted = asked(*KEYS["single prong, keeper"], House(neutral_axis=share))
    model = modelled(*KEYS["single prong, keeper"], house=House(neutral_axis=share))
    area = drafted.strap.outline.area - sum(hole.area for hole in openings(drafted))
    assert model.piece("leather").volume == pytest.approx(area * 3.6, rel=0.01)


@pytest.mark.parametrize("name", KEYS)
def test_every_piece_is_sound_and_leather_is_one_solid(models, name):
    _, model = models[name]
    for piece in model.pieces:
        assert piece.shape.isValid()
        assert all(solid.Volume() > 0 for solid in piece.shape.Solids())
        if piece.name in ("leather", "lining", "keeper", "buckle", "dee ring"):
            assert len(piece.shape.Solids()) == 1


@pytest.mark.parametrize(
    ("name", "pieces"),
    [
        ("single prong, keeper", ["leather", "keeper", "posts", "buckle", "prongs"]),
        ("centre bar", ["leather", "posts", "buckle", "prongs"]),
        ("skived fold, lined, sewn", ["leather", "lining", "keeper", "thread", "buckle", "prongs"]),
        ("hook", ["leather", "keeper", "posts", "buckle"]),
        ("collar with a dee", ["leather", "keeper", "posts", "buckle", "prongs", "dee ring"]),
    ],
)
def test_each_belt_has_the_pieces_it_is_made_of(models, name, pieces):
    assert [piece.name for piece in models[name][1].pieces] == pieces


@pytest.mark.parametrize("name", KEYS)
def test_these_belts_touch_nowhere_and_their_holes_meet(models, name):
    _, model = models[name]
    assert model.findings == ()
    assert model.holes_miss < 0.2


def round_faces(shape, radius):
    """Axis place and middle of every cylinder of a radius that stands upright."""
    found = []
    for face in shape.Faces():
        if face.geomType() == "CYLINDER":
            cylinder = face._geomAdaptor().Cylinder()
            axis = cylinder.Axis()
            if abs(cylinder.Radius() - radius) < 1e-6 and abs(abs(axis.Direction().Z()) - 1) < 1e-9:
                found.append((axis.Location().X(), axis.Location().Y(), face.Center().z))
    return found


def test_the_fastener_holes_are_cut_through_both_layers_where_the_posts_pass(models):
    drafted, model = models["single prong, keeper"]
    end = drafted.strap.buckle_end
    faces = round_faces(model.piece("leather").shape, end.diameters[0][0] / 2)
    posts = [solid.Center() for solid in model.piece("posts").shape.Solids()]
    assert len(posts) == 4
    for post in posts:
        near = [z for x, y, z in faces if math.dist((x, y), (post.x, post.y)) < 0.05]
        assert min(near) < post.z < max(near)


def test_the_slot_lets_the_prong_through_and_a_line_through_a_hole_meets_no_leather(models):
    drafted, model = models["two prongs, 52 mm"]
    leather = model.piece("leather").shape
    assert leather.intersect(model.piece("prongs").shape).Volume() < 10.0
    shift = drafted.figures.end.half_turn / 2
    for x, y in drafted.strap.holes.centres:
        pin = modeller.cylinder(0.49 * drafted.strap.holes.diameter, (x - shift, y, -20), (x - shift, y, 20))
        assert not leather.intersect(pin).Solids()


def test_the_frame_has_the_catalogues_numbers(models):
    drafted, model = models["single prong, keeper"]
    box = model.piece("buckle").shape.BoundingBox()
    assert box.ylen == pytest.approx(46 + 2 * 5, abs=1e-3)
    assert box.xmin == pytest.approx(-(38 + 5), abs=1e-3)
    assert box.zlen == pytest.approx(5, abs=1e-3)
    assert model.piece("prongs").shape.BoundingBox().xmin < -38 - 2.5
    assert drafted.strap.width == 44


def test_the_keeper_is_its_strip_rolled_up(models):
    drafted, model = models["single prong, keeper"]
    flat = drafted.keeper.length * drafted.keeper.width * drafted.figures.layers.keeper
    assert model.piece("keeper").volume == pytest.approx(flat, rel=0.01)


@pytest.mark.parametrize("name", ["single prong, keeper", "two prongs, 52 mm", "collar with a dee"])
def test_closed_as_worn_it_is_the_same_leather(models, name):
    worn = as_worn(name)
    assert worn.worn
    assert worn.piece("leather").volume == pytest.approx(models[name][1].piece("leather").volume, rel=0.005)
    assert worn.piece("leather").shape.isValid()


@pytest.mark.parametrize("name", [name for name in KEYS if name != "hook"])
def test_closed_as_worn_the_prong_touches_the_edge_of_its_hole_f_from_the_bar(name):
    """The edge towards the tip lies on the prong, and the hole is open before it."""
    worn = as_worn(name)
    one = folded(*KEYS[name], worn=True)
    got, buckle, cq = one.figures, one.drafted.buckle, cadquery()
    prongs, leather = worn.piece("prongs").shape, worn.piece("leather").shape
    assert leather.distance(prongs) == pytest.approx(0.0, abs=1e-6)
    edge = got.hole_in_use + got.holes.reach / 2
    for y in got.holes.ys:
        for s, near in ((edge, 0.02), (edge - got.holes.reach, 5.0)):
            x, z = one.course.point(s)
            spot = cq.Vertex.makeVertex(x, y, z)
            skin = min(face.distance(spot) for face in prongs.Faces())
            assert (skin <= near) if s == edge else (0.2 < skin < near)
        # measured in the frame's plane, from the bar's centre
        x, z = one.course.point(edge)
        along = math.sin(one.closed.tilt) * z - math.cos(one.closed.tilt) * x
        assert along == pytest.approx(buckle.frame_depth - buckle.prong_thickness, abs=0.01)
    # a round hole and a square prong: its corners bite by less than this
    assert leather.intersect(prongs).Volume() < 0.6 * got.layers.strap * buckle.prong_width * len(
        got.holes.ys
    )


def test_a_keeper_that_just_fits_is_well_and_one_with_less_room_is_tight():
    model = modelled(
        *KEYS["single prong, keeper"], house=House(keeper_ease_height=0.0, keeper_ease_width=1.0)
    )
    assert model.findings == ()
    lined = KEYS["thin tip, keeper under row B"]
    thick = modelled(
        lined[0], WORK | {"tip_thickness": 2.0, "keeper": {"width": 20, "held": "slides"}}, worn=True
    )
    assert "keeper-tight" in {finding.code for finding in thick.findings}


FULL_LAP = {"width": 20, "join": "lap", "thickness": 3.6}


def test_a_keeper_too_thick_for_its_rows_is_told_with_the_cures_the_draft_names():
    keys = WORK | {"keeper": FULL_LAP}
    draft = {finding.code: finding for finding in asked(3.6, keys).findings}
    tight = next(finding for finding in modelled(3.6, keys).findings if finding.code == "keeper-tight")
    assert tight.do == draft["keeper-thick"].do
    assert tight.do.startswith("Skive the lap")


@pytest.mark.parametrize(
    "more", [{"keeper": FULL_LAP | {"skive": True}}, {"keeper": {"width": 20, "join": "lap"}}]
)
def test_a_lap_that_is_skived_or_thin_touches_nothing_and_is_as_thick_as_its_stack(more):
    drafted = asked(3.6, WORK | more)
    model = modelled(3.6, WORK | more)
    assert model.findings == ()
    layers = drafted.figures.layers
    strip = drafted.keeper.length * drafted.keeper.width * layers.keeper
    hidden = 0.0 if layers.lapped else drafted.keeper.lap * drafted.keeper.width * layers.keeper
    assert model.piece("keeper").volume == pytest.approx(strip - hidden, rel=0.01)


def test_a_post_longer_than_the_leather_stands_proud():
    model = modelled(3.6, WORK | {"fastener_holes": {"stacks": [9.0, 7.2]}})
    proud = [finding for finding in model.findings if finding.code == "post-proud"]
    assert len(proud) == 1
    assert "post at row A stands" in proud[0].what
    assert proud[0].numbers["proud_mm"] == pytest.approx(8.0 - 7.2, abs=0.03)


@pytest.mark.parametrize("held", ["row_a", "row_b"])
def test_a_lapped_keeper_under_a_row_beside_a_dee_ring_lets_all_rows_meet(held):
    keys = {
        "buckle": "single-45",
        "keeper": {"width": 15, "held": held, "join": "lap", "thickness": 2.8},
        "dee": {"bar_diameter": 4, "width": 80},
    }
    assert greatest_miss(folded(2.8, keys)) < 0.2


def test_mirrored_holes_would_miss_and_are_told():
    got = folded(3.6, WORK)
    end = got.figures.end
    mirrored = replace(got.figures, end=replace(end, mates=tuple(-row for row in end.rows)))
    wrong = replace(got, drafted=replace(got.drafted, figures=mirrored))
    found = list(holes_miss(wrong))
    assert [one.code for one in found] == ["holes-miss", "holes-miss"]
    assert "the holes of row A in the turn-back lie" in found[0].what
    assert found[0].numbers["miss_mm"] == pytest.approx(end.rows[0] + end.mates[0], abs=0.1)


def test_a_keeper_held_at_row_a_lies_clear_of_the_rear_loop():
    keys = {"buckle": "single-25", "keeper": {"width": 20, "held": "row_a", "thickness": 1.5}}
    assert "buckle-tight" not in {one.code for one in modelled(4.6, keys).findings}


def test_a_frame_too_shallow_for_its_strap_runs_into_it():
    keys = {"buckle": {"for_strap": 25, "bar_diameter": 3, "frame_depth": 6}}
    found = [one for one in modelled(6.0, keys).findings if one.code == "buckle-tight"]
    assert found
    assert "frame runs into the strap" in found[0].what


def test_several_pieces_where_one_is_meant_are_named():
    boxes = [cadquery().Solid.makeBox(1, 1, 1, cadquery().Vector(x, 0, 0)) for x in (0, 5)]
    with pytest.raises(PartError, match='belt "one": strap: its cuts leave 2 pieces; expected one'):
        one_solid(cadquery().Compound.makeCompound(boxes), 'belt "one": strap')


def test_what_the_modeller_cannot_do_names_the_piece():
    with (
        pytest.raises(PartError, match='belt "one": keeper cannot be modelled with these numbers'),
        making('belt "one": keeper'),
    ):
        cadquery().Workplane().box(1, 1, 1).edges().fillet(5)


def test_without_the_modeller_one_line_says_how_to_get_it(monkeypatch):
    def missing(name):
        raise ModuleNotFoundError(name=name)

    modeller.cadquery.cache_clear()
    monkeypatch.setattr(importlib, "import_module", missing)
    try:
        with pytest.raises(PartError, match=r'pip install "strapwright\[solid\]"') as told:
            modelled(*KEYS["hook"])
        assert "\n" not in str(told.value)
    finally:
        modeller.cadquery.cache_clear()


def test_the_json_names_pieces_and_findings(models):
    data = models["single prong, keeper"][1].as_json()
    assert data["belt"] == "one"
    assert data["pieces"][0]["name"] == "leather"
    assert data["holes_miss_mm"] < 0.2
    assert data["findings"] == []


def test_the_fold_follows_the_bar():
    one = folded(*KEYS["single prong, keeper"])
    inner = one.radius + one.low(0.0)
    assert inner == pytest.approx(one.figures.end.fold_radius)
