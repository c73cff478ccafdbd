"""Photographs as they are read: upright, and no finer than they need be."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from tests.photo.example import example
from tests.photo.judge import verdict

from strapwright.photo.mark_sheet import SIZES
from strapwright.photo.measure import measure_hide
from strapwright.photo.photograph import read_photo

PHOTO = Path(__file__).parents[2] / "examples/side-7.jpg"


@pytest.mark.parametrize("ending", ["jpg", "png"])
def test_of_a_very_fine_photograph_four_pixels_are_taken_as_one(tmp_path: Path, ending: str) -> None:
    whole = read_photo(PHOTO)
    exif = Image.Exif()
    exif[0x0112] = 6  # the camera was held upright: turn by 90 degrees to see it
    with Image.open(PHOTO) as image:
        large = image.resize((7200, 5400), Image.Resampling.BICUBIC).transpose(Image.Transpose.ROTATE_90)
        large.save(tmp_path / f"large.{ending}", exif=exif, quality=92, compress_level=1)
        fair = np.asarray(image.resize((3600, 2700), Image.Resampling.BICUBIC))[..., ::-1]
    seen = read_photo(tmp_path / f"large.{ending}")
    assert seen.shape == (2700, 3600, 3)
    assert np.abs(seen.astype(int) - fair).mean() < 4
    assert whole.shape == (2400, 3200, 3)  # of few pixels all are taken
    scene, camera = example()
    found = measure_hide(seen, SIZES["a4"], printed=(1.0, 1.0), thickness=scene.thickness)
    larger = replace(camera, width=3600, height=2700, focal=camera.focal * 3600 / 3200)
    near = verdict(scene, larger, found)
    assert (near.missed, near.invented) == ((), ())
    assert near.usual < 2.0
    assert near.sheets < 0.7
    assert abs(near.area) < 0.003
