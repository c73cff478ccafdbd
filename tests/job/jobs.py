"""A small sound job, to be changed by the tests."""

from __future__ import annotations

LEATHER = '[leather]\nthickness = "9 oz"\ntannage = "vegetable"\n'
BELT = '[[belt]]\nid = "ines"\nsize = { girth = "38 in" }\nbuckle = "single-40"\n'
GOOD = LEATHER + BELT


def changed(old: str, new: str) -> str:
    assert old in GOOD
    return GOOD.replace(old, new)
