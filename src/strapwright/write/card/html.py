"""A bench card as one HTML file that needs nothing else: for print, for a telephone, light and dark."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from strapwright.core.text import printable_lines
from strapwright.drawing.looks import LOOKS, style_sheet
from strapwright.drawing.svg import element
from strapwright.drawing.text import FAMILY
from strapwright.files.atomic_write import MARK
from strapwright.write.card.blocks import Block, Drawing

if TYPE_CHECKING:
    from collections.abc import Callable

    from jinja2 import Environment

    from strapwright.write.card.blocks import Card, Paper


def card_html(card: Card, paper: Paper = "a4") -> str:
    """Return a card as an HTML document.

    Args:
        card: the card.
        paper: it is printed on: ``"a4"`` or ``"letter"``.

    Returns:
        One file that loads nothing from elsewhere and forbids it, by a policy that names its one style sheet.
    """
    templates = _templates()
    style = card_style(card, paper)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    page = templates.get_template("card.html.jinja")
    return page.render(card=card, svg=element, style=style, digest=digest, mark=MARK, mark_of=_unmarked)


def card_sheets(card: Card, mark_of: Callable[[int, int], Callable[[int], str]]) -> str:
    """Return a card as it stands in a page that has its style and keeps its ticks.

    Args:
        card: the card.
        mark_of: returns, for a sheet and a block of it by their places, what returns the attributes of the
            box of its row or step.
    """
    module = _templates().get_template("card_blocks.html.jinja").make_module({"svg": element})
    return str(module.sheets(card, mark_of))  # type: ignore[attr-defined]


def card_style(card: Card, paper: Paper = "a4") -> str:
    """Return a card's style sheet.

    Args:
        card: whose drawings' looks it has.
        paper: it is printed on.
    """
    drawn = [block.canvas for sheet in card.sheets for block in sheet.blocks if isinstance(block, Drawing)]
    used = {name for canvas in drawn for name in canvas.looks()}
    looks = style_sheet({name: look for name, look in LOOKS.items() if name in used})
    return _templates().get_template("card.css.jinja").render(paper=paper, family=FAMILY, looks=looks)


def _unmarked(sheet: int, block: int) -> Callable[[int], str]:
    """Return what gives a box that keeps no tick its attributes: none."""
    del sheet, block
    return lambda row: row * ""


@cache
def _templates() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    templates = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=lambda value: printable_lines(value) if type(value) is str else value,
        trim_blocks=True,
        keep_trailing_newline=True,
        lstrip_blocks=True,
    )
    for kind in get_args(Block):
        templates.tests[kind.__name__.lower()] = kind.__instancecheck__
    return templates
