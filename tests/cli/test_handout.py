"""`strapwright handout` as a maker calls it."""

from __future__ import annotations

import json

import pikepdf
import pytest
from tests.cli.runner import BATCH, ONE, run

from strapwright.api import handouts


@pytest.fixture(autouse=True)
def no_modeller(monkeypatch):
    monkeypatch.setattr(handouts, "_picture", lambda *_: (None, "needs CadQuery, which is not here"))


def test_it_writes_one_pdf_and_says_what_is_in_it(tmp_path):
    out = tmp_path / "handout.pdf"
    result = run("handout", ONE, "--sizes", "30-34/2", "--out", out)
    assert "halvard: 30, 32, 34; pattern on 2 sheets" in result.stdout
    assert "The belt is drawn, not shown in the round: needs CadQuery" in result.stdout
    with pikepdf.open(out) as pdf:
        assert len(pdf.pages) > 4
    told = json.loads(run("handout", ONE, "--sizes", "30-34/2", "--out", out, "--json").stdout)
    assert [belt["run_size"] for belt in told["belts"]] == ["30", "32", "34"]
    assert told["in_the_round"] is False


def test_what_cannot_be_is_told_in_one_line_and_nothing_is_written(tmp_path):
    out = tmp_path / "handout.pdf"
    for arguments, told in (
        ((ONE, "--belt", "halvar"), 'error: the job has no belt "halvar"'),
        ((BATCH,), "error: the job has 7 belts; choose one with --belt: ines, oddny"),
        ((ONE, "--sizes", "30-46"), 'error: sizes: found "30-46", expected a step after the run too'),
        ((ONE, "--sizes", "abc"), 'error: sizes: found "abc", expected a run of trouser sizes'),
        ((ONE, "--text", tmp_path / "none.toml"), f"error: {tmp_path / 'none.toml'}"),
    ):
        result = run("handout", *arguments, "--out", out, status=1)
        said = [line for line in result.stderr.splitlines() if line.startswith("error")]
        assert len(said) == 1
        assert said[0].startswith(told)
        assert not out.exists()
    result = run("handout", ONE, "--out", tmp_path / "handout.txt", status=2)
    assert "a handout is a PDF" in result.stderr
