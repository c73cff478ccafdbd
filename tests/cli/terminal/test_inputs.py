"""A CSV job with bad lines: what `draft`, `nest` and `cut` say of them and do with the good ones."""

from __future__ import annotations

import json

import pytest
from tests.cli.runner import BATCH, SIDE, run

HEAD = "id,size.girth,buckle,leather.thickness,leather.tannage\n"
GOOD = "ines,38 in,single-40,9 oz,vegetable\n"
BAD = "ola,38,single-40,9 oz,vegetable\n"
MORE = "wren,,single-40,9 oz,vegetable\n"
OLA = "line 3: size.girth: found 38 (a bare number is millimetres), expected 150 mm to 3000 mm"
COUNT = "1 of 2 lines is bad, 1 is good"


@pytest.fixture
def orders(tmp_path):
    path = tmp_path / "orders.csv"
    path.write_text(HEAD + GOOD + BAD, "utf-8")
    return path


def test_draft_tells_every_bad_line_and_what_to_do(orders):
    result = run("draft", orders, status=1)
    assert result.stdout == ""
    assert result.stderr.splitlines() == [
        f"error: {orders}: {OLA}",
        (
            f"error: {orders}: {COUNT}; fix the bad ones, or --partial drafts the good ones, --good FILE "
            "and --bad FILE write each to a file of their own"
        ),
    ]


def test_draft_partial_drafts_the_good_lines_and_exits_1(orders):
    result = run("draft", orders, "--partial", "--json", status=1)
    data = json.loads(result.stdout)
    assert [belt["id"] for belt in data["belts"]] == ["ines"]
    assert data["problems"] == [{"line": 3, "message": f"{orders}: {OLA}"}]
    assert result.stderr == f"error: {orders}: {OLA}\nerror: {orders}: {COUNT}\n"
    shown = run("draft", orders, "--partial", status=1)
    assert "ines" in shown.stdout
    assert shown.output.rstrip().endswith(COUNT)


def test_draft_partial_of_good_lines_is_done(orders):
    orders.write_text(HEAD + GOOD, "utf-8")
    result = run("draft", orders, "--partial", "--json")
    assert result.stderr == ""
    assert json.loads(result.stdout)["problems"] == []


def test_draft_partial_draws_the_good_lines(orders, tmp_path):
    run("draft", orders, "--partial", "--drawing", tmp_path / "good.svg", status=1)
    text = (tmp_path / "good.svg").read_text("utf-8")
    assert ">ines<" in text
    assert ">ola<" not in text


@pytest.mark.parametrize("partial", [(), ("--partial",)])
def test_good_and_bad_lines_are_written_to_files_of_their_own(orders, tmp_path, partial):
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    result = run("draft", orders, "--good", good, "--bad", bad, *partial, status=1)
    assert good.read_text("utf-8") == HEAD + GOOD
    assert bad.read_text("utf-8") == HEAD + BAD
    tail = "" if partial else "; fix the bad ones, or --partial drafts the good ones"
    assert result.stderr == f"error: {orders}: {OLA}\nerror: {orders}: {COUNT}{tail}\n"
    assert (f"good lines: {good}\nbad lines: {bad}\n" in result.stdout) == bool(partial)
    assert [belt["id"] for belt in json.loads(run("draft", good, "--json").stdout)["belts"]] == ["ines"]


def test_the_sorted_files_are_written_both_or_neither(orders, tmp_path):
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    bad.write_text("my own\n", "utf-8")
    refused = run("draft", orders, "--good", good, "--bad", bad, status=1)
    assert refused.stderr.startswith(f"error: {bad}: already exists and strapwright did not write it; ")
    assert not good.exists()
    assert bad.read_text("utf-8") == "my own\n"
    run("draft", orders, "--good", good, "--bad", bad, "--force", status=1)
    assert bad.read_text("utf-8") == HEAD + BAD


@pytest.mark.parametrize(
    ("job", "option", "message"),
    [
        (BATCH, ("--good", "x.csv"), f"--good and --bad sort the lines of a CSV job; {BATCH} is none"),
        (None, ("--bad",), "is the job itself; choose another name for its sorted lines"),
    ],
)
def test_a_wrong_sorting_exits_with_2(orders, job, option, message):
    arguments = option if job else (*option, orders)
    assert message in run("draft", job or orders, *arguments, status=2).output
    assert orders.read_text("utf-8") == HEAD + GOOD + BAD


def test_no_good_line_is_refused_even_in_part(orders):
    orders.write_text(HEAD + BAD + MORE, "utf-8")
    for command in (("draft",), ("nest", "--hide", SIDE)):
        result = run(command[0], orders, *command[1:], "--partial", status=1)
        assert result.stdout == ""
        assert result.stderr.splitlines()[-1] == f"error: {orders}: 2 of 2 lines are bad, none is good"


def test_nest_and_cut_go_on_with_the_good_lines(orders, tmp_path):
    out, files = tmp_path / "nested", tmp_path / "cut"
    nest = ("nest", orders, "--hide", SIDE, "--steps", "1", "--out", out)
    refused = run(*nest, status=1)
    assert refused.stderr.splitlines()[-1] == (
        f"error: {orders}: {COUNT}; fix the bad ones, or --partial lays the good ones"
    )
    assert not out.exists()
    done = run(*nest, "--partial", "--json", status=1)
    data = json.loads(done.stdout)
    assert data["placed"] == ["ines/strap", "ines/keeper"]
    assert [problem["line"] for problem in data["problems"]] == [3]
    assert f"error: {orders}: {OLA}\n" in done.stderr

    cut = ("cut", orders, "--hide", SIDE, "--machine", "drag-knife", "--out", files)
    refused = run(*cut, status=1)
    assert refused.stderr.splitlines()[-1].endswith("; fix the bad ones, or --partial cuts the good ones")
    assert not files.exists()
    done = run(*cut, "--partial", "--json", "--layout", out / "layout.json", status=1)
    assert sorted(json.loads(done.stdout)["placed"]) == ["ines/keeper", "ines/strap"]
    assert list(files.glob("*.dxf"))
    assert f"error: {orders}: {COUNT}\n" in done.stderr


def test_a_run_is_one_table_and_one_drawing(tmp_path):
    stock = tmp_path / "stock.csv"
    stock.write_text(
        "id,sizes,buckle,leather.thickness,leather.tannage\ncrew,30-34/2,single-40,9 oz,vegetable\n", "utf-8"
    )
    result = run("draft", stock, "--drawing", tmp_path / "stock.svg")
    assert "crew: 3 sizes, 30 to 34, mm, hole in use from the fold line." in result.output
    assert result.output.count("crew, all sizes") >= 1
    for size in (30, 32, 34):
        assert f" {size}   crew-{size} " in result.output
    assert (tmp_path / "stock.svg").read_text("utf-8").count(">What all sizes share") == 1
    told = run("draft", stock, "--explain").output
    assert told.count("half-turn round the bar") == 1
    assert "(34 + 2) × 25.4" in told
