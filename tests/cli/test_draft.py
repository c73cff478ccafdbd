"""`draft`: tables, working, JSON, drawing."""

from __future__ import annotations

import json
import re

from tests.cli.runner import BATCH, ONE, run


def test_the_tables_show_every_belt_and_no_cautions_of_the_bench():
    text = run("draft", BATCH).output
    for name in ("ines", "oddny", "tomasz", "wren", "ayodele", "marit", "spare-crew"):
        assert re.search(rf"^ {name} ", text, re.MULTILINE)
    assert "At the bench" not in text, "they stand on the card, where they are acted on"


def test_leather_is_told_in_both_units_with_its_edge_beveler():
    assert "leather at the edges: 3.6 mm (9 oz), edge beveler no. 3\n" in run("draft", ONE).output
    belt = json.loads(run("draft", ONE, "--json").stdout)["belts"][0]
    assert (belt["thickness_oz"], belt["edge_beveler"]) == (9.0, 3)


def test_the_working_can_be_checked_by_hand():
    text = run("draft", ONE, "--explain").output
    assert "B = π (r + K t)" in text
    assert "π (2.750 + 0.5 × 3.572)" in text
    assert re.search(r"prong slot, width +prong \+ 1\.5 +4\.5 \+ 1\.5 +6\.00", text)
    assert re.search(r"fastener holes +barrel \+ 0\.5 +4\.7625 \+ 0\.5, screw post 1/4 in +5\.26", text)
    # 20 + 3 + 5.2625 = 28.2625 between the rows
    assert re.search(r"hole B′ in the +hole before − pitch +-23\.49 − 28\.26 +-51\.75", text)
    assert "3.57 / (2 × 2.75 + 3.57) = 39%" in text
    assert "draw of the post at row B: (stack − length) / stack = (7.14 − 6.35) / 7.14 = 11%" in text
    least, most = (float(x) for x in re.findall(r"(?:least|greatest) waist or .* (\d+\.\d\d) *$", text, re.M))
    # edges of the first and the last hole 75 either side of 985.80, f 34: 910.80 − 7.13 − 11.22 + 34 − 6.15
    assert 920 < least < 921 < most < 1072
    assert re.search(r"bar to the edge .* 38 − 4 +34\.00", text)
    assert re.search(r"centre of the hole .* 985\.80 − 5\.5/2 +983\.05", text)
    assert re.search(r"climb to the prong, .*c = R θ \+ L − x", text)


def test_the_datum_and_how_sure_it_is_stand_below_the_tables():
    text = run("draft", ONE).output
    assert "holes are given by their centres; worn, the edge towards the tip bears on the prong\n" in text
    estimate = "34 mm from the bar (an estimate: frame depth 38 mm less the prong, 4 mm; measure hole_seat)"
    assert f"that edge: {estimate}\n" in text
    assert "waist or girth: to ± 10 mm, an estimate until belts are measured" in text


def test_inches_are_inches():
    text = run("draft", BATCH, "--units", "in").output
    assert "1 23/32" in text  # 44 mm
    assert "leather at the edges: 9 oz (9/64 in), edge beveler no. 3\n" in text
    assert "44% where 9/64 in leather folds round this bar" in text
    assert "Skive the fold to 1/8 in," in text
    assert " in (6.35 mm)" in text, "a post by the size it is sold by, mm after it"
    assert not re.search(r"\d\.\d", re.sub(r"\(\d.*? mm\)", "", text))
    assert re.findall(r"[^ ]+ mm", re.sub(r"\(\d.*? mm\)", "", text)) == []
    assert re.search(r"^ +B′ −2 1/16", text, re.MULTILINE), "a fraction is not torn apart"


def test_json_is_all_there_is_on_stdout():
    result = run("draft", BATCH, "--json")
    data = json.loads(result.stdout)
    assert len(data["belts"]) == 7
    ines = data["belts"][0]
    assert ines["strap_width_mm"] == 47.0
    xs = [x for x, _ in ines["hole_centres_mm"]]
    assert min(xs) > 0
    assert max(xs) + ines["tip_mm"] + ines["turn_back_mm"] - ines["blank_length_mm"] < 1e-3


def test_a_drawing_is_written_and_not_over_a_file_of_ones_own(tmp_path):
    drawing = tmp_path / "belt.svg"
    run("draft", ONE, "--drawing", drawing)
    first = drawing.read_text("utf-8")
    assert first.startswith(("<?xml", "<svg"))
    run("draft", ONE, "--drawing", drawing)
    assert drawing.read_text("utf-8") == first
    drawing.write_text(first.replace("halvard", "edited"), "utf-8")
    assert "was edited since" in run("draft", ONE, "--drawing", drawing, status=1).output
    run("draft", ONE, "--drawing", drawing, "--force")
    assert drawing.read_text("utf-8") == first


def test_a_csv_of_belts_drafts_like_a_job(tmp_path):
    orders = tmp_path / "orders.csv"
    orders.write_text(
        "id,size.girth,buckle,leather.thickness,leather.tannage\n"
        "Åse,38 in,single-40,9 oz,vegetable\n"
        "Jürgen,102 cm,double-46,3.6 mm,vegetable\n",
        "utf-8",
    )
    data = json.loads(run("draft", orders, "--json").stdout)
    assert [belt["id"] for belt in data["belts"]] == ["Åse", "Jürgen"]


def test_belts_that_cannot_be_made_are_told_by_id_and_exit_1(tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(
        '[leather]\nthickness = "3.6 mm"\ntannage = "vegetable"\n'
        '[[belt]]\nid = "slim"\nsize = { girth = 900 }\n'
        "buckle = { opening = 12, bar_diameter = 5, frame_depth = 38, prong_width = 6 }\n"
    )
    result = run("draft", job, status=1)
    assert result.output.startswith('error: belt "slim": slot_width is 7.5 mm')


def test_the_ends_alone_are_listed_drawn_and_told_in_json(tmp_path):
    drawing = tmp_path / "ends.svg"
    text = run("draft", ONE, "--ends-only", "--drawing", drawing).output
    assert re.search(r"buckle end +150\.0 .*1 prong slot, 8 fastener holes", text)
    assert "adjusting hole" in text
    assert "hole in use" not in text  # the whole strap is not told
    drawn = drawing.read_text("utf-8")
    assert drawn.count(">piece 150<") == 2
    assert ">last hole to tip " in drawn
    assert "the two ends, to try in scrap" in drawn
    data = json.loads(run("draft", ONE, "--ends-only", "--json").stdout)
    buckle, tip = data["ends"]
    assert buckle["id"].endswith("/buckle end")
    assert all(abs(end["to_mm"] - end["from_mm"] - 150.0) < 1e-6 for end in (buckle, tip))
    assert buckle["from_mm"] == -data["belts"][0]["turn_back_mm"]
    centres = [tuple(hole["centre_mm"]) for hole in buckle["holes"] if hole["name"] == "fastener hole"]
    assert sorted(centres) == sorted(map(tuple, data["belts"][0]["fastener_centres_mm"]))


def test_the_ends_of_a_job_with_other_straps_are_refused_by_id(tmp_path):
    job = ONE.replace("one-belt", "strap-goods")
    assert "satchel-strap" in run("draft", job, "--ends-only", status=1).output
