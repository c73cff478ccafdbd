"""Several photographs of one hide: they check one another, and see what one alone does not."""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely
from tests.photo.judge import verdict
from tests.photo.rendering import Camera, Ring, Scene, render
from tests.photo.scenes import CHALKS
from tests.photo.test_refused import A4, CAMERA, SCENE

from strapwright.core.errors import PhotoError
from strapwright.photo.hide_text import hide_text
from strapwright.photo.measure import MeasuredHide, measure_hide
from strapwright.photo.several import joined

RINGED = replace(SCENE, rings=[Ring(CHALKS["blue"], (200.0, 40.0), 24.0)], thickness=3.0)
OTHER = replace(CAMERA, tilt=0.35, heading=2.0, roll=math.pi - 2.0, distance=2700.0)
"""From the other side: the hide is upside down in the picture."""

NAMES = ["one.jpg", "two.jpg"]


def measured(scene: Scene, camera: Camera) -> MeasuredHide:
    return measure_hide(render(scene, camera), A4, printed=(1.0, 1.0), thickness=3.0)


@pytest.fixture(scope="module")
def both() -> list[MeasuredHide]:
    return [measured(RINGED, CAMERA), measured(RINGED, OTHER)]


def test_two_photographs_from_either_side_agree_and_say_by_how_much(both: list[MeasuredHide]) -> None:
    first, found = joined(both, NAMES)
    assert both[first].uncertainty == min(one.uncertainty for one in both)
    assert found.outline is both[first].outline
    assert [str(flaw.kind) for flaw in found.flaws] == ["mark"]
    (compared,) = found.findings
    assert compared.code == "photo-compared"
    assert compared.what.startswith(f"{NAMES[1 - first]} shows the same outline: ")
    usual, most = (float(words.split(" mm")[0].rsplit(" ", 1)[1]) for words in compared.what.split(",")[:2])
    assert 0 < usual < 1.5
    assert usual <= most < 3.0
    assert f"# {compared.what}" in hide_text(found, name="side", photo=NAMES[first])


def test_one_photograph_is_taken_as_it_is(both: list[MeasuredHide]) -> None:
    assert joined(both[:1], NAMES[:1]) == (0, both[0])


def test_an_edge_one_does_not_see_well_is_taken_from_the_other(both: list[MeasuredHide]) -> None:
    at = SCENE.outline[np.argmax(SCENE.outline[:, 0])]
    x, y = np.round(CAMERA.project(at[None])[0]).astype(int)
    veiled = render(RINGED, CAMERA)
    veiled[y - 30 : y + 30, x - 30 : x + 30] = cv2.GaussianBlur(
        veiled[y - 30 : y + 30, x - 30 : x + 30], (0, 0), 14
    )
    alone = measure_hide(veiled, A4, printed=(1.0, 1.0), thickness=3.0)
    assert alone.unsure
    alone = replace(alone, uncertainty=0.5 * both[1].uncertainty)  # the one that is taken
    first, found = joined([alone, both[1]], NAMES)
    assert first == 0
    assert found.unsure == ()
    assert "photo-edge" not in [one.code for one in found.findings]
    assert found.uncertainty == both[1].uncertainty
    near = verdict(RINGED, CAMERA, found)
    assert near.most < 4.0
    assert near.covered > 0.95


def test_a_flaw_only_one_of_them_shows_counts(both: list[MeasuredHide]) -> None:
    _, found = joined([replace(both[0], flaws=(), uncertainty=1.0), both[1]], NAMES)
    (flaw,) = found.flaws
    (own,) = both[0].flaws
    one, two = shapely.Polygon(flaw.polygon), shapely.Polygon(own.polygon)
    assert one.intersection(two).area > 0.9 * two.area
    assert found.findings[-1].code == "photo-flaws"
    assert "two.jpg shows a flaw that one.jpg does not" in found.findings[-1].what


def test_where_they_differ_the_edge_is_unsure_and_far_apart_they_are_refused(
    both: list[MeasuredHide],
) -> None:
    def cornered(by: float) -> MeasuredHide:
        corner = shapely.box(1150, 0, 1400, 60)
        cut = shapely.Polygon(both[1].outline).difference(corner)
        moved = shapely.Polygon(both[1].outline).buffer(-by)
        shape = cut.union(moved)
        return replace(both[1], outline=np.asarray(shape.exterior.coords)[:-1])

    far = both[0].uncertainty + both[1].uncertainty
    _, found = joined([replace(both[0], uncertainty=1.0), cornered(far + 2)], NAMES)
    assert len(found.unsure) == 1
    assert any(one.code == "photo-apart" for one in found.findings)
    with pytest.raises(PhotoError, match=r"two.jpg and one.jpg disagree: .* mm apart near"):
        joined([replace(both[0], uncertainty=1.0), cornered(25.0)], NAMES)
    smaller = replace(both[1], outline=both[1].outline * 0.99)
    with pytest.raises(PhotoError, match="disagree"):
        joined([both[0], smaller], NAMES)
