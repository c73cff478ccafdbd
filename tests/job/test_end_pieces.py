"""Only the ends: two short pieces that carry everything the buckle meets."""

from __future__ import annotations

from pathlib import Path

import pytest

from strapwright import api
from strapwright.job.end_pieces import only_ends

BATCH = Path(__file__).parents[2] / "examples" / "autumn-batch.toml"


@pytest.fixture(scope="module")
def drafted():
    return api.draft(api.read_job(BATCH))


def test_each_strap_gives_a_buckle_end_and_a_tip_end_of_fifteen_centimetres(drafted):
    pieces = only_ends(drafted).parts
    assert len(pieces) == 2 * len(drafted.belts)
    for piece in pieces:
        x0, _, x1, _ = piece.outline.bounding_box
        assert x1 - x0 == pytest.approx(150.0)
        assert piece.outline.is_counter_clockwise


def test_the_buckle_end_has_slot_and_all_fastener_holes_and_the_tip_end_its_last_holes(drafted):
    whole = {part.id: part for part in drafted.parts}
    for buckle, tip in zip(*[iter(only_ends(drafted).parts)] * 2, strict=True):
        strap = whole.get(f"{buckle.belt_id}/strap") or whole[f"{buckle.belt_id}/strap-1"]
        for name in ("prong slot", "fastener hole", "fold line"):
            there = [f for f in strap.features if f.name == name]
            assert [f for f in buckle.features if f.name == name] == there
        assert any(f.name == "adjusting hole" for f in tip.features)
        for piece in (buckle, tip):
            for feature in piece.features:
                assert piece.outline.contains(feature.contour.sample(2)).all()


def test_the_ends_can_be_cut_from_scrap():
    made = api.cut(
        api.read_job(BATCH),
        api.read_hides([BATCH.with_name("side.toml")]),
        api.read_machine("wide-laser"),
        ends_only=True,
        steps=1,
    )
    assert {placed.part.id for placed in made.layout.placed} >= {"ines/buckle end", "ines/tip end"}
    assert made.files.greatest_deviation_mm <= 0.001


def test_a_run_of_sizes_gives_the_ends_of_its_first_size(tmp_path):
    job = tmp_path / "run.toml"
    job.write_text(
        '[leather]\nthickness = "3.6 mm"\ntannage = "vegetable"\n'
        '[[belt]]\nid = "crew"\nsizes = "30-34/2"\nbuckle = "single-40"\n',
        "utf-8",
    )
    pieces = only_ends(api.draft(api.read_job(job))).parts
    assert [piece.id for piece in pieces] == ["crew-30/buckle end", "crew-30/tip end"]
