"""What a belt carries besides its leather: holes, fasteners, keeper, stitching, lining, crease."""

from __future__ import annotations

from math import degrees, radians
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from strapwright.core.text import quoted
from strapwright.files.fields import Count, Measure, NotTrue, Number, mistake
from strapwright.files.validate import Strict
from strapwright.geometry.characters import LEAST_HEIGHT, cannot_be_lettered, unwritable
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.files.validate import Faults

_LEAST: Final = radians(15.0)
"""A finer step would try more than 24 turns of a part: that takes long and wins next to nothing."""

LONGEST_MARK: Final = 24
"""Longest maker's mark, in characters: more does not fit on a turn-back."""


_SPACING = Measure(least=8.0, most=80.0)


def _true_or_false(value: object) -> object:
    """Return the truth value a spreadsheet writes as a word; anything else as it stands."""
    return {"true": True, "false": False}.get(value.lower(), value) if isinstance(value, str) else value


YesNo = Annotated[bool, BeforeValidator(_true_or_false, json_schema_input_type=bool), Field(strict=True)]


def _spacing(value: object) -> float | None:
    """Return the spacing in mm, or None for one strap width."""
    return None if value is None or value == "strap_width" else _SPACING.read(value)


class Holes(Strict):
    """The adjusting holes."""

    count: Annotated[Count, Field(ge=1, le=15)] = 7
    """1 to 15, default 7; an odd count has a hole in the middle."""
    spacing: Annotated[
        float | None,
        BeforeValidator(_spacing, json_schema_input_type=float | str),
        Field(examples=["25 mm", "1 in", "strap_width"]),
    ] = 25.0
    """From hole to hole, 8 to 80 mm, default 25 mm; nearer ones tear out. strap_width takes the strap's own
    width, as saddlers do."""
    shape: Literal["round", "oval"] = "round"
    """round (default) or oval, its long way along the strap."""
    length: Annotated[float | None, Measure(least=2.0, most=30.0)] = None
    """With shape = oval: overall length, 2 to 30 mm; default 1.5 diameters."""
    diameter: Annotated[float | None, Measure(least=1.5, most=16.0)] = None
    """1.5 to 16 mm; default from the prong's width and a clearance."""
    last_to_tip: Annotated[float | None, Measure(least=30.0, most=400.0)] = None
    """Centre of the hole nearest the tip to the end of the tip, 30 to 400 mm; default 2.5 strap widths,
    within 90 to 115 mm."""


class FastenerHoles(Strict):
    """The holes that hold the turn-back: each row in the front layer has its mate in the turn-back."""

    rows: Annotated[Literal[1, 2], NotTrue] = 2
    """Rows along the strap, default 2: one on either side of the keeper."""
    across: Annotated[Literal[1, 2] | None, NotTrue] = None
    """Holes in a row, across the strap; default by its width."""
    diameter: Annotated[float | None, Measure(least=1.0, most=16.0)] = None
    """1 to 16 mm; default by the fastener used: a screw post's barrel and 0.5 mm, a rivet's hole, a snap's
    cap hole in front and stud hole in the turn-back."""
    spacing_along: Annotated[float | None, Measure(least=8.0, most=200.0)] = None
    """From row A to row B, 8 to 200 mm; default what the keeper between them needs. Rows further apart close
    over a thicker keeper."""
    spacing_across: Annotated[float | None, Measure(least=5.0, most=120.0)] = None
    """Between the holes of a row, 5 to 120 mm; default by the strap's width."""
    stacks: Annotated[
        tuple[Annotated[float, Measure(least=1.0, most=40.0)], ...],
        Field(max_length=3, examples=[["7 mm", "7.2 mm"]]),
    ] = ()
    """Leather under the heads as measured, from row A on, 1 to 40 mm each; default computed from the
    thicknesses."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: rows set apart where there is but one."""
        if table.get("rows") == 1 and "spacing_along" in table:
            yield ("spacing_along",), "found with rows = 1, expected only with 2 rows"


