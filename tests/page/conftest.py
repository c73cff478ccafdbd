"""A shop to try the page on, and clients that have, or have not, come in by its door."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from strapwright.cli.main import command
from strapwright.page.app import app
from strapwright.page.server.bench import Bench
from strapwright.page.sheet.shop import Shop

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

HOST = "127.0.0.1:8100"
KEY = "the-key-that-was-printed"


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
