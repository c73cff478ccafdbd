"""strapwright: from buckle, person and leather to a computed belt, a nested hide and proven cut files.

Five verbs, each a pure function from frozen values to a frozen value: read, draft, nest, plan, write.

Example:
    >>> import strapwright
    >>> strapwright.Contour.circle(0, 0, 10).as_circle()
    (0.0, 0.0, 10.0)
"""

from __future__ import annotations

from typing import Any

__version__ = "0.1.0"

# Not `write` nor `drawing`: the rooms of those names take their place once they are loaded; use `api`.
_PUBLIC = (
    "Clearance", "Contour", "Finding", "Severity", "StrapwrightError", "card", "cut", "draft", "model",
    "nest", "pattern", "picture", "plan", "read_hide", "read_job", "read_machine",
)  # fmt: skip

__all__ = ["__version__", *_PUBLIC]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used, so that ``--help`` loads nothing heavy."""
    if name not in _PUBLIC:
        raise AttributeError(f"module 'strapwright' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module("strapwright.api"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
