"""Make the shop that `make page` opens: what `start` gives, and the examples' autumn batch with its hide.

python benchmarks/example_shop.py FOLDER
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

EXAMPLES = Path(__file__).parents[1] / "examples"


def make_shop(shop: Path) -> None:
    """Make the shop in a folder that is not there yet."""
    start = [sys.executable, "-m", "strapwright.cli", "start", str(shop)]
    subprocess.run(start, check=True, capture_output=True)
    batch = shop / "jobs" / "autumn-batch"
    batch.mkdir()
    shutil.copy(EXAMPLES / "autumn-batch.toml", batch / "job.toml")
    shutil.copy(EXAMPLES / "catalogue.toml", batch)  # its own buckles, found beside the job
    shutil.copy(EXAMPLES / "side.toml", shop / "hides" / "side-14.toml")


if __name__ == "__main__":
    make_shop(Path(sys.argv[1]))