class Keeper(Strict):
    """The leather loop that holds the free end; held between the layers of the turn-back."""

    width: Annotated[float, Measure(least=5.0, most=80.0)] = 20.0
    """Along the belt, 5 to 80 mm, default 20 mm: about half a strap's width."""
    join: Literal["butt", "lap"] = "butt"
    """How its ends meet: butt (default) or lap."""
    lap: Annotated[float, Measure(least=5.0, most=60.0)] = 15.0
    """With join = lap: how far they lap, 5 to 60 mm, default 15 mm."""
    thickness: Annotated[float | None, Measure("thickness", least=0.5, most=12.0)] = None
    """Of its own leather, 0.5 to 12 mm; default the strap's, but 2 mm for ends that lap, where it counts
    double."""
    skive: YesNo = False
    """With join = lap: true where both ends are skived to nothing over the lap, which then counts as one
    thickness; default false."""
    held: Literal["between", "row_a", "row_b", "slides"] | None = None
    """How it is kept in place: between the layers, in the space between two rows (default); at row_a or
    row_b, its ends clamped under those fasteners; or slides, loose round all layers (default with one
    row)."""
    guides: Literal["stitch", "staple", "none"] = "stitch"
    """Holes to join its ends by: stitch (default), staple, or none."""
    cut_long: Annotated[float, Measure(least=0.0, most=60.0)] = 0.0
    """Spare left on its length, 0 to 60 mm, default 0, the computed length scored on it, to be cut when the
    belt is there to try it on."""
    turn_step: TurnStep = None

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: a lap, or its skiving, given for ends that do not lap."""
        # The default may stand there: a job that is written out again states every value.
        if table.get("join", "butt") == "butt":
            for key, usual in (("lap", 15.0), ("skive", False)):
                if table.get(key, usual) != usual:
                    yield (key,), 'found with join = "butt", expected only with join = "lap"'


def keeper_or_none(value: object) -> object:
    """Return None for the word ``"none"``, and a table as it stands."""
    if value == "none":
        return None
    if isinstance(value, str):
        raise mistake(f'found {quoted(value)}, expected a table such as {{ width = "20 mm" }}, or "none"')
    return value


class Stitch(Strict):
    """How a stitched turn-back is sewn: along the strap, never across it."""

    iron: Annotated[Count, Field(ge=4, le=16)] = 8
    """Number of the pricking iron, 4 to 16, default 8: holes 27.07 / n mm apart."""
    inset: Annotated[float, Measure(least=1.5, most=15.0)] = 4.0
    """Of the stitch line from the edge, 1.5 to 15 mm, default 4 mm."""


class Lining(Strict):
    """A second layer on the flesh side, from behind the fold to the tip."""

    thickness: Annotated[float, Measure("thickness", least=0.4, most=8.0)]
    """Of the lining, 0.4 to 8 mm."""
    tannage: Tannage | None = None
    """Of the lining; default the strap's."""
    price_per_m2: Annotated[Number | None, Field(ge=0)] = None
    """Price of a square metre of it, any currency."""


class Dee(Strict):
    """A dee ring held in the turn-back beyond the fastener rows, one row more beyond its bar."""

    bar_diameter: Annotated[float, Measure(least=1.0, most=15.0)]
    """Of its straight bar, 1 to 15 mm."""
    width: Annotated[float, Measure(least=6.0, most=150.0)]
    """Inside, along that bar, 6 to 150 mm: the strap passes through it."""
    price: Annotated[Number | None, Field(ge=0)] = None
    """Of one, any currency; for the bill."""


def _letterable(value: str) -> str:
    if value and not value.strip():
        raise mistake(f"found {quoted(value)}, expected up to {LONGEST_MARK} characters")
    if unknown := unwritable(value):
        raise mistake(f"found {quoted(value)}; {cannot_be_lettered(unknown)}")
    return value


class Marks(Strict):
    """Lettering scored on the turn-back, where it lies against the body and is hidden when worn."""

    text: Annotated[
        str,
        Field(
            max_length=LONGEST_MARK,
            description=f"The maker's own mark, up to {LONGEST_MARK} characters, set in capitals.",
            examples=["Row & Daughter"],
        ),
        AfterValidator(_letterable),
    ] = ""
    size: YesNo = False
    """true: the trouser size; or girth, belt size or the worn belt's length, in cm."""
    number: YesNo = False
    """true: the belt's id."""
    height: Annotated[float, Measure(least=LEAST_HEIGHT, most=12.0)] = 5.0
    """Of the letters, 3 to 12 mm, default 5 mm; smaller, down to 3 mm, where they find no room."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: marks that say nothing."""
        if not any(table.get(key) for key in ("text", "size", "number")):
            yield (), "found none of text, size and number, expected at least one of them"


class Crease(Strict):
    """A line creased parallel to the strap's edge."""

    distance: Annotated[float, Measure(least=1.0, most=20.0)]
    """From the edge, 1 to 20 mm; 3 mm is usual."""


def _divides(step: float | None) -> float | None:
    """Return a step that makes a full turn in a whole number of steps.

    Example:
        >>> _divides(radians(30.0)) == radians(30.0)
        True
    """
    if step is not None and abs(360 / degrees(step) - round(360 / degrees(step))) > 1e-6:
        raise mistake(
            f"found {degrees(step):g} deg, expected a step that divides 360 deg: "
            "15, 18, 20, 24, 30, 36, 40, 45, 60, 72, 90, 120 or 180 deg"
        )
    return step


TurnStep = Annotated[
    float | None,
    Measure("angle", least=_LEAST, most=radians(180.0)),
    AfterValidator(_divides),
    Field(
        description="It may be turned on a hide by any multiple of this from the strap direction, 15 to 180 "
        "deg; default 90 deg for a keeper; a strap keeps to it, 180 deg, since its load does."
    ),
]
"""A step of turns, held in radians; None: as is usual for the part."""
