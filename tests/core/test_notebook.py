"""Values show themselves in a notebook, and the tutorial notebook runs from its first cell to its last."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

ROOT = Path(__file__).parents[2]
TUTORIAL = json.loads((ROOT / "docs" / "tutorial.ipynb").read_text("utf-8"))
CODE = [cell for cell in TUTORIAL["cells"] if cell["cell_type"] == "code"]
SPACE = "{http://www.w3.org/2000/svg}"


def run_cell(source, names):
    """Run a cell as a notebook does; return what its last line gives, if that is an expression."""
    tree = ast.parse(source)
    last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
    exec(compile(tree, "cell", "exec"), names)
    return None if last is None else eval(compile(ast.Expression(last.value), "cell", "eval"), names)


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """What each code cell gives, by its id; the cells share their names and run in order, in docs."""
    import os

    names, given, here = {}, {}, Path.cwd()
    os.chdir(ROOT / "docs")
    try:
        for cell in CODE:
            given[cell["id"]] = run_cell("".join(cell["source"]), names)
    finally:
        os.chdir(here)
    return given


def test_the_notebook_is_one_and_holds_no_outputs():
    assert (TUTORIAL["nbformat"], TUTORIAL["nbformat_minor"]) == (4, 5)
    ids = [cell["id"] for cell in TUTORIAL["cells"]]
    assert len(set(ids)) == len(ids)
    assert all(cell["outputs"] == [] and cell["execution_count"] is None for cell in CODE)


def test_every_cell_runs_and_the_last_files_are_proven(shown):
    assert shown["read"] == "Halvard's work belt"
    assert shown["write"] is True


@pytest.mark.parametrize(
    ("cell", "words"), [("draft", "halvard"), ("nest", "side 14"), ("plan", "wide laser")]
)
def test_draft_layout_and_plan_show_themselves(shown, cell, words):
    root = ElementTree.fromstring(shown[cell]._repr_svg_().encode())
    assert root.tag == SPACE + "svg"
    assert len(list(root.iter(SPACE + "path"))) > 10
    assert any(words in (element.text or "") for element in root.iter(SPACE + "text"))


def test_a_plan_s_picture_draws_every_path_and_the_way_between(shown):
    plan = shown["plan"]
    root = ElementTree.fromstring(plan._repr_svg_().encode())
    paths = len(plan.sheets[0].paths)
    style = dict(re.findall(r"[.]strap-drawing [.]([\w-]+){([^}]*)}", root.find(SPACE + "style").text))
    drawn = [style[line.get("class")] for line in root.iter(SPACE + "path")]
    lines = [rule for rule in drawn if "stroke:" in rule]
    assert len(lines) == paths + (paths - 1) + 4  # and four strokes of the key
    entries = [rule for rule in drawn if rule == "fill:#222222"]
    assert len(entries) == paths + 1
    assert len({rule.partition("dasharray:")[2] for rule in lines}) == 3


def test_a_lower_room_alone_shows_nothing_and_loads_no_drawer():
    code = (
        "import sys\nfrom strapwright.job.draft import Draft\n"
        "assert Draft('a', '', (), ())._repr_svg_() is None\n"
        "rooms = {'.'.join(name.split('.')[:2]) for name in sys.modules}\n"
        "assert not rooms & {'strapwright.write', 'strapwright.api'}"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_the_package_s_names_stay_functions_whatever_is_loaded(shown):
    import strapwright

    assert shown["card"] is None
    for name in strapwright.__all__:
        assert not isinstance(getattr(strapwright, name), type(sys)), name
