"""The paper pattern, measured on the PDF by readers that know nothing of its writer."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest
import reportlab
import shapely
from hypothesis import assume, example, given, settings, strategies as st
from scipy.spatial import KDTree
from tests.write.patterns import drafted, pattern
from tests.write.pdf_paths import pages

from strapwright import api
from strapwright.core.errors import FileProblems, PaperError, PlanError
from strapwright.core.findings import Finding, Severity
from strapwright.drawing.canvas import Canvas, Group, Text
from strapwright.drawing.pattern_pieces import orders_of
from strapwright.drawing.pdf import PaperPage, arc_curves, pdf_of
from strapwright.drawing.text import usual_font
from strapwright.files.atomic_write import MARK, is_ours, write_whole
from strapwright.geometry.contour import Contour
from strapwright.geometry.intervals import within_x
from strapwright.geometry.shapes import rectangle, stadium
from strapwright.write.pattern.paper_sizes import Correction, read_correction, read_paper
from strapwright.write.pattern.tile_drawing import drawn_tile
from strapwright.write.pattern.tiles import OVERLAP, Stretch, Tile, stretches_of, tiles_of

DPI = 600
PX = DPI / 25.4
SHOWN = [
    ("one-belt", "a4", {}),
    ("one-belt", "letter", {"whole": True, "units": "in"}),
    ("autumn-batch", "a4", {}),
    ("autumn-batch", "legal", {"whole": True, "belts": ("ines",)}),
    ("autumn-batch", "roll:914mm", {}),
    ("autumn-batch", "roll:610mm", {"whole": True, "units": "in"}),
    ("strap-goods", "a4", {"correct": "short=100:99,long=100:100.5"}),
    ("strap-goods", "a3", {"whole": True}),
    ("strap-goods", "roll:914mm", {"whole": True}),
    ("odd", "a4", {}),
    ("odd", "letter", {"whole": True}),
]


def raster(data: bytes, page: int, margins: tuple[float, float, float, float] = (0, 0, 0, 0)) -> np.ndarray:
    """Return a page at 600 dpi, its margins cut off: True where there is ink, row 0 at the bottom.

    Args:
        data: of the PDF.
        page: from 0.
        margins: left, bottom, right and top, mm.
    """
    crop = tuple(mm * 72 / 25.4 for mm in margins)
    image = pypdfium2.PdfDocument(data)[page].render(scale=DPI / 72, grayscale=True, crop=crop).to_numpy()
    return (image.reshape(image.shape[:2]) < 128)[::-1]


def dark_runs(row: np.ndarray) -> list[float]:
    """Return the middles of the runs of ink along a row or column, mm."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(np.int8), [0]])))
    return [float(a + b) / 2 / PX for a, b in zip(edges[::2], edges[1::2], strict=True)]


def dashed(paths, dashes):
    return [path for path in paths if path.dashes == dashes]


FOLD = (5.0, 1.0, 1.0, 1.0, 1.0, 1.0)
CENTRE = (8.0, 1.2, 1.0, 1.2)


@pytest.mark.parametrize(
    ("job", "paper", "correct", "lying", "upright"),
    [
        ("strap-goods", "a4", "", ("long", 1.0), ("short", 1.0)),
        ("strap-goods", "a4", "short=100:99,long=100:100.5", ("long", 100 / 100.5), ("short", 100 / 99)),
        ("autumn-batch", "a4", "short=100:99,long=100:100.5", ("short", 100 / 99), ("long", 100 / 100.5)),
        ("autumn-batch", "roll:914mm", "across=100:99", ("along", 1.0), ("across", 100 / 99)),
    ],
)
def test_check_bars_measure_true_along_the_side_they_are_named_by(job, paper, correct, lying, upright):
    """On a printer off as that correction says they are 100 mm and 4 in, whichever way a sheet lies."""
    made = pattern(job, paper, correct=correct)
    wide, high = made.sheets[0].width, made.sheets[0].height
    assert (wide > high) is (job == "strap-goods")
    ink = raster(made.pdf, 0, (0, 0, wide - 125, high - 40))
    # Only the end ticks of the lying bars are longer than 3 mm; their feet are 8.5 and 15.5 mm up.
    for foot, length in ((8.5, 101.6), (15.5, 100.0)):
        up = 8.0 + (foot - 8.0) * upright[1] + 3.3
        ends = dark_runs(ink[round(up * PX)])
        assert ends[-1] - ends[0] == pytest.approx(length * lying[1], abs=0.1)
    column = raster(made.pdf, 0, (wide - 8 - 4, 0, 0, max(high - 200, 0)))[:, 0]
    marks = dark_runs(column)
    assert [b - a for a in marks for b in marks if abs(b - a - 100 * upright[1]) < 0.1]
    text = " ".join(words_of(made.pdf, 0)[0].split())
    assert f"100 mm, {lying[0]} " in text
    assert f"4 in, {lying[0]} " in text
    assert f"100 mm, {upright[0]} " in text
    assert f"--correct {lying[0]}=100:MEASURED,{upright[0]}=100:MEASURED" in text


