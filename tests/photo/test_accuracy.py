"""Hides measured from rendered photographs of 12 megapixels, against what was rendered."""

import cv2
import numpy as np
import pytest
from tests.photo.judge import verdict
from tests.photo.rendering import jpeg, render
from tests.photo.scenes import camera_of, scene_of

from strapwright.photo.measure import measure_hide


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(20))
def test_a_photographed_hide_is_as_near_as_it_says(seed: int) -> None:
    scene = scene_of(seed)
    camera = camera_of(scene, seed)
    picture = cv2.imdecode(  # through a JPEG file, as a camera writes one
        np.frombuffer(jpeg(render(scene, camera, seed), camera.quality), np.uint8), cv2.IMREAD_COLOR
    )
    found = measure_hide(picture, scene.size, printed=(1.0, 1.0), thickness=scene.thickness)
    near = verdict(scene, camera, found)
    assert near.sheets < 0.7
    assert near.usual < 2.0
    assert near.most < 5.0
    assert abs(near.area) < 0.003
    assert near.inside > 0.995
    assert near.covered > 0.95
    assert near.missed == ()
    assert near.invented == ()
    assert found.uncertainty < 3.0
