"""The handout, read back from its PDF: every figure is the draft's, and its pattern measures true."""

from __future__ import annotations

import json
import re
from functools import cache
from itertools import pairwise
from pathlib import Path

import pypdfium2
import pytest
from tests.write.pdf_paths import pages, sizes

from strapwright import api
from strapwright.core.errors import FileProblems, PartError, PlanError
from strapwright.core.units import MM_PER_INCH
from strapwright.job.design import by_thickness, design_of
from strapwright.rules.punches import usual_punch
from strapwright.rules.safety import cautions
from strapwright.write.card.work import CALLIPER_WITHIN, NOT_FOR
from strapwright.write.handout.words import SHIPPED, shipped_words

EXAMPLES = Path(__file__).parents[3] / "examples"
CASES = [
    ("one-belt", "halvard", ""),
    ("autumn-batch", "ines", ""),
    ("autumn-batch", "wren", "80 cm-110 cm/10 cm"),
    ("one-belt", "", "30-46/2"),
    ("autumn-batch", "spare-crew", "34, 36"),
]


@cache
def job(name):
    return api.read_job(EXAMPLES / f"{name}.toml")


@cache
def made(name, belt="", sizes="", **more):
    return api.handout(job(name), belt, sizes=sizes, in_the_round=False, **more)


def text_of(pdf):
    """The words of the pages that are no sheets of the pattern, and of those that are."""
    document, told, sheets = pypdfium2.PdfDocument(pdf), [], []
    for page in document:
        words = " ".join(page.get_textpage().get_text_range().split())
        (sheets if re.search(r"sheet \d+ of \d+", words) else told).append(words)
    return " ".join(told), " ".join(sheets)


