"""Messages name the page's fields, not the options of a command."""

from __future__ import annotations

import re

import pytest

from strapwright.core.errors import PlanError
from strapwright.machine.kerf import find_kerf
from strapwright.machine.profile.machine import read_machine
from strapwright.page.forms.option_words import in_page_words, problem_lines
from strapwright.rules.leather import Tannage


def test_a_kerf_that_was_not_measured_leads_to_the_shop_or_its_field():
    with pytest.raises(PlanError) as error:
        find_kerf(read_machine("wide-laser"), Tannage.SYNTHETIC, 9.0)
    assert "--kerf" in str(error.value)
    (line,) = problem_lines(error.value)
    assert "record its kerf in Shop" in line
    assert line.endswith("or type the width in “Kerf by hand”")
    assert not re.search(r"(?<!\w)--\w", line)


def test_other_words_stay():
    assert in_page_words("a strap of 2 mm - no less") == "a strap of 2 mm - no less"
