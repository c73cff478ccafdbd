"""The bench card: one content, told alike in HTML and PDF, with every number a maker needs at the bench."""

from __future__ import annotations

import base64
import hashlib
import itertools
import re
from html.parser import HTMLParser
from pathlib import Path

import matplotlib
import pypdfium2
import pytest

from strapwright import api
from strapwright.core.errors import SafetyError
from strapwright.files.validate import validate
from strapwright.job.spec.job import Job
from strapwright.machine.duration import clock, together
from strapwright.parts.part import Operation
from strapwright.rules.leather import Tannage
from strapwright.rules.safety import cautions
from strapwright.write.card.blocks import Beside, Card, Facts, Sheet, Table, Ticks, Words
from strapwright.write.card.pdf import card_pdf

NOTICED = "Noticed while planning the cuts"
EXAMPLES = Path(__file__).parents[3] / "examples"


def read(name):
    return api.read_job(EXAMPLES / name)


def pdf_text(data):
    pages = pypdfium2.PdfDocument(data)
    return "\n".join(page.get_textpage().get_text_bounded() for page in pages).replace("\r\n", "\n")


class Tags(HTMLParser):
    """Every tag is closed in its order, and nothing is asked for from elsewhere."""

    EMPTY = ("meta", "input", "path", "rect", "circle", "line")

    def __init__(self):
        super().__init__()
        self.open, self.words, self.boxes, self.outside, self.ids = [], [], 0, [], []

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.boxes += tag == "input"
        self.ids += [given["id"]] if "id" in given else []
        self.outside += [v for k, v in attrs if k in ("src", "href", "xlink:href") and not v.startswith("#")]
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.ids += [value for key, value in attrs if key == "id"]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.words.append(data)


def parsed(html):
    tags = Tags()
    tags.feed(html)
    tags.close()
    assert tags.open == []
    return tags


@pytest.fixture(scope="module", params=["one-belt.toml", "autumn-batch.toml", "strap-goods.toml"])
def made(request):
    return api.card(read(request.param))


def test_html_needs_nothing_else_and_is_well_formed(made):
    tags = parsed(made.html())
    assert tags.outside == []
    assert len(set(tags.ids)) == len(tags.ids)
    assert not re.search("https?:", made.html().replace("http://www.w3.org/2000/svg", ""))
    assert "prefers-color-scheme:dark" in made.html()
    assert "@page{size:A4" in made.html()


