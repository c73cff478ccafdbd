"""The rooms of the house: imports point one way, heavy things stay out, the map is true."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "strapwright"
MOST_MODULES = 16
"""A folder with more modules than this is divided."""

ORDER = re.findall(
    r"\S+",
    """
    core files
    geometry geometry.drawings
    rules
    parts.dimension parts.part parts.tips parts.own_shape parts.sketch parts
    job.catalogue job.spec job.dimensions job.strap_draft job.findings job job.folding job.measuring job.bill
    nesting.hide nesting.layout nesting.problem nesting.problem_check nesting.cancellation
    nesting.compiled nesting.rng nesting nesting.strap_search
    nesting.shape_search nesting.bound nesting.solver nesting.remnant nesting.stock nesting.strips
    machine.profile machine.hide_pose machine.types machine.kerf machine.toolpath machine.duration
    machine.cut_plan machine.bed machine.planning machine.test_pieces
    drawing drawing.belt drawing.layout drawing.kerf_plot drawing.plan
    write.readers write.formats write.proof write.pattern write.card write.handout write
    send solid photo api
    page.forms page.sheet page.jobs page.leather page.layout_view page.layouts page.workshop
    page.server page.routes page
    cli.terminal cli
    """,
)
"""Packages, and modules that stand alone, from the ground up: each imports from what stands before it."""

RANK = {f"strapwright.{place}": rank for rank, place in enumerate(ORDER)}
FILES = {
    ".".join(path.relative_to(SOURCE.parent).with_suffix("").parts).removesuffix(".__init__"): path
    for path in SOURCE.rglob("*.py")
}
MODULES = FILES.keys() - {"strapwright"}  # whose public names are loaded when asked for


@cache
def tree(module: str) -> ast.Module:
    return ast.parse(FILES[module].read_text("utf-8"))


@cache
def imports_of(module: str) -> set[str]:
    """The modules of strapwright that one imports: on top, for types alone, in functions, relatively."""
    found = set()
    package = module if FILES[module].name == "__init__.py" else module.rpartition(".")[0]
    for node in ast.walk(tree(module)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                above = package.split(".")[: len(package.split(".")) - node.level + 1]
                base = ".".join([*above, *([base] if base else [])])
            found |= {
                f"{base}.{alias.name}" if f"{base}.{alias.name}" in FILES else base for alias in node.names
            }
    return found & MODULES


def place_of(module: str) -> str:
    """Where a module stands: the longest of the ordered names that is its own or holds it."""
    while module not in RANK:
        module = module.rpartition(".")[0]
    return module


def test_imports_point_from_higher_rooms_to_lower_ones():
    upward = [
        f"{module} imports {other}"
        for module in MODULES
        for other in imports_of(module)
        if RANK[place_of(other)] > RANK[place_of(module)]
    ]
    assert not upward, "\n".join(upward)


def test_no_modules_import_each_other_in_a_circle():
    left = {module: imports_of(module) - {module} for module in MODULES}
    while free := {module for module, others in left.items() if not others & left.keys()}:
        left = {module: others for module, others in left.items() if module not in free}
    while tops := left.keys() - set().union(*left.values(), set()):  # what only imports a circle is in none
        left = {module: others for module, others in left.items() if module not in tops}
    assert not left, sorted(left)


def test_what_checks_a_layout_takes_nothing_from_what_searches():
    searches = {"strap_search", "shape_search", "solver", "bound"}
    reached, todo = set(), {"strapwright.nesting.layout.verify", "strapwright.nesting.problem_check"}
    while todo:
        reached |= todo
        todo = set().union(*map(imports_of, todo)) - reached
    assert not {module for module in reached if module.split(".")[2:3] and module.split(".")[2] in searches}


def test_a_module_says_what_it_is():
    silent = [module for module in MODULES if not ast.get_docstring(tree(module))]
    assert not silent


def test_a_folder_holds_no_more_modules_than_one_looks_over():
    count = Counter(path.parent for path in FILES.values() if path.name != "__init__.py")
    assert not {str(folder.relative_to(SOURCE)): n for folder, n in count.items() if n > MOST_MODULES}


STEPS = {
    "help": (
        "from click.testing import CliRunner\n"
        "from strapwright.cli.main import command\n"
        "assert CliRunner().invoke(command, ['--help']).exit_code == 0"
    ),
    "draft": (
        "from pathlib import Path\nfrom strapwright import api\n"
        "api.draft(api.read_job(Path('examples/autumn-batch.toml')))"
    ),
    "cut": (
        "api.cut(api.read_job(Path('examples/one-belt.toml')), api.read_hides([Path('examples/side.toml')]),"
        " api.read_machine('wide-laser'), steps=1)"
    ),
}


@cache
def loaded_after() -> dict[str, set[str]]:
    """The top-level modules loaded in a fresh interpreter after each of the steps, one after another."""
    tell = "print('loaded', *{m.split('.')[0] for m in sys.modules})"
    code = "\n".join(["import sys", *(f"{step}\n{tell}" for step in STEPS.values())])
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    told = [set(line.split()[1:]) for line in run.stdout.splitlines() if line.startswith("loaded ")]
    return dict(zip(STEPS, told, strict=True))


HEAVY = {"cadquery", "OCP", "ezdxf", "numpy", "pydantic", "rich", "shapely", "svgpathtools"}


def test_help_loads_nothing_heavy():
    assert not loaded_after()["help"] & HEAVY


def test_drafting_loads_neither_modeller_nor_nesting_nor_file_writers():
    assert not loaded_after()["draft"] & {"cadquery", "OCP", "ezdxf", "shapely", "svgpathtools", "rich"}


def test_cutting_never_loads_the_modeller():
    assert not loaded_after()["cut"] & {"cadquery", "OCP"}


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


def test_what_only_compiled_functions_call_is_called_by_no_other():
    trees = [
        (path.stem, ast.parse(path.read_text()))
        for folder in ("src/strapwright/nesting", "tests/nesting", "benchmarks")
        for path in (ROOT / folder).rglob("*.py")
    ]

    def decorators(node):
        return [ast.unparse(one) for one in getattr(node, "decorator_list", ())]

    def named(node):
        """What is named outside compiled functions."""
        for inner in ast.iter_child_nodes(node):
            if not {"compiled", "within"} & set(decorators(inner)):
                yield from named(inner)
        if isinstance(node, (ast.Name, ast.Attribute)):
            yield node.id if isinstance(node, ast.Name) else node.attr

    within = {(stem, node.name) for stem, tree in trees for node in tree.body if "within" in decorators(node)}
    assert len(within) > 30
    for stem, tree in trees:
        known = {name for home, name in within if home == stem}
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom):
                home = (node.module or "").rpartition(".")[2]
                known |= {one.asname or one.name for one in node.names if (home, one.name) in within}
        assert not known & set(named(tree)), stem
