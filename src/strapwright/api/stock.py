"""Hides in stock: read a folder of them, and draw a sheet of thumbnails."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from strapwright.nesting.stock.folder import Stock


def read_stock(
    folder: Path,
    *,
    strap_width: float = 38.0,
    margin: float = 2.0,
    progress: Callable[[Path], None] | None = None,
) -> Stock:
    """Read every hide in a folder: see :func:`strapwright.nesting.stock.folder.read_stock`."""
    from strapwright.nesting.stock.folder import read_stock as read

    return read(folder, strap_width=strap_width, margin=margin, progress=progress)


def stock_sheet(stock: Stock, suffix: str, *, title: str, inches: bool = False) -> str:
    """Return a sheet of thumbnails.

    Args:
        stock: the folder's hides.
        suffix: ``".svg"`` or ``".html"``.
        title: what stands at its head.
        inches: whether it gives inches and square feet.
    """
    from strapwright.drawing.stock.hide_sheet import sheet_html, sheet_svg

    return (sheet_html if suffix == ".html" else sheet_svg)(stock, title=title, inches=inches)
