"""A shop to try the page on, and clients that have, or have not, come in by its door."""

from __future__ import annotations

from importlib import resources
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from strapwright.page.app import app
from strapwright.page.bench import Bench
from strapwright.page.sheet.shop import Shop

if TYPE_CHECKING:
    from collections.abc import Iterator
    from importlib.resources.abc import Traversable
    from pathlib import Path

HOST = "127.0.0.1:8100"
KEY = "the-key-that-was-printed"


def copied(source: Traversable, folder: Path) -> Path:
    """Copy the starter shop, file by file."""
    folder.mkdir(parents=True, exist_ok=True)
    for entry in source.iterdir():
        if entry.is_dir():
            copied(entry, folder / entry.name)
        else:
            (folder / entry.name).write_bytes(entry.read_bytes())
    return folder


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return copied(resources.files("strapwright") / "starter", tmp_path / "shop")


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
