"""The search is compiled before its time begins to count, and that is told."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import numba
import pytest
from tests.nesting.workshop import side, strap

from strapwright.nesting import UNKEPT
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.problem import build_problem
from strapwright.nesting.solver.warm_up import COMPILING, COMPILING_UNKEPT, compile_search

FIRST = """
import atexit, json, os, shutil, time
from pathlib import Path
kept = os.environ.get("KEPT")
if kept:  # where nothing else may be written
    os.environ.pop("NUMBA_CACHE_DIR", None)
    os.access = lambda *_, **__: False
from tests.nesting.workshop import side, strap
from strapwright.nesting.solver.nest import nest
folder = os.environ["NUMBA_CACHE_DIR"]
if kept:
    atexit.register(shutil.copytree, folder, os.path.join(kept, os.path.basename(folder)))
    beside = Path("src/strapwright/nesting/__pycache__", os.path.basename(folder)).absolute()
    if beside.exists():
        but_one = shutil.ignore_patterns("lagrangian_bound.*")
        shutil.copytree(beside, folder, dirs_exist_ok=True, ignore=but_one)
told = {}
def note(stage):
    told[stage] = time.monotonic()

nest([strap(f"b{n}") for n in range(24)], [side()], time_limit=0.5, stage=note)
ends = [*told.values(), time.monotonic()][1:]
lasted = [end - begun for begun, end in zip(told.values(), ends)]
print(json.dumps([list(told), lasted, folder, os.path.isdir(folder)]))
"""
"""Nests, and says the stages, how many seconds each lasted, and where compiled code is kept.

Where nothing may be written, what the tests before have compiled is laid ready, but for one module.
"""

EVERYTHING = """
import sys
import numpy as np
from numba.core.registry import CPUDispatcher
from tests.nesting.workshop import keeper, order, strap
from strapwright.nesting.problem import build_problem
from strapwright.nesting.solver.warm_up import compile_search
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide, round_flaw
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.solver.nest import nest

def used():
    return {
        f"{name}.{function.__name__}": len(function.signatures)
        for name, module in list(sys.modules.items()) if name.startswith("strapwright.nesting.")
        for function in vars(module).values() if isinstance(function, CPUDispatcher)
    }

flaws = (
    round_flaw(FlawKind.HOLE, 420, 150, 30),
    Flaw(FlawKind.MARK, np.array([(900, 100), (960, 100), (960, 240)])),
    round_flaw(FlawKind.LOOSE, 60, 60, 80),
)
hide = Hide("bend 4", np.array([(0, 0), (1400, 0), (1380, 230), (700, 250), (20, 240)]), flaws)
compile_search(build_problem(order(1), [hide], Clearance()).pieces)
before = used()
straps = [strap(f"b{n}", 900.0 + 37 * n) for n in range(10)]
nest(straps, [hide], steps=205)
nest(straps, [hide], time_limit=1.5)
nest([*straps, *order(9)[9:]], [hide], Clearance(kerf=0.2, shared=True), steps=3)
nest([keeper(f"b{n}", (210.0, 320.0)[n % 2], 60.0) for n in range(40)], [hide], steps=8)
print({name: count for name, count in used().items() if count != before.get(name, 0)})
"""


SUMS = """
from numba import njit
from strapwright.nesting.{module} import Pair

@njit(cache=True)
def total(pair):
    return pair.one + pair.other

print(total(Pair(1, 2)), sum(total.stats.cache_hits.values()))
"""
"""A module of the package that compiles a function of a type of another module, and says what it loaded."""


def in_a_fresh_process(script: str, **environment: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=Path(__file__).parents[3],
        env=os.environ | environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def first_and_second(tmp_path_factory):
    """What a nest said that may write nowhere, and one that finds what that had compiled."""
    if os.name != "posix":
        pytest.skip("elsewhere the user's own folder is always there")
    cache = str(tmp_path_factory.mktemp("cache") / "kept")
    return [json.loads(in_a_fresh_process(FIRST, **{name: cache})) for name in ("KEPT", "NUMBA_CACHE_DIR")]


@pytest.mark.slow
def test_where_nothing_may_be_written_it_is_compiled_each_time_and_one_line_says_so(first_and_second):
    (first, _, folder, there), _ = first_and_second
    assert first == [COMPILING_UNKEPT, "making a first layout"]
    assert there
    assert not os.path.exists(folder)


@pytest.mark.slow
def test_what_is_compiled_is_loaded_by_the_next_nest(first_and_second):
    _, (second, *_) = first_and_second
    assert second == []


@pytest.mark.slow
def test_compiling_takes_nothing_of_the_time_to_search(first_and_second):
    (_, (compiling, searching), *_), _ = first_and_second
    assert compiling > 0.2
    assert searching > 0.4  # of half a second


def test_where_it_is_kept_it_is_said_to_be_compiled_once_and_never_again(monkeypatch):
    monkeypatch.delenv(UNKEPT, raising=False)
    monkeypatch.setattr("strapwright.nesting.solver.warm_up._search_straps", numba.njit(lambda: 0))
    pieces = build_problem([strap("a")], [side()], Clearance()).pieces
    told = []
    for _ in range(2):
        compile_search(pieces, told.append)
    assert told == [COMPILING, "making a first layout"]


@pytest.mark.slow
def test_nothing_more_is_compiled_or_loaded_once_the_time_counts():
    assert in_a_fresh_process(EVERYTHING).strip() == "{}"


@pytest.mark.usefixtures("hears_ctrl_c")
@pytest.mark.parametrize("broken_off", [False, True])
def test_ctrl_c_while_it_is_compiled_ends_the_nest(monkeypatch, broken_off):
    def pressed():
        with contextlib.suppress(KeyboardInterrupt):  # as engines do that keep their best
            signal.raise_signal(signal.SIGINT)
        if broken_off:
            raise RuntimeError("no compiled object yet")

    monkeypatch.setattr("strapwright.nesting.solver.warm_up._search_straps", pressed)
    pieces = build_problem([strap("a")], [side()], Clearance()).pieces
    with pytest.raises(KeyboardInterrupt):
        compile_search(pieces)


@pytest.mark.slow
def test_code_compiled_before_its_modules_were_renamed_is_not_loaded(tmp_path):
    shutil.copytree(
        Path(__file__).parents[3] / "src/strapwright",
        tmp_path / "strapwright",
        ignore=shutil.ignore_patterns("__pycache__"),
    )
    nesting = tmp_path / "strapwright/nesting"
    said = []
    for module in (
        "old_name",
        "old_name",
        "another_name",
    ):  # no two of one length, which bytecode would pass for one
        (nesting / "old_name.py").unlink(missing_ok=True)
        (nesting / f"{module}.py").write_text(
            "from collections import namedtuple\nPair = namedtuple('Pair', 'one other')\n"
        )
        (nesting / "sums.py").write_text(SUMS.format(module=module))
        own = {"PYTHONPATH": str(tmp_path), "NUMBA_CACHE_DIR": ""}
        said.append(in_a_fresh_process("import strapwright.nesting.sums", **own).strip())
    assert said == ["3 0", "3 1", "3 0"]
    assert len(list(nesting.glob("__pycache__/strapwright-*"))) == 1
