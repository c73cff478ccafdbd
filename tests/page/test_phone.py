"""Another device in the house: off by default, a key of its own, every rule of the door; and the shortcut."""

from __future__ import annotations

import contextlib
import os
import shlex
import socket
import stat
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from playwright.sync_api import expect
from starlette.testclient import TestClient
from tests.page.conftest import HOST, KEY
from tests.page.test_access import ROUTES

from strapwright.cli.bench import WHO_CAN_COME_IN, _square_code
from strapwright.cli.main import command
from strapwright.core.errors import OutputError
from strapwright.page import serve
from strapwright.page.app import app
from strapwright.page.server.access import Entrance
from strapwright.page.server.bench import Bench
from strapwright.page.sheet.shop import Shop
from strapwright.page.shortcut import make_shortcut

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser

AT = "192.168.7.20"
PHONE = f"{AT}:8100"
PHONE_KEY = "the-key-of-the-phone"


@pytest.fixture
def both(folder: Path) -> Iterator[tuple[TestClient, TestClient]]:
    """A client at this machine and one at the phone; neither has come in yet."""
    page = app(Bench(Shop(folder)), frozenset({HOST}), KEY, Entrance(frozenset({PHONE}), PHONE_KEY, AT))
    home = TestClient(page, base_url=f"http://{HOST}", follow_redirects=False)
    with home, TestClient(page, base_url=f"http://{PHONE}", follow_redirects=False) as phone:
        home.headers |= {"origin": f"http://{HOST}", "x-bench-post": page.post_token}
        phone.headers |= {"origin": f"http://{PHONE}", "x-bench-post": page.post_token}
        yield home, phone


@pytest.fixture
def phone(both: tuple[TestClient, TestClient]) -> TestClient:
    assert both[1].get("/", params={"key": PHONE_KEY}).status_code == 303
    return both[1]


@pytest.mark.parametrize(("method", "path"), ROUTES)
def test_a_stranger_in_the_house_is_refused_everywhere(
    both: tuple[TestClient, TestClient], folder: Path, method: str, path: str
):
    home, phone = both
    assert home.get("/", params={"key": KEY}).status_code == 303
    before = (folder / "jobs/first/job.toml").read_bytes()
    for key in ("", "?key=wrong", f"?key={KEY}"):  # this machine's own key is none for the phone
        answer = phone.request(method, path + key)
        assert answer.status_code == 403
        assert "ines" not in answer.text
    for name, value in home.cookies.items():
        phone.cookies.set(name, value)
    assert phone.request(method, path).status_code == 403
    assert (folder / "jobs/first/job.toml").read_bytes() == before


@pytest.mark.parametrize(("method", "path"), ROUTES)
def test_the_phones_cookie_and_key_are_good_at_its_own_address_alone(
    both: tuple[TestClient, TestClient], phone: TestClient, method: str, path: str
):
    home, _ = both
    for host in (HOST, "localhost:8100", "evil.example:8100", AT, f"{AT}:80", ""):
        assert phone.request(method, path, headers={"host": host}).status_code == 421
    assert home.request(method, path, headers={"host": PHONE}).status_code == 421
    for name, value in phone.cookies.items():
        home.cookies.set(name, value)
    assert home.request(method, path).status_code == 403
    assert home.get("/", params={"key": PHONE_KEY}).status_code == 403


@pytest.mark.parametrize("path", [path for method, path in ROUTES if method == "POST"])
def test_a_post_of_another_site_is_refused_from_the_phone_too(phone: TestClient, path: str):
    for origin in ("https://evil.example", "null", f"http://{HOST}", f"http://{AT}", f"https://{PHONE}", ""):
        assert phone.post(path, headers={"origin": origin}).status_code == 403
    assert phone.post(path, headers={"x-bench-post": "guessed"}).status_code == 403


def test_a_phone_sees_and_changes_all_but_allows_no_program(phone: TestClient, folder: Path):
    assert "ines" in phone.get("/job/first").text
    assert phone.post("/job/first/belts", data={"do": "copy", "index": "0"}).status_code == 204
    answer = phone.post("/job/first/programs", data={"digest": "0" * 64})
    assert answer.status_code == 403
    assert "only at the machine" in answer.text


@pytest.mark.parametrize(
    ("found", "words"), [("127.0.0.1", "none of a house's own"), ("8.8.8.8", "is 8.8.8.8, which is none")]
)
def test_only_a_houses_own_network_is_answered(monkeypatch: pytest.MonkeyPatch, found: str, words: str):
    class Asking(socket.socket):
        def connect(self, address: object) -> None:
            pass

        def getsockname(self) -> tuple[str, int]:
            return found, 1

    monkeypatch.setattr(socket, "socket", Asking)
    with pytest.raises(OutputError, match=words):
        serve.local_address()


@contextlib.contextmanager
def ended(process: subprocess.Popen[str]) -> Iterator[None]:
    """End a program whatever becomes of the test that started it."""
    try:
        yield
    finally:
        process.kill()


SERVED = """
import sys
import strapwright.page.serve
strapwright.page.serve.local_address = lambda: "127.0.0.2"  # whatever network this machine is in
from strapwright.cli.main import command
command(sys.argv[1:])
"""


