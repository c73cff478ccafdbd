"""From a job and its draft to its bill: leather by area, hardware by piece, minutes by rate, margin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.job.bill.lines import Bill, Line, total_of
from strapwright.job.spec.price import USUAL_MINUTES
from strapwright.parts.part import Operation, PartKind
from strapwright.rules.punches import AWL_HOLE

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.job.dimensions.fastener_choice import Post
    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.job.spec.strap import Belt, StrapTable
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.parts.part import Part


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
    if kind is PartKind.LINING:
        key = f"{_key(table)} lining.price_per_m2"
        value = table.lining.price_per_m2 if table.lining else None
    elif table.leather is not None and table.leather.price_per_m2 is not None:
        key, value = f"{_key(table)} leather.price_per_m2", table.leather.price_per_m2
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
    return Line(
        order,
        "bench",
        step.words,
        step.minutes / 60,
        "h",
        rate,
        f"{step.counted} × {step.each:g} min ({step.said}) = {step.minutes:.1f} min",
        _source(rate, "price.hourly_rate", "rate"),
    )


def _machine(job: Job, minutes: float | None, said: str) -> Line:
    rate, known = job.price.machine_rate, minutes is not None
    more = f": {said}" if said else ""
    return Line(
        "",
        "machine",
        "machine, with whoever watches it",
        (minutes or 0.0) / 60,
        "h",
        rate if known else None,
        f"{minutes:.3g} min for the whole job{more}" if known else "its minutes are not known",
        _source(rate, "price.machine_rate", "rate")
        if known
        else f"the machine's minutes are not known{more}; give --machine-minutes",
    )


def _margin(job: Job, order: str, lines: Sequence[Line]) -> Line:
    share, cost = job.price.margin, total_of(lines)
    return Line(
        order,
        "margin",
        "margin on the cost",
        1.0 if share is None else share,
        "of cost",
        None if share is None else cost,
        f"cost {cost:.2f}, the sum of the lines above that have a price",
        _source(share, "price.margin", "margin", ", such as 0.4"),
    )


def _source(value: float | None, key: str, what: str = "price", such_as: str = "") -> str:
    """Return where a price or rate comes from, or what to write where to make it known."""
    return key if value is not None else f"no {what} known: give {key}{such_as}"


def _key(table: Belt | StrapTable) -> str:
    """Return how a belt's or strap's table is named in a price's source."""
    return f"[[{table.goods}]] {table.id}"


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
    if item.keeper is not None:
        yield (
            "skive",
            "skiving the keeper's lap",
            many * (asked.made_keeper is not None and asked.made_keeper.skive),
            "",
        )
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
