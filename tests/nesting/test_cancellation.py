"""Ctrl-C at any moment of a nest: the best layout up to then, whole and sound, and one says so."""

from __future__ import annotations

import math
import os
import signal
import threading
import time
from dataclasses import replace
from random import Random

import pytest
from tests.nesting.solver.test_hide_assignment import BOARDS, PARTS
from tests.nesting.workshop import order, side

from strapwright.nesting.cancellation import broken_off, deferring_ctrl_c
from strapwright.nesting.solver.nest import nest

HIDES = {
    "one hide": ([side()], order(30)),
    "two hides": ([side(), replace(side(), name="other")], order(30)),
    "a hide with a tolerance": ([replace(side(), tolerance=math.radians(3))], order(30)),
    "many hides": (BOARDS, PARTS),
}


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="a signal is sent to the test itself")
@pytest.mark.usefixtures("hears_ctrl_c")
@pytest.mark.parametrize("name", HIDES)
def test_ctrl_c_at_any_moment_keeps_the_best_and_says_so(name):
    hides, parts = HIDES[name]
    before = signal.getsignal(signal.SIGINT)
    numbers = Random(name)
    moments = [0.0, *(numbers.uniform(0.0, 0.25) for _ in range(3))]
    for after, counted in zip(moments, (False, True, False, True), strict=True):
        begun = threading.Event()

        def press(after=after, begun=begun):
            begun.wait()
            time.sleep(after)
            os.kill(os.getpid(), signal.SIGINT)

        def compiled(*_, begun=begun):
            begun.set()

        presser = threading.Thread(target=press)
        presser.start()
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("strapwright.nesting.solver.nest.compile_search", compiled)
            layout = nest(parts, hides, time_limit=60.0, steps=100_000 if counted else None)
        presser.join()
        assert len(layout.placed) + len(layout.unplaced) == len(parts)
        assert layout.placed
        (said,) = [one for one in layout.findings if one.code == "search-broken-off"]
        assert f"the best layout so far is kept: {len(layout.placed)} of {len(parts)} parts" in said.what
        assert said.numbers["spent_s"] < 30
        assert signal.getsignal(signal.SIGINT) is before
        assert not broken_off()


@pytest.mark.usefixtures("hears_ctrl_c")
def test_pressed_again_it_breaks_off_at_once():
    with deferring_ctrl_c():
        signal.raise_signal(signal.SIGINT)
        assert broken_off()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert not broken_off()


def test_a_search_that_ends_by_itself_says_nothing_of_it():
    assert not [one for one in nest(order(2), [side()], steps=2).findings if "broken-off" in one.code]
