"""What a drafted job costs: leather by area, hardware by piece, minutes by rate, margin; each part's worth.

Each line of a bill has the numbers its sum comes from.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

from strapwright.core.errors import NestError
from strapwright.job.spec.house import USUAL_MINUTES
from strapwright.parts.part import Operation, PartKind
from strapwright.rules.punches import AWL_HOLE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from datetime import date

    from strapwright.job.dimensions.fastener_choice import Post
    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.job.spec.strap import Belt, StrapTable
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.parts.part import Part


LineKind = Literal["leather", "hardware", "sundries", "bench", "machine", "margin"]

KINDS: Final[tuple[LineKind, ...]] = ("leather", "hardware", "sundries", "bench", "machine", "margin")
"""Kinds of lines in the order they are listed."""

COLUMNS: Final = (
    "belt",
    "kind",
    "item",
    "quantity",
    "unit",
    "unit price",
    "sum",
    "quantity from",
    "price from",
)
"""Columns of the bill as CSV."""

PLACES: Final = 4
"""Quantities are rounded to so many decimals before they are multiplied, so that a reader can do it again."""


@dataclass(frozen=True)
class Line:
    """One line of a bill.

    Args:
        order: id of the belt or strap, all alike together; empty for the whole job.
        kind: leather, hardware, sundries, bench, machine or margin.
        item: what it is.
        quantity: how much of it.
        unit: of the quantity.
        unit_price: of one unit; None where it is not known.
        counted: where the quantity comes from.
        source: where the unit price comes from, or what to write where to make it known.

    Example:
        >>> Line("ines", "hardware", "screw post", 4, "piece", 0.45, "2 rows of 2", "screw_post.6.price").sum
        1.8
    """

    order: str
    kind: LineKind
    item: str
    quantity: float
    unit: str
    unit_price: float | None
    counted: str
    source: str

    def __post_init__(self) -> None:
        """Round the quantity to what is shown."""
        object.__setattr__(self, "quantity", round(self.quantity, PLACES))

    @property
    def sum(self) -> float | None:
        """Quantity × unit price, rounded to hundredths; None where no price is known."""
        return None if self.unit_price is None else round(self.quantity * self.unit_price, 2)

    def as_json(self) -> dict[str, Any]:
        """Return the line as plain JSON values."""
        return {
            "belt": self.order,
            "kind": self.kind,
            "item": self.item,
            "quantity": self.quantity,
            "unit": self.unit,
            "unit_price": self.unit_price,
            "sum": self.sum,
            "quantity_from": self.counted,
            "price_from": self.source,
        }


@dataclass(frozen=True)
class Bill:
    """What a job takes and costs.

    Args:
        currency: sign or letters; may be empty.
        lines: belt by belt, those of the whole job last.
        asked: what the customer pays for all alike of a belt or strap, where the job says so.
    """

    currency: str
    lines: tuple[Line, ...]
    asked: dict[str, float]

    @property
    def orders(self) -> tuple[str, ...]:
        """Ids of belts and straps, and at the end an empty one for the whole job where it has lines."""
        return tuple(dict.fromkeys(line.order for line in self.lines))

    def of(self, order: str, *kinds: LineKind) -> tuple[Line, ...]:
        """Return the lines of a belt or strap; of some kinds only, where given."""
        return tuple(line for line in self.lines if line.order == order and (not kinds or line.kind in kinds))

    @property
    def total(self) -> float:
        """Sum of every line that has a price."""
        return total_of(self.lines)

    @property
    def unpriced(self) -> tuple[Line, ...]:
        """Lines without a price: the total holds nothing for them."""
        return tuple(line for line in self.lines if line.unit_price is None)

    def words(self, value: float | None) -> str:
        """Return a sum in words.

        Example:
            >>> Bill("EUR", (), {}).words(12.5), Bill("", (), {}).words(None)
            ('12.50 EUR', 'no price known')
        """
        return "no price known" if value is None else f"{value:.2f} {self.currency}".strip()

    def total_words(self, lines: Iterable[Line]) -> str:
        """Return the total of some lines in words: "at least" where some have no price, none where none has.

        Example:
            >>> free = Line("ines", "hardware", "screw post", 4, "piece", None, "2 rows of 2", "give a price")
            >>> Bill("EUR", (), {}).total_words([free])
            'no price known'
        """
        lines = tuple(lines)
        if not any(line.sum for line in lines):
            return self.words(None)
        least = "at least " if any(line.unit_price is None for line in lines) else ""
        return f"{least}{self.words(total_of(lines))}"

    def as_json(self) -> dict[str, Any]:
        """Return the bill as plain JSON values."""
        return {
            "currency": self.currency,
            "lines": [line.as_json() for line in self.lines],
            "totals": [
                {
                    "belt": order,
                    "total": total_of(self.of(order)),
                    "complete": all(line.unit_price is not None for line in self.of(order)),
                    "asked": self.asked.get(order),
                }
                for order in self.orders
            ],
            "total": self.total,
            "complete": not self.unpriced,
        }

    def csv(self) -> str:
        """Return the bill as CSV, one line of the bill a row, sums of belts and of the job among them."""
        out = io.StringIO()
        rows = csv.writer(out, lineterminator="\r\n")
        rows.writerow(COLUMNS)
        for order in self.orders:
            lines = self.of(order)
            for line in lines:
                price = "" if line.unit_price is None else f"{line.unit_price:g}"
                amount = "" if line.sum is None else f"{line.sum:.2f}"
                cells = [order, line.kind, line.item, f"{line.quantity:g}", line.unit]
                rows.writerow(map(_no_formula, [*cells, price, amount, line.counted, line.source]))
            rows.writerow([_no_formula(order), "total", *[""] * 4, *self._total_cells(lines), ""])
        rows.writerow(["", "all", *[""] * 4, *self._total_cells(self.lines), ""])
        return out.getvalue()

    def _total_cells(self, lines: tuple[Line, ...]) -> tuple[str, str]:
        missing = sum(line.unit_price is None for line in lines)
        note = f"{missing} line{'s' if missing > 1 else ''} without a price left out" if missing else ""
        return f"{total_of(lines):.2f}" if any(line.sum for line in lines) else "", note


def total_of(lines: Iterable[Line]) -> float:
    """Return the sum of those lines that have a price."""
    return round(sum(line.sum for line in lines if line.sum is not None), 2)


def _no_formula(text: str) -> str:
    """Return a cell no spreadsheet takes for a formula.

    Example:
        >>> _no_formula("=1+1"), _no_formula("ines")
        ("'=1+1", 'ines')
    """
    return f"'{text}" if text[:1] in "=+-@\t\r" and text else text


@dataclass(frozen=True)
class Waste:
    """How much of the leather bought does not become parts.

    Args:
        share: from 0 to below 1.
        said: where that comes from, in words.
    """

    share: float
    said: str


def price(
    job: Job,
    drafted: Draft,
    *,
    waste: Mapping[str, Waste] | None = None,
    by_machine: bool = False,
    machine_minutes: float | None = None,
    machine_said: str = "",
) -> Bill:
    """Return the bill of a job.

    Args:
        job: with its prices and rates.
        drafted: its draft.
        waste: by a part's id, the true share of the hide it lies on; a part that is not among them is
            calculated with the house's share.
        by_machine: whether a machine marks, cuts and makes the holes.
        machine_minutes: how long the machine runs for the whole job; None where that is not known.
        machine_said: where that comes from, or why it is not known.

    Returns:
        The bill: what has no price says so and adds nothing.
    """
    lines: list[Line] = []
    asked: dict[str, float] = {}
    for item in drafted.items:
        table = item.spec
        parts = [part for part in drafted.parts if part.belt_id == item.id]
        own = list(_leather(job, table, parts, waste or {}))
        own += _hardware(job, item)
        own.append(_sundries(job, item))
        own += [_bench(job, item.id, step) for step in steps_of(item, parts, job.price.minutes, by_machine)]
        own.append(_margin(job, item.id, own))
        lines += own
        if table.price is not None:
            asked[item.id] = round(table.price * item.quantity, 2)
    if by_machine or machine_minutes is not None:
        machine = _machine(job, machine_minutes, machine_said)
        lines += [machine, _margin(job, "", [machine])]
    return Bill(job.price.currency, tuple(lines), asked)


def _leather(
    job: Job, table: Belt | StrapTable, parts: Sequence[Part], waste: Mapping[str, Waste]
) -> Iterator[Line]:
    house = Waste(job.price.waste, "price.waste, not nested")
    groups: dict[tuple[PartKind, Waste], list[Part]] = {}
    for part in parts:
        groups.setdefault((part.kind, waste.get(part.id, house)), []).append(part)
    for (kind, share), alike in groups.items():
        area = sum(part.outline.area for part in alike) / 1e6
        unit_price, source = _leather_price(job, table, kind)
        one = alike[0]
        what = f"leather for the {kind}, {one.thickness:.3g} mm, {one.tannage}"
        counted = (
            f"{len(alike)} × {one.outline.area / 1e6:.4f} m² / (1 − {share.share:.3f} waste: {share.said})"
        )
        yield Line(table.id, "leather", what, area / (1 - share.share), "m²", unit_price, counted, source)


def _leather_price(job: Job, table: Belt | StrapTable, kind: PartKind) -> tuple[float | None, str]:
    own = f"[[{table.goods}]] {table.id}"
    if kind is PartKind.LINING:
        key = f"{own} lining.price_per_m2"
        value = table.lining.price_per_m2 if table.lining else None
    elif table.leather is not None and table.leather.price_per_m2 is not None:
        key, value = f"{own} leather.price_per_m2", table.leather.price_per_m2
    else:
        key, value = "leather.price_per_m2", job.leather_of(table).price_per_m2
        if job.leather is not None and job.leather.of:
            key += f', leather "{job.leather.of}"'
    return value, _source(value, key)


def _hardware(job: Job, item: StrapDraft) -> Iterator[Line]:
    for end in item.ends:
        for what, value, key in end.spec.bought:
            yield _pieces(item, what, 1, value, key, f"1 a {item.spec.goods}")
        if end.figures is not None:
            yield from _posts(job, item, end.figures.posts, len(end.figures.fastener_ys))


def _posts(job: Job, item: StrapDraft, posts: Sequence[Post], across: int) -> Iterator[Line]:
    by_name: dict[str, list[str]] = {}
    for post in posts:
        by_name.setdefault(post.name, []).append(post.row)
    words = item.spec.fastener.replace("_", " ")
    for name, rows in by_name.items():
        entry = job.catalogue.fasteners(item.spec.fastener).get(name)
        told = "rows " + " and ".join(rows) if len(rows) > 1 else f"row {rows[0]}"
        what = f"{words} {name}, {told}" if name else f"{words}: none fits {told}"
        key = f'[{item.spec.fastener}."{name}"] price' if name else "a fastener that fits"
        counted = f"{len(rows)} row{'s' if len(rows) > 1 else ''} × {across} across"
        yield _pieces(item, what, len(rows) * across, entry.price if entry else None, key, counted)


def _pieces(item: StrapDraft, what: str, each: int, value: float | None, key: str, counted: str) -> Line:
    counted = f"{counted}, × {item.quantity}" if item.quantity > 1 else counted
    return Line(item.id, "hardware", what, each * item.quantity, "piece", value, counted, _source(value, key))


def _sundries(job: Job, item: StrapDraft) -> Line:
    value, what = job.price.sundries, "thread, dye, edge finish, wax"
    source, made = _source(value, "price.sundries"), f"{item.quantity} made"
    return Line(item.id, "sundries", what, item.quantity, "piece", value, made, source)


def _bench(job: Job, order: str, step: BenchStep) -> Line:
    rate = job.price.hourly_rate
    counted = f"{step.counted} × {step.each:g} min ({step.said}) = {step.minutes:.1f} min"
    source = _source(rate, "price.hourly_rate", "rate")
    return Line(order, "bench", step.words, step.minutes / 60, "h", rate, counted, source)


def _machine(job: Job, minutes: float | None, said: str) -> Line:
    rate, what = job.price.machine_rate, "machine, with whoever watches it"
    more = f": {said}" if said else ""
    if minutes is None:
        source = f"the machine's minutes are not known{more}; give --machine-minutes"
        return Line("", "machine", what, 0.0, "h", None, "its minutes are not known", source)
    counted = f"{minutes:.3g} min for the whole job{more}"
    source = _source(rate, "price.machine_rate", "rate")
    return Line("", "machine", what, minutes / 60, "h", rate, counted, source)


def _margin(job: Job, order: str, lines: Sequence[Line]) -> Line:
    share, cost = job.price.margin, total_of(lines)
    counted = f"cost {cost:.2f}, the sum of the lines above that have a price"
    source = _source(share, "price.margin", "margin", ", such as 0.4")
    quantity, price = (1.0, None) if share is None else (share, cost)
    return Line(order, "margin", "margin on the cost", quantity, "of cost", price, counted, source)


def _source(value: float | None, key: str, what: str = "price", such_as: str = "") -> str:
    """Return where a price or rate comes from, or what to write where to make it known."""
    return key if value is not None else f"no {what} known: give {key}{such_as}"


@dataclass(frozen=True)
class BenchStep:
    """One step at the bench, for all alike.

    Args:
        words: what is done.
        count: how many, or how many metres.
        unit: ``"m"`` where the count is metres, else empty.
        each: minutes for one.
        said: where the minutes come from.
    """

    words: str
    count: float
    unit: str
    each: float
    said: str

    @property
    def minutes(self) -> float:
        """Count × minutes for one."""
        return self.count * self.each

    @property
    def counted(self) -> str:
        """The count in words."""
        return f"{self.count:.4g} {self.unit}".strip()


def steps_of(
    item: StrapDraft, parts: Sequence[Part], minutes: Mapping[str, float], by_machine: bool
) -> Iterator[BenchStep]:
    """Yield the steps a belt or strap takes, with their minutes.

    Args:
        item: the belt or strap, drafted.
        parts: its pieces, copies included.
        minutes: how long a step takes where it is not as usual; steps of one's own are once a strap.
        by_machine: whether a machine marks, cuts, creases and makes the holes.
    """
    straps = [part for part in parts if part.kind is PartKind.STRAP]
    metres = sum(part.outline.length for part in straps) / 1000
    counts: list[tuple[str, str, float, str]] = []
    if not by_machine:
        counts += [
            ("mark_out", "marking out", len(straps), ""),
            ("cut_out", "cutting out", len(parts), ""),
            ("hole", "punching holes", _holes(parts), ""),
            ("slot", "prong slots", _named(parts, "prong slot"), ""),
        ]
    counts += [
        ("edge", "edges: bevel, sand, burnish", metres, "m"),
        ("finish", "dye and finish", len(straps), ""),
    ]
    counts += list(_by_hand(item, by_machine))
    counts += [(key, key, item.quantity, "") for key in minutes if key not in USUAL_MINUTES]
    counts.append(("check", "try, check and pack", item.quantity, ""))
    for key, words, count, unit in counts:
        if count:
            said = f"price.minutes.{key}{'' if key in minutes else ', house assumption'}"
            yield BenchStep(words, count, unit, minutes.get(key, USUAL_MINUTES.get(key, 0.0)), said)


def _by_hand(item: StrapDraft, by_machine: bool) -> Iterator[tuple[str, str, float, str]]:
    """Yield what is made of the pieces: the key of its minutes, its words, how many or how long."""
    many, ends, asked = item.quantity, [end for _, end in item.turned], item.spec
    backs = "turn-back" if item.closes else "turn-backs"
    if item.strap.crease and not by_machine:
        yield "crease", "creasing the edges", many * item.strap.outline.length / 1000, "m"
    yield "skive", f"skiving the {backs}", many * sum(end.layers.fold < end.layers.outer for end in ends), ""
    yield "line", "lining", many * (item.lining is not None), ""
    if (keeper := asked.made_keeper) is not None:
        yield "skive", "skiving the keeper's lap", many * keeper.skive, ""
        yield "keeper", "closing the keeper", many, ""
    yield "assemble", "folding round the buckle" if item.closes else "folding the ends", many * len(ends), ""
    fasteners = sum(len(end.posts) * len(end.fastener_ys) for end in ends)
    yield "fastener", "setting fasteners", many * fasteners, ""
    stitches = sum(2 * sum(len(run) for run in end.stitches) for end in ends)
    yield "stitch", f"sewing the {backs}", many * stitches, ""


def _holes(parts: Sequence[Part]) -> int:
    return sum(
        feature.operation is not Operation.SCORE
        and feature.name != "prong slot"
        and feature.contour.bounding_box[2] - feature.contour.bounding_box[0] >= AWL_HOLE
        for part in parts
        for feature in part.features
    )


def _named(parts: Sequence[Part], name: str) -> int:
    return sum(feature.name == name for part in parts for feature in part.features)


By = Literal["price", "due"]
"""What a part's worth goes by."""

