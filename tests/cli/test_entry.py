"""Where the command begins: Ctrl-C while modules are still being loaded."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.parametrize("module", ["click", "numpy", "strapwright.core.errors"])
def test_ctrl_c_while_loading_is_one_line_and_status_1(tmp_path, module):
    """A signal that arrives as a given module is imported; the handler is Python's own."""
    (tmp_path / "sitecustomize.py").write_text(
        "import os, signal, sys\n"
        "class Finder:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        f"        if name == {module!r}:\n"
        "            os.kill(os.getpid(), signal.SIGINT)\n"
        "sys.meta_path.insert(0, Finder())\n"
    )
    root = Path(__file__).parents[2]
    ended = subprocess.run(
        [sys.executable, "-m", "strapwright.cli", "draft", str(root / "examples" / "one-belt.toml")],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), str(root / "src")])},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert ended.stderr == "stopped; every file is as it was, or whole\n"
    assert ended.returncode == 1


def test_the_installed_command_begins_there():
    import tomllib

    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text("utf-8"))
    assert project["project"]["scripts"] == {"strapwright": "strapwright.cli.__main__:main"}
