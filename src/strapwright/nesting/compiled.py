"""How the functions of the searches are compiled."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

_Function = TypeVar("_Function", bound=Callable[..., Any])

_OPTIONS: dict[str, Any] = {"cache": True, "nogil": True, "no_cfunc_wrapper": True}
_WITHIN = _OPTIONS | {"no_cpython_wrapper": True}


def compiled(function: _Function) -> _Function:
    """Return a function compiled when it is first called."""
    return cast("_Function", njit(**_OPTIONS)(function))


def within(function: _Function) -> _Function:
    """Return a function compiled for compiled functions alone, which spares a sixth of all compiling.

    It has no way in from Python: the process would end where it is called from there, and a test looks for
    that.
    """
    return cast("_Function", njit(**_WITHIN)(function))
