"""What a figure of a drafted strap follows from: its steps of the calculation, and the keys that set it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.calculation import Step

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.job.strap_draft import StrapDraft

_TO_HOLE: Final = (
    "bar to the edge of the hole that bears",
    "bearing edge of the hole in use",
    "fold to the hole's centre",
    "centre of the",
)
_TO_TIP: Final = ("last hole to tip", "raised so that the tip passes the keeper")
_TO_ROW: Final = (
    "half-turn",
    "prong slot, length",
    "fastener holes",
    "fastener row A",
    "first stitch",
    "row A",
)
_TO_PITCH: Final = ("row pitch", "raised so that the rows close")
_TO_MATES: Final = ("half-turn", "hole ")

_SIZE: Final = ("size.girth", "size.worn_to_hole", "size.belt_size", "size.trousers", "sizes")

FIGURES: Final[dict[str, tuple[tuple[str, ...], tuple[str, ...]]]] = {
    "width": (("strap width",), ("width", "buckle.opening", "buckle.for_strap", "buckle")),
    "leather": ((), ("leather.thickness",)),
    "blank": (("turn-back", *_TO_HOLE, *_TO_TIP, "fold line to"), (*_SIZE, "length")),
    "fits": ((*_TO_HOLE, "least waist", "greatest waist"), _SIZE),
    "hole in use": (_TO_HOLE, _SIZE),
    "last to tip": (_TO_TIP, ("holes.last_to_tip", "holes.first")),
    "pitch": ((), ("holes.spacing",)),
    "holes": (("adjusting holes",), ("holes.diameter", "holes.count")),
    "tip": ((), ("tip.length", "tip.shape")),
    "corner": ((), ("corner_radius",)),
    "span": (("half-turn", "fold line to"), ("length",)),
    "turn-back": ((*_TO_MATES, "turn-back"), ("turn_back",)),
    "row A": (_TO_ROW, ()),
    "row B": ((*_TO_ROW, *_TO_PITCH), ("fastener_holes.spacing_along",)),
    "row C": (("row beyond the dee ring",), ("dee.bar_diameter",)),
    "row A′": (("half-turn", "hole A′"), ()),
    "row B′": (("half-turn", "hole A′", "hole B′"), ()),
    "row C′": (("half-turn", "hole A′", "hole B′", "hole C′"), ()),
    "slot": (("half-turn", "prong slot"), ("buckle",)),
    "fasteners": (("fastener holes",), ("fastener_holes.diameter", "fastener_holes.spacing_across")),
    "posts": ((), ("fastener", "fastener_holes.stacks")),
    "fold": ((), ("fold_thickness", "leather.thickness")),
    "bar": (("half-turn",), ("buckle.bar_diameter", "buckle")),
    "lining": ((), ("lining.thickness",)),
    "keeper leather": (("keeper between the layers",), ("keeper.thickness",)),
    "keeper length": (("keeper, ",), ("keeper.cut_long",)),
    "keeper width": ((), ("keeper.width",)),
    "keeper join": ((), ("keeper.lap", "keeper.join")),
}
"""Every figure that drawing and summary show: how the labels of its steps begin, and the keys that set it."""


@dataclass(frozen=True)
class Working:
    """How one figure was worked out.

    Args:
        steps: of the calculation, in order; none of a figure that was given, or is usual.
        keys: of the belt's or strap's table that set it, or what it hangs on most, the likeliest first.
    """

    steps: tuple[Step, ...]
    keys: tuple[str, ...]


def working_of(item: StrapDraft, figure: str) -> Working:
    """Return how a figure of a belt or strap was worked out, its steps those of the whole calculation.

    Args:
        item: its draft.
        figure: its name, such as ``"blank"``; of a strap's end, ``"end 2: turn-back"``.

    Raises:
        KeyError: there is no such figure.
    """
    end, _, name = figure.rpartition(": ")
    begins, keys = FIGURES[name]
    if end:
        place = int(end.removeprefix("end ")) - 1
        keys = tuple(f"ends.{place}.{key}" if key in ("turn_back", "buckle") else key for key in keys)
    steps = [step for step in item.steps if _label(step, end).startswith(begins)]
    if name == "blank":
        steps += _blank(item)
    return Working(tuple(steps), keys)


def _label(step: Step, end: str) -> str:
    """Return a step's label without the end it is of; of another end, nothing a figure begins with."""
    whose, _, label = step.label.rpartition(": ") if step.label.startswith("end ") else ("", "", step.label)
    return label if whose == end or not end else f"{whose}: {label}"


def _blank(item: StrapDraft) -> Iterator[Step]:
    """Yield the sum that a blank's length is, where it is one."""
    parts = [(f"{name}: turn-back" if name else "turn-back", end.turn_back) for name, end in item.turned]
    fit = item.figures
    if fit is not None:
        beyond = fit.holes.count - fit.spec.hole_in_use
        parts += [("hole in use", fit.hole_in_use), ("holes beyond it", beyond * fit.holes.spacing)]
        parts.append(("last hole to tip", fit.last_to_tip))
    elif item.strap.ends:
        parts.append(("between the ends", item.blank_length - sum(part for _, part in parts)))
    parts = [(name, mm) for name, mm in parts if mm]
    if len(parts) > 1 and abs(sum(mm for _, mm in parts) - item.blank_length) < 1e-6:
        formula, numbers = " + ".join(name for name, _ in parts), " + ".join(f"{mm:.2f}" for _, mm in parts)
        yield Step("blank", formula, numbers, item.blank_length)
