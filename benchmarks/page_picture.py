"""Make the README's picture of the page: `make pictures`; needs what the tests need, and Chromium.

The shop is the one that `make page` opens.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from example_shop import make_shop

PICTURE = Path(__file__).parents[1] / "examples" / "pictures" / "page.png"
SIZE = {"width": 1280, "height": 900}


def main() -> None:
    """Open the example shop in a browser, and keep what it shows of a job."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert browser, "install a browser: apt install chromium"
    with tempfile.TemporaryDirectory() as temporary:
        shop = Path(temporary) / "shop"
        make_shop(shop)
        served = subprocess.Popen(
            [sys.executable, "-m", "strapwright.cli", "bench", str(shop), "--no-browser"],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert served.stdout is not None
        address = served.stdout.readline().strip()
        try:
            with sync_playwright() as playwright:
                opened = playwright.chromium.launch(executable_path=browser, args=["--no-sandbox"])
                page = opened.new_page(viewport=SIZE, color_scheme="light")
                page.goto(address)
                page.goto(f"{address.split('/?')[0]}/job/first")
                page.locator("[data-drawing] svg").first.wait_for()
                page.screenshot(path=PICTURE)
                opened.close()
        finally:
            served.terminate()
            served.wait()
            served.stdout.close()


if __name__ == "__main__":
    main()
