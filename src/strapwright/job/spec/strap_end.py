"""An end of a strap as written: folded round a ring or hook, its bar round or flat, or cut to a tip."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BeforeValidator, Field

from strapwright.files.fields import Measure, Number
from strapwright.files.validate import Strict, one_of
from strapwright.job.spec.tip import Tip, TipShape, tip_by_name
from strapwright.rules.fold import Bar, Fitting

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.files.validate import Faults


class StrapEnd(Strict):
    """How a strap ends: folded round the bar of a ring or snap hook, or cut to a tip."""

    bar_diameter: Annotated[float | None, Measure(least=1.0, most=25.0)] = None
    """Of the ring's or hook's bar the end is folded round, 1 to 25 mm. Give this, bar_section or tip."""
    bar_section: Annotated[
        tuple[
            Annotated[float, Measure(least=0.5, most=40.0)], Annotated[float, Measure(least=0.5, most=40.0)]
        ]
        | None,
        Field(examples=[["6 mm", "2 mm"]]),
    ] = None
    """Of a flat bar, width and height, 0.5 to 40 mm each. Give this, bar_diameter or tip."""
    depth: Annotated[float | None, Measure(least=3.0, most=150.0)] = None
    """With a bar: from its middle to the inside of the ring's or hook's far side, 3 to 150 mm; fasteners then
    keep clear of it as it swings over the strap. Default: not checked."""
    tip: Annotated[
        Tip | None,
        BeforeValidator(
            lambda value: None if value is None else tip_by_name(value), json_schema_input_type=TipShape | Tip
        ),
    ] = None
    """A tip's name, or a table with its shape. Give this, bar_diameter or bar_section."""
    turn_back: Annotated[float | None, Measure(least=15.0, most=400.0)] = None
    """From the fold line to the end of the turn-back, 15 to 400 mm; default what the fasteners need."""

    price: Annotated[Number | None, Field(ge=0)] = None
    """Of its ring or hook, any currency; for the bill."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: not exactly one way of ending; a turn-back of a tip."""
        if wrong := one_of(table, "bar_diameter", "bar_section", "tip"):
            yield (), wrong
        elif "tip" in table:
            for key in ("turn_back", "depth"):
                if key in table:
                    yield (key,), "found with tip, which is not folded back"

    @property
    def fitting(self) -> Fitting:
        """The ring or hook it is folded round."""
        return Fitting(Bar.of(self.bar_diameter, self.bar_section), self.depth)
