"""Measure the page: how soon it answers, how much it sends, what it takes.

    python benchmarks/page.py [--hides 1000]

A shop of the starter is made in a temporary folder, a job of 20 belts and one of 60 parts laid out in it,
and the page is served by the command itself. Clocks are noisy: run it on a quiet machine.
"""

from __future__ import annotations

import argparse
import http.client
import json
import signal
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.parse
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

BELTS = 20
PARTS = 60


class Client:
    """A browser's connection, with its cookie and what its posts carry."""

    def __init__(self, address: str) -> None:
        split = urllib.parse.urlsplit(address)
        self.host = split.netloc
        self.connection = http.client.HTTPConnection(self.host)
        self.headers: dict[str, str] = {}
        answer, _ = self._ask("GET", f"/?{split.query}")
        self.headers["Cookie"] = str(answer.getheader("set-cookie")).split(";")[0]
        text = self.get("/").decode()
        self.headers["x-bench-post"] = text.split('name="post" content="')[1].split('"')[0]
        self.headers["Origin"] = f"http://{self.host}"

    def _ask(self, method: str, path: str, body: bytes | None = None, **headers: str) -> Any:
        self.connection.request(method, path, body, self.headers | headers)
        answer = self.connection.getresponse()
        return answer, answer.read()

    def get(self, path: str) -> bytes:
        """Return a page."""
        return self._ask("GET", path)[1]

    def post(self, path: str, data: dict[str, str]) -> Any:
        """Send a form, and return what JSON comes back."""
        kind = {"Content-Type": "application/x-www-form-urlencoded"}
        answer, text = self._ask("POST", path, urllib.parse.urlencode(data).encode(), **kind)
        return json.loads(text) if answer.status == 200 else text

    def send(self, path: str, data: dict[str, Any]) -> Any:
        """Send JSON, and return what comes back."""
        kind = {"Content-Type": "application/json"}
        return json.loads(self._ask("POST", path, json.dumps(data).encode(), **kind)[1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hides", type=int, default=1000)
    count = parser.parse_args().hides
    with tempfile.TemporaryDirectory() as temporary:
        shop = Path(temporary) / "shop"
        begin = [sys.executable, "-m", "strapwright.cli", "start", str(shop)]
        subprocess.run(begin, check=True, capture_output=True)
        (shop / "jobs/many").mkdir()
        (shop / "jobs/many/job.toml").write_text(job(BELTS))
        (shop / "jobs/laid").mkdir()
        (shop / "jobs/laid/job.toml").write_text(job(PARTS // 2))
        side = (shop / "hides/side-7.toml").read_text("utf-8")
        for name in ("side 8", "side 9", "side 10", "side 11"):
            (shop / f"hides/{name.replace(' ', '-')}.toml").write_text(side.replace("side 7", name), "utf-8")
        command = [sys.executable, "-m", "strapwright.cli", "nest", str(shop / "jobs/laid/job.toml")]
        for path in sorted((shop / "hides").glob("*.toml")):
            command += ["--hide", str(path)]
        done = subprocess.run(
            [*command, "--steps", "5", "--out", str(shop / "jobs/laid")], capture_output=True, check=False
        )
        assert (shop / "jobs/laid/layout.json").exists(), done.stderr.decode()
        begun = time.perf_counter()
        served = subprocess.Popen(
            [sys.executable, "-m", "strapwright.cli", "bench", str(shop), "--no-browser"],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert served.stdout is not None
        address = served.stdout.readline().strip()
        print(f"start to address             {time.perf_counter() - begun:8.2f} s    (limit 1.5)")
        try:
            measured(Client(address), shop, side, count)
            memory = Path(f"/proc/{served.pid}/status").read_text().split("VmHWM:")[1].split()[0]
            print(f"server's memory, most        {int(memory) / 1024:8.0f} MB   (limit 300)")
        finally:
            served.send_signal(signal.SIGINT)
            served.wait()
            served.stdout.close()


def measured(client: Client, shop: Path, side: str, count: int) -> None:
    """Print how soon each kind of request is answered."""
    first = timed(lambda: client.get("/job/many"), 5)
    page = client.get("/job/many").decode()
    print(f"sheet of {BELTS} belts, served    {1000 * first[0]:8.0f} ms   (limit 500)")
    print(f"its size                     {len(page) / 1000:8.0f} kB")
    digest = page.split('name="digest" value="')[1].split('"')[0]
    form = {
        "digest": digest,
        "id": "belt-0",
        "size.way": "girth",
        "buckle.way": "name",
        "buckle": "single-40",
    }
    form |= {"keeper.given": "yes", "unit": "mm"}
    number = iter(range(10**6))

    def keystroke() -> None:
        found = client.post("/job/many/belt/0", form | {"size.girth": str(900 + next(number))})
        assert found["drawing"], found

    keys = timed(keystroke, 60)
    print(f"a keystroke's new drawing    {1000 * keys[1]:8.0f} ms   at the 95th percentile (limit 150)")
    layout = json.loads(client.get("/job/laid/layout"))
    parts = layout["parts"]
    print(f"layout of {len(parts)} parts, sent     {len(json.dumps(layout)) / 1000:8.0f} kB")
    one = parts[0]
    move = {"digest": layout["digest"], "part": one["id"], "hide": one["hide"], "turns": 0}
    drags = timed(
        lambda: client.send("/job/laid/layout/check", move | {"x": one["x"] + next(number), "y": one["y"]}),
        60,
    )
    print(f"a dragged part's answer      {1000 * drags[1]:8.0f} ms   at the 95th percentile (limit 50)")
    running = shop / "jobs/laid/layouts/.running.json"
    running.parent.mkdir()
    running.write_bytes((shop / "jobs/laid/layout.json").read_bytes())
    places = client.get("/job/laid/running/places")
    print(f"its places alone, each second {len(places) / 1000:7.0f} kB")
    running.unlink()
    sheet = timed(lambda: client.get("/job/laid"), 5)
    print(f"sheet of {PARTS} parts laid, served {1000 * sheet[0]:6.0f} ms")
    room = timed(lambda: client.send("/job/laid/layout/room", move | {"hide": "side 7"}), 5)
    print(f"room for it on another hide  {1000 * room[0]:8.0f} ms")
    for number_of in range(count):
        name = f"lot {number_of}"
        (shop / f"hides/{name.replace(' ', '-')}.toml").write_text(side.replace("side 7", name), "utf-8")
    at_once = timed(lambda: client.get("/leather"), 1)[0]
    rest = timed(lambda: listed_on(client), 1)[0]
    again = timed(lambda: client.get("/leather"), 1)[0]
    print(f"the first of {count} hides seen {at_once:6.2f} s")
    print(f"{count} hides listed, first   {at_once + rest:8.2f} s")
    print(f"the same, again              {again:8.2f} s    (limit 1)")
    client.post("/job/laid/nest", {"hide": "side-7.toml", "seconds": "600"})
    for _ in range(10):  # until its process searches
        time.sleep(0.5)
        client.get("/new")
    assert b"data-seconds=" in client.get("/job/laid")
    keys = timed(keystroke, 60)
    print(f"a keystroke while a nest runs{1000 * keys[1]:8.0f} ms   at the 95th percentile (limit 150)")
    while b"data-seconds=" in client.get("/job/laid"):
        client.post("/job/laid/stop", {})
        time.sleep(0.5)


def listed_on(client: Client) -> None:
    """Have the rest of the hides worked out, as the page does."""
    number = client.get("/leather").decode().split('data-number="')[1].split('"')[0]
    while (found := json.loads(client.get(f"/leather/rows?after={number}")))["left"]:
        number = found["number"]


def timed(work: Callable[[], object], times: int) -> tuple[float, float]:
    """Return the median and the 95th percentile of some runs, seconds."""
    took = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        took.append(time.perf_counter() - begun)
    took.sort()
    return statistics.median(took), took[min(len(took) - 1, int(0.95 * len(took)))]


def job(belts: int) -> str:
    """Return a job file of alike belts of different sizes."""
    text = '[leather]\nthickness = "3.6 mm"\ntannage = "vegetable"\n'
    for number in range(belts):
        girth = 820 + 7 * number
        text += f'\n[[belt]]\nid = "belt-{number}"\nsize = {{ girth = "{girth} mm" }}\nbuckle = "single-40"\n'
    return text


if __name__ == "__main__":
    main()
