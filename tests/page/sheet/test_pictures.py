"""Every choice that is picked by eye has its picture, and every buckle of the catalogue."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import get_args

from strapwright.drawing.looks import LOOKS
from strapwright.drawing.measuring import MEASURED
from strapwright.job.catalogue.file import shipped
from strapwright.job.spec.strap_end import TipShape
from strapwright.page.forms.form import belt_form, strap_form
from strapwright.page.forms.page_words import WAYS
from strapwright.page.sheet.pictures import HEIGHT, WIDTH, how_to_measure, pictures

FORMS = (strap_form(), belt_form(tuple(shipped().buckles)))
FIELDS = {one.key: one for form in FORMS for group in form.shown({}) for one in group.fields}


def test_a_field_with_one_picture_has_one_for_each_of_its_choices():
    drawn = pictures(shipped().buckles)
    keys = {key for key, _ in drawn}
    assert keys >= {"tip.shape", "fastener", "keeper.join", "size.way", "buckle"}
    for key in keys:
        choices = {value for value, _ in FIELDS[key].choices if value}
        assert {value for other, value in drawn if other == key} == choices
    assert {value for key, value in drawn if key == "tip.shape"} == set(get_args(TipShape))


def test_pictures_stay_on_their_canvas_and_have_known_looks():
    for name, text in pictures(shipped().buckles).items():
        root = ET.fromstring(text)
        assert (root.get("width"), root.get("height")) == (f"{WIDTH:g}", f"{HEIGHT:g}")
        for node in root.iter():
            if node is not root:
                assert set((node.get("class") or "").split()) <= LOOKS.keys(), name
            for key, most in (("x1", WIDTH), ("x2", WIDTH), ("cx", WIDTH), ("y1", HEIGHT), ("cy", HEIGHT)):
                assert 0 <= float(node.get(key, "0")) <= most, name


def test_two_tips_never_look_alike():
    drawn = [text for (key, _), text in pictures({}).items() if key == "tip.shape"]
    assert len(set(drawn)) == len(drawn) == 5


def test_every_way_of_sizing_has_a_picture_of_how_to_measure_that_stays_on_its_canvas():
    drawn = how_to_measure()
    assert drawn.keys() == {way for way, _ in WAYS["size"]}
    wide, high = MEASURED
    for text, words in drawn.values():
        assert words.endswith(".")
        root = ET.fromstring(text)
        for node in root.iter():
            assert set((node.get("class") or "").split()) <= {*LOOKS, "strap-drawing", "none"}
            for key, most in (
                ("x1", wide),
                ("x2", wide),
                ("cx", wide),
                ("x", wide),
                ("y1", high),
                ("y", high),
            ):
                assert 0 <= float(node.get(key, "0")) <= most
