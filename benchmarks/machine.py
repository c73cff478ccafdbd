"""Measure planning, writing and proving 200 straps and 200 keepers.

`PYTHONPATH=. python benchmarks/machine.py`. Each line says the machine, the format and the seconds of
processor time; the memory is the most the process held. The parts lie in rows, as no hide would take them:
what is timed is the machine's side, not the nest. The knife cuts in two passes, so that its files hold each
cut twice.
"""

from __future__ import annotations

import resource
import time

import numpy as np
from tests.machine.layouts import keeper, layout, strap
from tests.write.plans import EVERY, driven_knife, driven_laser

from strapwright.machine.planning import plan
from strapwright.nesting.hide.types import Hide
from strapwright.write.formats.format import FORMATS
from strapwright.write.proof.read_back import prove

COUNT = 200
BED = (3000.0, 5000.0)


def rows():
    """Return 200 straps and 200 keepers on one sheet."""
    placed = [
        (strap(f"b{n}", length=1050.0 + n % 7, holes=6.0), 80 + n % 2 * 1150, 30 + n // 2 * 44, 0.0)
        for n in range(COUNT)
    ]
    placed += [(keeper(f"b{n}"), 2320 + n % 3 * 110, 30 + n // 3 * 24, 0.0) for n in range(COUNT)]
    (width, height) = BED
    corners = np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
    return layout(*placed, hides=(Hide("rows", corners, (), 0.0, 3.6),))


def main() -> None:
    laid = rows()
    for name, machine in (("laser", driven_laser()), ("knife", driven_knife(depth_per_pass=2.2))):
        start = time.process_time()
        made = plan(laid, machine.model_copy(update={"bed": BED}))
        print(f"{name:6} plan            {time.process_time() - start:6.2f} s")
        for form in EVERY:
            one = time.process_time()
            for sheet in made.sheets:
                proof = prove(FORMATS[form].to_text(sheet, made), form, sheet, made)
            blade = "" if proof.blade_deviation_mm is None else f", blade {proof.blade_deviation_mm:.4f} mm"
            print(
                f"{name:6} {form:15} {time.process_time() - one:6.2f} s, {proof.paths_read} runs, "
                f"off {proof.greatest_deviation_mm:.2g} mm{blade}"
            )
        print(f"{name:6} altogether      {time.process_time() - start:6.2f} s (limit 8 s)")
    print(f"memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB (limit 500 MB)")


if __name__ == "__main__":
    main()
