"""Measure how near a short search of straps comes to a longer one, on invented sides and orders.

Run: PYTHONPATH=. python benchmarks/short_search.py [--steps 100 400] [--seeds 2] [--case NAME]

Belts in five widths and of any length are laid on a side that holds less than is asked for; what counts is
the area of the straps laid. The search goes by steps, so that other work on the machine changes nothing: a
hundred take 0.9 to 1.5 seconds of processor time, less than two cores have in a second. Measured 2026-11-30,
short of the best area seen, mean of twenty seeds (100 to 119). "Before", a beam's layouts that differed only
in which of two like straps they held crowded out the others.

| case | before, 100 steps | 100 steps | a second of two cores, before | and now |
| --- | --- | --- | --- | --- |
| forty on a side | 0.81 % | 0.74 % | 0.75 % | 0.70 % |
| sixty on a side | 0.33 % | 0.28 % | 0.34 % | 0.25 % |
| sixty long ones, first of two sides | 0.45 % | 0.43 % | 0.38 % | 0.20 % |
| sixty, first of two sides | 0.48 % | 0.44 % | 0.43 % | 0.44 % |

By the clock, on a quiet machine with two cores, a second's straps are 0.26 % short of those of a minute, mean
of five seeds on the four cases (0.20, 0.25, 0.17, 0.42), at most 0.85 %.

All keepers of the straps laid lie in what the straps leave, in a second as in sixty.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from tests.nesting.workshop import keeper, side, strap

from strapwright.nesting.hide.repair import thinned
from strapwright.nesting.hide.types import Flaw, FlawKind, disc
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.problem import build_problem
from strapwright.nesting.strap_search.instance import build_instance
from strapwright.nesting.strap_search.search import Budget, search

if TYPE_CHECKING:
    from strapwright.nesting.hide.types import Hide
    from strapwright.parts.part import Part

WIDTHS = (20.0, 25.0, 32.0, 38.0, 44.0)


def order(count: int, seed: int, shortest: float = 560.0, longest: float = 1290.0) -> list[Part]:
    """Return belts of any length in five widths, each with its keeper."""
    chance = np.random.default_rng(seed)
    lengths = np.round(chance.uniform(shortest, longest, count))
    widths = chance.choice(WIDTHS, count)
    parts = [strap(f"b{n}", float(lengths[n]), float(widths[n])) for n in range(count)]
    return parts + [keeper(f"b{n}", 2 * float(widths[n]) + 30, 14.0 + n % 3 * 3) for n in range(count)]


def flawed(name: str, seed: int, length: float, width: float, flaws: int) -> Hide:
    """Return a side of about that size with holes strewn over it."""
    chance, whole = np.random.default_rng(seed), side()
    outline = whole.outline * [length / 2210, width / 780]
    strewn = []
    for _ in range(flaws):
        x, y = chance.uniform((80, 40), (length - 80, width - 60))
        strewn.append(Flaw(FlawKind.HOLE, disc(x, y, chance.uniform(6, 30), 0.02)))
    return replace(whole, name=name, outline=outline, flaws=tuple(strewn))


BEST_SEEN = {
    "forty on a side": 1.0494,
    "sixty on a side": 1.3590,
    "sixty long ones, first of two sides": 0.7916,
    "sixty, first of two sides": 1.0645,
}
"""Most area laid by any search of up to 2000 steps, seeds 0 to 2, 2026-11-29, m²."""


def short_cases() -> list[tuple[str, list[Part], Hide]]:
    """Return name, parts and hide of the cases, whose hides hold about two thirds of what is asked for."""
    return [
        ("forty on a side", order(40, 1), flawed("a", 11, 2100, 640, 12)),
        ("sixty on a side", order(60, 2, 700), flawed("a", 12, 2300, 800, 20)),
        ("sixty long ones, first of two sides", order(60, 3, 900), flawed("a", 13, 2000, 560, 9)),
        ("sixty, first of two sides", order(60, 5), flawed("a", 16, 2100, 640, 12)),
    ]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--steps", type=int, nargs="+", default=[100, 400])
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--case", action="append", help="only this case; may be given again")
    given = parser.parse_args()
    for name, parts, hide in short_cases():
        if given.case and name not in given.case:
            continue
        problem = build_problem(parts, [thinned(hide)], Clearance())
        straps = [n for n, piece in enumerate(problem.pieces) if piece.strap]
        shelves = build_instance(problem, 0, straps, ())
        for steps in given.steps:
            for seed in range(given.seeds):
                began = time.process_time()
                *_, (laid, _) = search(shelves, Budget(0.0, steps), seed)
                area = float(shelves.value[laid.strap].sum()) / 1e6
                spent = time.process_time() - began
                print(
                    f"{name}: {steps} steps, seed {seed}: {area:.4f} m², {len(laid.strap)} of {len(straps)} "
                    f"straps, {spent:.1f} s of processor time",
                    flush=True,
                )


if __name__ == "__main__":
    main()