MOST_DAYS = 12
"""So many different days count apart; later ones count as the last of them."""


def worths(job: Job, drafted: Draft, by: By) -> dict[str, float]:
    """Return what each part is worth, by its id.

    By price, a belt's price is divided among its pieces by their areas. By the day it is due, a square
    millimetre that is due on one day counts twice what it counts on the next later day of the job; what has
    no day counts as due after all others.

    Args:
        job: the job.
        drafted: its draft, or a part of it.
        by: ``"price"`` or ``"due"``.

    Raises:
        NestError: no belt has a price, or some have none; or no belt is due on any day.
    """
    asked = {one.id: one for one in job.items}
    concerned = [asked[id_] for id_ in dict.fromkeys(part.belt_id for part in drafted.parts)]
    if by == "due":
        days = {one.id: one.due for one in concerned}
        if all(day is None for day in days.values()):
            raise NestError(
                "no belt says when it is due; write it, such as due = 2026-03-14, or choose another aim"
            )
        weight = _weights(days)
        return {part.id: part.outline.area * weight[part.belt_id] for part in drafted.parts}
    without = [one.id for one in concerned if one.price is None]
    if without:
        more = f" and {len(without) - 1} more" if len(without) > 1 else ""
        raise NestError(
            f'"{without[0]}"{more}: no price; to lay what is worth most, give every belt and strap its price'
        )
    areas: dict[str, float] = {}
    for part in drafted.parts:
        areas[part.belt_id] = areas.get(part.belt_id, 0.0) + part.outline.area
    total = {one.id: (one.price or 0.0) * one.quantity for one in concerned}
    if not any(total.values()):
        raise NestError("every price is 0; give at least one belt a price above 0, or choose another aim")
    return {part.id: total[part.belt_id] * part.outline.area / areas[part.belt_id] for part in drafted.parts}


def _weights(days: dict[str, date | None]) -> dict[str, float]:
    """Return how much a part's area counts for, by the id of its belt: twice as much for each day earlier.

    Example:
        >>> from datetime import date
        >>> _weights({"a": date(2026, 3, 1), "b": date(2026, 4, 1), "c": None})
        {'a': 4.0, 'b': 2.0, 'c': 1.0}
    """
    known = sorted({day for day in days.values() if day is not None})
    rank = {day: min(number, MOST_DAYS) for number, day in enumerate(known)}
    last = min(len(known), MOST_DAYS)
    return {id_: 2.0 ** (last - (last if day is None else rank[day])) for id_, day in days.items()}
