"""The ticks of a job's bench card, kept beside the job: which steps are done, and of which job they were."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems
from strapwright.files.atomic_write import MARK, write_whole
from strapwright.files.read import read_text
from strapwright.write.card.blocks import Beside, Table, Ticks

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from strapwright.job.draft import Draft
    from strapwright.write.card.blocks import Block, Card

TICKS_FILE: Final = "card.json"
"""The file of a job's folder that keeps its card's ticks."""

SHOP: Final = ""
"""The sheet of the whole shop among the ticks; the others are called by their belts."""

_LONGEST: Final = 2000
"""Most letters of a step, and most steps kept."""

Step = tuple[str, str]
"""Sheet and step."""


@dataclass(frozen=True)
class CardTicks:
    """The ticks of a card.

    Args:
        of: the digest each was ticked for, by sheet and step: of the belt or strap, or of the whole job.
    """

    of: Mapping[Step, str] = field(default_factory=dict)

    def holds(self, step: Step, digests: Mapping[str, str]) -> bool:
        """Whether a step is ticked, for the belt as it is now."""
        return step in self.of and self.of[step] == digests.get(step[0])

    def fallen(self, digests: Mapping[str, str]) -> list[Step]:
        """Return the steps that were ticked before their belt or the job was changed."""
        return [step for step in self.of if not self.holds(step, digests)]


def digests_of(drafted: Draft) -> dict[str, str]:
    """Return what each sheet's ticks hold for: a belt's own figures, and the job for the shop's sheet."""
    found = {SHOP: drafted.digest}
    for item in drafted.items:
        text = json.dumps(item.as_json(), sort_keys=True)
        found[item.id] = hashlib.sha256(text.encode()).hexdigest()
    return found


def steps_of(card: Card) -> dict[tuple[int, int, int], Step]:
    """Return the steps of a card, by sheet, block and row; no two of a sheet are called alike."""
    found: dict[tuple[int, int, int], Step] = {}
    for number, sheet in enumerate(card.sheets):
        name, taken = sheet.title if number else SHOP, set[str]()
        for place, block in enumerate(sheet.blocks):
            for row, words in enumerate(_words(block)):
                text, count = words, 1
                while text in taken:
                    count += 1
                    text = f"{words} ({count})"
                taken.add(text)
                found[number, place, row] = (name, text)
    return found


def _words(block: Block) -> Iterator[str]:
    if isinstance(block, Beside):
        block = block.right
    if isinstance(block, Ticks):
        yield from (f"{block.title}: {step}" for step, _ in block.steps)
    elif isinstance(block, Table) and block.ticks:
        yield from (f"{block.title}: {' '.join(row[:2])}" for row in block.rows)


def read_ticks(folder: Path) -> CardTicks:
    """Return the ticks kept in a job's folder; none where there is no such file.

    Raises:
        FileProblems: it is there and not sound; nothing is thrown away.
    """
    path = folder / TICKS_FILE
    if not path.exists():
        return CardTicks()
    try:
        ticked = json.loads(read_text(path, limit_mb=4.0))["ticked"]
        return CardTicks({(str(one["sheet"]), str(one["step"])): str(one["of"]) for one in ticked})
    except FileProblems:
        raise
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise FileProblems(
            (f"{path}: is not what a bench card keeps its ticks in; move it away to begin anew",)
        ) from error


def tick(folder: Path, step: Step, *, done: bool, drafted: Draft) -> CardTicks:
    """Tick a step or take its tick away, and return all ticks; the file is written whole.

    Args:
        folder: the job's.
        step: sheet and step.
        done: whether it is ticked.
        drafted: the job as it is now.

    Raises:
        FileProblems: the file is not sound, or there is no such belt.
        OutputError: somebody else has changed it by hand; it stays.
    """
    digests = digests_of(drafted)
    if step[0] not in digests or not 0 < len(step[1]) <= _LONGEST:
        raise FileProblems((f"found no step {step[1][:80]!r} on this card; load it again",))
    of = {one: digest for one, digest in read_ticks(folder).of.items() if one != step}
    if done:
        of[step] = digests[step[0]]
    kept = CardTicks(dict(list(of.items())[-_LONGEST:]))
    data: dict[str, Any] = {
        "mark": MARK,
        "job": drafted.digest,
        "ticked": [
            {"sheet": sheet, "step": words, "of": digest} for (sheet, words), digest in kept.of.items()
        ],
    }
    text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    write_whole({folder / TICKS_FILE: text}, remedy="move it away to begin anew")
    return kept
