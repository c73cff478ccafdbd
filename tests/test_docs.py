"""The pages for people: every command they show is run, and the site is built without a broken link."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import subprocess
import sys
import time
import warnings
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from strapwright.cli.main import command
from strapwright.drawing import png

if TYPE_CHECKING:
    from typing import BinaryIO

ROOT = Path(__file__).parents[1]
MEASURED = "photograph"
"""The page whose commands tests/cli/test_measure_hide.py runs: the photograph is measured only once."""
TYPED = "tutorial"
"""The page whose commands are typed at a shell, each a process of its own."""
PROVEN = "strips"
"""The page whose searches end by themselves, once nothing better can be."""
PAGES = sorted((ROOT / "docs").rglob("*.md"))
START = re.compile(r"<!-- in: (an empty folder|the starter folder|the examples folder) -->")
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.DOTALL | re.MULTILINE)


def environment(**more: str) -> dict[str, str]:
    """That of a process whose strapwright is this one's, as it is now: bytecode may be kept."""
    return {**os.environ, "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}", **more}


def blocks(path: Path, language: str) -> list[str]:
    return [text for name, text in BLOCK.findall(path.read_text("utf-8")) if name == language]


def with_commands() -> list[Path]:
    return [path for path in PAGES if blocks(path, "sh")]


def folder_for(page: Path, at: Path) -> Path:
    """Make the folder a page says its commands are run in."""
    found = START.match(page.read_text("utf-8"))
    assert found, f"{page.name} shows commands: let it begin with where they are run, <!-- in: ... -->"
    folder = at / "bench"
    if found[1] == "the starter folder":
        shutil.copytree(ROOT / "src" / "strapwright" / "starter", folder)
    elif found[1] == "the examples folder":
        shutil.copytree(ROOT / "examples", folder)
    else:
        folder.mkdir()
    return folder


HANDED_OVER = """
strapwright() { printf '%s\\0' "$#" "$PWD" "$@" >&"$ASKED"; read -r status <&"$TOLD"; return "$status"; }
"""
"""A shell's function that has a command run by the process that began the shell."""


def run_by_shell(script: str, folder: Path) -> None:
    """Run a script, each strapwright in it as a process of its own."""
    run = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", script],
        cwd=folder,
        env=environment(),
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr


