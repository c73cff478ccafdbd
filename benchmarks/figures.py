"""Measure the figures the project holds itself to: `make bench`, or `python benchmarks/figures.py`.

Each line says what was measured, the limit, and what this machine gave. Times are the best of several runs:
other work on the machine only ever adds.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from strapwright.solid.save import model_bytes

if TYPE_CHECKING:
    from collections.abc import Sequence

ROOT = Path(__file__).parents[1]
EXAMPLES = ROOT / "examples"
COMMAND = [str(Path(sys.executable).with_name("strapwright"))]


def best_of(runs: int, work) -> float:
    """Return the shortest of several runs, in seconds."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def run(*arguments: str) -> None:
    """Run the command line in a process of its own."""
    subprocess.run([*COMMAND, *arguments], check=True, capture_output=True, cwd=ROOT)


def cold_cut(folder: str) -> None:
    """Cut the batch from a layout made before: everything but the time given to nesting."""
    run(
        *("cut", "examples/autumn-batch.toml", "--hide", "examples/side.toml"),
        *("--machine", "wide-laser", "--layout", f"{folder}/layout.json", "--out", f"{folder}/cut"),
    )


def write_orders(folder: str, count: int) -> Path:
    """Write a CSV file of different belts and return its path."""
    path = Path(folder) / "orders.csv"
    lines = ["id,size.girth,buckle,tip,leather.thickness,leather.tannage"]
    tips = ("english_point", "round", "spear", "square", "bridle_point")
    lines += [f"belt {n},{700 + n / 2} mm,crew-46,{tips[n % 5]},3.6 mm,vegetable" for n in range(count)]
    path.write_text("\n".join(lines), "utf-8")
    return path


def cold_pattern(folder: str) -> None:
    """Write the paper pattern of one belt."""
    run("pattern", "examples/one-belt.toml", "--paper", "a4", "--out", f"{folder}/pattern.pdf")


def cold_card(folder: str) -> None:
    """Write the bench card of one belt as PDF, with its bill."""
    run(
        "card",
        "examples/one-belt.toml",
        "--out",
        f"{folder}/card.pdf",
        "--bom",
        f"{folder}/bill.csv",
        "--force",
    )


def thousand_belts() -> float:
    """Return the seconds to draft a thousand different belts in process."""
    from strapwright.api import draft, read_job

    with tempfile.TemporaryDirectory() as folder:
        job = read_job(write_orders(folder, 1000), EXAMPLES / "catalogue.toml")
        return best_of(3, lambda: draft(job))


def one_belt() -> float:
    """Return the milliseconds to draft one belt in process, the first of all left out."""
    from strapwright.api import draft, read_job

    job = read_job(EXAMPLES / "one-belt.toml")
    draft(job)
    return best_of(20, lambda: draft(job)) * 1e3


def first_layout() -> float:
    """Return the seconds until a terminal shows a layout of the batch, with nothing compiled before."""
    import pty

    with tempfile.TemporaryDirectory() as empty:
        screen, inside = pty.openpty()
        begun, shown = time.perf_counter(), b""
        command = [*COMMAND, "nest", "examples/autumn-batch.toml", "--hide", "examples/side.toml"]
        environment = os.environ | {"NUMBA_CACHE_DIR": empty}
        with subprocess.Popen(
            command, stdin=inside, stdout=inside, stderr=inside, cwd=ROOT, env=environment
        ) as nest:
            while b" placed, " not in shown:
                shown += os.read(screen, 4096)
            seconds = time.perf_counter() - begun
            nest.kill()
        os.close(inside)
        os.close(screen)
    return seconds


