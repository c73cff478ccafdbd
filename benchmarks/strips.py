"""Seconds and gap of assigning 40 belts with their keepers to 20 strips, in four trials of invented stock.

``python benchmarks/strips.py`` prints a line a trial and aim. Every fourth strip of odd trials has a
flaw. The seconds are the processor's, on one core; the search ends as soon as the assignment is proven.
"""

from __future__ import annotations

import argparse
import random
import time

from strapwright.geometry.contour import Contour
from strapwright.nesting.hide.types import FlawKind
from strapwright.nesting.strips.assign import nest_strips
from strapwright.nesting.strips.types import Strip, StripAim, StripFlaw, StripRules
from strapwright.parts.part import Part, PartKind
from strapwright.rules.leather import Tannage

AIMS: tuple[StripAim, ...] = ("fewest", "least", "stock")


def piece(belt: str, kind: PartKind, long: float, wide: float) -> Part:
    """Return a rectangle of leather as a part."""
    h = wide / 2
    outline = Contour.from_points([(0, -h), (long, -h), (long, h), (0, h)])
    hidden = ((0.0, 75.0),) if kind is PartKind.STRAP else ()
    loaded = ((60.0, long - 60.0),) if kind is PartKind.STRAP else ((0.0, long),)
    return Part(f"{belt}/{kind}", belt, kind, outline, (), 3.6, Tannage.VEGETABLE, hidden, loaded)


def trial(seed: int, *, keepers: bool) -> tuple[list[Part], list[Strip]]:
    """Return 40 belts and the 20 strips of a trial."""
    rng = random.Random(seed)
    parts = []
    for number in range(40):
        length = round(rng.uniform(950, 1350), 1)
        parts.append(piece(f"b{number}", PartKind.STRAP, length, 38.0))
        if keepers:
            parts.append(piece(f"b{number}", PartKind.KEEPER, rng.choice((104.0, 108.0, 111.5)), 18.0))
    strips = []
    for number in range(20):
        length = round(rng.uniform(2550, 3150), 0)
        flaws: tuple[StripFlaw, ...] = ()
        if seed % 2 and number % 4 == 0:
            at = rng.uniform(200, 2200)
            kind = rng.choice((FlawKind.HOLE, FlawKind.MARK, FlawKind.LOOSE))
            flaws = (StripFlaw(kind, round(at), round(at + rng.uniform(10, 40))),)
        strips.append(Strip(f"s{number}", 38.0, length, 3.6, flaws=flaws))
    return parts, strips


def main() -> None:
    """Print the trials."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--time", type=float, default=10.0, help="seconds for each")
    parser.add_argument("--aim", choices=AIMS, action="append", help="default: all")
    parser.add_argument("--steps", type=int, help="instead of a time: the same on any machine")
    given = parser.parse_args()
    print("trial keepers aim     placed strips  gap      proven  seconds")
    for keepers in (False, True):
        for seed in range(4):
            for aim in given.aim or AIMS:
                parts, strips = trial(seed, keepers=keepers)
                began, clock = time.process_time(), time.perf_counter()
                made = nest_strips(
                    parts, strips, StripRules(), aim=aim, time_limit=given.time, steps=given.steps
                )
                spent, by_clock = time.process_time() - began, time.perf_counter() - clock
                gap = "-" if made.gap is None else f"{made.gap:.3%}"
                print(
                    f"{seed}     {keepers!s:7} {aim:7} {made.placed}/{len(parts):3} {len(made.cut):4}   "
                    f"{gap:8} {made.gap == 0!s:6} {spent:6.2f} (clock {by_clock:.2f})",
                    flush=True,
                )


if __name__ == "__main__":
    main()
