"""The card command: its files, its bill, layouts, and as-made records one can start from again."""

from __future__ import annotations

import csv
import hashlib
import json
import re
import tomllib
from datetime import date

import pytest
from tests.cli.runner import BATCH, EXAMPLES, ONE, SIDE, run

from strapwright import api
from strapwright.files.atomic_write import is_ours

GOODS = EXAMPLES / "strap-goods.toml"


@pytest.fixture(scope="module")
def laid(tmp_path_factory):
    out = tmp_path_factory.mktemp("laid")
    run("nest", ONE, "--hide", SIDE, "--steps", "2", "--out", out, "--picture", out / "nest.png")
    return out


def test_card_and_bill_are_written_and_are_ours(tmp_path):
    files = [tmp_path / name for name in ("card.html", "card.pdf", "bill.csv")]
    result = run("card", ONE, "--out", files[0], "--out", files[1], "--bom", files[2])
    assert all(is_ours(path) for path in files)
    assert files[1].read_bytes().startswith(b"%PDF")
    for path in files:
        assert f"written: {path}" in result.stdout
    assert re.search(r"at least [1-9]", result.stdout)
    assert "At the bench" not in result.stdout, "cautions stand on the card"
    assert "not in the sum: no rate known: give price.hourly_rate" in result.stdout


def test_a_bill_holds_no_digest_and_is_not_written_over_once_edited(tmp_path):
    bill = tmp_path / "bill.csv"
    run("card", ONE, "--bom", bill)
    first = bill.read_text("utf-8")
    assert "strapwright" not in first
    run("card", BATCH, "--bom", bill)
    assert bill.read_text("utf-8") != first, "as it was written, it is written anew"
    bill.write_text(first.replace("piece", "pieces"), "utf-8")
    assert "was edited since strapwright wrote it" in run("card", ONE, "--bom", bill, status=1).stderr
    run("card", ONE, "--bom", bill, "--force")
    assert bill.read_text("utf-8") == first
    other = tmp_path / "other.csv"
    other.write_text("mine")
    assert "strapwright did not write it" in run("card", ONE, "--bom", other, status=1).stderr


def test_a_card_is_printed_on_letter_paper_too(tmp_path):
    pdf, html = tmp_path / "card.pdf", tmp_path / "card.html"
    run("card", ONE, "--paper", "letter", "--out", pdf, "--out", html)
    assert b"/MediaBox [ 0 0 612 792 ]" in pdf.read_bytes()
    assert "@page{size:letter" in html.read_text("utf-8")


def test_without_any_price_there_is_no_total(tmp_path):
    job, bill = tmp_path / "orders.csv", tmp_path / "bill.csv"
    job.write_text("name,waist,buckle,thickness,tannage\nann,80 cm,single-40,9 oz,vegetable\n", "utf-8")
    said = run("card", job, "--bom", bill).stdout
    assert "at least" not in said
    assert "0.00" not in said
    assert "no price known" in said
    (total,) = [row for row in csv.DictReader(bill.read_text("utf-8").splitlines()) if row["kind"] == "all"]
    assert total["sum"] == ""
    assert "the job itself" in run("card", job, "--bom", job, "--force", status=2).stderr


def test_letters_the_font_lacks_are_reported(tmp_path):
    job = tmp_path / "orders.csv"
    job.write_text("name,waist,buckle,thickness,tannage\nნინო,80 cm,single-40,9 oz,vegetable\n", "utf-8")
    pdf, html = tmp_path / "card.pdf", tmp_path / "card.html"
    said = run("card", job, "--out", pdf).stderr
    assert "caution: the font of the PDF lacks ნ ი ო in ნინო;" in said
    assert "Give --font FILE.ttf" in said
    assert "lacks" not in run("card", job, "--out", html).stderr
    assert "cannot be embedded" in run("card", job, "--out", pdf, "--font", job, "--force", status=1).stderr


