"""Grading: the drafts of a run of sizes, and what is said of all of them at once."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING, TypeVar

from strapwright.core.findings import Severity

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.core.findings import Finding
    from strapwright.job.draft import Draft
    from strapwright.job.strap_draft import StrapDraft

Item = TypeVar("Item", bound="StrapDraft")


def grouped(items: Iterable[Item]) -> list[list[Item]]:
    """Return drafted belts and straps in their order, the sizes of each run together, every other alone."""
    return [list(group) for _, group in groupby(items, key=lambda item: item.run or item.id)]


def findings_of(belts: Sequence[StrapDraft]) -> tuple[Finding, ...]:
    """Return the findings of one belt, or of the sizes of a run: what is alike of several sizes only once.

    What differs in its numbers alone is shown for the first size, and the others are named beside it; a stop
    is always shown in full.
    """
    if len(belts) == 1:
        return belts[0].findings
    alike: dict[tuple[str, str, int], list[tuple[StrapDraft, Finding]]] = {}
    for belt in belts:
        seen: Counter[tuple[str, str]] = Counter()
        for finding in belt.findings:
            key = finding.code, finding.what if finding.severity is Severity.STOP else ""
            seen[key] += 1  # one belt may have several of a code, such as one for each fastener row
            alike.setdefault((*key, seen[key]), []).append((belt, finding))
    return tuple(_of_sizes(found, belts) for found in alike.values())


def findings_as_read(drafted: Draft) -> tuple[Finding, ...]:
    """Return a draft's findings as a person reads them: those of a run's sizes as `findings_of` has them."""
    return tuple(finding for sizes in grouped(drafted.items) for finding in findings_of(sizes))


def _of_sizes(found: Sequence[tuple[StrapDraft, Finding]], belts: Sequence[StrapDraft]) -> Finding:
    (belt, first), *others = found
    if all((other.what, other.do) == (first.what, first.do) for _, other in others):
        sizes = dict.fromkeys(belt.run_size for belt, _ in found)
        which = "all sizes" if len(sizes) == len(belts) else ", ".join(sizes)
        return replace(first, subject=f"{belt.run}, {which}")
    sizes = dict.fromkeys(other.run_size for other, _ in others)
    also = f" So too, each with its own numbers: {', '.join(sizes)}."
    return replace(first, subject=f"{belt.run}, {belt.run_size}", do=first.do + also)
