"""Photographs no hide can be measured from: each is refused with what is wrong and what to do."""

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from tests.photo.judge import verdict
from tests.photo.rendering import Camera, Patch, Ring, Scene, jpeg, linear_to_srgb, render, side_outline

from strapwright.core.errors import PhotoError
from strapwright.photo import hide_pictures as check_picture
from strapwright.photo.fit import Plane
from strapwright.photo.flaws import (
    CELL,
    COLOURS,
    Surface,
    _together,
    find_flaws,
    floor_at_edge,
    surface_of,
)
from strapwright.photo.mark_sheet import SIZES
from strapwright.photo.measure import USUAL, MeasuredHide, measure_hide

A4 = SIZES["a4"]
ROUND = [
    (-620, -480, 0.3, False),
    (0, -500, 1.2, False),
    (620, -480, 2.5, False),
    (900, 0, 4.0, False),
    (620, 480, 5.2, False),
    (0, 500, 0.9, False),
    (-620, 480, 3.3, False),
    (-900, 0, 2.0, False),
]
SCENE = Scene(side_outline(1300.0, 500.0, 3), [(1.1 * x, 1.15 * y, t, on) for x, y, t, on in ROUND], seed=3)
CAMERA = Camera(width=2400, height=1800, focal=1800.0, distance=2500.0, tilt=0.1, roll=0.05)


@pytest.fixture(scope="module")
def good() -> np.ndarray:
    return render(SCENE, CAMERA)


@pytest.fixture(scope="module")
def measured(good: np.ndarray) -> MeasuredHide:
    return measure_hide(good, A4, printed=(1.0, 1.0), thickness=3.0)


def refused(picture: np.ndarray) -> str:
    with pytest.raises(PhotoError) as error:
        measure_hide(picture, A4, printed=(1.0, 1.0), thickness=3.0)
    assert "\n" not in str(error.value)
    return str(error.value)


def painted_out(picture: np.ndarray, *sheets: int) -> np.ndarray:
    """The floor where sheets lay."""
    out = picture.copy()
    for number in sheets:
        x, y, _, _ = SCENE.sheets[number - 1]
        where = CAMERA.project(np.array([(x + dx, y + dy) for dx in (-190, 190) for dy in (-190, 190)]))
        hull = cv2.convexHull(where.astype(np.float32)).astype(np.int32)
        mask = cv2.fillConvexPoly(np.zeros(picture.shape[:2], np.uint8), hull, 1) > 0
        out[mask] = np.median(picture[:60, :60].reshape(-1, 3), axis=0)
    return out


def ringed(picture: np.ndarray, colour: tuple[float, float, float], radius: float) -> np.ndarray:
    """The middle of the hide within a ring of chalk."""
    turn = np.linspace(0, 2 * np.pi, 90)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    edges = [np.round(16 * CAMERA.project(circle * r)).astype(np.int32) for r in (radius + 9, radius)]
    written = np.round(255 * linear_to_srgb(np.array(colour[::-1])))
    return cv2.fillPoly(picture.copy(), edges, written.tolist(), cv2.LINE_AA, shift=4)


def test_the_photograph_the_others_are_made_of_is_good(measured: MeasuredHide) -> None:
    assert set(measured.fit.sheets) == set(range(1, 9))
    assert np.ptp(measured.outline, axis=0)[0] == pytest.approx(np.ptp(SCENE.outline, axis=0)[0], rel=0.02)


def test_what_was_not_said_and_what_does_not_fit_is_noted(good: np.ndarray, measured: MeasuredHide) -> None:
    found = measure_hide(good, A4)
    assert [one.code for one in found.findings] == ["photo-scale", "photo-thickness"]
    assert measured.findings == ()
    assert found.uncertainty > measured.uncertainty + 1.0
    odd = measure_hide(
        render(replace(SCENE, printed=(1.0, 1.0, 1.02, 1.0, 1.0, 1.0, 1.0, 1.0)), CAMERA),
        A4,
        printed=(1.0, 1.0),
        thickness=3.0,
    )
    (left_out,) = odd.findings
    assert left_out.code == "photo-sheet"
    assert left_out.what.startswith("Mark sheet 3 is left out: its crosses stray by ")


