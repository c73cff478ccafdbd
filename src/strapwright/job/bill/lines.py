"""A bill of materials and its price: each line with the numbers its sum comes from."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable

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
                rows.writerow(
                    [
                        *(
                            _no_formula(order),
                            line.kind,
                            _no_formula(line.item),
                            f"{line.quantity:g}",
                            line.unit,
                        ),
                        *(price, amount, _no_formula(line.counted), _no_formula(line.source)),
                    ]
                )
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
