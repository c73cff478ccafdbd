"""Measure the nest of 200 straps and 200 keepers over ten hides, every layout verified.

Run: PYTHONPATH=. python benchmarks/many_hides.py [--time 45] [--belts 200] [--hides 10] [--processes N]

The parts and the hides are those of the tests' invented workshop; each hide is a little longer or shorter
than the others. `nest` verifies the layout itself with true outlines and raises where anything is wrong; it
is verified here once more. With --processes the hides are searched in so many other processes.
"""

from __future__ import annotations

import argparse
import resource
import time
from concurrent.futures import ProcessPoolExecutor
from contextlib import nullcontext
from dataclasses import replace
from multiprocessing import get_context

from tests.nesting.workshop import order, side

from strapwright.nesting.layout.verify import verify
from strapwright.nesting.solver.nest import nest


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--time", type=float, default=45.0, help="seconds to search")
    parser.add_argument("--belts", type=int, default=200)
    parser.add_argument("--hides", type=int, default=10)
    parser.add_argument("--processes", type=int, default=0)
    given = parser.parse_args()
    nest(order(2), [side()], steps=2)  # compiles, or loads what was compiled before
    parts = order(given.belts)
    hides = [
        replace(side(), name=f"side {n + 1}", outline=side().outline * [1 + 0.01 * (n % 3 - 1), 1.0])
        for n in range(given.hides)
    ]
    workers = (
        ProcessPoolExecutor(given.processes, mp_context=get_context("spawn"))
        if given.processes
        else nullcontext()
    )
    with workers as executor:
        for name, options in (
            ("first layout", {"steps": 1}),
            (f"search of {given.time:g} s", {"time_limit": given.time}),
        ):
            began = time.perf_counter()
            layout = nest(parts, hides, executor=executor, at_once=max(1, given.processes), **options)
            took = time.perf_counter() - began
            verify(layout, [part.id for part in parts])
            used = [hide.name for hide in hides if layout.placed_on(hide.name)]
            last = layout.used_height_of(used[-1])
            print(
                f"{name}: {took:.1f} s, {len(layout.placed)} of {layout.asked} parts on {len(used)} hides, "
                f"the last to {last:.0f} mm, verified"
            )
    print(f"memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