@pytest.mark.slow
def test_a_phone_comes_in_with_its_own_address_and_no_other(browser: Browser, folder: Path):
    words = [sys.executable, "-c", SERVED, "bench", str(folder), "--no-browser", "--phone"]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    with process, ended(process):
        lines = [process.stdout.readline().strip() for _ in range(5 + WHO_CAN_COME_IN.count("\n") + 1)]
        address = lines[4]
        assert lines[0].startswith("http://127.0.0.1:")
        assert address.startswith("http://127.0.0.2:")
        assert "\n".join(lines[5:]) == WHO_CAN_COME_IN
        base, key = address.split("/?key=")
        assert key not in lines[0]
        context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
        page = context.new_page()
        for wrong in (base, f"{base}/?key=wrong", f"{base}/?key={lines[0].split('key=')[1]}"):
            assert page.goto(wrong).status == 403
            expect(page.locator("body")).to_contain_text("Open the address that strapwright bench printed")
        page.goto(address)
        assert page.url == f"{base}/"
        page.goto(f"{base}/job/first/card")
        page.get_by_role("button", name="ines").tap()
        page.get_by_label("Punch the holes and slots.").first.tap()
        expect(page.locator("#ticked")).to_contain_text("1 of ")
        process.terminate()
        process.wait(30)
        port = int(base.rpartition(":")[2])
        with socket.socket() as asking:
            assert asking.connect_ex(("127.0.0.2", port)) != 0  # it ends with the command
        context.close()


@pytest.mark.slow
def test_without_being_asked_nobody_but_this_machine_is_heard(folder: Path):
    words = [sys.executable, "-m", "strapwright.cli", "bench", str(folder), "--no-browser"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as process, ended(process):
        assert process.stdout is not None
        port = int(process.stdout.readline().split(":")[2].split("/")[0])
        for address, heard in (("127.0.0.1", True), ("127.0.0.2", False)):
            with socket.socket() as asking:
                assert (asking.connect_ex((address, port)) == 0) == heard
        process.terminate()


PROGRAM = ["/opt/my programs/python", "-m", "strapwright.cli"]


@pytest.mark.parametrize("system", ["linux", "win32", "darwin"])
def test_a_shortcut_opens_the_shop_and_is_written_over_nothing(tmp_path: Path, system: str):
    home, shop = tmp_path / "home", tmp_path / "Žofie's 100% shop"
    (home / "Desktop").mkdir(parents=True)
    shop.mkdir()
    path = make_shortcut(shop, system, PROGRAM, home)
    text = path.read_bytes().decode()
    if system == "win32":
        assert path.name == "Zofies-100-shop-bench.bat"
        shown = str(shop).replace("%", "%%")
        line = f'"/opt/my programs/python" -m strapwright.cli bench "{shown}"'
        assert text == f"@echo off\r\nchcp 65001 >nul\r\n{line}\r\nif errorlevel 1 pause\r\n"
    elif system == "darwin":
        assert path.name == "Zofies-100-shop-bench.command"
        head, line = text.splitlines()
        assert head == "#!/bin/sh"
        assert shlex.split(line) == ["exec", *PROGRAM, "bench", str(shop)]
    else:
        assert path.name == "Zofies-100-shop-bench.desktop"
        keys = dict(line.split("=", 1) for line in text.splitlines()[1:])
        assert keys["Name"] == "Žofie's 100% shop: bench"
        assert keys["Terminal"] == "true"
        said = keys["Exec"].replace("\\\\", "\\").replace("%%", "%")
        assert shlex.split(said) == [*PROGRAM, "bench", str(shop)]
    if system != "win32":
        assert path.stat().st_mode & stat.S_IXUSR
    before = path.read_bytes()
    with pytest.raises(OutputError, match="is there already"):
        make_shortcut(shop, system, PROGRAM, home)
    assert path.read_bytes() == before


def test_a_shortcut_goes_to_the_desktop_the_system_names(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    shop = tmp_path / "shop"
    shop.mkdir()
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    with pytest.raises(OutputError, match="no desktop"):
        make_shortcut(shop, "linux", PROGRAM, tmp_path / "home")
    desk = tmp_path / "home/Schreibtisch"
    desk.mkdir(parents=True)
    (tmp_path / "home/.config").mkdir()
    (tmp_path / "home/.config/user-dirs.dirs").write_text('XDG_DESKTOP_DIR="$HOME/Schreibtisch"\n')
    assert make_shortcut(shop, "linux", PROGRAM, tmp_path / "home").parent == desk
    os.remove(desk / "shop-bench.desktop")
    run = CliRunner().invoke(command, ["bench", str(shop), "--shortcut"])
    assert run.exit_code == 0, run.output
    assert [path.suffix for path in Path(desk).iterdir()] == [".desktop"]
    with pytest.raises(OutputError, match="no such folder"):
        make_shortcut(tmp_path / "none", "linux", PROGRAM, tmp_path / "home")


def test_the_square_code_has_its_margin_and_its_three_marks():
    """Source: ISO/IEC 18004: finder patterns in three corners, and a quiet zone of four modules."""
    text = _square_code(f"http://{PHONE}/?key={PHONE_KEY}")
    dark = [[letter in halves for letter in line] for line in text.split("\n") for halves in (" ▄", " ▀")]
    size = len(dark[0]) - 8
    mark = ["1111111", "1000001", "1011101", "1011101", "1011101", "1000001", "1111111"]
    for top, left in ((4, 4), (4, size - 3), (size - 3, 4)):
        rows = [dark[top + row][left : left + 7] for row in range(7)]
        assert ["".join("01"[one] for one in row) for row in rows] == mark
    corner = [dark[size - 3 + row][size - 3 : size + 4] for row in range(7)]
    assert ["".join("01"[one] for one in row) for row in corner] != mark
    assert not any(any(row) for row in (*dark[:4], *dark[size + 4 :]))
    assert not any(any(row[:4]) or any(row[-4:]) for row in dark)
