"""A job's text is data: code comes only from a Python file in the job's own folder."""

from __future__ import annotations

import os

import pytest
from click.testing import CliRunner
from tests.job.jobs import BELT, LEATHER

from strapwright.cli.main import command
from strapwright.core.errors import FileProblems
from strapwright.job.spec.job import read_job

OWN = 'expected a Python file in the job\'s own folder such as "my_tip.py"'
NO_PATH = f"{OWN}, no path and no link out of it; move it there"
STRAP = '[[strap]]\nid = "plate"\n'


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A job's folder, and beside it one that code could be fetched from."""
    home = tmp_path / "home"
    home.mkdir()
    code = f"open({str(tmp_path / 'was run')!r}, 'w')\n"
    for place in (home, tmp_path, home / "below"):
        place.mkdir(exist_ok=True)
        (place / "tip.py").write_text(code)
    (home / "out.py").symlink_to(tmp_path / "tip.py")
    (home / "down.py").symlink_to(home / "below" / "tip.py")
    (home / "ring.py").symlink_to(home / "ring.py")
    (home / "same.py").symlink_to(home / "tip.py")
    (home / "folder.py").mkdir()
    os.mkfifo(home / "pipe.py")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return home


def said_of(folder, value: str, *, strap: bool = False) -> str:
    job = folder / "job.toml"
    table = f"{STRAP}sketch = {value}\n" if strap else f"{BELT}tip = {{ sketch = {value} }}\n"
    job.write_text(LEATHER + table)
    with pytest.raises(FileProblems) as caught:
        read_job(job)
    (line,) = caught.value.problems
    key = "strap[1].sketch" if strap else "belt[1].tip.sketch"
    return line.removeprefix(f"{job}: {key}: ")


@pytest.mark.parametrize("strap", [False, True])
@pytest.mark.parametrize(
    ("value", "found"),
    [
        ('{ name = "x.py", source = "print(1)" }', "a table"),
        ('{ name = "x", source = "print(1)" }', "a table"),
        ('{ source = "print(1)" }', "a table"),
        ("{}", "a table"),
        ('["tip.py"]', "a list"),
        ("true", "true"),
        ("7", "7"),
        ('""', '""'),
        ('"tip"', '"tip"'),
        ('"tip.pyc"', '"tip.pyc"'),
        ('"tip.py "', '"tip.py "'),
    ],
)
def test_only_the_name_of_a_python_file_may_be_a_sketch(folder, value, found, strap):
    assert said_of(folder, value, strap=strap) == f"found {found}, {OWN}"


@pytest.mark.parametrize("strap", [False, True])
@pytest.mark.parametrize(
    "name",
    [
        "../tip.py",
        "below/tip.py",
        "below/../tip.py",
        "./tip.py",
        "{parent}/tip.py",
        "~/tip.py",
        "below\\\\tip.py",
        "..\\\\tip.py",
        "C:tip.py",
        "C:\\\\tip.py",
        "\\\\\\\\server\\\\share\\\\tip.py",
        "file:///tip.py",
        "tip.py\\u0000.py",
        "a\\u001b[2J.py",
        "a\\u2028b.py",
        "out.py",
        "down.py",
        "ring.py",
    ],
)
def test_no_path_and_no_link_leads_to_one(folder, name, strap):
    said = said_of(folder, f'"{name.format(parent=folder.parent)}"', strap=strap)
    assert said.endswith(f", {NO_PATH}")
    assert said.isprintable()


@pytest.mark.parametrize(
    ("name", "reason"),
    [("folder.py", "found a folder"), ("pipe.py", "found a pipe or device"), ("gone.py", "no such file")],
)
def test_what_is_no_file_is_told(folder, name, reason):
    assert f"{folder / name}: {reason}" in said_of(folder, f'"{name}"')


@pytest.mark.parametrize("name", ["tip.py", "same.py"])
def test_a_file_in_the_folder_is_read_and_not_run(folder, name, tmp_path):
    job = folder / "job.toml"
    job.write_text(f'{LEATHER}{BELT}tip = {{ sketch = "{name}" }}\n')
    assert read_job(job).sketches == {name: (folder / "tip.py").read_text()}
    assert not (tmp_path / "was run").exists()


@pytest.mark.parametrize(
    "head", ["tip.sketch.name,tip.sketch.source", "tip.sketch.source", "tip.name,tip.source", "sketch"]
)
def test_no_column_of_a_csv_file_holds_code(folder, head, tmp_path):
    job = folder / "job.csv"
    cells = ",".join(["x.py"] * (head.count(",") + 1))
    job.write_text(f"id,size.trousers,{head}\nann,36,{cells}\n")
    with pytest.raises(FileProblems, match="unknown column"):
        read_job(job)


@pytest.mark.parametrize("verb", ["draft", "card", "nest", "pattern", "cut"])
def test_no_command_runs_code_that_stands_in_a_job(folder, verb, tmp_path):
    marker = tmp_path / "was run"
    code = f"open({str(marker)!r}, 'w')"
    job = folder / "job.toml"
    job.write_text(f'{LEATHER}{BELT}tip = {{ sketch = {{ name = "x", source = "{code}" }} }}\n')
    hide = folder / "hide.toml"
    hide.write_text('[hide]\npoints = [[0, 0], [1600, 0], [1600, 500], [0, 500]]\nthickness = "3.4 mm"\n')
    more = {
        "draft": [],
        "card": ["--out", "card.html"],
        "nest": ["--hide", str(hide)],
        "pattern": ["--paper", "a4", "--out", "p.pdf"],
        "cut": ["--hide", str(hide), "--machine", "wide-laser", "--out", "out"],
    }
    result = CliRunner().invoke(command, [verb, str(job), *more[verb]])
    assert result.exit_code == 1
    assert "tip.sketch: found a table" in result.stderr
    assert not marker.exists()
