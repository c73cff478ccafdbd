"""The leather of a job, and of single belts where it differs."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from strapwright.files.fields import Measure, Number
from strapwright.files.validate import Strict
from strapwright.rules.leather import Tannage

LEATHER_THICKNESS: Final = Measure("thickness", least=0.8, most=12.0)
"""2 to 30 oz: thinner is lining, thicker does not fold over a bar."""

_ThicknessField = Annotated[
    float,
    LEATHER_THICKNESS,
    Field(description="Thickness of the straps' leather, 0.8 to 12 mm (2 to 30 oz)."),
]
_TannageField = Annotated[
    Tannage, Field(description="How it was tanned; decides whether a laser may touch it. unknown if unsure.")
]
Temper = Literal["soft", "medium", "firm"]
_TemperField = Annotated[
    Temper | None,
    Field(description="How it handles: soft, medium or firm; a belt that carries a load needs firm."),
]
_PriceField = Annotated[Number | None, Field(ge=0, description="Price of a square metre, any currency.")]
_OfField = Annotated[
    str,
    Field(
        description="A leather of the catalogue, whose values apply where none are given here; its thickness "
        "is then the middle of the range it comes in: measuring the hide is better.",
        examples=["harness-9"],
    ),
]


class Leather(Strict):
    """The leather of the straps."""

    thickness: _ThicknessField
    tannage: _TannageField
    price_per_m2: _PriceField = None
    temper: _TemperField = None
    of: _OfField = ""


class LeatherByName(Strict):
    """The leather of the straps as the catalogue has it, save what is given beside its name."""

    of: _OfField
    thickness: _ThicknessField | None = None
    tannage: _TannageField | None = None
    price_per_m2: _PriceField = None
    temper: _TemperField = None


class LeatherOverride(Strict):
    """What one belt has otherwise than the job's leather; what is not given stays."""

    thickness: _ThicknessField | None = None
    tannage: _TannageField | None = None
    price_per_m2: _PriceField = None
    temper: _TemperField = None