def run_here(script: str, folder: Path) -> list[str]:
    """Run a script by a shell, each strapwright in it in this process; return the subcommands that ran."""
    asked, ask = os.pipe()
    tell, told = os.pipe()
    shell = subprocess.Popen(
        ["bash", "-euo", "pipefail", "-c", HANDED_OVER + script],
        cwd=folder,
        env=environment(ASKED=str(ask), TOLD=str(tell)),
        pass_fds=(ask, tell),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    os.close(ask)
    os.close(tell)
    ran, said = [], ""
    with open(asked, "rb") as requests, open(told, "w") as answers:
        while count := field(requests):
            here, *words = (field(requests) for _ in range(int(count) + 1))
            with contextlib.chdir(here):
                result = CliRunner().invoke(command, words)
            said += f"$ strapwright {' '.join(words)}\n{result.output}{result.exception or ''}\n"
            ran.append(words[0])
            print(result.exit_code, file=answers, flush=True)
    output, _ = shell.communicate()
    assert shell.returncode == 0, said + output
    return ran


def field(requests: BinaryIO) -> str:
    """The next of the fields that end with a NUL; nothing after the last."""
    return b"".join(iter(lambda: requests.read(1).rstrip(b"\0"), b"")).decode()


def test_there_are_pages_with_commands():
    assert len(with_commands()) > 5


@pytest.fixture
def hurried(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """A clock ten times as fast, by which a search of two seconds ends; but not where one ends by itself."""
    real = time.monotonic
    if f"[{PROVEN}]" not in request.node.name:
        monkeypatch.setattr(time, "monotonic", lambda: 10 * real())


@pytest.fixture
def coarse(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures of belts in the round drawn in few pixels and of few triangles, and PNGs in few pixels."""
    for name, value in (("FINER", 1), ("WIDTH", 400), ("HEIGHT", 264), ("DETAIL", 0.1), ("TURN", 0.5)):
        monkeypatch.setattr(f"strapwright.solid.picture.{name}", value)
    fine = png.png_of
    monkeypatch.setattr(png, "png_of", lambda canvas, density=png.DENSITY: fine(canvas, density / 8))


@pytest.mark.slow
@pytest.mark.usefixtures("hurried", "coarse")
@pytest.mark.parametrize(
    "page",
    [page for page in with_commands() if page.stem not in (MEASURED, TYPED)],
    ids=lambda page: page.stem,
)
def test_every_command_a_page_shows_can_be_run(page: Path, tmp_path: Path):
    run_page(page, tmp_path)


def run_page(page: Path, tmp_path: Path) -> None:
    """Run every command a page shows, in the folder it says."""
    script = "\n".join(blocks(page, "sh"))
    ran = run_here(script, folder_for(page, tmp_path))
    assert ran == re.findall(r"^strapwright (\w+)", script, re.MULTILINE)


@pytest.mark.slow
def test_the_tutorial_can_be_typed_at_a_shell(tmp_path: Path):
    script = "\n".join(blocks(ROOT / "docs" / f"{TYPED}.md", "sh"))
    assert script.count("--time 2 ") == 1
    run_by_shell(script.replace("--time 2 ", "--time 0.1 "), tmp_path)


@pytest.mark.usefixtures("hurried", "coarse")
def test_the_commands_of_the_readme_can_be_run(tmp_path: Path):
    lines = "\n".join(blocks(ROOT / "README.md", "sh")).splitlines()
    kept = [line for line in lines if line.startswith(("strapwright", "cd "))]
    assert len(kept) >= 5
    assert len(run_here("\n".join(kept), tmp_path)) == len(kept) - 1


@pytest.mark.parametrize("page", [ROOT / "README.md", ROOT / "docs" / "reference" / "python.md"])
def test_the_python_that_a_page_shows_runs(page: Path):
    found = blocks(page, "python")
    assert found
    for text in found:
        run = subprocess.run(
            [sys.executable, "-c", text], cwd=ROOT, capture_output=True, text=True, check=False
        )
        assert run.returncode == 0, run.stderr
        assert float(run.stdout) > 1000


OF_THE_PHOTOGRAPH = ["figures/side-7.jpg", "figures/side-7-check.png"]
"""Figures that tests/cli/test_measure_hide.py has made."""
BROKEN = ["[x](nowhere.md)", "[x](trade.md#no-such-heading)", "![x](figures/none.svg)"]


@pytest.mark.slow
def test_the_site_is_built_with_its_made_pages_and_figures_and_every_broken_link_stops_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    from mkdocs.__main__ import cli as mkdocs

    for name in ("docs", "site_pages", "examples"):
        shutil.copytree(ROOT / name, tmp_path / name)
    (tmp_path / "src").symlink_to(ROOT / "src")
    shutil.copy(ROOT / "mkdocs.yml", tmp_path)
    with (tmp_path / "site_pages" / "figures.py").open("a") as figures:
        figures.write(f"\n\ndef photograph():\n    return dict.fromkeys({OF_THE_PHOTOGRAPH}, b'')\n")
    page = tmp_path / "docs" / "index.md"
    page.write_text(page.read_text("utf-8") + "\n" + "\n\n".join(BROKEN) + "\n", "utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("NO_MKDOCS_2_WARNING", "1")
    with warnings.catch_warnings(action="ignore"):
        run = CliRunner().invoke(mkdocs, ["build", "--site-dir", "built"])
    assert run.exit_code != 0
    warned = [line for line in run.output.splitlines() if "WARNING" in line]
    assert len(warned) == len(BROKEN)  # with these links mended there is none, and the site passes
    for link in BROKEN:
        assert any(link.partition("(")[2].rstrip(")") in line for line in warned)
    assert f"Aborted with {len(BROKEN)} warnings" in run.output
    built = tmp_path / "built"
    tables = {path.stem: path.read_text("utf-8") for path in (built / "reference").glob("*.html")}
    assert "worn_to_hole" in tables["job"]
    assert not any("<td></td>" in table for table in tables.values())  # every key is told in words
    assert "--ends-only" in tables["commands"]
    assert "clearance_for" in tables["python"]
    assert {"one-belt.svg", "side.svg"} <= {path.name for path in (built / "figures").iterdir()}
