"""Nesting: hides, and parts placed on them with proven bounds."""

from __future__ import annotations

import atexit
import os
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Final

UNKEPT: Final = "STRAPWRIGHT_UNKEPT"
"""Set in the environment where what numba compiles is not kept."""


def _give_numba_a_cache() -> None:
    """Give numba a temporary cache where neither the installation nor the home may be written to.

    It keeps compiled functions beside their modules, or else in the user's cache folder; with neither, it
    refuses to make them at all. Then they go to a folder that is removed at the end, and are compiled anew
    each time, which `strapwright.nesting.solver.warm_up` says.
    """
    if "NUMBA_CACHE_DIR" in os.environ or sys.platform == "win32":
        return
    usual = "~/Library/Caches" if sys.platform == "darwin" else "~/.cache"
    home = Path(os.environ.get("XDG_CACHE_HOME") or os.path.expanduser(usual))
    if _is_writable(Path(__file__).parent / "__pycache__") or (home.is_absolute() and _is_writable(home)):
        return
    folder = tempfile.mkdtemp(prefix="strapwright-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    os.environ["NUMBA_CACHE_DIR"] = os.environ[UNKEPT] = folder


def _is_writable(folder: Path) -> bool:
    """Whether a folder may be written to, or made."""
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    return os.access(folder, os.W_OK | os.X_OK)


_give_numba_a_cache()
