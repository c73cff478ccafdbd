"""Control characters reach no terminal, no drawing and no line of a message, wherever they come from."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pypdfium2
import pytest
from click.testing import CliRunner
from tests.cli.runner import EXAMPLES, ONE, SIDE, run
from tests.drawing.rendered import drawing_svg, picture_svg, plan_svg
from tests.write.plans import small_plan

from strapwright import api
from strapwright.cli.main import command
from strapwright.core.errors import (
    FileProblems,
    NestError,
    OutputError,
    PartError,
    ProofError,
    SafetyError,
    SendError,
    UnitError,
)
from strapwright.core.findings import Finding, Severity
from strapwright.geometry.transform import Placement
from strapwright.nesting.layout.types import Clearance, Layout, PlacedPart, UnplacedPart
from strapwright.write.card.html import card_html
from strapwright.write.card.pdf import card_pdf
from strapwright.write.formats.format import FORMATS

pytestmark = pytest.mark.slow

EVIL = "a\x1b[2J\x07\x9b31m\u2028\u202eb"
"""Clears a screen, rings, colours, ends a line and turns the reading direction."""

SQUARE = "[[0, 0], [1600, 0], [1600, 700], [0, 700]]"


def raw(text: str) -> list[str]:
    """Return what of a text no terminal and no drawing is to get."""
    return sorted({ascii(c) for c in text if not c.isprintable() and c not in "\n\xa0"})


def said(*arguments) -> str:
    result = CliRunner().invoke(command, [str(argument) for argument in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.stdout + result.stderr


@pytest.mark.parametrize(
    "kind", [NestError, OutputError, PartError, ProofError, SafetyError, SendError, UnitError]
)
def test_no_error_carries_one_whoever_raises_it(kind):
    assert raw(str(kind(f"{EVIL}: found {EVIL}"))) == []
    assert str(kind("two\nlines")).splitlines() == ["two", "lines"]


def test_problems_of_a_file_and_findings_stay_one_line_each():
    problems = FileProblems((f"{EVIL}\n: x", "y"))
    assert len(str(problems).splitlines()) == len(problems.problems) == 2
    finding = Finding("x", Severity.NOTE, f"Seen {EVIL}\n.", f"Do {EVIL}.", EVIL)
    assert raw(str(finding)) == []
    assert str(finding).isprintable()


def test_a_hide_of_an_evil_name_is_laid_on_and_drawn(tmp_path):
    hide = tmp_path / f"{EVIL}.toml"
    hide.write_text(f'[hide]\nname = "side"\npoints = {SQUARE}\nthickness = "3.6 mm"\n')
    drawn = tmp_path / f"{EVIL}.dxf"
    drawn.write_bytes((EXAMPLES / "hides" / "belly.dxf").read_bytes())
    text = said("nest", ONE, *("--hide", hide, "--hide", drawn, "--steps", 1, "--out", tmp_path / "out"))
    text += said("nest", ONE, *("--hide", drawn, "--steps", 1, "--remnants", tmp_path / "r"))
    assert raw(text) == [], text
    for path in [*(tmp_path / "out").iterdir(), *(tmp_path / "r").iterdir()]:
        if path.suffix != ".png":
            assert raw(path.read_text("utf-8").replace("\t", "")) == [], path
    assert raw(said("hides", tmp_path)) == []
    text = said(
        *("card", ONE, "--layout", tmp_path / "out" / "layout.json", "--hide", hide, "--hide", drawn),
        *("--out", tmp_path / "card.html"),
    )
    assert raw(text) == []
    assert raw((tmp_path / "card.html").read_text("utf-8")) == []


def test_a_layout_with_evil_ids_is_refused_cleanly(tmp_path):
    run("nest", ONE, "--hide", SIDE, "--steps", 1, "--out", tmp_path)
    layout = tmp_path / "layout.json"
    data = json.loads(layout.read_text("utf-8"))
    for entry in data["placed"]:
        entry.update({key: EVIL for key, value in entry.items() if isinstance(value, str)})
    layout.write_text(json.dumps(data), "utf-8")
    for verb in (
        ["card", ONE, "--out", tmp_path / "c.html"],
        ["pattern", ONE, "--paper", "a4", "--out", tmp_path / "p.pdf"],
    ):
        text = said(*verb, "--layout", layout, "--hide", SIDE)
        assert "error: " in text
        assert raw(text) == [], text
    assert raw(said("nest", ONE, "--hide", SIDE, "--steps", 1, "--from", layout)) == []


@pytest.mark.parametrize("shape", ["rect", "use", "text", EVIL.replace("\x1b", "").replace("\x07", "")])
def test_names_in_an_svg_reach_nothing_raw(tmp_path, shape):
    evil = "a&#x9b;31m&#x2028;&#x202e;b"
    body = f'<g id="{evil}"><{shape} id="{evil}" class="{evil}" x="0" y="0" width="9" height="9"/></g>'
    drawing = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">{body}</svg>'
    )
    (tmp_path / "h.svg").write_text(drawing, "utf-8")
    (tmp_path / "h.toml").write_text('[hide]\noutline = "h.svg"\nname = "h"\n')
    for name in ("h.svg", "h.toml"):
        assert raw(said("nest", ONE, "--hide", tmp_path / name, "--steps", 1)) == []
    (tmp_path / "g.toml").write_text('[hide]\noutline = "a\\u001b[2J\\u2028b.svg"\n', "utf-8")
    assert raw(said("nest", ONE, "--hide", tmp_path / "g.toml", "--steps", 1)) == []


def test_layers_and_codes_of_a_dxf_reach_nothing_raw(tmp_path):
    text = (EXAMPLES / "hides" / "belly.dxf").read_text("utf-8", "replace")
    for number, old in enumerate(("mark", "loose", "void", "AcDbLine", "LWPOLYLINE", "SECTION")):
        path = tmp_path / f"{number}.dxf"
        path.write_text(text.replace(old, EVIL.replace("\u2028", "")), "utf-8")
        assert raw(said("nest", ONE, "--hide", path, "--steps", 1)) == []


def text_of_pdf(data: bytes) -> str:
    pdf = pypdfium2.PdfDocument(data)
    title = pdf.get_metadata_value("Title")
    return "\n".join([title, *(page.get_textpage().get_text_bounded().replace("\r", "") for page in pdf)])


def test_what_is_typed_comes_back_escaped(tmp_path):
    typed = f"x{EVIL}y"
    for arguments in (
        ["draft", ONE, f"--{typed}"],
        [f"--{typed}"],
        [typed],
        ["draft", ONE, "--units", typed],
        ["draft", tmp_path / typed],
        ["machines", typed],
        ["pattern", ONE, "--paper", "a4", "--out", tmp_path / f"{typed}.svg"],
        ["pattern", ONE, "--paper", typed, "--out", tmp_path / "p.pdf"],
        ["nest", ONE, "--hide", SIDE, "--steps", typed],
    ):
        text = said(*arguments)
        assert "rror: " in text
        assert raw(text) == [], text


def test_written_lines_name_a_folder_escaped(tmp_path):
    folder = tmp_path / EVIL
    text = said("start", folder)
    text += said("pattern", ONE, "--paper", "a4", "--out", folder / f"{EVIL}.pdf")
    text += said("pattern", ONE, "--paper", "a4", "--out", folder / f"{EVIL}.pdf", "--json")
    text += said("card", ONE, "--out", folder / f"{EVIL}.html")
    text += said("nest", ONE, "--hide", SIDE, "--steps", 1, "--out", folder / EVIL)
    text += said("draft", ONE, "--drawing", folder / f"{EVIL}.svg")
    assert text.count("\\x1b[2J") > 4
    assert raw(text) == [], text
    told = json.loads(said("pattern", ONE, "--paper", "a4", "--out", folder / f"{EVIL}.pdf", "--json"))
    assert told["files"] == [str(folder / f"{EVIL}.pdf")]


EVILS = [EVIL, "\x00", "\x1b]0;t\x07", "\u2066a\u2069", "\x85", "\ufffe"]


def well_formed(svg: str) -> None:
    ElementTree.fromstring(svg)
    assert raw(svg) == []
    assert "<b>" not in svg


@pytest.mark.parametrize("evil", EVILS)
def test_whatever_a_draft_holds_no_drawing_page_or_card_gets_it_raw(evil):
    """Readers refuse such names; these guards stand where text enters a drawing or a page all the same."""
    job = api.read_job(Path(ONE))
    drafted = api.draft(job)
    (belt,) = drafted.belts
    name = f"a{evil}<b>"
    spec = belt.spec.model_copy(update={"id": name})
    finding = Finding("x", Severity.NOTE, f"Seen {evil}.", "Do.", name)
    evils = replace(
        drafted,
        name=name,
        belts=(replace(belt, spec=spec, findings=(finding,)),),
        parts=tuple(replace(part, id=f"{name}/{part.kind}", belt_id=name) for part in drafted.parts),
    )
    well_formed(drawing_svg(evils))
    assert raw(text_of_pdf(api.pattern(evils, "a4").pdf)) == []
    card = api.card(job).card
    sheets = tuple(replace(sheet, title=name, subtitle=name) for sheet in card.sheets)
    card = replace(card, title=name, subtitle=name, foot=name, sheets=sheets)
    html = card_html(card)
    assert raw(html) == []
    assert "<b>" not in html
    assert raw(text_of_pdf(card_pdf(card))) == []

    hides = tuple(replace(hide, name=name) for hide in api.read_hides([Path(SIDE)]))
    placed = tuple(
        PlacedPart(part, name, Placement(0.0, 0.0, 300.0 * k)) for k, part in enumerate(evils.parts)
    )
    left = (UnplacedPart(evils.parts[0], f"no room {name}"),)
    layout = Layout(hides, placed, left, Clearance(), (finding,), 0, 1)
    well_formed(picture_svg(layout, title=name, findings=[finding]))


@pytest.mark.parametrize("evil", EVILS)
def test_whatever_a_plan_holds_no_cut_file_or_picture_of_it_gets_it_raw(evil):
    name = f"a{evil}<b>"
    made = small_plan(name)
    sheets = tuple(replace(sheet, hide=name) for sheet in made.sheets)
    made = replace(made, sheets=sheets)
    well_formed(plan_svg(made))
    for form in ("svg", "dxf"):
        text = FORMATS[form].to_text(made.sheets[0], made)
        assert raw(text) == [], form
        if form == "svg":
            well_formed(text)
