"""Page boxes read by pikepdf, against the sizes of paper.

Sources: ISO 216, table of A sizes (A4 210 × 297 mm, A3 297 × 420 mm); ANSI letter, 8.5 × 11 in (215.9 × 279.4
mm), read in unit tables; legal, 8.5 × 14 in, from memory. A PDF's unit is 1/72 in: ISO 32000-1, user space.
"""

from __future__ import annotations

import pytest
from tests.write.patterns import pattern
from tests.write.pdf_paths import sizes

SIZES = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4), "legal": (215.9, 355.6)}


@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("correct", ["", "short=100:99.4,long=100:100.9"])
def test_every_page_is_of_the_very_size(paper, correct):
    for job in ("autumn-batch", "strap-goods"):
        found = sizes(pattern(job, paper, correct=correct).pdf)
        assert found
        for size in found:
            assert sorted(size) == pytest.approx(SIZES[paper], abs=0.001)


@pytest.mark.parametrize(("asked", "wide"), [("roll:914mm", 914.0), ("roll:24in", 609.6)])
def test_a_rolls_page_is_as_wide_as_the_roll_and_as_long_as_the_strap_needs(asked, wide):
    made = pattern("one-belt", asked, whole=True)
    (size,) = sizes(made.pdf)
    assert size[1] == pytest.approx(wide, abs=0.001)
    assert 1234.8 + 16 < size[0] < 1234.8 + 60
