"""The drawing of straps that are no belts: their figures, notes and findings, whole and on nothing else."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from tests.drawing.rendered import drawing_svg

from strapwright.drawing.text import text_box
from strapwright.files.validate import validate
from strapwright.job.draft import draft
from strapwright.job.spec.job import Job

SPACE = "{http://www.w3.org/2000/svg}"
BAR = {"bar_diameter": "5 mm"}


def drawn(units="mm", **strap):
    data = {
        "leather": {"thickness": "3.4 mm", "tannage": "vegetable"},
        "strap": [{"id": "satchel", "width": 32, "length": 1080, **strap}],
    }
    got = draft(validate(Job, data, "trial.toml"))
    return got.straps[0], ElementTree.fromstring(drawing_svg(got, units=units).partition("-->")[2])


def texts(svg):
    return [text.text or "" for text in svg.iter(f"{SPACE}text")]


def boxes(svg):
    for text in svg.iter(f"{SPACE}text"):
        if "transform" not in text.attrib:
            x, y, size = (float(text.get(key, "0")) for key in ("x", "y", "font-size"))
            bold = text.get("font-weight") == "bold"
            yield text_box(text.text or "", x, y, size, anchor=text.get("text-anchor", "start"), bold=bold)


def test_a_strap_on_two_rings_is_drawn_with_both_ends_mirrored():
    strap, svg = drawn(ends=[BAR, BAR])
    said = texts(svg)
    # the 1/4 in post wants 5.2625 mm; rows 4 × 5.2625 = 21.05 apart: B′ lies at 16.908 + 21.05 = 37.958, and
    # a margin of 2.5 × 5.2625 makes 51.1, up to 52
    assert said.count("turn-back 52") == 2
    assert said.count("A 15") == said.count("A′ 16.9") == said.count("B′ 38") == 2
    assert said.count("fold line") == 3  # one at either end, one in the legend
    assert f"blank {round(strap.blank_length, 1):g}" in said
    assert "fold line to fold line 1094" in said
    assert any(line.startswith("Either end: rows A, B meet A′, B′") for line in said)


def test_a_strap_with_a_tip_has_its_holes_measured_from_it():
    _, svg = drawn(ends=[BAR, {"tip": "round"}], holes={"count": 4, "spacing": "20 mm", "first": "60 mm"})
    said = texts(svg)
    assert {"4 × ⌀5", "3 × 20", "to tip 60"} <= set(said)
    assert any("second end: round tip. Finished" in line for line in said)


def test_holes_and_fold_lines_are_drawn_as_often_as_the_strap_has_them():
    _, svg = drawn(ends=[BAR, {"tip": "round"}], holes={"count": 4})
    kinds = [path.get("class") for path in svg.iter(f"{SPACE}path")]
    assert kinds.count("hole cut") == 4 + 8  # holes, and two across in two rows with their mates
    assert kinds.count("fold") == 2  # the fold line and the legend's
    assert kinds.count("leather cut") == 2  # either side of the break


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize(
    "strap",
    [
        {"ends": [BAR, BAR]},
        {"ends": [{"tip": "round"}, BAR], "fastener": "stitched", "holes": {"count": 4}},
        {"ends": [BAR, {"tip": "spear"}], "width": 60, "fastener_holes": {"rows": 1}, "holes": {"count": 1}},
        {"ends": [{"tip": "round"}, {"bar_diameter": 2}], "width": 18, "length": 150, "fastener": "stitched"},
        {"length": 200},
    ],
)
def test_no_text_lies_on_another(strap, units):
    placed = list(boxes(drawn(units, **strap)[1]))
    assert len(placed) > 6
    for place, box in enumerate(placed):
        assert not any(box.meets(other) for other in placed[:place])


def test_findings_stand_below_the_strap_they_are_about():
    strap, svg = drawn(ends=[{"bar_diameter": 2}, {"tip": "round"}])
    told = " ".join(texts(svg))
    assert strap.findings
    for finding in strap.findings:
        assert re.sub(r"\s", " ", finding.what) in re.sub(r"\s", " ", told)