def cold_orders() -> float:
    """Return the seconds to draft a CSV file of 500 belts in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        path = write_orders(folder, 500)
        catalogue = str(EXAMPLES / "catalogue.toml")
        return best_of(5, lambda: run("draft", str(path), "--catalogue", catalogue, "--json"))


def deviations() -> tuple[float, float]:
    """Return the greatest read-back error of the files and the greatest error of kerf compensation, mm."""
    from strapwright import api
    from strapwright.parts.part import Operation

    made = api.cut(
        api.read_job(EXAMPLES / "autumn-batch.toml"),
        api.read_hides([EXAMPLES / "side.toml"]),
        api.read_machine("wide-laser"),
        steps=1,
        time_limit=600,
    )
    wanted = {}
    for placed in made.layout.placed:
        outlines = [placed.part.outline]
        outlines += [f.contour for f in placed.part.features if f.operation is Operation.CUT]
        wanted[placed.part.id] = [placed.placement.apply(contour) for contour in outlines]
    worst = 0.0
    for path in made.plan.sheets[0].paths:
        if path.operation is Operation.CUT:
            points = path.contour.sample(16)
            gaps = [abs(contour.distance_to(points) - made.plan.kerf / 2) for contour in wanted[path.part_id]]
            worst = max(worst, min(float(np.max(gap)) for gap in gaps))
    return made.files.greatest_deviation_mm, worst


def offset_time() -> float:
    """Return the milliseconds one strap outline takes to offset."""
    from strapwright import api
    from strapwright.geometry.offset import offset

    outline = api.draft(api.read_job(EXAMPLES / "one-belt.toml")).parts[0].outline
    return best_of(5, lambda: [offset(outline, 0.11) for _ in range(50)]) / 50 * 1e3


def cold_model(folder: str) -> None:
    """Model a belt in the round in a process of its own, loading the modeller and all."""
    run("model", "examples/one-belt.toml", "--out", f"{folder}/belt.glb")


def model_time() -> float:
    """Return the seconds a belt in the round takes to model and write, the modeller loaded before."""
    from strapwright import api

    job = api.read_job(EXAMPLES / "one-belt.toml")
    api.model(job)
    return best_of(3, lambda: model_bytes(api.model(job), ".glb"))


def order_figures() -> tuple[float, float]:
    """Return the seconds to order 300 contours of 30 parts, and the travel against the order drawn."""
    from strapwright.geometry.contour import Contour
    from strapwright.geometry.shapes import rectangle
    from strapwright.machine.bed.order import in_order
    from strapwright.machine.types import OUTLINE, CutPath
    from strapwright.parts.part import Operation

    def travel_of(paths: Sequence[CutPath]) -> float:
        """Return the way from the bed's corner from path to path, mm."""
        starts = [path.contour.starts[0] for path in paths]
        ends = [np.zeros(2), *(path.contour.ends[-1] for path in paths[:-1])]
        return float(np.hypot(*(np.array(starts) - np.array(ends)).T).sum())

    chance = np.random.default_rng(0)
    parts = []
    for n in range(30):
        x, y = 260.0 * (n % 3), 60.0 * (n // 3)
        places = chance.uniform((x + 5, y + 5), (x + 195, y + 35), (9, 2))
        holes = [CutPath(f"p{n}", "hole", Operation.CUT, Contour.circle(u, v, 4)) for u, v in places]
        outline = rectangle(x, y, x + 200, y + 40)
        parts.append([*holes, CutPath(f"p{n}", OUTLINE, Operation.CUT, outline)])
    drawn = travel_of([path for part in parts for path in part])
    return best_of(3, lambda: in_order(parts)), travel_of(in_order(parts)) / drawn


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        run(
            *("nest", "examples/autumn-batch.toml", "--hide", "examples/side.toml"),
            *("--steps", "1", "--out", folder),
        )
        read_back, kerf = deviations()
        ordering, share = order_figures()
        rows = [
            ("`strapwright --help`, cold", "0.2 s", f"{best_of(5, lambda: run('--help')):.3f} s"),
            (
                "`draft` of the batch, cold",
                "0.8 s",
                f"{best_of(5, lambda: run('draft', 'examples/autumn-batch.toml', '--json')):.3f} s",
            ),
            (
                "`cut` of a nested batch, cold",
                "2.5 s",
                f"{best_of(3, lambda: cold_cut(folder)):.3f} s",
            ),
            (
                "first layout of the batch, nothing compiled",
                "12 s",
                f"{min(first_layout(), first_layout()):.1f} s",
            ),
            ("`draft` of a CSV of 500 belts, cold", "1.5 s", f"{cold_orders():.3f} s"),
            ("drafting one belt in process", "5 ms", f"{one_belt():.2f} ms"),
            (
                "`pattern` of a belt as PDF, cold",
                "1 s",
                f"{best_of(5, lambda: cold_pattern(folder)):.3f} s",
            ),
            ("`card` of a belt as PDF, cold", "1 s", f"{best_of(5, lambda: cold_card(folder)):.3f} s"),
            (
                "`model` of a belt as GLB, cold",
                "12 s",
                f"{best_of(2, lambda: cold_model(folder)):.3f} s",
            ),
            ("a belt in the round as GLB, in process", "2 s", f"{model_time():.3f} s"),
            ("drafting 1,000 belts in process", "2 s", f"{thousand_belts():.3f} s"),
            ("one strap outline offset", "", f"{offset_time():.2f} ms"),
            ("cutting order of 300 contours in 30 parts", "2 s", f"{ordering:.3f} s"),
            ("its travel against the order drawn", "", f"{share:.0%}"),
            ("files checked to, DXF and SVG", "0.001 mm", f"{read_back:.2e} mm"),
            ("greatest error of kerf compensation", "0.001 mm", f"{kerf:.2e} mm"),
        ]
    print("| what | limit | here |\n| --- | --- | --- |")
    for row in rows:
        print("| " + " | ".join(row) + " |")


if __name__ == "__main__":
    main()
