"""The minutes a belt or strap takes at the bench: what is counted, and how long each takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.job.draft import BeltDraft
from strapwright.parts.part import Operation, PartKind
from strapwright.trade.punches import AWL_HOLE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.job.spec.price import Minutes
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.parts.part import Part


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
    item: BeltDraft | StrapDraft, parts: Sequence[Part], minutes: Minutes, by_machine: bool
) -> Iterator[BenchStep]:
    """Yield the steps a belt or strap takes, with their minutes.

    Args:
        item: the belt or strap, drafted.
        parts: its pieces, copies included.
        minutes: how long each step takes.
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
    counts += list(_of_belt(item, by_machine) if isinstance(item, BeltDraft) else _of_strap(item))
    counts.append(("check", "try, check and pack", item.quantity, ""))
    for key, words, count, unit in counts:
        if count:
            said = f"price.minutes.{key}{'' if key in minutes.model_fields_set else ', house assumption'}"
            yield BenchStep(words, count, unit, getattr(minutes, key), said)


def _of_belt(item: BeltDraft, by_machine: bool) -> Iterator[tuple[str, str, float, str]]:
    got, many = item.figures, item.quantity
    if item.strap.crease and not by_machine:
        yield "crease", "creasing the edges", many * item.strap.outline.length / 1000, "m"
    if got.layers.fold < got.layers.outer:
        yield "skive", "skiving the turn-back", many, ""
    if item.lining is not None:
        yield "line", "lining", many, ""
    if item.keeper is not None:
        if got.keeper is not None and got.keeper.skive:
            yield "skive", "skiving the keeper's lap", many, ""
        yield "keeper", "closing the keeper", many, ""
    yield "assemble", "folding round the buckle", many, ""
    yield "fastener", "setting fasteners", many * len(item.posts) * len(got.end.fastener_ys), ""
    if item.strap.stitching is not None:
        stitches = 2 * sum(len(run) for run in item.strap.stitching.runs)
        yield "stitch", "sewing the turn-back", many * stitches, ""


def _of_strap(item: StrapDraft) -> Iterator[tuple[str, str, float, str]]:
    turned = [end for end in item.ends if end is not None]
    many = item.quantity
    skived = sum(end.layers.fold < end.layers.outer for end in turned)
    yield "skive", "skiving the turn-backs", many * skived, ""
    yield "assemble", "folding the ends", many * len(turned), ""
    fasteners = sum(len(end.posts) * len(end.end.fastener_ys) for end in turned)
    yield "fastener", "setting fasteners", many * fasteners, ""
    stitches = sum(2 * sum(len(run) for run in end.end.stitches) for end in turned)
    yield "stitch", "sewing the turn-backs", many * stitches, ""


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