NINE = """
[leather]
thickness = "3.6 mm"
tannage = "vegetable"
""" + "".join(
    f"""
[[belt]]
id = "belt {number}"
size = {{ worn_to_hole = "{860 + 30 * number} mm" }}
buckle.for_strap = "{width} mm"
buckle.bar_diameter = "4 mm"
buckle.frame_depth = "32 mm"
buckle.prong_width = "4 mm"
buckle.prong_thickness = "3 mm"
"""
    for number, width in enumerate((38, 32, 38, 25, 38, 32, 44, 38, 25), 1)
)


@pytest.fixture(scope="module")
def nine(tmp_path_factory):
    path = tmp_path_factory.mktemp("nine") / "nine.toml"
    path.write_text(NINE, "utf-8")
    return api.draft(api.read_job(path))


@pytest.mark.parametrize("whole", [True, False])
def test_nine_belts_are_one_sheet_of_a_roll(nine, whole):
    made = api.pattern(nine, "roll:914mm", whole=whole)
    (sheet,) = made.sheets
    assert sheet.orders == tuple(f"belt {number}" for number in range(1, 10))
    assert {part for part, *_ in sheet.shown} == {part.id for part in nine.parts}
    longest = max(x1 - x0 for _, x0, x1 in sheet.shown)
    if whole:  # no paper is unrolled beyond what the longest strap needs beside the upright bar
        assert sheet.width < longest + 45
    assert sheet.height == 914


@pytest.mark.parametrize(
    ("job", "paper", "whole", "most"),
    [
        ("autumn-batch", "a4", False, 9),  # each belt on sheets of its own took 14
        ("autumn-batch", "letter", False, 10),
        ("autumn-batch", "a4", True, 20),
        ("autumn-batch", "roll:914mm", False, 1),
        ("strap-goods", "a4", False, 4),
        ("one-belt", "a4", False, 2),
    ],
)
def test_parts_lie_side_by_side_wherever_they_fit(job, paper, whole, most):
    made = pattern(job, paper, whole=whole)
    assert len(made.sheets) <= most
    shown: dict[str, list[tuple[float, float]]] = {}
    for sheet in made.sheets:
        for part, x0, x1 in sheet.shown:
            shown.setdefault(part, []).append((x0, x1))
    printed = orders_of(drafted(job), "mm")
    for piece in (piece for order in printed for piece in order.pieces):
        stretches = stretches_of(piece.part, whole=whole)
        runs = sorted(shown.pop(piece.part.id))
        assert runs[0][0] == stretches[0].x0
        assert runs[-1][1] == stretches[-1].x1
        gaps = [later[0] - run[1] for run, later in pairwise(runs) if later[0] > run[1]]
        assert len(gaps) == len(stretches) - 1
    assert not shown


@pytest.mark.parametrize(
    ("job", "whole", "beside"),
    [("autumn-batch", True, 5), ("autumn-batch", False, 8), ("strap-goods", False, 3), ("odd", True, 1)],
)
def test_pieces_keep_clear_of_each_other_side_by_side(job, whole, beside):
    """On a roll without joins every piece or end of one is a single run of outline."""
    made = pattern(job, "roll:914mm", whole=whole)
    (_, paths), *_ = pages(made.pdf)
    boxes = [path.box for path in paths if path.is_solid and abs(path.width - 0.3) < 1e-9]
    boxes = [box for box in boxes if box[3] - box[1] > 1.0]  # not the key to the lines
    assert len(boxes) == len(made.sheets[0].shown)
    found = 0
    for at, a in enumerate(boxes):
        for b in boxes[at + 1 :]:
            apart_x, apart_y = max(a[0] - b[2], b[0] - a[2]), max(a[1] - b[3], b[1] - a[3])
            assert max(apart_x, apart_y) > 8.0
            found += apart_y < 0
    assert found >= beside


