"""The rooms of the house: imports point one way, heavy things stay out, the map is true."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "strapwright"
LEVELS = [
    ("errors", "findings", "pictures", "tolerances", "units"),
    ("files",),
    ("geometry",),
    ("trade",),
    ("parts",),
    ("job",),
    ("nesting",),
    ("machine",),
    ("write", "solid"),
    ("api",),
    ("cli",),
]
LEVEL = {room: level for level, rooms in enumerate(LEVELS) for room in rooms}


def room_of(path: Path) -> str:
    first = path.relative_to(SOURCE).parts[0]
    return first.removesuffix(".py")


def imported_rooms(module: ast.Module) -> set[str]:
    found = set()
    for node in ast.walk(module):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
            if node.module == "strapwright":
                names = [f"strapwright.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        found |= {name.split(".")[1] for name in names if name.startswith("strapwright.")}
    return found & set(LEVEL)


@pytest.fixture(scope="module")
def modules() -> dict[Path, ast.Module]:
    """Every module but the package's own first, read."""
    paths = sorted(path for path in SOURCE.rglob("*.py") if path != SOURCE / "__init__.py")
    return {path: ast.parse(path.read_text("utf-8")) for path in paths}


def test_imports_point_from_higher_rooms_to_lower_ones(modules):
    upward = {
        (str(path.relative_to(SOURCE)), room)
        for path, module in modules.items()
        for room in imported_rooms(module)
        if LEVEL[room] > LEVEL[room_of(path)]
    }
    assert len(modules) > 200
    assert not upward


def test_a_module_says_what_it_is(modules):
    assert not [
        str(path.relative_to(SOURCE)) for path, module in modules.items() if not ast.get_docstring(module)
    ]


def loaded_by(code: str) -> set[str]:
    """The top-level modules loaded in a fresh interpreter after some code ran."""
    run = subprocess.run(
        [sys.executable, "-c", f"import sys\n{code}\nprint(*sorted(m.split('.')[0] for m in sys.modules))"],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    return set(run.stdout.split("\n")[-2].split())


HEAVY = {"cadquery", "OCP", "ezdxf", "numpy", "pydantic", "rich", "shapely", "svgpathtools"}


def test_help_loads_nothing_heavy():
    code = (
        "from click.testing import CliRunner\n"
        "from strapwright.cli.main import command\n"
        "assert CliRunner().invoke(command, ['--help']).exit_code == 0"
    )
    assert not loaded_by(code) & HEAVY


def test_drafting_loads_neither_modeller_nor_nesting_nor_file_writers():
    code = (
        "from pathlib import Path\nfrom strapwright import api\n"
        "api.draft(api.read_job(Path('examples/autumn-batch.toml')))"
    )
    assert not loaded_by(code) & {"cadquery", "OCP", "ezdxf", "shapely", "svgpathtools", "rich"}


def test_cutting_never_loads_the_modeller():
    code = (
        "from pathlib import Path\nfrom strapwright import api\n"
        "api.cut(api.read_job(Path('examples/one-belt.toml')), api.read_hides([Path('examples/side.toml')]),"
        " api.read_machine('wide-laser'), steps=1)"
    )
    assert not loaded_by(code) & {"cadquery", "OCP"}


def test_every_path_named_in_the_guide_for_contributors_exists():
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    named = set(re.findall(r"`((?:src|tests|examples|profiles|benchmarks|docs|\.ci)/[\w./-]*)`", text))
    assert len(named) > 15
    missing = {name for name in named if not (ROOT / name).exists()}
    assert not missing


def test_every_room_is_on_the_map():
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    rooms = {path.name for path in SOURCE.iterdir() if path.is_dir() and (path / "__init__.py").exists()}
    assert not {room for room in rooms if f"`src/strapwright/{room}/`" not in text}


def test_the_public_names_are_there():
    import strapwright

    for name in strapwright.__all__:
        assert getattr(strapwright, name)
    with pytest.raises(AttributeError, match="has no attribute 'belt'"):
        _ = strapwright.belt
