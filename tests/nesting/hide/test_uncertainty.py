"""Hides measured with an uncertainty: taken smaller, their flaws larger, unsure stretches kept clear."""

import numpy as np
import pytest
import shapely

from strapwright.core.errors import FileProblems, NestError
from strapwright.nesting.hide.file import read_hide
from strapwright.nesting.hide.repair import taken_smaller
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide, round_flaw

BEND = np.array([(0.0, 0.0), (1200.0, 0.0), (1200.0, 700.0), (0.0, 700.0)])

FILE = """
[hide]
name = "bend 2"
uncertainty = "2 mm"
points = [[0, 0], [1200, 0], [1200, 700], [0, 700]]

[[flaw]]
kind = "mark"
at = [300, 200]
size = "40 mm"

[[unsure]]
points = [[1200, 300], [1200, 400]]
within = "12 mm"
"""


def test_a_hide_is_taken_smaller_all_round_and_its_flaws_larger(tmp_path):
    path = tmp_path / "hide.toml"
    path.write_text(FILE)
    hide = read_hide(path)
    assert hide.area == pytest.approx(1196 * 696)
    mark, unsure = hide.flaws
    assert mark.round == pytest.approx((300, 200, 44))
    assert unsure.kind is FlawKind.HOLE
    reach = shapely.Polygon(unsure.polygon)
    assert reach.covers(shapely.LineString([(1200, 300), (1200, 400)]).buffer(13.9, quad_segs=64))
    assert [one.code for one in hide.findings] == ["hide-uncertainty", "hide-unsure-edge"]


def test_a_grown_flaw_keeps_its_distance_everywhere():
    # Against shapely's own buffer of many corners.
    flaw = np.array([(300.0, 300), (360, 310), (330, 380)])
    hide = taken_smaller(
        Hide("bend", BEND, (Flaw(FlawKind.LOOSE, flaw), round_flaw(FlawKind.MARK, 600, 300, 50))), 3.0
    )
    grown = shapely.Polygon(hide.flaws[0].polygon)
    assert grown.covers(shapely.Polygon(flaw).buffer(2.999, quad_segs=90))
    assert shapely.Polygon(flaw).buffer(3.15, quad_segs=90).covers(grown)


def test_what_leaves_nothing_or_is_out_of_range_is_refused(tmp_path):
    strip = Hide("strip", np.array([(0.0, 0.0), (900, 0), (900, 30), (0, 30)]))
    with pytest.raises(NestError, match="leaves nothing of it"):
        taken_smaller(strip, 16.0)
    path = tmp_path / "hide.toml"
    path.write_text(FILE.replace('"2 mm"', '"25 mm"'))
    with pytest.raises(FileProblems, match=r"hide.uncertainty: found .25 mm., expected 0 mm to 20 mm"):
        read_hide(path)