@pytest.mark.parametrize("whole", [True, False])
@pytest.mark.parametrize("job", ["autumn-batch", "strap-goods", "odd"])
def test_a_strip_draws_nothing_beyond_the_room_it_asks_for(job, whole):
    font, strips, papers = usual_font(), [], []
    for order in orders_of(drafted(job), "mm"):
        for piece in order.pieces:
            for stretch in stretches_of(piece.part, whole=whole):
                tiles = tiles_of(stretch, 170.0)
                for tile in tiles:
                    strip = drawn_tile(
                        order.id, piece, tile, len(tiles), 178.0, font, "mm", ["A note. " * 40]
                    )
                    shown = Group(tuple(strip.items(41, 42)), x=10.0 - strip.left, y=150.0)
                    strips.append(strip)
                    papers.append(
                        PaperPage(Canvas(200.0, 300.0, "one strip", [shown]), (200.0, 300.0)),
                    )
    data = pdf_of(papers, "strips, each on a page of its own")
    for number, (strip, (_, paths)) in enumerate(zip(strips, pages(data), strict=True)):
        _, boxes, _ = words_of(data, number)
        points = np.vstack([*(path.points for path in paths), boxes[:, :2], boxes[:, 2:]])
        assert points[:, 0].min() > 9.9
        assert points[:, 0].max() < 10.1 + strip.width <= 188.2
        assert points[:, 1].min() > 149.9 - strip.bottom
        assert points[:, 1].max() < 150.1 - strip.top


def test_marks_printed_lie_as_far_apart_as_in_the_draft():
    belt = drafted("strap-goods").belts[0]
    made = pattern("strap-goods", "a4")
    ink = raster(made.pdf, 0)
    (_, paths) = pages(made.pdf)[0]
    fold = next(p for p in dashed(paths, FOLD) if np.ptp(p.points[:, 0]) < 0.01)
    level = fold.points[:, 1].mean()  # the strap's centre line on this strip
    end = belt.strap.buckle_end
    # Just over the holes, only the upright arms of their crosses and the fold line have ink.
    row = ink[round((level + end.diameters[0][0] / 2 + 1.0) * PX), : round(200 * PX)]
    marks = dark_runs(row)
    at = fold.points[0, 0]
    for x in (*end.rows, *end.mates):
        assert min(abs(mark - at - x) for mark in marks) < 0.1
    assert min(abs(mark - at) for mark in marks) < 0.1

    tips = [p for p in dashed(paths, CENTRE) if p.points[0, 1] < level - 1.0 and np.ptp(p.points[:, 0]) > 100]
    level = max(p.points[0, 1] for p in tips)
    holes = belt.strap.holes
    marks = dark_runs(ink[round((level + holes.diameter / 2 + 1.0) * PX), : round(270 * PX)])
    nose = dark_runs(ink[round((level + 0.3) * PX), : round(270 * PX)])[
        -1
    ]  # the round tip, beside the centre line
    first = next(m for m in marks if min(abs(o - m - holes.spacing) for o in marks) < 0.1)
    for number, x in enumerate(holes.xs):
        assert min(abs(mark - first - number * holes.spacing) for mark in marks) < 0.1, x
    assert nose - first == pytest.approx(belt.strap.span - holes.xs[0], abs=0.1)


