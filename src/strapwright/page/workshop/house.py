"""House settings and prices as fields, those of the steps at the bench among them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.text import quoted
from strapwright.files.validate import attempt
from strapwright.job.spec.house import USUAL_MINUTES, HouseFile
from strapwright.page.forms.field import Field
from strapwright.page.forms.form import Form, Wording, mistakes_by_field, model_form
from strapwright.page.forms.toml_text import value_at

if TYPE_CHECKING:
    from collections.abc import Mapping

MINUTES: Final = ("price", "minutes")
"""Where the minutes of each step stand in the file."""

STEPS: Final = {
    "mark_out": "Mark out a strap",
    "cut_out": "Cut out a piece",
    "hole": "Punch a hole",
    "slot": "Make a prong slot",
    "crease": "Crease a metre of edge",
    "skive": "Skive a turn-back",
    "edge": "Finish a metre of edge",
    "finish": "Dye and finish a strap",
    "keeper": "Close a keeper",
    "fastener": "Set a post, rivet or stud",
    "stitch": "Sew a stitch",
    "line": "Glue and trim a lining",
    "assemble": "Fold an end round its buckle",
    "check": "Try, check and pack a strap",
}
"""What each step is called."""

_WORDING: Final = Wording(
    (
        ("Settings of the workshop", ("units", "house")),
        (
            "Prices",
            (
                "price.currency",
                "price.hourly_rate",
                "price.machine_rate",
                "price.margin",
                "price.waste",
                "price.sundries",
            ),
        ),
        ("Minutes at the bench", ("price.minutes",)),
    ),
    {
        "units": "Figures are shown in",
        "house.neutral_axis": "Neutral axis, K",
        "house.fold_play": "Air at the fold",
        "house.keeper_ease_width": "Keeper wider by",
        "house.keeper_ease_height": "Keeper higher by",
        "house.girth_allowance": "Belts made longer by",
        "house.strap_clearance": "Strap narrower by",
        "house.strain_caution": "Stretch that is warned of",
        "house.longest_tail": "Longest free end",
        "price.hourly_rate": "An hour at the bench",
        "price.machine_rate": "An hour of the machine",
        "price.waste": "Waste of leather",
        "price.sundries": "Sundries of a strap",
    },
    {},
    (".".join(MINUTES),),
    {
        "house.strain_caution": "How far the grain may stretch in the fold before the draft warns, 10 to 70 "
        "%; a published requirement for vegetable leather allows 50 %.",
        "price.margin": "What is put on the cost, as a share of it: 40 % makes 140 of 100.",
        "price.waste": "How much of the leather bought does not become parts, 0 to 90 %; a layout gives the "
        "true share.",
    },
)


def house_form(tables: Mapping[str, Any]) -> Form:
    """Return the fields of the shop's settings; each step of one's own has one too.

    Args:
        tables: of the file, as written.
    """
    form = model_form(HouseFile, _WORDING)
    written = value_at(tables, MINUTES)
    own = [name for name in written if name not in USUAL_MINUTES] if isinstance(written, dict) else []
    steps = [(name, STEPS[name], f"{minutes:g}") for name, minutes in USUAL_MINUTES.items()]
    steps += [(name, f"{name} (your own, a strap)", "") for name in own]
    fields = [
        Field(f"price.minutes.{name}", label, "", "number", usual, path=(*MINUTES, name))
        for name, label, usual in steps
    ]
    return Form(form.groups, (*form.fields, *fields))


def house_mistakes(tables: Mapping[str, Any]) -> dict[str, str]:
    """Return what is wrong with the settings, by the fields' keys."""
    form = house_form(tables)
    steps = (one.place for one in form.fields if one.place[:2] == MINUTES)
    own = [place for place in steps if place[-1] not in USUAL_MINUTES]
    found = []
    for one in attempt(HouseFile, dict(tables))[1]:
        # A step's name is refused at its table; it belongs to the field of that step.
        named = (place for place in own if one.loc == MINUTES and quoted(place[-1]) in one.text)
        found.append(replace(one, loc=next(named, one.loc)))
    return mistakes_by_field(form, found)
