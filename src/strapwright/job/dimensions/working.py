"""The working of a figure, line by line, as a maker would check it with rule and pencil."""

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
class Working:
    """Steps in the order they were worked."""

    steps: list[Step] = field(default_factory=list)

    def add(self, label: str, formula: str, numbers: str, value: float) -> float:
        """Note one step and hand its value on.

        Example:
            >>> Working().add("strap width", "W = opening − clearance", "40 − 2", 38.0)
            38.0
        """
        self.steps.append(Step(label, formula, numbers, value))
        return value


def json_mm(value: float) -> float:
    """Return a length as JSON tells it: to a ten-thousandth of a millimetre, and no negative zero.

    Example:
        >>> json_mm(-0.00001), json_mm(12.34567)
        (0.0, 12.3457)
    """
    return round(value, 4) + 0.0