def test_html_holds_under_a_policy_that_allows_its_one_style_sheet_alone(made):
    html = made.html()
    (style,) = re.findall("<style>(.*?)</style>", html, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"content=\"default-src 'none'; style-src 'sha256-{digest}'\"" in html
    assert not re.search(r"<[^>]* (style|on\w+)=|<script|<link|javascript:", html)


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
@pytest.mark.parametrize("brief", [False, True])
def test_pages_are_numbered_and_no_step_is_parted_from_its_box_or_heading(paper, size, brief):
    made = api.card(read("autumn-batch.toml"), paper=paper, brief=brief)
    pages = list(pypdfium2.PdfDocument(made.pdf()))
    texts = [" ".join(page.get_textpage().get_text_bounded().split()) for page in pages]
    assert {tuple(map(round, page.get_size())) for page in pages} == {size}
    for number, text in enumerate(texts, 1):
        assert f"page {number} of {len(pages)}" in text
    headings = [block for sheet in made.card.sheets for block in sheet.blocks if hasattr(block, "title")]
    for text in texts:
        said = re.sub(r" \S+( \S+)* page \d+ of \d+$", "", text)
        assert not any(said.endswith(block.title) for block in headings), said[-80:]
    for sheet in made.card.sheets:
        for block in sheet.blocks:
            for number, (step, caution) in enumerate(getattr(block, "steps", ()), 1):
                whole = f"{number}. {step} {caution}".strip().replace("′", "'")
                assert any(whole in text for text in texts), whole


def test_what_is_higher_than_a_page_goes_on_overleaf():
    long = " ".join(f"word{k}" for k in range(1800))
    blocks = (
        Facts((("a name", long),)),
        Table("A table", ("one", "two"), (("x", long), ("y", "z")), ticks=True),
        Ticks("Steps", ((long, long), ("then", ""))),
        Words("Watch for", (long, "and this"), grave=True),
    )
    for brief in (False, True):
        made = Card("a job", "of one", (Sheet("one", "One", "", blocks, brief=brief),), "the foot")
        words = re.findall(r"word\d+", pdf_text(card_pdf(made)))
        assert sorted(words) == sorted(5 * long.split())


def test_html_and_pdf_say_the_same(made):
    html = " ".join(" ".join(parsed(made.html()).words).split())
    pdf = " ".join(pdf_text(made.pdf()).split())
    for sheet in made.card.sheets:
        assert sheet.title in html
        assert sheet.title in pdf
        for block in sheet.blocks:
            for row in getattr(block, "rows", ()):
                for cell in row:
                    assert cell in html
                    assert cell.split(" ")[0] in pdf
            for step, caution in getattr(block, "steps", ()):
                assert step in html
                assert caution in html
                assert step[:30] in pdf
                assert caution[:30] in pdf


def test_every_piece_of_every_order_has_a_place_to_tick():
    made = api.card(read("autumn-batch.toml"))
    shop = made.card.sheets[0]
    (cutting,) = [one for one in shop.blocks if getattr(one, "title", "").startswith("Cutting list")]
    drafted = made.draft
    assert cutting.ticks
    assert [row[0] for row in cutting.rows] == [belt.id for belt in drafted.belts]
    for belt, sheet, row in zip(drafted.belts, made.card.sheets[1:], cutting.rows, strict=True):
        kinds = {str(part.kind) for part in drafted.parts if part.belt_id == belt.id}
        (own,) = [one for one in sheet.blocks if getattr(one, "title", "") == "What to cut"]
        assert own.ticks
        assert {kind for kind, *_ in own.rows} == kinds
        assert all(kind == "strap" or kind in row[3] for kind in kinds)
    steps = sum(len(getattr(block, "steps", ())) for sheet in made.card.sheets for block in sheet.blocks)
    assert parsed(made.html()).boxes > steps + len(cutting.rows)


def test_holes_are_told_from_both_ends():
    made = api.card(read("one-belt.toml"))
    belt = made.draft.belts[0]
    (table,) = [one for one in made.card.sheets[1].blocks if getattr(one, "title", "").startswith("Holes")]
    assert table.columns == ("hole", "from the end", "from the fold", "from the tip", "across", "size")
    rows = {row[0]: row for row in table.rows}
    x = belt.figures.hole_in_use
    (use,) = [row for name, row in rows.items() if "in use" in name]
    assert use[1:4] == tuple(
        f"{value:.1f}".removesuffix(".0")
        for value in (x + belt.figures.end.turn_back, x, belt.strap.span - x)
    )
    assert rows["A′"][2].startswith("−")
    for row in table.rows:
        assert float(row[1]) + float(row[3]) == pytest.approx(belt.blank_length, abs=0.11)


def test_each_row_says_which_screw_it_takes_and_how_many():
    made = api.card(read("one-belt.toml"))
    (table,) = [one for one in made.card.sheets[1].blocks if getattr(one, "title", "").startswith("Fastener")]
    assert table.rows == (
        ("A", "7.14 mm", "1/4 in (6.35 mm)", "2"),
        ("B", "7.14 mm", "1/4 in (6.35 mm)", "2"),
    )


def test_a_laser_is_named_with_class_eyes_smoke_watch_and_fire():
    made = api.card(read("one-belt.toml"), machine=api.read_machine("wide-laser"), machine_minutes=12)
    text = " ".join(pdf_text(made.pdf()).split())
    for words in (
        "At the machine: wide laser",
        "laser's class",
        "eye protection",
        "Extraction on",
        "Never leave a running laser unattended",
        "Fire watch",
        "12 min, an estimate",
    ):
        assert words in text
    assert "Cut strap and keeper to size" not in text


def test_the_machine_s_minutes_are_those_of_its_cut_plan():
    job, laser = read("one-belt.toml"), api.read_machine("wide-laser")
    hides = api.read_hides([EXAMPLES / "side.toml"])
    layout = api.nest(api.draft(job), hides, api.clearance_for(job), steps=2)
    made = api.card(job, layout=layout, machine=laser)
    time = together(api.plan(layout, laser).durations)
    (line,) = [one for one in made.bill.lines if one.kind == "machine"]
    assert line.quantity == pytest.approx(time.total / 3600, abs=5e-4)
    facts = dict(made.card.sheets[0].blocks[0].rows)
    assert facts["machine time"] == f"{time.total / 60:.0f} min, an estimate"
    assert facts["how calculated"].startswith("from the cut plan: score ")
    assert f"cut {clock(time.seconds[Operation.CUT])}" in facts["how calculated"]
    noticed = [block for block in made.card.sheets[0].blocks if getattr(block, "title", "") == NOTICED]
    assert "You have not said where the hide sits on the bed" in noticed[0].lines[0]


def test_minutes_that_cannot_be_calculated_say_why():
    job, laser = read("one-belt.toml"), api.read_machine("wide-laser")
    hides = api.read_hides([EXAMPLES / "side.toml"])
    layout = api.nest(api.draft(job), hides, api.clearance_for(job), steps=2)
    bare = dict(api.card(job, machine=laser).card.sheets[0].blocks[0].rows)
    assert bare["how calculated"] == "without a layout there is no cut plan to calculate them from"
    made = api.card(job, layout=layout, machine=laser.model_copy(update={"kerf": ()}))
    facts = dict(made.card.sheets[0].blocks[0].rows)
    assert facts["machine time"] == "not estimated"
    assert facts["how calculated"].startswith("no cut plan: ")
    assert "kerf" in facts["how calculated"]
    (line,) = [one for one in made.bill.lines if one.kind == "machine"]
    assert line.source == (
        f"the machine's minutes are not known: {facts['how calculated']}; give --machine-minutes"
    )
    by_hand = api.card(job, layout=layout, machine=laser.model_copy(update={"kerf": ()}), kerf=0.2)
    assert "min, an estimate" in dict(by_hand.card.sheets[0].blocks[0].rows)["machine time"]


def test_a_drag_knife_is_named_with_its_spindle_off_and_locked():
    text = " ".join(
        parsed(api.card(read("one-belt.toml"), machine=api.read_machine("drag-knife")).html()).words
    )
    assert "Spindle off and locked: try it by hand" in text
    assert "Extraction on" not in text


def test_no_card_sends_doubtful_leather_to_a_laser():
    asked = read("one-belt.toml")
    chrome = asked.model_copy(
        update={"leather": asked.leather.model_copy(update={"tannage": Tannage.CHROME})}
    )
    laser = api.read_machine("wide-laser")
    with pytest.raises(SafetyError, match="--accept-fume-risk"):
        api.card(chrome, machine=laser)
    assert api.card(chrome, machine=laser, accept_fume_risk=True).card.sheets


def test_findings_and_hostile_names_stand_on_the_card_as_text():
    data = {
        "job": {"name": "<script>alert(1)</script>"},
        "leather": {"thickness": 1.6, "tannage": "vegetable"},
        "belt": [{"id": "a & b <i>", "size": {"girth": 900}, "buckle": "single-40"}],
    }
    made = api.card(validate(Job, data, "trial.toml"))
    stop = next(finding for finding in made.draft.findings if finding.severity == "stop")
    html = made.html()
    assert "<script" not in html
    assert f"Stop: {stop.what} {stop.do}" in parsed(html).words


def test_no_two_lines_of_a_pdf_page_lie_on_each_other(made):
    for page in pypdfium2.PdfDocument(made.pdf()):
        text = page.get_textpage()
        boxes = [text.get_rect(k) for k in range(text.count_rects())]
        for (l0, b0, r0, t0), (l1, b1, r1, t1) in itertools.combinations(boxes, 2):
            across, up = min(r0, r1) - max(l0, l1), min(t0, t1) - max(b0, b1)
            assert across < 1.5 or up < 1.0, (text.get_text_bounded(l0, b0, r0, t0),)


def test_the_same_job_gives_the_same_card():
    first, second = (api.card(read("one-belt.toml")) for _ in range(2))
    assert first.html() == second.html()
    assert first.pdf() == second.pdf()
    assert len(re.findall("strapwright-0{64}", first.html())) == 1


@pytest.mark.parametrize(
    ("skive", "words"), [(True, "both skived over 18 mm"), (False, "8 mm thick at the lap")]
)
def test_a_lapped_keeper_s_card_says_how_thick_its_lap_is_or_how_long_to_skive(skive, words):
    keeper = {"width": 20, "join": "lap", "lap": 18, "thickness": 4, "skive": skive}
    buckle = {"for_strap": 38, "bar_diameter": 5, "frame_depth": 38}
    belt = {"id": "one", "size": {"girth": 950}, "buckle": buckle, "keeper": keeper}
    job = validate(Job, {"leather": {"thickness": 4, "tannage": "vegetable"}, "belt": [belt]}, "job")
    page = api.card(job).html()
    assert words in page
    assert ("Skive both ends of the keeper to nothing over 18 mm" in page) is skive


def batch_of(tmp_path, count, thickness="3.6 mm"):
    rows = [
        f"{name};{80 + n} cm;{('single-40', 'double-46')[n % 2]};{thickness};vegetable"
        for n, name in enumerate(f"belt {n:02}" for n in range(count))
    ]
    path = tmp_path / "batch.csv"
    path.write_text("\n".join(["name;waist;buckle;thickness;tannage", *rows, ""]))
    return api.read_job(path)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_twelve_belts_have_a_one_page_shop_order_and_half_a_page_each_when_brief(tmp_path, units):
    job = batch_of(tmp_path, 12)
    pages = [
        page.get_textpage().get_text_bounded()
        for page in pypdfium2.PdfDocument(api.card(job, brief=True, units=units).pdf())
    ]
    assert len(pages) == 1 + 12 / 2
    assert "Shop order" in pages[0]
    assert all(f"belt {n:02}" in pages[1 + n // 2] for n in range(12))
    if units == "mm":
        full = list(pypdfium2.PdfDocument(api.card(job).pdf()))
        assert len(full) == 1 + 2 * 12
    parsed(api.card(job, brief=True, units=units).html())


@pytest.mark.parametrize("brief", [False, True])
def test_a_caution_stands_once_in_a_card(tmp_path, brief):
    made = api.card(batch_of(tmp_path, 3, "3 mm"), brief=brief)
    for text in (pdf_text(made.pdf()).replace("\n", " "), " ".join(parsed(made.html()).words)):
        for caution in (*cautions("bench"), "Not for climbing, lifting, fall arrest or duty gear"):
            assert text.count(caution) == 1, caution


def test_what_a_belt_is_not_for_is_no_box_to_tick():
    made = api.card(read("one-belt.toml"))
    steps = [
        step for sheet in made.card.sheets for block in sheet.blocks for step in getattr(block, "steps", ())
    ]
    assert not any("climbing" in step for step, _ in steps)


def test_a_brief_card_has_every_hole_and_fastener():
    job = read("one-belt.toml")
    (full,) = api.card(job).card.sheets[1:]
    (brief,) = api.card(job, brief=True).card.sheets[1:]
    (beside,) = [block for block in brief.blocks if isinstance(block, Beside)]
    (holes,) = [one for one in full.blocks if getattr(one, "title", "").startswith("Holes")]
    assert [row[:5] for row in beside.right.rows] == [row[:5] for row in holes.rows]
    facts = dict(beside.left.rows)
    assert facts["row A"] == "1/4 in (6.35 mm), 2 of them"
    # to its centre: 7.126 + 985 − (2.75 + 3.572) = 985.804 to the edge that bears, less half of 5.5
    assert facts["fold to hole"] == "983.1 mm"


def test_inches_are_fractions_on_every_page_of_the_card():
    made = api.card(read("autumn-batch.toml"), units="in")
    for text in (pdf_text(made.pdf()).replace("\n", " "), " ".join(parsed(made.html()).words)):
        text = re.sub(r"\(\d[\d.]*\smm\)|\d+\.\d\d sq ft|\d+ mm posts?", "", text)
        assert re.findall(r"\d+\.\d+|\d+\smm", text) == []


def test_a_card_says_which_letters_its_font_lacks_and_takes_another_font(tmp_path):
    text = (EXAMPLES / "one-belt.toml").read_text("utf-8").replace('id = "halvard"', 'id = "ნინო"')
    (tmp_path / "job.toml").write_text(text, "utf-8")
    (tmp_path / "catalogue.toml").write_bytes((EXAMPLES / "catalogue.toml").read_bytes())
    job = api.read_job(tmp_path / "job.toml")
    usual = api.card(job)
    assert set("ნიო") <= set(usual.lacking)
    assert "Some letters of the names are not in this font" in pdf_text(usual.pdf())
    own = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"
    made = api.card(job, font=own)
    assert made.lacking == ()
    assert "ნინო" in pdf_text(made.pdf())
    assert api.card(read("one-belt.toml")).lacking == ()