def test_a_stretch_of_the_edge_that_is_not_seen_is_said_to_be_unsure(good: np.ndarray) -> None:
    # A cloth of the leather's colour under a part of the edge: nobody could say where the hide ends.
    at = SCENE.outline[np.argmax(SCENE.outline[:, 0])]
    where = CAMERA.project(at[None])[0]
    veiled = good.copy()
    x, y = np.round(where).astype(int)
    patch = veiled[y - 30 : y + 30, x - 30 : x + 30]
    patch[:] = cv2.GaussianBlur(patch, (0, 0), 14)
    found = measure_hide(veiled, A4, printed=(1.0, 1.0), thickness=3.0)
    assert [one.code for one in found.findings] == ["photo-edge"]
    assert len(found.unsure) >= 1
    for stretch in found.unsure:
        assert np.hypot(*(found.plane.to_picture(stretch) - where).T).max() < 90


def round_spot(x: float, y: float, across: float, high: float) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    return np.column_stack([x + across * np.cos(turn), y + high * np.sin(turn)])


def test_where_a_stain_runs_from_the_edge_parts_keep_off_all_of_it() -> None:
    # On the floor, in the leather's own colour: where the hide ends under it cannot be seen.
    at = SCENE.outline[np.argmin(np.abs(SCENE.outline[:, 0]) + 1000 * (SCENE.outline[:, 1] < 0))]
    stain = Patch(round_spot(*at, 38.0, 30.0), tuple(0.95 * np.array(SCENE.leather)), "floor", soft=7.0)
    scene = replace(SCENE, patches=[stain], thickness=3.0)
    found = measure_hide(render(scene, CAMERA), A4, printed=(1.0, 1.0), thickness=3.0)
    assert len(found.unsure) == 1
    near = verdict(scene, CAMERA, found)  # but for what parts keep off
    assert near.inside == 1.0
    assert near.most < 5.0


def test_an_edge_of_a_colour_the_hide_has_not_is_unsure() -> None:
    # A wet patch, or what stands against the edge: who can say.
    at = SCENE.outline[np.argmin(np.abs(SCENE.outline[:, 0]) + 1000 * (SCENE.outline[:, 1] < 0))]
    wet = Patch(round_spot(*at, 90.0, 60.0), tuple(0.3 * np.array(SCENE.leather)), "hide", soft=4.0)
    scene = replace(SCENE, patches=[wet], thickness=3.0)
    found = measure_hide(render(scene, CAMERA), A4, printed=(1.0, 1.0), thickness=3.0)
    (stretch,) = found.unsure
    assert 120 < np.hypot(*np.diff(stretch, axis=0).T).sum() < 260
    assert found.flaws == ()
    near = verdict(scene, CAMERA, found)
    assert near.inside == 1.0
    assert near.most < 5.0


def test_a_shoe_of_the_leathers_colour_against_the_edge_is_unsure_and_said() -> None:
    # Half on the floor, half over the hide, as a foot stands there; and a scrap that the hide lies on.
    at = SCENE.outline[np.argmin(np.abs(SCENE.outline[:, 0]) + 1000 * (SCENE.outline[:, 1] < 0))]
    colour = tuple(0.95 * np.array(SCENE.leather))
    for spot, on in ((round_spot(at[0], at[1] + 100.0, 50.0, 130.0), "all"),
                     (round_spot(at[0], at[1] + 25.0, 80.0, 45.0), "floor")):  # fmt: skip
        patch = Patch(spot, colour, on)
        scene = replace(SCENE, patches=[patch], sheets=SCENE.sheets[:5], thickness=3.0)
        found = measure_hide(render(scene, CAMERA), A4, printed=(1.0, 1.0), thickness=3.0)
        (bulge,) = [one for one in found.findings if one.code == "photo-bulge"]
        assert bulge.what.startswith("What sticks out of the hide's edge near ")
        assert "may be a thing of its colour that lies against it; parts keep off it." in bulge.what
        assert found.unsure
        near = verdict(scene, CAMERA, found)  # but for what parts keep off
        assert near.inside == 1.0
        assert near.most < 5.0