def joined(made, part) -> np.ndarray:
    """Return points of the outline of a part, its sheets laid together by the crosses of their joins."""
    found, shift, meeting = [], None, np.zeros(2)
    for (_, paths), sheet in zip(pages(made.pdf), made.sheets, strict=True):
        if part.id not in [shown[0] for shown in sheet.shown]:
            continue
        diamonds = [p.box for p in paths if len(p.points) == 5 and p.is_solid and abs(p.width - 0.2) < 1e-9]
        diamonds = [b for b in diamonds if abs(b[2] - b[0] - 3.0) < 0.01 and abs(b[3] - b[1] - 3.0) < 0.01]
        marks = sorted(((b[0] + b[2]) / 2, (b[1] + b[3]) / 2) for b in diamonds)
        if shift is None:
            fold = min(
                (p for p in dashed(paths, FOLD) if np.ptp(p.points[:, 0]) < 0.01),
                key=lambda p: -p.points[0, 1],
            )
            shift = -np.array([fold.points[0, 0], fold.points[:, 1].mean()])
        else:
            (x, low), (_, high) = marks[:2]
            shift = meeting - np.array([x, (low + high) / 2])
        y0, y1 = part.outline.bounding_box[1] - 0.5, part.outline.bounding_box[3] + 0.5
        for path in paths:
            points = path.points + shift
            inside = (points[:, 1] > y0).all() and (points[:, 1] < y1).all()
            if path.is_solid and path.width == pytest.approx(0.3) and inside:
                found += [densely(points)]
        if marks:
            (x, low), (_, high) = marks[-2:]
            meeting = np.array([x, (low + high) / 2]) + shift
    return np.vstack(found)


def densely(points: np.ndarray) -> np.ndarray:
    """Return points every 0.2 mm or nearer along a run of straight lines."""
    steps = np.diff(points, axis=0)
    counts = np.maximum(2, (np.hypot(*steps.T) / 0.2).astype(int) + 1)
    ends = np.cumsum(counts)
    share = (np.arange(ends[-1]) - np.repeat(ends - counts, counts)) / np.repeat(counts - 1, counts)
    return np.repeat(points[:-1], counts, axis=0) + share[:, None] * np.repeat(steps, counts, axis=0)


@pytest.mark.parametrize(
    ("job", "paper", "belt"),
    [
        ("one-belt", "letter", "halvard"),
        ("one-belt", "a3", "halvard"),
        ("autumn-batch", "a4", "ines"),
        ("odd", "letter", "a long one"),
        ("strap-goods", "a4", "flap-strap"),
    ],
)
def test_sheets_joined_by_their_marks_make_the_part(job, paper, belt):
    part = next(part for part in drafted(job).parts if part.belt_id == belt)
    made = pattern(job, paper, whole=True, belts=(belt,))
    assert len(made.sheets) > 1
    points = joined(made, part)
    assert part.outline.distance_to(points).max() < 0.15
    wanted = part.outline.sample(200)
    gaps, _ = KDTree(points).query(wanted)
    assert gaps.max() < 0.15


@cache
def words_of(data: bytes, page: int) -> tuple[str, np.ndarray, list[str]]:
    """Return a page's text, and the box of each sign that prints, in mm."""
    text = pypdfium2.PdfDocument(data)[page].get_textpage()
    boxes, signs = [], []
    for index in range(text.count_chars()):
        sign = text.get_text_range(index, 1)
        if sign.strip():
            boxes.append(text.get_charbox(index))
            signs.append(sign)
    return text.get_text_range(), np.array(boxes) * 25.4 / 72, signs


@pytest.mark.parametrize(("job", "paper", "options"), SHOWN)
def test_no_text_lies_on_another_and_no_line_runs_through_it(job, paper, options):
    made = pattern(job, paper, **options)
    for number, (_, paths) in enumerate(pages(made.pdf)):
        _, boxes, signs = words_of(made.pdf, number)
        x0, y0, x1, y1 = boxes.T
        rooms = shapely.box(*boxes.T)
        a, b = shapely.STRtree(rooms).query(rooms)
        over = (
            (np.minimum(x1[a], x1[b]) - np.maximum(x0[a], x0[b]) > 0.05)
            & (np.minimum(y1[a], y1[b]) - np.maximum(y0[a], y0[b]) > 0.05)
            & (a != b)
        )
        clash = [(signs[a], signs[b], boxes[a]) for a, b in zip(a[over], b[over], strict=True)]
        assert not clash, number + 1
        for path in paths:
            if path.filled:
                continue
            low, high = path.points.min(axis=0), path.points.max(axis=0)
            near = np.flatnonzero((x0 < high[0]) & (x1 > low[0]) & (y0 < high[1]) & (y1 > low[1]))
            if not len(near):
                continue
            x, y = densely(path.points).T[:, :, None]
            struck = ((x > x0[near]) & (x < x1[near]) & (y > y0[near]) & (y < y1[near])).any(axis=0)
            assert not struck.any(), (number + 1, [signs[k] for k in near[struck]])


