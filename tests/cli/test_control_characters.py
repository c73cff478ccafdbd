"""Control characters reach no terminal, no drawing and no line of a message, wherever they come from."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from tests.cli.runner import BATCH, EXAMPLES, ONE, SIDE, run

from strapwright.cli.main import command
from strapwright.errors import (
    FileProblems,
    NestError,
    OutputError,
    PartError,
    ProofError,
    SafetyError,
    SendError,
    UnitError,
)
from strapwright.findings import Finding, Severity

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
    text = said("nest", BATCH, *("--hide", hide, "--hide", drawn, "--steps", 1, "--out", tmp_path / "out"))
    text += said("nest", BATCH, *("--hide", drawn, "--steps", 1, "--remnants", tmp_path / "r"))
    assert raw(text) == [], text
    for path in [*(tmp_path / "out").iterdir(), *(tmp_path / "r").iterdir()]:
        assert raw(path.read_text("utf-8").replace("\t", "")) == [], path
    assert raw(said("hides", tmp_path)) == []
    text = said(
        *("card", BATCH, "--layout", tmp_path / "out" / "layout.json", "--hide", hide, "--hide", drawn),
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
        assert raw(said("nest", BATCH, "--hide", path, "--steps", 1)) == []
