"""What has happened reaches a tab once, whenever it comes."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

import pytest

from strapwright.page.server.events import Events

if TYPE_CHECKING:
    from starlette.testclient import TestClient


@pytest.mark.parametrize(
    ("last", "heard"),
    [
        (None, ["four"]),  # a stream that asks for nothing that was
        (2, ["three", "four"]),  # a page asked for before the third
        (3, ["four"]),
        (90, ["four"]),  # of a program that ran before this one
    ],
)
def test_a_stream_begins_where_its_page_ended(last: int | None, heard: list[str]):
    async def listened() -> list[str]:
        events = Events()
        for kind in ("one", "two", "three"):
            events.say(kind)
        stream = events.stream(last)
        assert await anext(stream) == ": open\n\n"
        events.say("four")
        return [(await anext(stream)).split('"kind": "')[1].split('"')[0] for _ in heard]

    assert asyncio.run(listened()) == heard


def test_a_page_says_how_much_had_happened_when_it_was_asked_for(client: TestClient):
    assert '<meta name="seen" content="0">' in client.get("/job/first").text
    client.post("/job/first/belts", data={"do": "add", "kind": "belt"})
    assert '<meta name="seen" content="1">' in client.get("/job/first").text
    assert '<meta name="seen" content="1">' in client.get("/job/first/card").text