@pytest.mark.parametrize(("job", "paper", "options"), SHOWN)
def test_nothing_is_drawn_where_a_printer_leaves_the_paper_white(job, paper, options):
    made = pattern(job, paper, **options)
    for number, ((wide, high), paths) in enumerate(pages(made.pdf)):
        _, boxes, _ = words_of(made.pdf, number)
        every = np.vstack([*(path.points for path in paths), boxes[:, :2], boxes[:, 2:]])
        assert every.min() > 7.4
        assert every[:, 0].max() < wide - 7.4
        assert every[:, 1].max() < high - 7.4


def test_every_sheet_says_what_it_is_and_what_to_measure():
    made = pattern("autumn-batch", "a4")
    assert len(made.sheets) > 7
    for sheet in made.sheets:
        text = " ".join(words_of(made.pdf, sheet.number - 1)[0].split())
        assert f"sheet {sheet.number} of {len(made.sheets)}" in text
        for said in (
            *sheet.orders,
            "stage crew",
            "Print at 100 %",
            "no fit to page",
            "Grain side up",
            "100 mm",
            "4 in",
        ):
            assert said in text
        assert "Before you cut, measure all three bars with a steel rule" in text
        cut = text.count("cut 1 · leather 3.57 mm, vegetable tanned") + text.count("cut 2 ·")
        assert cut + text.count("the same piece · grain side up") == len(sheet.shown)
    first = " ".join(words_of(made.pdf, 0)[0].split())
    assert "Cut away from the hand that holds the leather" in first
    for said in (
        "fold line",
        "A′",
        "B′",
        "slot 30 × 6 mm (prong slot)",
        "punch 5.5 mm (fastener hole, ⌀ 5.26 mm)",
    ):
        assert said in first


def test_joined_sheets_name_each_other():
    made = pattern("one-belt", "letter", whole=True)
    texts = [words_of(made.pdf, k)[0] for k in range(len(made.sheets))]
    for k in range(len(texts) - 1):
        assert f"join {k + 1}: lay sheet {k + 2} on this line" in texts[k]
        assert f"join {k + 1}: cut here, lay on sheet {k + 1}" in texts[k + 1]


def test_a_hole_is_named_only_on_sheets_that_show_it_whole():
    """A hole in the overlap that a sheet shows in part is drawn, and named, on its neighbour alone."""
    piece = orders_of(drafted("one-belt"), "mm")[0].pieces[0]
    hole = next(f for f in piece.part.features if f.name == "adjusting hole" and f.contour.closed)
    x0, _, x1, _ = hole.contour.bounding_box
    (stretch,) = stretches_of(piece.part, whole=True)
    name = next(one.text for one in piece.names if abs(one.x - (x0 + x1) / 2) < 0.01)
    other = next(one.text for one in piece.names if abs(one.x - (x0 + x1) / 2 - 25) < 0.01)
    for begin, named in ((x0 + 1.0, False), (x0 - 1.0, True)):
        tile = Tile(stretch, begin, begin + 150.0, (begin + OVERLAP / 2, None), 2)
        strip = drawn_tile("halvard", piece, tile, 2, 180.0, usual_font(), "mm")
        texts = [label.words for label in strip.labels if isinstance(label, Text)]
        assert (name in texts) is named
        assert other in texts


def test_at_a_break_the_two_lines_and_their_distance_are_told():
    made = pattern("one-belt", "a4")
    text = " ".join(words_of(made.pdf, 0)[0].split())
    first, second = stretches_of(drafted("one-belt").parts[0], whole=False)
    m, n = first.breaks[1], second.breaks[0]
    assert f"line M: {m:g} mm from the fold line" in text
    assert f"line N: {n:g} mm from the fold line, {n - m:g} mm from line M" in text


def test_the_same_draft_gives_the_same_bytes_and_the_file_is_known_as_ours(tmp_path):
    one, two = (api.pattern(drafted("one-belt"), "a4").pdf for _ in range(2))
    assert one == two
    assert one.count(MARK.encode()) == 1
    path = tmp_path / "pattern.pdf"
    write_whole({path: one})
    assert is_ours(path)
    write_whole({path: api.pattern(drafted("one-belt"), "letter").pdf})
    with pikepdf.open(path) as pdf:
        assert len(pdf.pages) == 2


