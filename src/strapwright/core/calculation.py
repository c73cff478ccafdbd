"""A calculation step by step, as `--explain` prints it, to be checked with rule and pencil."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Step:
    """One line of working.

    Args:
        label: what is worked out.
        formula: in symbols.
        numbers: the same with the numbers put in.
        value: mm.
    """

    label: str
    formula: str
    numbers: str
    value: float


@dataclass
class Calculation:
    """Its steps, in order."""

    steps: list[Step] = field(default_factory=list)

    def add(self, label: str, formula: str, numbers: str, value: float) -> float:
        """Note one step and hand its value on.

        Example:
            >>> Calculation().add("strap width", "W = opening − clearance", "40 − 2", 38.0)
            38.0
        """
        self.steps.append(Step(label, formula, numbers, value))
        return value
