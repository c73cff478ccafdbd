"""Other strap goods from the same parts: collars, straps with turned ends, plain straps, a maker's own."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st

from strapwright import api
from strapwright.core.errors import FileProblems, PartError
from strapwright.geometry.contour import Contour
from strapwright.geometry.intersect import self_crossing
from strapwright.job.catalogue.file import shipped
from strapwright.job.catalogue.leather import Leather
from strapwright.job.draft import draft, draft_strap
from strapwright.job.spec.house import House
from strapwright.job.spec.job import Job, read_job
from strapwright.job.spec.strap import Belt, StrapTable
from strapwright.parts.own_shape import OwnPart
from strapwright.parts.part import Operation
from strapwright.rules.fold import bend_radius, half_turn, mate
from strapwright.rules.leather import Tannage

EXAMPLES = Path(__file__).parents[3] / "examples"
LEATHER = '[leather]\nthickness = "3.4 mm"\ntannage = "vegetable"\n'
COLLAR = {"for_strap": 20, "bar_diameter": 5, "frame_depth": 18, "prong_width": 3, "prong_thickness": 2.5}
RING = {"bar_diameter": 5}


def collar(thickness=3.4, **changed):
    keys = {
        "id": "pepper",
        "size": {"girth": 400},
        "buckle": COLLAR,
        "tip": "round",
        "holes": {"count": 5, "spacing": 20},
        "keeper": {"width": 12},
        "dee": {"bar_diameter": 4, "width": 20},
    } | changed
    belt = Belt.model_validate({key: value for key, value in keys.items() if value is not None})
    leather = Leather(thickness=thickness, tannage=Tannage.VEGETABLE)
    return draft_strap(belt, leather, House(), shipped())


def strap(thickness=3.4, **changed):
    keys = {"id": "satchel", "width": 32, "length": 1080, "ends": [RING, RING]} | changed
    asked = StrapTable.model_validate(keys)
    leather = Leather(thickness=thickness, tannage=Tannage.VEGETABLE)
    return draft_strap(asked, leather, House(), shipped())


def sound(outline, features) -> None:
    assert outline.is_counter_clockwise
    assert self_crossing(outline) is None
    for feature in features:
        if feature.operation is Operation.CUT:
            assert feature.contour.is_counter_clockwise
            assert outline.contains(feature.contour.sample(4)).all()


SMALLEST = {
    "size": {"girth": 150},
    "buckle": {
        "for_strap": 12,
        "bar_diameter": 2.5,
        "frame_depth": 12,
        "prong_width": 2,
        "prong_thickness": 2,
    },
    "holes": {"count": 5, "spacing": 10},
    "keeper": {"width": 8},
    "fastener": "rivet",
    "fastener_holes": {"diameter": 3},
    "dee": {"bar_diameter": 2.5, "width": 12},
}


@pytest.mark.parametrize("size", [{"girth": 150}, {"worn_to_hole": 150}])
def test_a_collar_is_made_down_to_a_neck_of_150_mm(size):
    one = collar(thickness=2.0, **SMALLEST | {"size": size})
    least, most = one.figures.girths
    assert least < 150 < most
    assert one.strap.holes.xs[0] > one.figures.end.rows[-1]
    sound(one.strap.outline, one.strap.features())


def test_a_dee_ring_is_held_by_a_third_row_beyond_its_bar():
    one = collar()
    a, b, c = one.figures.end.rows
    # row B to C: the bar, 3 mm, and half a head on either side
    assert c - b == pytest.approx(4 + 3 + 10)
    assert one.figures.end.dee == pytest.approx((b + c) / 2)
    # clamped at A, the layers run on side by side: all rows have one shift
    shifts = [row + mated for row, mated in zip((a, b, c), one.figures.end.mates, strict=True)]
    assert shifts == pytest.approx([shifts[0]] * 3)
    assert [post.row for post in one.posts] == ["A", "B", "C"]
    plain = collar(dee=None)
    assert plain.figures.end.rows == (a, b)
    assert one.figures.end.turn_back >= plain.figures.end.turn_back + 17 - 1
    # row A 35, beyond the frame; B 12 + 3 + 5.2625 further; half a head, air, half a bar
    assert one.as_json()["dee_mm"] == pytest.approx(35 + 20.2625 + 5 + 1.5 + 2)


def test_without_a_keeper_the_dee_still_follows_row_b():
    one = collar(keeper="none")
    a, b, c = one.figures.end.rows
    assert (b - a, c - b) == pytest.approx((4 * 5.2625, 17.0))  # four holes of the 1/4 in post, over 20 mm


@pytest.mark.parametrize("held", ["row_a", "row_b", "slides", "between"])
def test_the_keeper_never_lies_under_the_dee_ring(held):
    end = collar(keeper={"width": 30, "held": held}).figures.end
    assert end.dee - 4 / 2 >= end.keeper_end + 1.5 - 1e-9
    assert end.rows[-1] - end.dee == pytest.approx(4 / 2 + 1.5 + 5.0)


def test_one_row_of_fasteners_and_the_dee_make_two():
    one = collar(fastener_holes={"rows": 1}, keeper="none")
    assert [post.row for post in one.posts] == ["A", "B"]
    assert one.figures.end.rows[1] - one.figures.end.rows[0] == pytest.approx(17.0)


def test_a_stitched_collar_has_a_run_of_stitches_beyond_the_dee():
    end = collar(fastener="stitched").figures.end
    assert len(end.stitches) == 3
    assert end.stitches[2][0] - end.stitches[1][-1] == pytest.approx(4 + 3)
    assert end.turn_back >= end.stitches[2][-1] - end.shift + 5 - 1e-9


def test_a_dee_ring_narrower_than_the_strap_is_refused():
    with pytest.raises(PartError, match=r"dee\.width is 18 mm; a 20 mm strap passes .* 20 mm or more"):
        collar(dee={"bar_diameter": 4, "width": 18})


@given(
    girth=st.floats(350, 450),
    thickness=st.floats(2.4, 4.0),
    bar=st.floats(3, 6),
    dee=st.floats(2.5, 6),
    keeper=st.sampled_from([{"width": 12}, "none"]),
    fastener=st.sampled_from(["screw_post", "rivet", "stitched"]),
)
@settings(max_examples=40, deadline=None)
def test_every_collar_of_20_mm_is_sound(girth, thickness, bar, dee, keeper, fastener):
    one = collar(
        thickness,
        size={"girth": girth},
        buckle=COLLAR | {"bar_diameter": bar},
        dee={"bar_diameter": dee, "width": 20},
        keeper=keeper,
        fastener=fastener,
    )
    sound(one.strap.outline, one.strap.features())
    end = one.figures.end
    last = end.stitches[-1][-1] if end.stitches else end.rows[-1]
    assert one.strap.holes.xs[0] > last + 4
    low, high = one.figures.girths
    assert low < girth < high


def test_a_straps_length_is_from_bar_to_bar():
    one = strap()
    b = half_turn(3.4, bend_radius(5, 0.25), 0.5)
    # the flat strap begins half the half-turn from each fold line, beside the middle of the bar
    assert one.strap.span == pytest.approx(1080 + b)
    ends = one.as_json()["ends"]
    assert ends[1]["fold_line_mm"] - ends[0]["fold_line_mm"] == pytest.approx(one.strap.span, abs=1e-4)
    assert one.blank_length == pytest.approx(one.strap.span + 2 * one.ends[0].figures.turn_back)
    mixed = strap(ends=[RING, {"tip": "round"}])
    assert mixed.strap.span == pytest.approx(1080 + b / 2)
    assert strap(ends=[{"tip": "round"}] * 2).blank_length == pytest.approx(1080)


@given(
    width=st.floats(14, 60),
    length=st.floats(200, 1500),
    thickness=st.floats(1.6, 5),
    bars=st.tuples(st.floats(2, 14), st.floats(2, 14)),
    rows=st.integers(1, 2),
    diameter=st.floats(2.5, 6),
)
@settings(max_examples=50, deadline=None)
def test_fastener_holes_of_turned_ends_meet_by_the_mate_formula(
    width, length, thickness, bars, rows, diameter
):
    one = strap(
        thickness,
        width=width,
        length=length,
        ends=[{"bar_diameter": bar} for bar in bars],
        fastener_holes={"rows": rows, "diameter": diameter, "across": 1},
    )
    sound(one.strap.outline, one.strap.features())
    for bar, got in zip(bars, one.ends, strict=True):
        r = bend_radius(bar, 0.25)
        first = got.figures.rows[0]
        assert got.figures.mates[0] == pytest.approx(mate(first, thickness, r, 0.5))
        assert first - got.figures.half_turn / 2 >= r + thickness / 2  # clear of the round of the fold
        assert len(got.figures.rows) == rows
    centres = [f.contour.as_circle(1e-6)[:2] for f in one.strap.features() if f.name == "fastener hole"]
    told = [tuple(xy) for end in one.as_json()["ends"] for xy in end["fastener_centres_mm"]]
    assert sorted(centres) == [pytest.approx(xy, abs=1e-4) for xy in sorted(told)]


def test_a_thick_bar_in_thin_leather_pushes_the_fasteners_out_until_the_layers_meet():
    one = strap(0.8, ends=[{"bar_diameter": 25}] * 2, fastener_holes={"diameter": 1})
    end = one.ends[0].figures
    assert end.rows[0] - end.half_turn / 2 >= 12.75 + 0.4
    assert end.mates[0] < -end.rows[0]


@given(
    kinds=st.tuples(*[st.sampled_from(["ring", "round", "square", "english_point", "spear"])] * 2),
    width=st.floats(8, 80),
    length=st.floats(30, 600),
    count=st.integers(1, 9),
    first=st.floats(5, 120),
    spacing=st.floats(8, 40),
    fastener=st.sampled_from(["screw_post", "stitched"]),
)
@settings(max_examples=200, deadline=None)
def test_every_strap_is_sound_or_refused_with_what_is_allowed(
    kinds, width, length, count, first, spacing, fastener
):
    ends = [RING if kind == "ring" else {"tip": kind} for kind in kinds]
    keys = {"ends": ends, "width": width, "length": length}
    if "ring" in kinds:
        keys["fastener"] = fastener
    if kinds != ("ring", "ring"):
        keys["holes"] = {"count": count, "first": first, "spacing": spacing}
    try:
        one = strap(**keys)
    except PartError as error:
        assert "allow" in str(error) or "need" in str(error)  # noqa: PT017
        assert "\n" not in str(error)  # noqa: PT017
        return
    sound(one.strap.outline, one.strap.features())
    low, high = one.strap.rear, one.strap.front
    assert one.blank_length == pytest.approx(high - low)


def test_holes_are_measured_from_a_tip():
    tips = [{"tip": "square"}, {"tip": "round"}]
    holes = {"count": 3, "spacing": 20, "first": 50}
    last = strap(ends=tips, length=500, holes=holes)
    assert last.strap.hole_rows[0].xs == pytest.approx((410, 430, 450))
    front = strap(ends=tips, length=500, holes=holes | {"end": 1})
    assert front.strap.hole_rows[0].xs == pytest.approx((50, 70, 90))
    mixed = strap(ends=[{"tip": "round"}, RING], length=500, holes=holes)
    assert mixed.strap.hole_rows[0].xs == pytest.approx((50, 70, 90))


def test_fasteners_keep_clear_of_a_ring_as_it_swings_where_its_depth_is_given():
    free = strap(ends=[RING, RING]).ends[0].figures
    ring = strap(ends=[RING | {"depth": 10}, RING])
    swung = ring.ends[0].figures
    assert ring.ends[1].figures.rows == free.rows
    assert free.rows[0] - free.half_turn / 2 + 5 > 10  # a head of 10 mm would lie under the ring's far side
    assert swung.rows[0] - swung.half_turn / 2 - 5 >= 10 + RING["bar_diameter"]
    deep = strap(ends=[RING | {"depth": 60}, RING]).ends[0].figures
    assert deep.rows == free.rows


def test_two_ends_alike_say_their_findings_once():
    codes = [finding.code for finding in strap(ends=[{"bar_diameter": 2}] * 2).findings]
    assert codes.count("fold-strain") == 1
    assert "turn-back-short" in {
        finding.code for finding in strap(ends=[RING | {"turn_back": 46}, RING]).findings
    }
    thin = [finding.code for finding in strap(1.6).findings]
    assert thin.count("no-post") == 1


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ("width = 20", 'strap[1].length: missing, expected a length such as "1100 mm", or a sketch'),
        ("width = 20\nlength = 400\nends = [{ tip = 'round' }]", "found 1, expected 2 or more entries"),
        (
            "width = 20\nlength = 400\nends = [{ tip = 'round' }, {}]",
            "strap[1].ends[2]: found none, expected exactly one of bar_diameter, bar_section and tip",
        ),
        (
            "width = 20\nlength = 400\nfastener = 'rivet'",
            "strap[1].fastener: found without a turned end, expected only with one: nothing is fastened",
        ),
        (
            "width = 20\nlength = 400\nends = [{ bar_diameter = 4 }, { bar_diameter = 4 }]\nholes = {}",
            "strap[1].holes: found between two turned ends, expected a tip to measure them from",
        ),
        (
            "width = 20\nlength = 400\nends = [{ bar_diameter = 4 }, { tip = 'round' }]\nholes = { end = 1 }",
            "strap[1].holes.end: found 1, a turned end; expected the end with the tip",
        ),
        (
            "width = 20\nlength = 400\nends = [{ tip = 'round', turn_back = 40 }, { tip = 'round' }]",
            "strap[1].ends[1].turn_back: found with tip, which is not folded back",
        ),
        (
            "width = 20\nlength = 400\nends = [{ bar_diameter = 4 }, { tip = 'rnd' }]",
            'strap[1].ends[2].tip: found "rnd", expected one of',
        ),
        ("width = 200\nlength = 400", "strap[1].width: found 200"),
        ("wdth = 20\nwidth = 20\nlength = 400", 'strap[1].wdth: unknown key; did you mean "width"?'),
        ("sketch = 'gone.py'", "strap[1].sketch: {folder}/gone.py: no such file"),
        ("sketch = 'plate.step'", 'strap[1].sketch: found "plate.step", expected a Python file in'),
    ],
)
def test_a_mistake_in_a_strap_is_one_line(write, tmp_path, table, message):
    path = write(f"{LEATHER}[[strap]]\nid = 'one'\n{table}\n")
    with pytest.raises(FileProblems) as caught:
        read_job(path)
    assert len(caught.value.problems) == 1
    assert message.replace("{folder}", str(tmp_path)) in caught.value.problems[0]


def test_a_sketch_leaves_no_room_for_measures(write, tmp_path):
    (tmp_path / "plate.py").write_text("")
    path = write(f"{LEATHER}[[strap]]\nid = 'one'\nwidth = 20\nsketch = 'plate.py'\n")
    with pytest.raises(FileProblems, match="width: found with sketch, which draws the whole part"):
        read_job(path)


def test_ids_are_told_apart_over_belts_and_straps_and_straps_need_a_leather(write):
    belt = "[[belt]]\nid = 'one'\nsize = { girth = 900 }\nbuckle = 'single-40'\n"
    one = "[[strap]]\nid = 'one'\nwidth = 20\nlength = 300\n"
    with pytest.raises(FileProblems) as caught:
        read_job(write(LEATHER + belt + one))
    assert 'strap[1].id: found "one" again, already the id of belt[1]; expected' in str(caught.value)
    with pytest.raises(FileProblems, match="leather: missing"):
        read_job(write(one))


def test_straps_that_cannot_be_are_refused_together_with_belts_by_id(write):
    path = write(
        f"{LEATHER}[[belt]]\nid = 'short'\nsize = {{ girth = 210 }}\nbuckle = 'single-40'\n"
        "holes = { count = 15 }\n"
        "[[strap]]\nid = 'stub'\nwidth = 30\nlength = 60\n"
        "ends = [{ bar_diameter = 5 }, { bar_diameter = 5 }]\n"
    )
    with pytest.raises(PartError) as caught:
        draft(read_job(path))
    belt, other = str(caught.value).splitlines()
    assert belt.startswith('belt "short": the first adjusting hole')
    assert other.startswith('strap "stub": the strap is 74.0 mm from end to end; allowed are')


def test_the_example_drafts_without_findings_and_is_the_same_written_out_again():
    job = read_job(EXAMPLES / "strap-goods.toml")
    drafted = draft(job)
    assert drafted.findings == ()
    assert [part.id for part in drafted.parts] == [
        "pepper-collar/strap",
        "pepper-collar/keeper",
        "satchel-strap/strap-1",
        "satchel-strap/strap-2",
        "flap-strap/strap",
        "luggage-strap/strap",
    ]
    assert [one["id"] for one in drafted.as_json()["straps"]] == [
        "satchel-strap",
        "flap-strap",
        "luggage-strap",
    ]
    straps = [one.model_dump(by_alias=True) for one in job.straps]
    assert Job.model_validate({"leather": job.leather, "strap": straps}).straps == job.straps


def test_strap_goods_nest_and_are_cut():
    job = read_job(EXAMPLES / "strap-goods.toml")
    hides = api.read_hides([EXAMPLES / "side.toml"])
    made = api.cut(job, hides, api.read_machine("wide-laser"), formats=("dxf", "svg"), steps=1)
    assert made.layout.unplaced == ()
    assert len(made.layout.placed) == 6
    assert made.files is not None
    paths = {path.part_id for sheet in made.plan.sheets for path in sheet.paths}
    assert paths == {part.id for part in made.draft.parts}


def test_a_changed_sketch_changes_the_jobs_digest(write, tmp_path):
    (tmp_path / "plate.py").write_text("# one\n")
    path = write(f"{LEATHER}[[strap]]\nid = 'one'\nsketch = 'plate.py'\n")
    before = read_job(path).digest
    assert read_job(path).digest == before
    (tmp_path / "plate.py").write_text("# two\n")
    assert read_job(path).digest != before


def test_the_half_turn_of_a_flat_bar_is_half_its_perimeter():
    one = strap(ends=[{"bar_section": [6, 3]}, {"tip": "round"}])
    assert one.ends[0].figures.half_turn == pytest.approx(9 + math.pi * 1.7)
    assert tuple(end.spec.words for end in one.ends) == ("turned, bar 6 × 3 mm", "round tip")


def test_a_part_drawn_from_the_flesh_side_is_mirrored_when_it_becomes_a_part():
    drawn = OwnPart(Contour.from_points([(0, 0), (90, 0), (0, 30)]), (Contour.circle(20, 5, 4),))
    for face, sign in (("grain", 1), ("flesh", -1)):
        one = replace(strap(face_up=face), strap=drawn)
        (part,) = one.parts()
        assert part.outline.is_counter_clockwise
        assert {tuple(v) for v in part.outline.vertices[:, :2]} == {(0, 0), (90, 0), (0, sign * 30)}
        (hole,) = part.features
        assert hole.contour.as_circle() == pytest.approx((20, sign * 5, 4))