def test_every_font_is_embedded_and_all_is_vector_and_black():
    for job in ("autumn-batch", "odd"):
        data = pattern(job, "a4").pdf
        with pikepdf.open(io.BytesIO(data)) as pdf:
            for page in pdf.pages:
                assert page.Resources.Font
                for font in page.Resources.Font.values():
                    assert "/FontFile2" in font.FontDescriptor
                assert "/XObject" not in page.Resources
                operators = {str(operator) for _, operator in pikepdf.parse_content_stream(page)}
                assert not operators & {"rg", "RG", "k", "K", "sc", "scn", "SC", "SCN", "Do", "sh"}


def test_names_print_with_their_accents_and_what_cannot_is_told():
    made = pattern("odd", "a4")
    assert "Żofia Świątek-Łąck" in words_of(made.pdf, 0)[0]
    (found,) = made.findings
    assert found.code == "letters-not-in-font"
    assert all(letter in found.what for letter in "注文岡田")
    assert "ą" not in found.what


def test_a_font_of_ones_own_is_embedded(tmp_path):
    own = Path(reportlab.__file__).parent / "fonts" / "VeraIt.ttf"
    data = api.pattern(drafted("one-belt"), "a4", font=own).pdf
    with pikepdf.open(io.BytesIO(data)) as pdf:
        names = {str(font.BaseFont) for font in pdf.pages[0].Resources.Font.values()}
    # What it lacks, ′, is in ours.
    assert {name.partition("+")[2] for name in names} == {
        "BitstreamVeraSans-Oblique",
        "StrapwrightSans-Regular",
    }
    fake = tmp_path / "letters.ttf"
    fake.write_text("no font at all")
    for path in (fake, tmp_path / "none.ttf"):
        with pytest.raises(FileProblems, match="expected a TrueType font"):
            api.pattern(drafted("one-belt"), "a4", font=path)


def with_wide_part(across: float):
    whole = drafted("one-belt")
    strap = replace(whole.parts[0], outline=rectangle(0, -across / 2, 300, across / 2), features=())
    return replace(whole, parts=(strap, *whole.parts[1:]))


def test_a_part_too_wide_for_the_paper_is_refused_with_the_next_that_holds_it():
    with pytest.raises(PaperError, match=r"halvard: the strap .* A4 leaves .*; take legal, --paper legal"):
        api.pattern(with_wide_part(250.0), "a4")
    assert api.pattern(with_wide_part(250.0), "legal").sheets
    with pytest.raises(PaperError, match=r"take A3, --paper a3"):
        api.pattern(with_wide_part(300.0), "letter")
    with pytest.raises(PaperError, match=r"take roll 610 mm wide, --paper roll:610mm"):
        api.pattern(with_wide_part(420.0), "a3")
    assert api.pattern(with_wide_part(420.0), "roll:610mm").sheets
    with pytest.raises(PaperError, match="wider roll"):
        api.pattern(with_wide_part(1200.0), "a4")


def test_a_belt_that_is_stopped_prints_no_pattern():
    whole = drafted("one-belt")
    stop = Finding("no-post", Severity.STOP, "No post fits.", "Take rivets.", "halvard")
    stopped = replace(whole, belts=(replace(whole.belts[0], findings=(stop,)),))
    with pytest.raises(PlanError, match=r"halvard: No post fits\. Take rivets\."):
        api.pattern(stopped, "a4")


@pytest.mark.parametrize(
    ("correct", "told"),
    [
        ("100:80", "125 %; allowed are 90 to 110 %"),
        ("80:100", "80 %; allowed are 90 to 110 %"),
        ("99.4", "expected what a bar should measure"),
        ("100:0", "expected what a bar should measure"),
        ("100:abc", 'found "abc", expected a length'),
        ("short=100:99,short=100:99", "expected what a bar should measure"),
        ("short=100:99,100:99", "expected what a bar should measure"),
        ("x=100:99", "or short=100:99.4,long=100:99.8 as the bars are named"),
        ("across=100:99", "expected what a bar should measure"),
    ],
)
def test_a_correction_that_cannot_be_meant_is_refused(correct, told):
    with pytest.raises(PaperError, match=told):
        api.pattern(drafted("one-belt"), "a4", correct=correct)


