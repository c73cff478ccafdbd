"""Loading the solid modeller, wherever it is first needed."""

from __future__ import annotations

import importlib
import warnings
from typing import Any

from strapwright.core.errors import PartError


def load_modeller(what: str, *, where: str = "") -> Any:
    """Load CadQuery; it takes some seconds the first time.

    Args:
        what: what needs it, for the message.
        where: what the message begins with, such as a file's name and a colon.

    Raises:
        PartError: it is not installed, or a library of the system is missing.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # its own and its libraries' deprecations are not the user's
            return importlib.import_module("cadquery")
    except ModuleNotFoundError as error:
        raise PartError(
            f"{where}{what} needs CadQuery, which is not here ({error.name}): "
            'pip install "strapwright[solid]"'
        ) from error
    except ImportError as error:
        reason = " ".join(str(error).split())
        raise PartError(
            f"{where}CadQuery cannot be loaded: {reason} (on Debian: apt install libgl1)"
        ) from error
