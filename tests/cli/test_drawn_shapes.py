"""Shapes drawn elsewhere go through every command alike."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import ezdxf
import pytest
from tests.cli.runner import EXAMPLES, SIDE, run

from strapwright.api import draft, handout, read_job
from strapwright.write.handout.content import Design, Step, steps
from strapwright.write.handout.words import shipped_words

if TYPE_CHECKING:
    from pathlib import Path

SIZE = 'width="9mm" height="9mm" viewBox="0 0 9 9"'
BAD_TIP = (
    'belt.toml: belt[1].tip.drawing: ogee.svg: <text id="t">: found a text, expected lines and shapes; '
    "convert it to paths, or redraw it as lines, or move it to a group notes"
)
BELT = EXAMPLES / "shapes" / "belt.toml"
GALLERY = EXAMPLES / "shapes" / "gallery.toml"


def test_a_belt_with_drawn_tip_keyhole_and_border_is_drafted_carded_and_printed(tmp_path: Path):
    draft = json.loads(run("draft", BELT, "--json", "--drawing", tmp_path / "a.svg").stdout)
    assert draft["belts"][0]["id"] == "ogee"
    drawing = (tmp_path / "a.svg").read_text()
    assert "cut-out" in drawing
    run("card", BELT, "--out", tmp_path / "card.html")
    card = (tmp_path / "card.html").read_text()
    assert "own tip" in card
    assert "cut-out" in card
    run("pattern", BELT, "--paper", "a4", "--out", tmp_path / "pattern.pdf")
    assert (tmp_path / "pattern.pdf").read_bytes().startswith(b"%PDF")


def test_drawn_shapes_are_cut_as_they_were_drawn_and_the_files_proven(tmp_path: Path):
    to = ("--out", tmp_path / "out", "--format", "dxf", "--accept-fume-risk", "--steps", "1")
    told = run("cut", GALLERY, "--hide", SIDE, "--machine", "wide-laser", *to)
    assert "files checked to" in told.stdout
    written = next((tmp_path / "out").glob("*.dxf"))
    circles = [entity.dxf.radius for entity in ezdxf.readfile(written).modelspace().query("CIRCLE")]
    assert len(circles) >= 6


def test_a_handout_says_to_cut_drawn_openings_with_the_knife():
    design = Design(draft(read_job(BELT)), (), shipped_words(), "mm")
    told = [one.text for one in steps(design) if isinstance(one, Step)]
    assert sum("drawn on the pattern" in text and "25.5 × 8 mm" in text for text in told) == 1
    assert handout(read_job(BELT), in_the_round=False).pdf.startswith(b"%PDF")


@pytest.mark.slow
def test_a_belt_with_drawn_shapes_is_modelled_in_the_round(tmp_path: Path):
    pytest.importorskip("cadquery")
    told = run("model", BELT, "--out", tmp_path / "belt.glb").stdout
    assert "ogee in the round" in told


def test_a_bad_drawing_is_one_line_on_every_command(tmp_path: Path):
    for name in ("belt.toml", "keyhole.svg", "rope.svg"):
        (tmp_path / name).write_bytes((BELT.parent / name).read_bytes())
    (tmp_path / "ogee.svg").write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {SIZE}><text id="t"/></svg>')
    for command in (
        ("draft",),
        ("card", "--out", tmp_path / "a.pdf"),
        ("pattern", "--paper", "a4", "--out", tmp_path / "b.pdf"),
        ("model", "--out", tmp_path / "b.glb"),
        ("cut", "--hide", SIDE, "--machine", "drag-knife", "--out", tmp_path / "out"),
    ):
        result = run(command[0], tmp_path / "belt.toml", *command[1:], status=1)
        (line,) = result.stderr.strip().splitlines()
        assert line.endswith(BAD_TIP)