def test_letters_the_font_of_a_drawings_pdf_lacks_are_reported(tmp_path):
    job = tmp_path / "orders.csv"
    job.write_text("name,waist,buckle,thickness,tannage\nნინო,80 cm,single-40,9 oz,vegetable\n", "utf-8")
    pdf, svg = tmp_path / "drawing.pdf", tmp_path / "drawing.svg"
    said = run("draft", job, "--drawing", pdf).stderr
    assert f"caution: {pdf}: its font lacks ნ ი ო in ნინო; they print without accents, or as ?." in said
    assert "Take .svg" in said
    assert "lacks" not in run("draft", job, "--drawing", svg).stderr


def test_json_holds_the_bill_and_nothing_else_is_printed(tmp_path):
    data = json.loads(run("card", ONE, "--json", "--bom", tmp_path / "bill.csv").stdout)
    lines = data["bill"]["lines"]
    assert data["bill"]["complete"] is False
    assert data["bill"]["total"] == pytest.approx(sum(line["sum"] or 0 for line in lines))
    rows = list(csv.DictReader((tmp_path / "bill.csv").read_text("utf-8").splitlines()))
    assert len([row for row in rows if row["kind"] not in ("total", "all")]) == len(lines)


def test_a_layout_gives_the_true_waste_and_the_picture(tmp_path, laid):
    out = tmp_path / "card.html"
    asked = ("card", ONE, "--layout", laid / "layout.json", "--hide", SIDE, "--out", out, "--json")
    data = json.loads(run(*asked).stdout)
    assert 'true of hide "side 14", nested' in data["bill"]["lines"][0]["quantity_from"]
    assert "cut off and keep" in out.read_text("utf-8")
    assert (laid / "nest.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("command", ["card", "pattern"])
def test_a_layout_of_another_job_is_refused(tmp_path, laid, command):
    job = tmp_path / "job.toml"
    text = (EXAMPLES / "one-belt.toml").read_text("utf-8")
    job.write_text(text.replace("count = 7", "count = 5"), "utf-8")
    more = ("--paper", "a4") if command == "pattern" else ()
    out = tmp_path / "out.pdf"
    asked = (command, job, *more, "--catalogue", EXAMPLES / "catalogue.toml", "--out", out)
    refused = run(*asked, "--layout", laid / "layout.json", "--hide", SIDE, status=1)
    assert "the job has changed since this layout was made" in refused.stderr
    assert not out.exists()


def test_a_pattern_of_a_layout_names_the_hide(tmp_path, laid):
    import pypdfium2

    out = tmp_path / "pattern.pdf"
    run("pattern", ONE, "--paper", "a4", "--out", out, "--layout", laid / "layout.json", "--hide", SIDE)
    text = pypdfium2.PdfDocument(out)[0].get_textpage().get_text_bounded()
    assert "· on side 14" in text


def test_a_pattern_leaves_out_what_has_no_place_and_says_so(tmp_path):
    hide = tmp_path / "narrow.toml"
    hide.write_text(
        '[hide]\nname = "narrow"\nthickness = "3.6 mm"\npoints = [[0, 0], [1400, 0], [1400, 60], [0, 60]]\n'
    )
    job = tmp_path / "two.toml"
    text = (EXAMPLES / "one-belt.toml").read_text("utf-8")
    job.write_text(text.replace('id = "halvard"', 'id = "halvard"\nquantity = 2'), "utf-8")
    own = ("--catalogue", EXAMPLES / "catalogue.toml")
    run("nest", job, *own, "--hide", hide, "--steps", "2", "--out", tmp_path / "laid", status=1)
    asked = ("pattern", job, *own, "--paper", "a4", "--out", tmp_path / "p.pdf")
    refused = run(*asked, "--layout", tmp_path / "laid" / "layout.json", "--hide", hide, status=1)
    assert "does not fit on the layout, so halvard is not printed" in refused.stderr
    assert not (tmp_path / "p.pdf").exists()


def test_wrong_calls_say_how(tmp_path):
    assert "a card is HTML or PDF" in run("card", ONE, "--out", tmp_path / "card.txt", status=2).stderr
    assert "the bill is CSV" in run("card", ONE, "--bom", tmp_path / "bill.txt", status=2).stderr
    assert "go together" in run("card", ONE, "--hide", SIDE, status=2).stderr
    assert "expected a time" in run("card", ONE, "--machine-minutes", "soon", status=2).stderr
    minutes = [
        json.loads(run("card", ONE, "--machine-minutes", told, "--json").stdout)["bill"]["lines"]
        for told in ("12,5", "12.5min", "12,5 min")
    ]
    assert minutes[0] == minutes[1] == minutes[2]


def test_a_file_of_somebody_s_own_stays(tmp_path):
    out = tmp_path / "card.html"
    out.write_text("my own")
    assert "strapwright did not write it" in run("card", ONE, "--out", out, status=1).stderr
    assert out.read_text() == "my own"


def test_a_record_drafts_the_same_belts_again_from_itself_alone(tmp_path, laid):
    shelf = tmp_path / "shelf"
    more = ("--layout", laid / "layout.json", "--hide", SIDE, "--machine", "wide-laser")
    run("card", ONE, *more, "--record", shelf)
    (record,) = shelf.glob("*/*")
    index = tomllib.loads((record / "record.toml").read_text("utf-8"))
    first = run("draft", ONE, "--json").stdout
    assert run("draft", record / "job.toml", "--json").stdout == first
    assert (record / "job.toml").read_bytes() == (EXAMPLES / "one-belt.toml").read_bytes()
    assert api.read_job(record / "job.toml").digest == index["job_digest"]
    assert {"card.html", "card.pdf", "bill.csv", "layout.json", "machine.toml"} <= set(index["sha256"])
    for name, digest in index["sha256"].items():
        assert hashlib.sha256((record / name).read_bytes()).hexdigest() == digest, name
    kept = ("--layout", record / "layout.json", "--hide", record / "hides" / "side.toml")
    run("card", record / "job.toml", *kept, "--out", tmp_path / "again.html")


def test_no_record_is_written_over_an_earlier_one(tmp_path):
    shelf = tmp_path / "shelf"
    run("card", ONE, "--record", shelf)
    (before,) = shelf.glob("*/*")
    bytes_before = {path.name: path.read_bytes() for path in before.iterdir()}
    run("card", ONE, "--record", shelf)
    first, second = sorted(shelf.glob("*/*"), key=lambda path: len(path.name))
    assert first == before
    assert {path.name: path.read_bytes() for path in first.iterdir()} == bytes_before
    assert tomllib.loads((second / "record.toml").read_text("utf-8"))["earlier"] == [first.name]


def test_a_record_keeps_sketches_and_stands_under_its_day(tmp_path):
    job = api.read_job(GOODS)
    made = api.card(job)
    folder = api.keep_record(tmp_path, GOODS, job, made, today=date(2026, 3, 14))
    assert folder.name == f"2026-03-14-{job.digest[:8]}"
    for name in job.sketches:
        assert (folder / name).read_text("utf-8") == (EXAMPLES / name).read_text("utf-8")
    assert api.read_job(folder / "job.toml").digest == job.digest


def test_a_record_keeps_all_files_of_its_hides_inside_it_and_its_layout_stays_true(tmp_path):
    for place in ("shop/hides/new", "shop/hides/old"):
        (tmp_path / place).mkdir(parents=True)
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="1600mm" height="{0}mm" viewBox="0 0 1600 {0}">'
        '<g id="outline"><path d="M0,0 H1600 V{0} H0 Z"/></g></svg>'
    )
    (tmp_path / "x.svg").write_text(drawing.format(400))
    (tmp_path / "shop/x.svg").write_text(drawing.format(300))
    (tmp_path / "shop/hides/old/tape.csv").write_text("x,y_low,y_high\n0,0,350\n1500,0,350\n")
    files = {
        "shop/hides/new/side.toml": 'name = "a"\noutline = "../../../x.svg"',
        "shop/hides/old/side.toml": 'name = "b"\nstations = "tape.csv"',
        "shop/hides/side.toml": 'name = "c"\noutline = "../x.svg"',
    }
    for name, text in files.items():
        (tmp_path / name).write_text(f"[hide]\n{text}\n")
    before = sorted(path for path in tmp_path.rglob("*"))
    hides = [word for name in files for word in ("--hide", tmp_path / name)]
    out = tmp_path / "out"
    run("nest", ONE, *hides, "--steps", "1", "--out", out)
    run("card", ONE, "--layout", out / "layout.json", *hides, "--record", tmp_path / "deep" / "shelf")
    (record,) = (tmp_path / "deep" / "shelf").glob("*/*")
    grown = sorted(p for p in tmp_path.rglob("*") if p not in before and out not in (p, p.parent))
    assert [path for path in grown if record not in (path, *path.parents)] == list(reversed(record.parents))[
        -3:
    ]
    index = tomllib.loads((record / "record.toml").read_text("utf-8"))
    kept = [record / name for name in index["hides"]]
    assert len(kept) == 3
    for name, path in zip(files, kept, strict=True):
        assert path.read_bytes() == (tmp_path / name).read_bytes()
    for name in ("x.svg", "shop"):
        (tmp_path / name).rename(tmp_path / f"{name}-gone")
    again = [word for path in kept for word in ("--hide", path)]
    layout = ("--layout", record / "layout.json", *again)
    run("card", record / "job.toml", *layout, "--out", tmp_path / "again.html")


