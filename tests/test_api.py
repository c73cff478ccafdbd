"""The five verbs from Python."""

from __future__ import annotations

import ast
from importlib import import_module
from pathlib import Path

import pytest

from strapwright import api
from strapwright.core.errors import PlanError
from strapwright.parts.part import PartKind

EXAMPLES = Path(__file__).parents[1] / "examples"


@pytest.fixture(scope="module")
def one():
    return api.read_job(EXAMPLES / "one-belt.toml")


@pytest.fixture(scope="module")
def side():
    return api.read_hides([EXAMPLES / "side.toml"])


def job_with(tmp_path, more):
    text = (EXAMPLES / "one-belt.toml").read_text("utf-8") + more
    path = tmp_path / "job.toml"
    path.write_text(text, "utf-8")
    return api.read_job(path, EXAMPLES / "catalogue.toml")


def test_a_gap_narrower_than_the_kerf_grows_and_says_so(tmp_path, side):
    tight = job_with(tmp_path, "[layout]\ngap = 0.1\n")
    made = api.cut(tight, side, api.read_machine("wide-laser"), kerf=0.3, steps=1)
    (grown,) = [finding for finding in made.findings if finding.code == "gap-grown"]
    assert grown.numbers["gap_mm"] == pytest.approx(0.3)
    assert made.layout.clearance.between == pytest.approx(0.3)


def test_a_stop_finding_blocks_cut_files_and_not_the_draft(tmp_path, side):
    text = (EXAMPLES / "one-belt.toml").read_text("utf-8").replace('"9 oz"', '"1.6 mm"')
    path = tmp_path / "thin.toml"
    path.write_text(text, "utf-8")
    thin = api.read_job(path, EXAMPLES / "catalogue.toml")
    assert any(finding.code == "no-post" for finding in api.draft(thin).findings)
    with pytest.raises(PlanError, match=r"halvard: The stack at rows A and B is 3\.2 mm"):
        api.cut(thin, side, api.read_machine("drag-knife"), steps=1)


def test_a_lined_belt_is_nested_strap_and_lining(tmp_path, side):
    lined = job_with(tmp_path, 'lining = { thickness = "9 oz" }\n')
    drafted = api.draft(lined)
    assert [part.kind for part in drafted.parts] == [PartKind.STRAP, PartKind.LINING, PartKind.KEEPER]
    layout = api.nest(drafted, side, api.clearance_for(lined), steps=1)
    assert len(layout.placed) == 3


def test_two_hides_of_one_name_are_told_apart(side):
    del side
    names = [hide.name for hide in api.read_hides([EXAMPLES / "side.toml"] * 3)]
    assert names == ["side 14", "side 14 2", "side 14 3"]


def test_the_door_names_the_same_things_for_types_and_at_run_time():
    tree = ast.parse(Path(api.__file__).read_text("utf-8"))
    imports = [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    typed = {
        alias.asname or alias.name: (node.module, alias.name)
        for node in imports
        for alias in node.names
        if (node.module or "").startswith("strapwright.") and alias.name != "drawn_by"
    }
    assert {*typed} - {"write"} == {*dir(api)} - {"write_plan"}
    for name, (module, own) in typed.items():
        assert getattr(api, name) is getattr(import_module(module), own)
    with pytest.raises(AttributeError, match="has no attribute 'belt'"):
        _ = api.belt
