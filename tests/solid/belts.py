"""Belts to be modelled, of plausible invented numbers."""

from __future__ import annotations

from functools import cache

from strapwright.job.catalogue.file import shipped
from strapwright.job.catalogue.leather import Leather
from strapwright.job.draft import draft_strap
from strapwright.job.folding import fold
from strapwright.job.spec.house import House
from strapwright.job.spec.strap import Belt
from strapwright.rules.leather import Tannage
from strapwright.solid.model import model_belt

SIZE = {"size": {"girth": 900}}
WORK = {"buckle": {"opening": 46, "bar_diameter": 5, "frame_depth": 38}}
KEYS = {
    "single prong, keeper": (3.6, WORK | {"tip": "english_point"}),
    "two prongs, 52 mm": (
        3.6,
        {
            "buckle": {
                "opening": 54,
                "bar_diameter": 5.5,
                "frame_depth": 44,
                "prongs": 2,
                "prong_spacing": 22,
            },
            "tip": "spear",
            "holes": {"shape": "oval", "count": 5},
        },
    ),
    "centre bar": (2.6, {"buckle": "single-25", "tip": "round", "fastener": "snap"}),
    "skived fold, lined, sewn": (
        2.8,
        {
            "buckle": "single-45",
            "tip": "square",
            "fastener": "stitched",
            "lining": {"thickness": 1.2},
            "fold_thickness": 2.0,
        },
    ),
    "thin tip, keeper under row B": (
        3.6,
        WORK | {"tip_thickness": 2.4, "keeper": {"width": 20, "held": "row_b", "thickness": 2.0}},
    ),
    "hook": (3.0, {"buckle": "hook-40", "tip": "bridle_point", "fastener": "rivet"}),
    "collar with a dee": (
        3.4,
        {
            "size": {"girth": 400},
            "buckle": {"for_strap": 20, "bar_diameter": 5, "frame_depth": 18, "prong_width": 3},
            "keeper": {"width": 12},
            "holes": {"count": 5, "spacing": 20},
            "dee": {"bar_diameter": 4, "width": 20},
        },
    ),
}


def asked(thickness, keys, house=None):
    """A drafted belt."""
    belt = Belt.model_validate({"id": "one"} | SIZE | keys)
    leather = Leather(thickness=thickness, tannage=Tannage.VEGETABLE)
    return draft_strap(belt, leather, house or House(), shipped())


def modelled(thickness, keys, *, worn=False, house=None):
    return model_belt(asked(thickness, keys, house), worn=worn)


@cache
def as_drafted(name):
    """A belt of `KEYS`, modelled once."""
    return modelled(*KEYS[name])


@cache
def as_worn(name):
    return modelled(*KEYS[name], worn=True)


def folded(thickness, keys, *, worn=False, house=None):
    return fold(asked(thickness, keys, house), worn=worn)


def openings(drafted):
    """The outlines of everything cut out of the strap."""
    features = drafted.strap.features()
    return [one.contour for one in features if one.contour.closed and one.operation == "cut"]
