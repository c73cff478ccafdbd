"""Work in a process of its own ends within its bounds, and says what it found."""

from __future__ import annotations

import os
import sys
import time

import pytest

from strapwright.core.errors import FileProblems
from strapwright.files.bounded import in_bounds

ROOM = 2**31


def refuse(*problems: str) -> None:
    raise FileProblems(problems)


def fill(size: int) -> int:
    return len(bytearray(size))


def test_what_it_makes_comes_back():
    assert in_bounds(sorted, [3, 1, 2], seconds=60, memory=ROOM) == [1, 2, 3]


def test_what_it_refuses_is_raised_here_as_it_was_there():
    with pytest.raises(FileProblems) as refused:
        in_bounds(refuse, "no hide", "no belt", seconds=60, memory=ROOM)
    assert refused.value.problems == ("no hide", "no belt")


def test_one_that_takes_too_long_is_ended():
    with pytest.raises(TimeoutError):
        in_bounds(time.sleep, 60, seconds=0.5, memory=ROOM)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux keeps to such a bound")
def test_one_that_takes_too_much_memory_is_ended():
    with pytest.raises(MemoryError):
        in_bounds(fill, 2 * ROOM, seconds=60, memory=ROOM)


def test_one_that_ends_without_an_answer_is_no_wait():
    with pytest.raises(MemoryError):
        in_bounds(os._exit, 3, seconds=60, memory=ROOM)
