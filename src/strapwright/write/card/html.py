"""A bench card as one HTML file that needs nothing else: for print on A4, for a telephone, light and dark."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.core.text import escape
from strapwright.drawing.looks import LOOKS, style_sheet
from strapwright.drawing.svg import element
from strapwright.files.atomic_write import MARK
from strapwright.write.card.blocks import Beside, Blanks, Drawing, Facts, Table, Ticks, Words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.drawing.looks import Look
    from strapwright.write.card.blocks import Block, Card, Sheet

_STYLE: Final = """
:root{color-scheme:light dark;--ink:#1b1b1b;--paper:#fff;--quiet:#5a5a5a;--rule:#b4b4b4;--tint:#f6eee2;
--grave:#8a3b00}
*{box-sizing:border-box}
body{margin:0 auto;max-width:62rem;padding:.8rem;background:var(--paper);color:var(--ink);
font:1rem/1.4 Strapwright Sans,DejaVu Sans,Verdana,sans-serif}
h1{font-size:1.5rem;margin:.2rem 0}
h2{font-size:1.3rem;margin:0;overflow-wrap:anywhere}
h3{font-size:1rem;margin:1.1rem 0 .3rem}
p{margin:.2rem 0}
.quiet{color:var(--quiet)}
nav ul{display:flex;flex-wrap:wrap;gap:.3rem 1rem;padding:0;list-style:none}
a{color:inherit}
section{border-top:.2rem solid var(--ink);margin-top:1.6rem;padding-top:.6rem}
dl{display:grid;grid-template-columns:minmax(7rem,max-content) 1fr;gap:.15rem 1rem;margin:.6rem 0}
dt{color:var(--quiet)}
dd{margin:0;overflow-wrap:anywhere}
.wide{overflow-x:auto}
table{border-collapse:collapse;width:100%}
th,td{padding:.22rem .5rem;text-align:left;border-bottom:1px solid var(--rule);vertical-align:top}
th{font-weight:bold;border-bottom:2px solid var(--ink)}
.figure{text-align:right;white-space:nowrap;font-variant-numeric:tabular-nums}
.tick{width:1.6rem}
input{flex:none;width:1.1rem;height:1.1rem;margin:.1rem 0}
ol{padding-left:1.8rem}
li{margin:.35rem 0}
label{display:flex;gap:.6rem;align-items:baseline}
label input{position:relative;top:.2rem}
.caution{display:block;color:var(--grave);font-style:italic}
.grave{border-left:.35rem solid var(--grave);padding:.1rem 0 .1rem .8rem}
.blanks{display:flex;flex-wrap:wrap;gap:.4rem 1.5rem}
.blanks span{flex:1 1 11rem;border-bottom:1px solid var(--ink);padding-top:1rem;color:var(--quiet)}
.beside{display:grid;grid-template-columns:2fr 3fr;gap:1.2rem}
@media screen and (max-width:48rem){.beside{display:block}}
figure{margin:.4rem 0}
figure svg{display:block;width:100%;min-width:46rem;height:auto}
@media screen and (prefers-color-scheme:dark){
:root{--ink:#eceef0;--paper:#16181b;--quiet:#b9bdc2;--rule:#55595e;--tint:#2d2720;--grave:#f0b429}}
@media screen and (max-width:48rem){td:not(.figure,.tick){min-width:7rem}}
@page{size:A4;margin:12mm}
@media print{
:root{font-size:9.5pt}
body{max-width:none;padding:0}
nav{display:none}
section{break-before:page;border-top:0;margin:0;padding:0}
header+section{break-before:auto;margin-top:.5rem}
section.brief{break-before:auto;break-inside:avoid;border-top:.1rem solid var(--ink);margin-top:.6rem;
padding-top:.3rem}
section:not(.brief)+section.brief{break-before:page}
h3,th{break-after:avoid}
th,td{padding:.12rem .5rem}
li{margin:.2rem 0}
tr,li,figure,.grave,.blanks{break-inside:avoid}
.wide{overflow:visible}
figure svg{min-width:0}
}
"""


def card_html(card: Card) -> str:
    """Return a card as an HTML document.

    Args:
        card: the card.

    Returns:
        One file without anything from elsewhere: style and drawings stand in it.
    """
    lines = [
        "<!DOCTYPE html>",
        f"<!-- {MARK} -->",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(card.title)}: bench card</title>",
        f"<style>{_STYLE}{style_sheet(_looks(card))}\n</style>",
        "</head>",
        "<body>",
        "<header>",
        f"<h1>{escape(card.title)}</h1>",
        f"<p>{escape(card.subtitle)}</p>",
        "<nav><ul>",
        *(f'<li><a href="#{sheet.key}">{escape(sheet.title)}</a></li>' for sheet in card.sheets),
        "</ul></nav>",
        "</header>",
    ]
    for number, sheet in enumerate(card.sheets):
        lines += _sheet(sheet, number)
    lines += [f'<footer class="quiet"><p>{escape(card.foot)}</p></footer>', "</body>", "</html>", ""]
    return "\n".join(lines)


def _looks(card: Card) -> dict[str, Look]:
    """Return the looks of all drawings of a card, in the order of the style sheet."""
    drawings = [block for sheet in card.sheets for block in sheet.blocks if isinstance(block, Drawing)]
    used = {name for drawing in drawings for name in drawing.canvas.looks()}
    return {name: look for name, look in LOOKS.items() if name in used}


def _sheet(sheet: Sheet, number: int) -> Iterator[str]:
    brief = ' class="brief"' if sheet.brief else ""
    yield f'<section id="{sheet.key}"{brief}>'
    yield f"<h2>{escape(sheet.title)}</h2>"
    yield f"<p>{escape(sheet.subtitle)}</p>"
    for place, block in enumerate(sheet.blocks):
        yield from _block(block, f"d{number}-{place}-")
    yield "</section>"


def _block(block: Block, own: str) -> Iterator[str]:
    if not isinstance(block, Facts | Blanks | Beside):
        yield f"<h3>{escape(block.title)}</h3>"
    match block:
        case Facts():
            rows = "".join(f"<dt>{escape(name)}</dt><dd>{escape(words)}</dd>" for name, words in block.rows)
            yield f"<dl>{rows}</dl>"
        case Blanks():
            places = "".join(f"<span>{escape(one)}</span>" for one in block.labels)
            yield f'<div class="blanks">{places}</div>'
        case Table():
            yield from _table(block)
        case Beside():
            yield '<div class="beside"><div>'
            yield from _block(block.left, own)
            yield "</div><div>"
            yield from _block(block.right, own)
            yield "</div></div>"
        case Ticks():
            yield "<ol>"
            for step, caution in block.steps:
                warn = f'<span class="caution">{escape(caution)}</span>' if caution else ""
                yield f'<li><label><input type="checkbox"><span>{escape(step)}{warn}</span></label></li>'
            yield "</ol>"
        case Words():
            yield '<div class="grave">' if block.grave else "<div>"
            yield from (f"<p>{escape(line)}</p>" for line in block.lines)
            yield "</div>"
        case Drawing():
            yield f'<figure class="wide" role="img" aria-label="{escape(block.words, quote=True)}">'
            yield element(block.canvas, own=own)
            yield "</figure>"


def _table(table: Table) -> Iterator[str]:
    kinds = [' class="figure"' if one else "" for one in table.figures]
    yield '<div class="wide"><table>'
    box = '<th class="tick"></th>' if table.ticks else ""
    heads = (f"<th{kind}>{escape(text)}</th>" for kind, text in zip(kinds, table.columns, strict=True))
    yield f"<thead><tr>{box}{''.join(heads)}</tr></thead>"
    yield "<tbody>"
    for row in table.rows:
        cells = (f"<td{kind}>{escape(text)}</td>" for kind, text in zip(kinds, row, strict=True))
        label = escape(" ".join(row[:2]), quote=True)
        box = f'<td class="tick"><input type="checkbox" aria-label="{label}"></td>' if table.ticks else ""
        yield f"<tr>{box}{''.join(cells)}</tr>"
    yield "</tbody></table></div>"
    if table.note:
        yield f'<p class="quiet">{escape(table.note)}</p>'
