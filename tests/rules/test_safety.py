"""The fume gate and the cautions."""

from __future__ import annotations

import itertools
import re

import pytest

from strapwright.core.errors import PlanError, SafetyError
from strapwright.rules.leather import Tannage
from strapwright.rules.safety import cautions, check_fumes

DOUBTFUL = [Tannage.CHROME, Tannage.COMBINATION, Tannage.UNKNOWN]


def sentences(text: str) -> list[str]:
    return re.split(r"(?<=\.)\s+", text)


@pytest.mark.parametrize("accepted", [False, True])
def test_synthetic_stock_is_refused_on_a_laser_whatever_the_maker_accepts(accepted):
    with pytest.raises(SafetyError) as caught:
        check_fumes([Tannage.VEGETABLE, Tannage.SYNTHETIC], "laser", accept_fume_risk=accepted)
    assert str(caught.value) == (
        "Synthetic stock is never cut on a laser: vinyl and PVC give off hydrogen chloride, which injures "
        "the lungs and corrodes the machine. Cut it with a knife; no option lifts this refusal."
    )
    assert len(sentences(str(caught.value))) == 2


@pytest.mark.parametrize("tannage", DOUBTFUL)
def test_doubtful_tannage_is_refused_on_a_laser_until_the_maker_accepts(tannage):
    with pytest.raises(SafetyError) as caught:
        check_fumes([tannage], "laser")
    assert str(caught.value) == (
        f"Leather of {tannage} tannage is refused on a laser as a precaution: its smoke may carry "
        "chromium(VI), which can cause cancer, and the evidence on how much is mixed. Extraction, the local "
        "rules and the leather's data sheet decide whether it may be cut; if they allow it, pass "
        "--accept-fume-risk."
    )
    assert len(sentences(str(caught.value))) == 2
    check_fumes([tannage], "laser", accept_fume_risk=True)


def test_several_doubtful_tannages_are_told_together():
    with pytest.raises(SafetyError, match="Leather of chrome and unknown tannage"):
        check_fumes([Tannage.UNKNOWN, Tannage.CHROME, Tannage.CHROME], "laser")


def test_vegetable_tannage_needs_nobodys_word():
    check_fumes([Tannage.VEGETABLE], "laser")


@pytest.mark.parametrize("tannage", list(Tannage))
def test_a_knife_burns_nothing_and_cuts_everything(tannage):
    check_fumes([tannage], "drag_knife")


def test_a_safety_refusal_is_a_plan_refusal():
    assert issubclass(SafetyError, PlanError)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("laser", ["unattended", "fire", "extraction", "eye protection", "enclosure", "reflective"]),
        ("drag_knife", ["blade", "hands clear", "spindle off"]),
        ("bench", ["knives", "punches", "adhesive"]),
    ],
)
def test_cautions_name_what_hurts_and_defer_to_manual_and_rules(kind, words):
    told = cautions(kind)
    text = " ".join(told).casefold()
    assert [word for word in words if word not in text] == []
    assert "manual" in told[-1]
    assert "local rules" in told[-1]
    assert all(caution.endswith(".") and len(caution) < 100 for caution in told)


def test_no_caution_is_told_twice_for_one_tool():
    for kind in ("laser", "drag_knife", "bench"):
        assert all(a != b for a, b in itertools.combinations(cautions(kind), 2))