def test_a_roll_and_a_correction_take_a_decimal_comma():
    assert read_paper("roll:914,5mm").short == 914.5
    a4, roll = read_paper("a4"), read_paper("roll:914mm")
    assert read_correction("short=100:99,4,long=100:99,8", a4) == Correction(100 / 99.4, 100 / 99.8)
    assert read_correction("along=100:99,4", roll) == Correction(1.0, 100 / 99.4)
    assert read_correction("100:99,4", a4) == read_correction("100:99.4", a4)


@pytest.mark.parametrize("paper", ["a5", "roll", "roll:", "roll:10mm", "roll:9 m", "roll:abc", ""])
def test_paper_there_is_none_of_is_refused(paper):
    with pytest.raises(PaperError, match="paper: "):
        api.pattern(drafted("one-belt"), paper)


@settings(deadline=None, max_examples=40)
@given(
    radius=st.floats(0.4, 2000.0),
    sweep=st.floats(0.01, 6.2) | st.floats(-6.2, -0.01),
    turn=st.floats(0.0, 6.3),
)
def test_curves_stray_from_their_arc_by_less_than_a_thousandth_of_a_millimetre(radius, sweep, turn):
    start, end = (radius * np.array([np.cos(a), np.sin(a)]) for a in (turn, turn + sweep))
    arc = Contour(np.array([(*start, np.tan(sweep / 4)), (*end, 0.0)]), closed=False)
    at, t = start, np.linspace(0, 1, 50)[:, None]
    for curve in arc_curves(arc, 0):
        b, c, d = (np.array(point) for point in curve)
        points = (1 - t) ** 3 * at + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d
        assert np.abs(np.hypot(*points.T) - radius).max() < 0.001
        at = d
    assert np.hypot(*(at - end)) < 1e-9


@example(cuts=[30.0])  # touches the slot's round end
@example(cuts=[27.0, -23.0])  # touches the circle on both sides
@settings(deadline=None, max_examples=40)
@given(cuts=st.lists(st.floats(-40.0, 40.0), min_size=1, max_size=4, unique=True))
def test_a_contour_cut_at_places_along_it_loses_nothing(cuts):
    assume(not {-35.0, 35.0} & set(cuts))  # the rectangle's own edges: they belong to both sides
    for contour in (stadium(0.0, 1.0, 60.0, 12.0), rectangle(-35, -3, 35, 4), Contour.circle(2.0, 0.0, 50.0)):
        places = sorted([-100.0, *cuts, 100.0])
        pieces = [piece for a, b in pairwise(places) for piece in within_x(contour, a, b)]
        assert sum(piece.length for piece in pieces) == pytest.approx(contour.length, abs=1e-4)
        for piece in pieces:
            assert contour.distance_to(piece.sample(5)).max() < 1e-6


@settings(deadline=None, max_examples=40)
@example(x=1095.09183, half=3.957333, bulge=0.66152746)
@given(x=st.floats(20.0, 1500.0), half=st.floats(1.0, 30.0), bulge=st.floats(0.05, 0.99))
def test_a_tip_that_ends_with_its_window_stays_one_run(x, half, bulge):
    tip = Contour(np.array([(0, -40, 0), (x, -half, bulge), (x, half, 0), (0, 40, 0)]))
    (run,) = within_x(tip, 10.0, tip.bounding_box[2])
    assert run.vertices[[0, -1], 0] == pytest.approx([10.0, 10.0])


@settings(deadline=None, max_examples=40)
@given(length=st.floats(10.0, 6000.0), room=st.floats(120.0, 400.0), hole=st.floats(50.0, 500.0))
def test_tiles_cover_a_window_overlap_and_fit_the_paper(length, room, hole):
    tiles = tiles_of(Stretch(-50.0, length - 50.0), room, [(hole, hole + 6.0)])
    assert tiles[0].x0 == -50.0
    assert tiles[-1].x1 == length - 50.0
    for tile in tiles:
        assert tile.x1 - tile.x0 <= room + 1e-6
    for before, after in pairwise(tiles):
        assert before.x1 - after.x0 == pytest.approx(OVERLAP)
        assert before.joins[1] == after.joins[0] == pytest.approx((before.x1 + after.x0) / 2)


def test_cautions_stand_once_in_a_pattern():
    pages = pypdfium2.PdfDocument(pattern("autumn-batch", "a4").pdf)
    text = " ".join(page.get_textpage().get_text_bounded() for page in pages)
    assert text.count("Cut away from the hand") == 1
