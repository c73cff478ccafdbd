"""What the page holds last: the oldest goes first, and what is used again stays."""

from __future__ import annotations

import pytest

from strapwright.core.errors import FileProblems
from strapwright.page.leather.picture import ShortStore


def test_the_oldest_goes_first_and_what_is_held_again_counts_as_new():
    store: ShortStore[str] = ShortStore(2, "gone; do it again")
    for digest in ("a", "b", "a", "c"):
        assert store.hold(digest, f"the {digest}") == digest
    assert [digest in store for digest in "abc"] == [True, False, True]
    assert store.get("a") == "the a"
    with pytest.raises(FileProblems, match="gone; do it again"):
        store.get("b")
