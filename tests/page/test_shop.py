"""The shop as a place: its hardware, machines and settings, shown and changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.page.server.bench import SHOP, Bench
from strapwright.page.sheet.shop import Shop

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient


def test_a_change_of_the_shop_s_own_files_is_a_step_of_the_shop(client: TestClient, folder: Path):
    bench, path = Bench(Shop(folder)), folder / "house.toml"
    before = path.read_bytes()
    new = folder / "machines/new.toml"
    bench.change(SHOP, {path: (before, before + b"# more\n"), new: (None, b"# new\n")}, "two files")
    assert 'title="two files"' in client.get("/shop").text
    assert client.post("/shop/steps", data={"do": "undo"}).status_code == 204
    assert path.read_bytes() == before
    assert not new.exists()
    assert client.post("/shop/steps", data={"do": "redo"}).status_code == 204
    assert path.read_bytes() == before + b"# more\n"
    path.write_bytes(b"# somebody else's\n")
    assert "changed since by another program" in client.post("/shop/steps", data={"do": "undo"}).text
    assert new.exists()