def test_a_hide_that_names_a_drawing_by_its_whole_path_is_not_kept_half(tmp_path, laid):
    side = tmp_path / "side.toml"
    side.write_text(f'[hide]\nname = "a"\noutline = "{tmp_path}/x.svg"\n')
    (tmp_path / "x.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="1600mm" height="400mm" viewBox="0 0 1600 400">'
        '<g id="outline"><path d="M0,0 H1600 V400 H0 Z"/></g></svg>'
    )
    run("nest", ONE, "--hide", side, "--steps", "1", "--out", tmp_path / "out")
    more = ("--layout", tmp_path / "out" / "layout.json", "--hide", side)
    said = run("card", ONE, *more, "--record", tmp_path / "shelf", status=1).stderr
    assert (
        f'{side}: hide.outline: found the whole path "{tmp_path}/x.svg", which a record cannot keep' in said
    )
    assert not (tmp_path / "shelf").exists()


def test_records_made_at_the_same_moment_each_get_a_folder(forks, tmp_path):
    ended = forks.run_at_once([(tmp_path, ("card", ONE, "--record", str(tmp_path)), 0)] * 5)
    assert [(one.said, one.status) for one in ended] == [("", 0)] * 5
    folders = list(tmp_path.glob("*/*"))
    assert len(folders) == 5
    assert len({tuple(sorted(path.name for path in folder.iterdir())) for folder in folders}) == 1
    assert all((folder / "record.toml").exists() for folder in folders)


def test_a_drawing_is_written_in_the_kind_its_name_ends_in(tmp_path):
    for name, start in (("d.svg", b"<?xml"), ("d.png", b"\x89PNG"), ("d.pdf", b"%PDF")):
        run("draft", ONE, "--drawing", tmp_path / name)
        assert (tmp_path / name).read_bytes().startswith(start)
        assert is_ours(tmp_path / name)
    refused = run("draft", ONE, "--drawing", tmp_path / "d.jpg", status=1)
    assert 'found ".jpg", expected a name that ends in .svg, .png or .pdf' in refused.stderr
