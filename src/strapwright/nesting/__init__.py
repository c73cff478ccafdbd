"""Nesting: hides, and parts placed on them with proven bounds.

`hide` and `layout` are what goes in and comes out, `problem` the same in polygons for the searches,
`strap_search` and `shape_search`, and the bounds; `solver` runs them. `remnant` is what is left of a hide
once it is cut, `stock` a folder of hides, `strips` strap blanks in place of hides.
"""

from __future__ import annotations

import atexit
import hashlib
import os
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Final

from strapwright.files.user_folders import cache_folder

UNKEPT: Final = "STRAPWRIGHT_UNKEPT"
"""Set in the environment where what numba compiles is not kept."""


def _give_numba_a_cache() -> None:
    """Have numba keep what it compiles in a folder named by the sources it is compiled from.

    Compiled code names the modules it was made of and holds copies of functions of others, so code made of
    other sources, older or newer ones, must never be loaded. The folder is in the one that NUMBA_CACHE_DIR
    names, beside this module, or in the user's cache folder. Where none may be written to, it is a temporary
    one that is removed at the end: everything is compiled anew each time, which
    `strapwright.nesting.solver.warm_up` says.
    """
    here = Path(__file__).parent
    sources = hashlib.sha256()
    for path in sorted(here.rglob("*.py")):
        sources.update(path.relative_to(here).as_posix().encode() + path.read_bytes())
    name = f"strapwright-{sources.hexdigest()[:16]}"
    beside = here / "__pycache__"
    places = [beside, cache_folder("compiled")]
    if chosen := os.environ.get("NUMBA_CACHE_DIR"):
        place = Path(chosen).absolute()
        places.insert(0, place.parent if place.name.startswith("strapwright-") else place)
    folder = next((place / name for place in places if place.is_absolute() and _is_writable(place)), None)
    if folder is None:
        folder = Path(tempfile.mkdtemp(prefix="strapwright-")) / name
        atexit.register(shutil.rmtree, folder.parent, ignore_errors=True)
        os.environ[UNKEPT] = str(folder)
    elif folder.parent == beside and not folder.exists():
        for older in beside.glob("strapwright-*"):
            shutil.rmtree(older, ignore_errors=True)
    os.environ["NUMBA_CACHE_DIR"] = str(folder)
    if "numba" in sys.modules:  # it has looked there by now
        sys.modules["numba"].config.CACHE_DIR = str(folder)


def _is_writable(folder: Path) -> bool:
    """Whether a folder may be written to, or made."""
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    return os.access(folder, os.W_OK | os.X_OK)


_give_numba_a_cache()