def test_what_cannot_be_told_from_leather_is_said_in_every_picture(
    good: np.ndarray, measured: MeasuredHide, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A smooth bulge with no corner to it is leather to any eye.
    written: list[str] = []
    monkeypatch.setattr(check_picture, "_write", lambda _d, _at, words, _c, _l: written.append(words))
    assert check_picture.check_picture(good, measured).startswith(b"\x89PNG")
    (limit,) = [words for words in written if "taken for leather" in words]
    assert (
        limit == "What touches the hide's edge and has its colour is taken for leather: look along the edge."
    )
    guide = (Path(__file__).parents[2] / "docs/how-to/photograph.md").read_text("utf-8")
    assert " ".join(limit.split(":")[0].split()) in " ".join(guide.split())


@pytest.mark.parametrize("colour", ["blue", "red", "yellow", "green"])
@pytest.mark.parametrize(
    ("at", "radius"), [((52.0, -108.0), 8.0), ((-20.0, 15.0), 22.0), ((88.0, 20.0), 5.0)]
)
def test_a_ring_drawn_on_a_sheet_that_lies_on_the_hide(
    colour: str, at: tuple[float, float], radius: float
) -> None:
    ring = Ring(COLOURS[colour], (100.0 + at[0], 10.0 + at[1]), radius, 7.0, beyond=True)
    sheets = [*SCENE.sheets, (100.0, 10.0, 0.0, True)]
    said = refused(render(replace(SCENE, rings=[ring], sheets=sheets, thickness=3.0), CAMERA))
    assert said.startswith("there is colour on mark sheet 9: a ring on a sheet measures nothing")


def test_a_sheet_in_the_middle_of_the_hide_that_was_printed_smaller_is_left_out() -> None:
    sheets = [*SCENE.sheets, (0.0, 10.0, 0.4, True)]
    scene = replace(SCENE, sheets=sheets, printed=(*[1.0] * 8, 0.99), thickness=3.0)
    found = measure_hide(render(scene, CAMERA), A4, printed=(1.0, 1.0), thickness=3.0)
    assert set(found.fit.left_out) == {9}
    near = verdict(scene, CAMERA, found)
    assert near.inside == 1.0
    assert near.most < 5.0
    assert near.sheets < 0.7


def test_sheets_on_the_hide_that_nothing_is_drawn_on_are_clean_in_tinted_light() -> None:
    light = Patch(round_spot(100.0, 10.0, 60.0, 90.0), (0.8, 0.82, 0.86), "light", soft=30.0)
    sheets = [*SCENE.sheets, (100.0, 10.0, 0.4, True)]
    scene = replace(SCENE, patches=[light], sheets=sheets, thickness=3.0)
    found = measure_hide(render(scene, CAMERA), A4, printed=(1.0, 1.0), thickness=3.0)
    assert 9 in found.fit.sheets


def test_a_sheet_with_no_mark_in_more_light_than_the_others_is_seen() -> None:
    # On the hide, a third lighter than what lies in the hide's shadow on the floor, its mark covered.
    sheet = np.array([(0, -60), (150, -60), (150, 150), (0, 150)], float)
    patch = Patch(sheet, (0.99, 0.99, 0.99), "hide")
    said = refused(render(replace(SCENE, patches=[patch]), CAMERA))
    assert "something as white as the mark sheets lies in the middle of the picture" in said


@pytest.mark.parametrize(
    ("patch", "says"),
    [
        (
            Patch(round_spot(-330.0, 290.0, 55.0, 130.0), (0.02, 0.02, 0.025), "all"),
            "is not closed, or is no ring: close it",
        ),
        (
            Patch(round_spot(-330.0, 420.0, 70.0, 110.0), (0.02, 0.02, 0.025), "all"),
            "something that is neither hide nor floor lies in the middle of the picture, such as a foot",
        ),
        (
            Patch(np.array([(150, -3e3), (3e3, -3e3), (3e3, 3e3), (300, 3e3)]), (0.3, 0.31, 0.34), "light"),
            "or a hard shadow there is taken for it: have all of the hide and all the sheets in the picture",
        ),
    ],
)
def test_what_else_lies_in_the_picture(patch: Patch, says: str) -> None:
    assert says in refused(render(replace(SCENE, patches=[patch]), CAMERA))


def test_floor_taken_for_leather_is_seen_and_cut_off(good: np.ndarray) -> None:
    found = measure_hide(good, A4, printed=(1.0, 1.0), thickness=3.0)
    papers = list(found.papers.values())
    true = shapely.Polygon(found.outline)
    at = found.outline[np.argmax(found.outline[:, 1])]
    bulge = true.union(shapely.box(at[0] - 40, at[1] - 30, at[0] + 40, at[1] + 20))
    outline = np.asarray(shapely.geometry.polygon.orient(bulge).exterior.coords)[:-1]
    sound, leaking = (surface_of(good, found.plane, one, papers) for one in (found.outline, outline))
    assert sound is not None
    assert leaking is not None
    assert floor_at_edge(sound) == []
    (leak,) = floor_at_edge(leaking)
    assert shapely.Polygon(leak).intersection(bulge - true).area > 0.8 * (bulge - true).area


@pytest.mark.parametrize(
    ("spoilt", "says"),
    [
        (lambda p: painted_out(p, 1, 2, 3, 4, 5), "found 3 whole mark sheets, 4 are the least"),
        (lambda p: painted_out(p, 3, 4, 5, 7, 1), "found 3 whole mark sheets"),
        (lambda p: cv2.GaussianBlur(p, (0, 0), 12), "it is blurred: hold the camera still"),
        (lambda p: (p * 0.06).astype(np.uint8), "it is too dark: more light"),
        (lambda p: np.full_like(p, 120), "found 0 whole mark sheets"),
    ],
)
def test_too_little_to_go_by(good: np.ndarray, spoilt: Callable[[np.ndarray], np.ndarray], says: str) -> None:
    assert says in refused(spoilt(good))


def test_a_sheet_seen_twice(good: np.ndarray) -> None:
    twice = good.copy()
    x, y = np.round(CAMERA.project(np.array([SCENE.sheets[1][:2]]))[0]).astype(int)
    u, v = np.round(CAMERA.project(np.array([SCENE.sheets[5][:2]]))[0]).astype(int)
    twice[v - 120 : v + 120, u - 120 : u + 120] = good[y - 120 : y + 120, x - 120 : x + 120]
    assert "mark sheet 2 is seen twice: lay each sheet once" in refused(twice)


def test_the_hide_cut_off_by_the_picture() -> None:
    camera = replace(CAMERA, aim=(470.0, 0.0), distance=1900.0)
    seen = camera.project(SCENE.outline)
    beyond = {
        "left": -seen[:, 0].min(),
        "upper": -seen[:, 1].min(),
        "lower": seen[:, 1].max() - camera.height,
    }
    side = max(beyond, key=lambda name: beyond[name])
    assert beyond[side] > 50
    sheets = [one for one in SCENE.sheets if one[0] > -300]
    said = refused(render(replace(SCENE, sheets=sheets), camera))
    assert f"the hide is cut off at the {side} edge of the picture" in said


def test_two_hides() -> None:
    outline = SCENE.outline * [0.42, 1.0] - [330, 0]
    picture = render(replace(SCENE, outline=outline), CAMERA)
    ends = [CAMERA.project(outline + np.array([beside, 0])).min(0) - 15 for beside in (0, 660)]
    (x, y), (u, v) = np.round(ends).astype(int)
    width, height = np.ceil(np.ptp(CAMERA.project(outline), axis=0) + 30).astype(int)
    picture[v : v + height, u : u + width] = picture[y : y + height, x : x + width].copy()
    assert "two hides are in the picture" in refused(picture)


def test_a_hide_as_light_as_the_floor() -> None:
    said = refused(
        render(replace(SCENE, leather=(0.31, 0.31, 0.31), floor=(0.30, 0.31, 0.32), shadow=0.0), CAMERA)
    )
    assert "lay it on a sheet of another colour" in said


def test_sheets_all_in_one_line() -> None:
    sheets = [(x, -480.0, turn, False) for (x, _, turn, _) in SCENE.sheets[:3]]
    sheets += [(900.0, -480.0, 0.2, False), (310.0, -480.0, 1.0, False)]
    assert "the mark sheets lie all in one line" in refused(render(replace(SCENE, sheets=sheets), CAMERA))


def test_a_camera_held_too_much_aslant() -> None:
    camera = replace(CAMERA, tilt=math.radians(52), distance=2700.0)
    assert "off straight down, 42° is the most" in refused(render(SCENE, camera))


@pytest.mark.parametrize(
    ("down", "on", "says"),
    [
        (0.0, True, "mark sheet 2 lies across the hide's edge"),
        (
            0.0,
            False,
            "no mark is read on it: take it away, or lay the sheet so that nothing hides a part of it",
        ),
        (160.0, False, "mark sheet 2 lies too near to the hide's edge"),
    ],
)
def test_a_sheet_across_the_edge_under_it_or_too_near_to_it(down: float, on: bool, says: str) -> None:
    bottom = float(SCENE.outline[np.abs(SCENE.outline[:, 0]) < 110][:, 1].min())
    sheets = [one if n != 1 else (0.0, bottom - down, 0.0, on) for n, one in enumerate(SCENE.sheets)]
    assert says in refused(render(replace(SCENE, sheets=sheets), CAMERA))


def test_rings_that_are_open_hidden_or_stand_for_nothing(good: np.ndarray) -> None:
    blue, green = (0.03, 0.10, 0.60), (0.05, 0.40, 0.10)
    covered = replace(
        SCENE, rings=[Ring(blue, (0.0, 0.0), 40.0)], sheets=[*SCENE.sheets, (100.0, 10.0, 0.0, True)]
    )
    x, y = np.round(CAMERA.project(np.array([(0.0, 0.0)]))[0]).astype(int)
    assert "lies over or against the flaw" in refused(render(covered, CAMERA))
    assert "say which, such as --flaws green=mark" in refused(ringed(good, green, 40.0))
    picture = ringed(good, blue, 40.0)
    picture[y - 60 : y, x - 60 : x] = good[y - 60 : y, x - 60 : x]  # a quarter of the ring gone
    assert "the blue ring near" in refused(picture)


def test_pieces_of_a_ring_that_looks_like_floor_count_as_one_hole() -> None:
    pieces = [np.array([(0, 0), (4, 0), (4, 20), (0, 20)]), np.array([(10, 0), (14, 0), (14, 20), (10, 20)])]
    far = np.array([(60, 0), (70, 0), (70, 10), (60, 10)])
    one, two = sorted(_together([*pieces, far]), key=lambda spot: spot[:, 0].min())
    assert shapely.Polygon(one).equals(shapely.box(0, 0, 14, 20))
    assert shapely.Polygon(two).equals(shapely.Polygon(far))


@pytest.mark.parametrize("mouth", [6.0, 16.0])
def test_a_ring_that_looks_like_floor_and_is_open_is_a_hole_with_all_it_goes_round(mouth: float) -> None:
    open_ring = shapely.Point(0, 0).buffer(21).difference(shapely.Point(0, 0).buffer(12))
    open_ring = open_ring.difference(shapely.box(0, -mouth / 2, 30, mouth / 2))
    (hole,) = _together([np.asarray(open_ring.exterior.coords)[:-1]])
    assert shapely.Polygon(hole).contains(shapely.Point(0, 0).buffer(12))
    bean = shapely.LineString([(0, 0), (20, 4), (40, 0)]).buffer(12)
    (same,) = _together([np.asarray(bean.exterior.coords)[:-1]])
    assert shapely.Polygon(same).equals(bean)  # no ring: left as it is


def pale_leather(*rings: tuple[tuple[float, float, float], float]) -> Surface:
    """Rings of chalk, by colour and radius, where undyed leather is a fifth lighter than about them.

    In a JPEG file colours are half as fine as lightness, so they run over a ring's border.
    """
    light = np.full((320, 320, 3), (0.09, 0.092, 0.095)[::-1], np.float32)  # CELL mm to a px
    light[32:288, 32:288] = (0.31, 0.47, 0.62)
    away = CELL * np.hypot(*np.mgrid[-160.3:159, -160.3:159])
    light[away < 45] *= 1.2
    for colour, radius in rings:
        light[(away > radius) & (away < radius + 9)] = colour[::-1]
    light = cv2.GaussianBlur(light, (0, 0), 0.6)
    light *= np.exp(np.random.default_rng(1).normal(0, 0.01, (320, 320, 1)))
    written = jpeg(np.round(255 * linear_to_srgb(light)).astype(np.uint8), 90)
    picture = cv2.imdecode(np.frombuffer(written, np.uint8), cv2.IMREAD_COLOR)
    half = math.hypot(320, 320) / 2 * CELL
    outline = CELL * np.array([(-128.0, -128), (128, -128), (128, 128), (-128, 128)])
    plane = Plane(np.diag([1 / half, 1 / half, 1.0]), 0.0, 320, 320)
    surface = surface_of(picture, plane, outline, [])
    assert surface is not None
    return surface


def test_on_pale_leather_the_border_a_ring_runs_over_is_not_white_chalk() -> None:
    blue, white = COLOURS["blue"], COLOURS["white"]
    flaws, unnamed = find_flaws(pale_leather((blue, 16.5)), USUAL)
    assert [flaw.where for flaw in flaws] == ["blue"]
    assert unnamed == []
    # White chalk is still seen, against the blue as well.
    for radius in (25.5, 60.0):
        _, unnamed = find_flaws(pale_leather((blue, 16.5), (white, radius)), USUAL)
        assert {name for name, _ in unnamed} == {"white"}
