"""Pictures of drafts, layouts and plans in a notebook: which function draws which value.

Notebooks ask a value for its picture by ``_repr_svg_``. What draws stands in a higher room than what is
drawn, so the value asks here, and the drawers are made known here from above, when `strapwright.api` is
imported.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

_DRAWERS: dict[str, Callable[[Any], str]] = {}


def drawn_by(kind: str, drawer: Callable[[Any], str]) -> None:
    """Make known what draws the values of a class.

    Args:
        kind: the class's name.
        drawer: takes such a value and returns its picture as SVG.
    """
    _DRAWERS[kind] = drawer


def svg_of(value: object) -> str | None:
    """Return a value's picture as SVG, or None where nothing is known that draws it.

    Args:
        value: of any class.

    Example:
        >>> svg_of(3.6) is None
        True
    """
    drawer = _DRAWERS.get(type(value).__name__)
    return None if drawer is None else drawer(value)
