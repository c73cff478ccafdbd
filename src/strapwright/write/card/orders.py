"""The sheet of a bench card that goes with one belt or strap."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.core.units import Units, format_length
from strapwright.drawing.belt.blank import TIP_WORDS, girth_figure, girth_play
from strapwright.drawing.belt.job_drawing import piece_drawing
from strapwright.drawing.pattern_pieces import hole_table
from strapwright.write.card.blocks import Beside, Blanks, Drawing, Facts, Sheet, Table, Ticks, Words
from strapwright.write.card.work import edge_words, punches_for, work_steps

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.drawing.pattern_pieces import Order, PatternPiece
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.machine.profile.machine import Machine
    from strapwright.rules.punches import Punch
    from strapwright.write.card.blocks import Block


_NUMBERED = " (makers of tools number them otherwise)"

_SHORT = {"fold line to hole in use": "fold to hole", "fits waists or girths of": "fits"}
"""Names of facts where there is little room."""

BELT_BLANKS = ("leather as measured", "made by", "date", "checked by")


def order_sheet(
    item: StrapDraft, order: Order, owned: Mapping[str, Punch], units: Units, *, machine: Machine | None
) -> Sheet:
    """Return the sheet of one belt or strap.

    Args:
        item: its draft.
        order: its pieces as the pattern shows them.
        owned: the user's own punches.
        units: of the lengths shown.
        machine: what marks, cuts and makes the holes; None for work by hand.
    """
    words = f"{item.id}: its blank with dimensions, not to be measured"
    blocks: list[Block] = [
        *_findings(item, units),
        Facts(tuple(_facts(item, units))),
        Blanks(BELT_BLANKS),
        Drawing("Drawing", piece_drawing(item, units=units), words),
        _cutting_table(order, units),
    ]
    strap = order.pieces[0]
    columns, rows = hole_table(strap, units)
    if rows:
        blocks.append(Table(f"Holes of the strap, {units}", columns, rows, _hole_note(item, strap, units)))
    punches = punches_for(order, owned, units)
    if punches:
        rows = tuple((need.size, need.what, str(need.count), need.tool) for need in punches)
        blocks.append(Table("Punches", ("size", "for", "holes", "tool"), rows))
    rows = tuple(_post_rows(item, units))
    if rows:
        columns = ("row", "leather under the heads", "take", "how many")
        title = f"Fasteners: {item.spec.fastener.replace('_', ' ')}"
        blocks.append(Table(title, columns, rows, ticks=True))
    blocks.append(Ticks("Order of work", work_steps(item, units, machine=machine)))
    return _sheet(item, order, blocks)


def brief_sheet(item: StrapDraft, order: Order, units: Units) -> Sheet:
    """Return the half page of one belt or strap for whoever knows the work: figures and holes alone.

    Args:
        item: its draft.
        order: its pieces as the pattern shows them.
        units: of the lengths shown.
    """
    facts = [(_SHORT.get(name, name), words.removesuffix(_NUMBERED)) for name, words in _facts(item, units)]
    facts += [(f"row {row}", f"{take}, {count} of them") for row, _, take, count in _post_rows(item, units)]
    columns, rows = hole_table(order.pieces[0], units)
    columns = tuple(column.removeprefix("from the ").removeprefix("from its ") for column in columns)
    rows = tuple((*row[:-1], row[-1].removesuffix(f" {units}")) for row in rows)
    left = Facts(tuple(facts))
    beside = Beside(left, Table(f"Holes of the strap, {units} from", columns, rows)) if rows else left
    return _sheet(item, order, [*_findings(item, units), beside, Blanks(BELT_BLANKS)], brief=True)


def _sheet(item: StrapDraft, order: Order, blocks: Sequence[Block], *, brief: bool = False) -> Sheet:
    subtitle = " · ".join(text for text in (item.spec.name, f"make {item.quantity}") if text)
    return Sheet(f"{item.spec.goods}-{order.place}", item.id, subtitle, tuple(blocks), brief)


def _findings(item: StrapDraft, units: Units) -> Iterator[Words]:
    """Yield what was found as a block that warns, where anything was."""
    said = [finding.in_units(units) for finding in item.findings]
    lines = tuple(f"{finding.severity.capitalize()}: {finding.what} {finding.do}" for finding in said)
    if lines:
        yield Words("Watch for", lines, grave=True)


def _facts(item: StrapDraft, units: Units) -> Iterator[tuple[str, str]]:
    fit = item.figures
    return _strap_facts(item, units) if fit is None else _belt_facts(item, fit, units)


def _belt_facts(belt: StrapDraft, got: BeltFigures, units: Units) -> Iterator[tuple[str, str]]:
    keeper = belt.keeper
    yield "buckle", got.spec.buckle.name or "as measured in the job"
    width, blank = format_length(got.width, units), _length(belt.blank_length, units)
    yield "strap", f"{width} wide, blank {blank} long, {TIP_WORDS[got.spec.tip.name]}"
    yield "leather", _leather(belt, got, units)
    if belt.lining is not None:
        yield "lining", f"{format_length(got.layers.lining, units)}, from behind the slot to the tip"
    yield "fold line to hole in use", _length(got.hole_in_use, units)
    yield "turn-back", _length(got.end.turn_back, units)
    least, most = sorted(got.girths)
    range_of = f"{girth_figure(least, units)} to {girth_figure(most, units)} {units}"
    yield "fits waists or girths of", f"{range_of}, {girth_play(units)}"
    if keeper is not None:
        spare = f" + {format_length(keeper.spare, units)} spare" if keeper.spare else ""
        size = f"{_length(keeper.length, units)}{spare} × {format_length(keeper.width, units)}"
        thick = format_length(round(got.layers.keeper, 2), units)
        ends = f"ends {'lapped' if keeper.join == 'lap' else 'butted'}"
        if got.layers.lapped:
            ends += f", {format_length(round(got.layers.keeper_stack, 2), units)} thick at the lap"
        elif keeper.join == "lap":
            ends += f", both skived over {format_length(keeper.lap, units)}"
        yield "keeper", f"{size}, leather {thick}, {ends}"
    else:
        yield "keeper", "none"
    yield "edge tool", f"{edge_words([got.layers.strap])}{_NUMBERED}"


def _strap_facts(strap: StrapDraft, units: Units) -> Iterator[tuple[str, str]]:
    yield "strap", f"{_length(strap.width, units)} wide, blank {_length(strap.blank_length, units)} long"
    yield "finished length", _length(strap.length, units)
    yield "leather", f"{format_length(round(strap.thickness, 2), units)}, {strap.leather.tannage}"
    for end in strap.ends:
        yield end.spec.name or "drawn in", end.spec.words
    yield "edge tool", f"{edge_words([strap.thickness])}{_NUMBERED}"


def _leather(belt: StrapDraft, got: BeltFigures, units: Units) -> str:
    told = f"{format_length(round(got.layers.outer, 2), units)}, {belt.leather.tannage}"
    told += f', "{belt.leather.of}"' if belt.leather.of else ""
    if got.layers.fold != got.layers.outer:
        told += f"; fold and turn-back skived to {format_length(got.layers.fold, units)}"
    return told


def _hole_note(item: StrapDraft, strap: PatternPiece, units: Units) -> str:
    notes = []
    if item.turned:
        notes.append("− is in the turn-back; across is from the centre line.")
        if item.closes and item.turned[0][1].rows:
            notes.append("A′, B′ meet A, B when folded.")
    if any(feature.name == "stitch hole" for feature in strap.part.features):
        notes.append("Stitch holes are pricked with the iron along the stitch lines.")
    low, _, high, _ = strap.part.outline.bounding_box
    nearest = "1/32 in" if units == "in" else "0.1 mm"
    notes.append(
        f"The two end figures add up to {_length(high - low, units)}, to {nearest}, as all are rounded."
    )
    return " ".join(notes)


def _post_rows(item: StrapDraft, units: Units) -> Iterator[tuple[str, ...]]:
    for name, end in item.turned:
        for post in end.posts:
            take = post.words().removeprefix(f"{post.row} ")
            if post.length and post.name and not take.startswith(post.name):
                take = f"{take}, {post.name}"
            row = f"{name}, {post.row}" if name else post.row
            stack = format_length(round(post.stack, 2), units)
            yield row, stack, take, str(len(end.fastener_ys) * item.quantity)


def _cutting_table(order: Order, units: Units) -> Table:
    """Return the table of an order's pieces to cut."""
    rows = []
    for piece in order.pieces:
        leather = f"{format_length(round(piece.part.thickness, 2), units)}, {piece.part.tannage}"
        lie = "with the backbone" if piece.part.lies_along else "either way"
        rows.append((str(piece.part.kind), str(order.quantity), piece_size(piece, units), leather, lie))
    columns = ("piece", "how many", "size", "leather", "direction")
    return Table("What to cut", columns, tuple(rows), ticks=True)


def piece_size(piece: PatternPiece, units: Units) -> str:
    """Return a piece's length and width, in words."""
    x0, y0, x1, y1 = piece.part.outline.bounding_box
    return f"{_length(x1 - x0, units)} × {format_length(round(y1 - y0, 2), units)}"


def _length(mm: float, units: Units) -> str:
    return format_length(round(mm, 1) if units == "mm" else mm, units)
