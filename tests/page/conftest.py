"""A shop to try the page on: clients that have, or have not, come in by its door, and a real browser."""

from __future__ import annotations

import queue
import shutil
import signal
import subprocess
import sys
import threading
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner
from playwright.sync_api import expect, sync_playwright
from starlette.testclient import TestClient

from strapwright.cli.main import command
from strapwright.page import serve
from strapwright.page.app import app
from strapwright.page.server.bench import Bench
from strapwright.page.sheet.shop import Shop

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page

HOST = "127.0.0.1:8100"
KEY = "the-key-that-was-printed"


QUIET = (
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
"""A browser that asks for nothing by itself; as root it needs the first."""

LONG = 120_000
"""Milliseconds to wait for what is asked of the page, on a busy machine."""

expect.set_options(timeout=LONG)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    shop = tmp_path / "shop"
    assert CliRunner().invoke(command, ["start", str(shop)]).exit_code == 0
    return shop


@pytest.fixture
def stranger(folder: Path) -> Iterator[TestClient]:
    """A client that has not brought the key."""
    page = app(Bench(Shop(folder)), frozenset({HOST}), KEY)
    with TestClient(page, base_url=f"http://{HOST}", follow_redirects=False) as client:
        client.door = page  # type: ignore[attr-defined]
        yield client


@pytest.fixture
def client(stranger: TestClient) -> TestClient:
    """A client that has, and that sends what the page's own posts carry."""
    assert stranger.get("/", params={"key": KEY}).status_code == 303
    stranger.headers |= {"origin": f"http://{HOST}", "x-bench-post": stranger.door.post_token}  # type: ignore[attr-defined]
    return stranger


class Served:
    """The page of a folder, served in a thread of the tests' own process."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.address = ""
        self.servers: list[serve._Server] = []

    def start(self) -> None:
        answers: queue.SimpleQueue[str] = queue.SimpleQueue()
        begin = (self.folder, 0, lambda address, _: answers.put(address))
        self._thread = threading.Thread(target=serve.serve, args=begin)
        self._thread.start()
        self.address = answers.get(timeout=60)

    @property
    def base(self) -> str:
        return self.address.split("/?")[0]

    def end(self) -> None:
        if self._thread.is_alive():
            self.servers.pop().handle_exit(signal.SIGINT, None)
            self._thread.join(60)
        assert not self._thread.is_alive()


class ServedApart(Served):
    """The page of a folder, served by the command itself: slower, and it can be killed."""

    process: subprocess.Popen[str]

    def start(self) -> None:
        command = [sys.executable, "-m", "strapwright.cli", "bench", str(self.folder), "--no-browser"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()
        assert self.address.startswith("http://127.0.0.1:"), self.address

    def kill(self) -> None:
        with self.process:  # closes its pipe as well
            self.process.kill()

    def end(self) -> None:
        if self.process.poll() is None:
            with self.process:
                self.process.send_signal(signal.SIGINT)
                assert self.process.wait(60) == 0


@pytest.fixture
def apart() -> None:
    """For a test whose page is served by a process of its own."""


@pytest.fixture
def served(folder: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    page = (ServedApart if "apart" in request.fixturenames else Served)(folder)

    class Held(serve._Server):
        """A server that can be ended from outside its thread."""

        def __init__(self, *asked: Any) -> None:
            super().__init__(*asked)
            page.servers.append(self)

    monkeypatch.setattr(serve, "_Server", Held)
    page.start()
    yield page
    page.end()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert found, "install a browser for these tests: apt install chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=list(QUIET))
        yield browser
        browser.close()


@pytest.fixture
def tab(browser: Browser, served: Served) -> Iterator[Callable[..., Page]]:
    """A way to open tabs; what any of them complains of is a fault of the page."""
    complaints: list[str] = []
    contexts = []

    def opened(**options: object) -> Page:
        context = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, **options})  # type: ignore[arg-type]
        context.set_default_timeout(LONG)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console", lambda message: complaints.append(message.text) if message.type == "error" else None
        )
        page.goto(served.address)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert not [one for one in complaints if "net::ERR" not in one and "status of 40" not in one]


def listening(page: Page) -> None:
    """Wait until a page hears what is done on it, as a click and a filled field do by themselves."""
    expect(page.locator("#controls:enabled")).to_be_attached()


def breaches(page: Page, within: str | None = None) -> list[tuple[str, list[str]]]:
    """What axe finds grave of how accessible a page is."""
    from axe_playwright_python.sync_playwright import Axe

    listening(page)  # what is off is not looked at
    found = Axe().run(page, context=within).response["violations"]
    grave = [one for one in found if one["impact"] in ("serious", "critical")]
    return [(one["id"], [node["html"][:150] for node in one["nodes"]]) for one in grave]