def numbers_in(value):
    if isinstance(value, bool) or value is None:
        return
    if isinstance(value, int | float):
        yield abs(float(value))
    elif isinstance(value, dict):
        for one in value.values():
            yield from numbers_in(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from numbers_in(one)


def drafted_numbers(handout, design):
    """Every figure a handout may show, out of the draft's own JSON, its parts and the buckle as measured."""
    found = set()
    for belt in handout.draft.belts:
        own = belt.as_json()
        findings = " ".join(f"{one['what']} {one['do']}" for one in own["findings"])
        found |= {float(one) for one in re.findall(r"\d+\.?\d*", findings)}
        found |= set(numbers_in({key: value for key, value in own.items() if key != "strength"}))
        found |= set(numbers_in(belt.buckle.model_dump()))
        found |= {float(one) for one in re.findall(r"\d+\.?\d*", f"{belt.run_size} {belt.buckle.name}")}
        low, _, tip, _ = belt.strap.outline.bounding_box
        holes = [x for x, _ in own["hole_centres_mm"]]
        outer = belt.figures.end.half_turn / 2 - belt.figures.end.fold_radius - belt.figures.layers.fold
        sold = holes[(len(holes) // belt.strap.holes.rows + 1) // 2 * belt.strap.holes.rows - 1] - outer
        found |= {tip, tip - low, sold, own["hole_in_use_mm"] + own["hole_length_mm"] / 2 - outer}
        found |= {tip - x for x in holes} | {belt.figures.girth_in_use, belt.buckle.seat}
        found |= {usual_punch(d) for d in own["fastener_diameters_mm"]}
        found |= {usual_punch(own["hole_diameter_mm"]), own["slot_mm"][0] - own["slot_mm"][1]}
        found |= {belt.figures.end.shift + x for x in belt.figures.end.mates}
        if belt.strap.crease:
            found.add(belt.strap.crease)
        for piece in belt.pieces():
            x0, y0, x1, y1 = piece.outline.bounding_box
            found |= {x1 - x0, y1 - y0, piece.thickness}
            for feature in piece.features:
                x0, y0, x1, y1 = feature.contour.bounding_box
                found |= {abs(x0 + x1) / 2, abs(y0 + y1) / 2}
        for post in belt.posts:
            found |= {float(one) for one in re.findall(r"\d+\.?\d*", f"{post.size} {post.name}")}
        count = belt.strap.holes.count * belt.strap.holes.rows
        found |= {float(k) for k in range(1, belt.strap.holes.count + 1)} | {float(count)}
        found |= {float(len(own["fastener_centres_mm"])), float(len(belt.figures.end.fastener_ys))}
        found.add(float(len(belt.figures.end.slot_ys)))
    for one in by_thickness(design, CALLIPER_WITHIN):
        found |= {one.least, one.most}
    # The JSON is rounded to a ten-thousandth, so what stands on the brink may be rounded either way.
    near = {one + off for one in found for off in (-2e-4, 0.0, 2e-4)}
    return {f"{abs(round(one, digits)):.7g}" for one in near for digits in (0, 1, 2)}


@pytest.mark.parametrize(("name", "belt", "sizes"), CASES)
def test_every_number_in_it_is_the_drafts(name, belt, sizes):
    handout = made(name, belt, sizes)
    document, count = pypdfium2.PdfDocument(handout.pdf), len(handout.pattern.sheets)
    lines = []
    for page in (*[*document][: -1 - count], document[len(document) - 1]):
        lines += page.get_textpage().get_text_range().splitlines()
    told = "\n".join(lines).replace("−", " ").replace(handout.draft.name, "")
    told = re.sub(r"page \d+ of \d+|(?m:^\d+\.(?= |$))", "", told)  # pages and steps have their own
    found = {f"{float(one):.7g}" for one in re.findall(r"\d+\.?\d*", told)}
    assert len(found) > 30
    strays = found - drafted_numbers(handout, design_of(job(name), belt, sizes))
    assert not strays


@pytest.mark.parametrize(("name", "belt", "sizes"), CASES)
def test_the_table_of_sizes_says_what_each_drafted_belt_is(name, belt, sizes):
    handout = made(name, belt, sizes)
    told, _ = text_of(handout.pdf)
    tenth = lambda mm: f"{round(mm, 1):g}"  # noqa: E731 - as the card writes computed lengths
    for one in handout.draft.belts:
        own = one.as_json()
        label = one.run_size if len(handout.draft.belts) > 1 else "this belt"
        holes = sorted({x for x, _ in own["hole_centres_mm"]})
        places = own["blank_length_mm"], holes[0], own["hole_in_use_mm"], holes[-1], holes[-1] + own["tip_mm"]
        assert f"{label} {' '.join(map(tenth, places))}" in told
        least, most = sorted(own["girth_mm"])
        assert f"{label} {one.figures.girth_in_use:.0f} {least:.0f} to {most:.0f} " in told


@pytest.mark.parametrize(("name", "belt", "sizes"), CASES)
def test_it_lists_every_hole_of_a_size_where_the_draft_has_it(name, belt, sizes):
    handout = made(name, belt, sizes)
    told, _ = text_of(handout.pdf)
    one = handout.draft.belts[-1]  # the last size too, though the table was filled from the first
    own, tip = one.as_json(), one.strap.span
    from_tip = sorted({tip - x for x, _ in own["hole_centres_mm"]}, reverse=True)
    listed = [float(x) for x in re.findall(r"buckle hole tip (\S+) (?:middle|±)", told)]
    assert listed == pytest.approx(from_tip, abs=0.051)
    slots_and_rows = sorted({x for x, _ in own["fastener_centres_mm"]})
    listed = [float(x.replace("−", "-")) for x in re.findall(r"hole for a fastener fold line (\S+) ", told)]
    assert listed == pytest.approx(slots_and_rows, abs=0.051)
    assert re.search(r"slot for the prong fold line 0 (?:middle|±)", told)
    assert f"{len(own['fastener_centres_mm'])} × ⌀" in told
    assert f"{len(own['hole_centres_mm'])} × ⌀" in told


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_its_sheets_are_the_patterns_and_measure_true(paper):
    handout = made("one-belt", sizes="30-46/2", paper=paper)
    size = {"a4": (210.0, 297.0), "letter": (8.5 * MM_PER_INCH, 11 * MM_PER_INCH)}[paper]
    for page in sizes(handout.pdf):
        assert sorted(page) == pytest.approx(sorted(size), abs=0.01)
    count = len(handout.pattern.sheets)
    belt = handout.draft.belts[0]
    sheets = pages(handout.pdf)[-1 - count : -1]
    paths = [path for _, drawn in sheets for path in drawn if path.is_solid]
    boxes = [(path.box[2] - path.box[0], path.box[3] - path.box[1]) for path in paths]

    def drawn(wide, high):
        return sum(abs(w - wide) < 0.02 and abs(h - high) < 0.02 for w, h in boxes)

    # Check bars of 100 mm both ways and of 4 in, on every sheet.
    assert drawn(100.0, 0.0) >= count
    assert drawn(4 * MM_PER_INCH, 0.0) >= count
    assert drawn(0.0, 100.0) >= count
    # Every hole of the strap, and the keeper, to the last hundredth.
    d = belt.strap.holes.diameter
    assert drawn(d, d) == belt.strap.holes.count
    d = belt.strap.buckle_end.diameters[0][0]
    assert drawn(d, d) == len(belt.strap.buckle_end.fastener_centres)
    x0, y0, x1, y1 = belt.keeper.outline.bounding_box
    assert drawn(x1 - x0, y1 - y0) == 1
    circles = [p for p in paths if abs(p.box[2] - p.box[0] - belt.strap.holes.diameter) < 0.02]
    middles = sorted((p.box[0] + p.box[2]) / 2 for p in circles if p.box[3] - p.box[1] > 1)
    gaps = [b - a for a, b in pairwise(middles)]
    assert any(abs(gap - belt.strap.holes.spacing) < 0.02 for gap in gaps)


def test_one_set_of_ends_serves_every_size():
    first, *others = made("one-belt", sizes="30-46/2").draft.belts
    for other in others:
        for one, two in zip(first.strap.features(), other.strap.features(), strict=True):
            box, there = one.contour.bounding_box, two.contour.bounding_box
            off = other.strap.span - first.strap.span if one.name == "adjusting hole" else 0.0
            if one.name != "crease line":
                assert there == pytest.approx((box[0] + off, box[1], box[2] + off, box[3]), abs=1e-6)
    _, sheets = text_of(made("one-belt", sizes="30-46/2").pdf)
    assert "halvard: strap, folded end" in sheets
    assert "--correct" not in sheets
    for belt in made("one-belt", sizes="30-46/2").draft.belts:
        assert f"{belt.blank_length:.1f}" not in sheets  # no size's own length on what serves all


def test_measured_as_it_says_a_size_comes_back():
    """Belt size and old belt of the table, given in a job, place the holes where the handout has them."""
    belt = made("one-belt", sizes="34").draft.belts[0]
    for key, value in (("belt_size", belt.figures.belt_size), ("worn_to_hole", belt.figures.worn_to_hole)):
        base = job("one-belt").belts[0]
        size = type(base.size).model_validate({key: f"{value} mm"})
        other = job("one-belt").model_copy(update={"belts": (base.model_copy(update={"size": size}),)})
        got = api.draft(other).belts[0].figures
        assert got.hole_in_use == pytest.approx(belt.figures.hole_in_use, abs=1e-6)


def test_it_says_the_cautions_of_the_bench_in_their_own_words():
    words = shipped_words()
    assert tuple(words[f"cautions.{key}"] for key in ("knife", "strike", "fumes")) == cautions("bench")[:3]
    assert words["document.not_for"] == NOT_FOR
    told, _ = text_of(made("one-belt", "halvard").pdf)
    for caution in cautions("bench")[:3]:
        assert told.count(caution) == 1
    assert told.count(words["cautions.knife_again"]) >= 3  # in short wherever a blade is used again
    told, _ = text_of(made("autumn-batch", "wren", "80 cm-110 cm/10 cm").pdf)
    assert "Watch for The grain stretches 44% where" in told


def test_its_words_hold_no_figures():
    assert not [name for name, text in shipped_words().items() if re.search(r"\d", text)]


def test_leather_a_little_off_takes_the_fasteners_its_own_draft_has():
    design = design_of(job("one-belt"))
    own = design.leather_of(design.belts[0]).thickness
    rows = by_thickness(design, CALLIPER_WITHIN)
    assert rows[0].least == pytest.approx(own - CALLIPER_WITHIN)
    assert rows[-1].most == pytest.approx(own + CALLIPER_WITHIN)
    thin = by_thickness(design, 3.0)  # nothing holds so thin a stack: there the window ends
    assert thin[0].least > 0.8
    for row in rows:
        for thickness in (row.least, row.most):
            leather = design.leather.model_copy(update={"thickness": thickness})
            there = api.draft(design.model_copy(update={"leather": leather})).belts[0]
            assert tuple((post.row, post.size) for post in there.posts) == row.posts


def translated(tmp_path, change=lambda text: text):
    text = SHIPPED.read_text("utf-8").replace("What to get", "Was du brauchst")
    path = tmp_path / "deutsch.toml"
    path.write_text(change(text.replace("page {number} of {count}", "Seite {number}/{count}")), "utf-8")
    return path


def test_its_words_can_be_translated(tmp_path):
    path = translated(tmp_path)
    told, _ = text_of(api.handout(job("one-belt"), text=path, in_the_round=False).pdf)
    assert "Was du brauchst" in told
    assert "What to get" not in told
    assert re.search(r"Seite 1/\d", told)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('tip = "Cut the tip', 'tipp = "Cut the tip', "steps.tipp: unknown key"),
        ("no_bevel = ", "nobevel_ = ", "steps.no_bevel: missing, expected its sentence"),
        (
            "{width} wide and {blank} long",
            "{width} wide",
            "steps.cut_one: found the figures {width}, expected",
        ),
        ("{width} wide and {blank} long", "{width wide", "steps.cut_one: found"),
        ('rule_for = "a straight board"', "rule_for = 3", "tools.rule_for: found 3, expected text"),
    ],
)
def test_words_that_are_missing_unknown_or_without_their_figures_are_named(tmp_path, old, new, said):
    path = translated(tmp_path, lambda text: text.replace(old, new))
    with pytest.raises(FileProblems) as error:
        api.handout(job("one-belt"), text=path, in_the_round=False)
    assert any(line.startswith(f"{path}: {said}") for line in str(error.value).split("\n"))


def test_what_cannot_be_given_away_is_said(tmp_path):
    with pytest.raises(PartError, match=r'no belt "halvar".*did you mean "halvard"'):
        made("one-belt", "halvar")
    with pytest.raises(PartError, match="the job has 7 belts; choose one"):
        made("autumn-batch")
    with pytest.raises(FileProblems, match=r'^sizes: found "46-30/2", which runs downwards'):
        made("one-belt", "", "46-30/2")
    path = tmp_path / "thin.toml"
    path.write_text((EXAMPLES / "one-belt.toml").read_text("utf-8").replace('"9 oz"', '"1.6 mm"'), "utf-8")
    thin = api.read_job(path, EXAMPLES / "catalogue.toml")
    with pytest.raises(PlanError, match=r"halvard: The stack at rows A and B is 3\.2 mm"):
        api.handout(thin, in_the_round=False)


def test_no_wearers_name_and_no_more_than_one_belt_goes_out():
    handout = made("autumn-batch", "ines")
    told = " ".join(text_of(handout.pdf))
    assert "Carvalhal" not in told
    assert "oddny" not in told
    assert json.dumps(handout.draft.as_json()).count('"id"') == 1


def test_the_same_design_gives_the_same_bytes():
    again = api.handout(job("one-belt"), "halvard", in_the_round=False)
    assert again.pdf == made("one-belt", "halvard").pdf


def test_a_ring_goes_on_before_the_fold_with_the_keeper_that_cannot_pass_it():
    """A keeper between the rows lies nearer the buckle than the ring: it cannot come from the tip."""
    told, _ = text_of(made("strap-goods", "pepper-collar").pdf)
    assert told.index("first the dee ring") < told.index("fold the end round the bar")
    assert told.index("then the closed keeper") < told.index("fold the end round the bar")
    assert "It goes on over the tip" not in told
    assert "two fingers must go under" in told
    told, _ = text_of(made("one-belt", "halvard").pdf)
    assert "dee ring" not in told
    assert "It goes on over the tip" in told
