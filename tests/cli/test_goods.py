"""`start --goods`: each job drafts without a caution, gives its papers, and goes to cut files on a side."""

from __future__ import annotations

import json
import math
from importlib import resources
from typing import TYPE_CHECKING

import pytest
from tests.cli.runner import EXAMPLES, run

from strapwright import api
from strapwright.cli.start import GOODS

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from strapwright.job.draft import Draft


def lead(drafted: Draft) -> None:
    """1.2 m from hook to the loop's end and a loop of 360 mm: common practice."""
    (strap,) = drafted.straps
    ends, spec = strap.strap.ends, strap.spec
    bar = strap.strap.span - spec.length  # from the fold line to the middle of the hook's bar
    reach, loop, lap = 1000.0, 360.0, 60.0
    assert spec.length == reach + loop + lap
    mates = sorted(2 * (reach + loop / 2) - (x - bar) for x in strap.strap.holes.xs)
    assert mates == pytest.approx([955, 985])  # as the job's comments say
    assert all(reach - lap < mate < reach for mate in mates)
    assert ends[0].turn_back < reach - lap  # the lap is clear of the hook's turn-back
    assert {mode.name for mode in strap.strength.modes} > {"strap-net-section", "end-1-fastener-bearing"}


def collar(drafted: Draft) -> None:
    """A neck of 150 mm, two fingers under the tape, wears the middle hole: common practice."""
    (belt,) = drafted.belts
    figures = belt.figures
    assert (belt.spec.size.girth, belt.spec.hole_in_use, belt.spec.holes.count) == (150, 3, 5)
    assert figures.girth_at(3) == pytest.approx(150, abs=0.05)
    assert figures.girth_at(1) < 140 < 160 < figures.girth_at(5)
    assert len(belt.strap.ends[0].rows) == 3  # the dee ring is held by a row beyond its bar


def laps(long: tuple[float, ...], short: tuple[float, ...]) -> list[float]:
    """The laps at which both holes of the short part, from its tip, meet holes of the long one."""
    at = sorted(short)
    return sorted(at[0] + x for x in long if any(abs(at[0] + x - at[1] - other) < 1e-6 for other in long))


def two_parts(drafted: Draft) -> list[float]:
    """The lengths two lapped parts can have."""
    long, short = drafted.straps[:2]
    from_tips = [tuple(one.strap.span - x for x in one.strap.holes.xs) for one in (long, short)]
    return [long.spec.length + short.spec.length - lap for lap in laps(*from_tips)]


def bag_strap(drafted: Draft) -> None:
    """Ring to ring, in steps of 20 mm, within what is worn across: common practice."""
    assert two_parts(drafted) == pytest.approx([1170, 1150, 1130, 1110, 1090, 1070, 1050])


def guitar_strap(drafted: Draft) -> None:
    """Pin to pin 1000 to 1400 mm (common practice), and a pin's head passes the slit."""
    lengths = [length + 2 * 50 for length in two_parts(drafted)]
    assert lengths == pytest.approx([1260, 1240, 1220, 1200, 1180, 1160, 1140])
    tab = drafted.straps[2].spec
    cut = [shape.contour.bounding_box for shape in tab.drawing.shapes if shape.operation == "cut"]
    (x0, y0, x1, y1), outline = sorted(cut, key=lambda box: box[2] - box[0])
    assert outline[0] + 40 + 50 == pytest.approx(x1 - 4, abs=0.01)  # the pin, 50 mm beyond the strap's end
    assert outline[2] - (x1 - 4) == pytest.approx(20, abs=0.01)
    assert 2 * (x1 - x0) >= math.pi * 12.8  # the round of a head of 12.8 mm through hole and slit
    assert y1 - y0 == pytest.approx(8, abs=0.01)


def ranger_belt(drafted: Draft) -> None:
    """The body stands 120 mm from the fold line and 70 mm from the first hole, and the girth is met."""
    (belt,), (body,) = drafted.belts, drafted.straps
    girth = belt.figures.girth_at(4)
    assert girth == pytest.approx(915, abs=0.05)
    # The body lies inside the narrow belt, by its thickness, over its share of the way round.
    inside = girth - 2 * math.pi * body.thickness * body.spec.length / girth
    assert inside == pytest.approx(900, abs=1)
    first = min(belt.figures.holes.xs)
    assert first - 120 - body.spec.length == pytest.approx(70, abs=1)
    assert belt.strap.ends[0].turn_back < 120
    assert belt.spec.buckle.for_strap < body.spec.width


CHECKED: dict[str, Callable[[Draft], None]] = {
    "lead": lead,
    "collar": collar,
    "bag-strap": bag_strap,
    "guitar-strap": guitar_strap,
    "ranger-belt": ranger_belt,
}


PARTS = {"lead": 1, "collar": 2, "bag-strap": 2, "guitar-strap": 4, "ranger-belt": 3}
"""How many parts each is cut from."""


def test_every_folder_of_goods_can_be_named_and_is_checked():
    there = {entry.name for entry in (resources.files("strapwright") / "starter" / "goods").iterdir()}
    assert there == set(GOODS) == set(CHECKED)


@pytest.mark.parametrize("name", GOODS)
def test_a_job_for_goods_goes_all_the_way_from_its_text_to_cut_files(name: str, tmp_path: Path):
    folder = tmp_path / name
    said = run("start", folder, "--goods", name).output
    assert f"in {folder}: strapwright draft job.toml --drawing {name}.png" in said
    job = folder / "job.toml"
    text = job.read_text("utf-8")
    for heading in ("Fit", "Caution", "Order", "Change"):
        assert f"\n# {heading} " in text
    assert "Never for climbing, lifting" in " ".join(text.replace("#", "").split())
    said = run("draft", job, "--drawing", folder / f"{name}.png").output
    assert "caution" not in said
    assert "stop" not in said.split()
    drafted = api.draft(api.read_job(job))
    CHECKED[name](drafted)
    run("card", job, "--out", folder / "card.html")
    if drafted.belts:
        run("handout", job, "--belt", drafted.belts[0].id, "--out", folder / "handout.pdf")
    thickness = {item.thickness for item in drafted.items}
    side = folder / "side.toml"  # the example's side, in the leather the job asks for
    side.write_text(
        (EXAMPLES / "side.toml").read_text("utf-8").replace('"9 oz"', f'"{max(thickness):g} mm"'), "utf-8"
    )
    out = folder / "out"
    run("cut", job, "--hide", side, "--machine", "wide-laser", "--steps", "1", "--out", out)
    laid = json.loads((out / "layout.json").read_text("utf-8"))
    assert laid["unplaced"] == []
    assert len(laid["placed"]) == PARTS[name]
    assert list(out.glob("*.dxf"))


def test_goods_that_are_not_known_are_refused_with_those_that_are(tmp_path: Path):
    said = run("start", tmp_path / "here", "--goods", "harness", status=2).stderr
    (line,) = [line for line in said.splitlines() if "harness" in line]
    assert all(f"'{name}'" in line for name in GOODS)
    assert not (tmp_path / "here").exists()


def test_a_job_for_goods_in_a_shop_goes_by_that_shop_and_is_not_written_twice(tmp_path: Path):
    run("start", tmp_path / "shop")
    assert not (tmp_path / "shop" / "goods").exists()
    folder = tmp_path / "shop" / "jobs" / "lead"
    run("start", folder, "--goods", "lead")
    assert "house-45" in api.read_job(folder / "job.toml").catalogue.buckles
    (folder / "job.toml").write_text("# mine\n")
    assert "already exists" in run("start", folder, "--goods", "lead", status=1).stderr
