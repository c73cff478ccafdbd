"""What has happened reaches a tab once, whenever it comes."""

from __future__ import annotations

import asyncio
import json
import multiprocessing
import queue
from typing import TYPE_CHECKING, Any

import pytest

from strapwright.page.server.bench import Bench
from strapwright.page.server.events import Events
from strapwright.page.server.worker import NestTask, Worker
from strapwright.page.sheet.shop import Shop

if TYPE_CHECKING:
    from pathlib import Path

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


def test_why_a_search_failed_is_heard_by_every_tab(folder: Path):
    job = folder / "jobs/first/job.toml"
    job.write_text(job.read_text("utf-8").replace('tannage = "vegetable"', 'tannage = "chrome"', 1), "utf-8")

    async def heard() -> dict[str, Any]:
        bench = Bench(Shop(folder))
        bench.open()
        stream = bench.events.stream(0)
        bench.worker.start(
            "first",
            NestTask(job, (folder / "hides/side-7.toml",), str(folder / "machines/laser.toml"), steps=1),
        )
        async for text in stream:
            if "data: " in text and (said := json.loads(text.split("data: ")[1]))["stage"] == "failed":
                bench.close()
                return dict(said)
        raise AssertionError

    said = asyncio.run(asyncio.wait_for(heard(), 120))
    assert "has no kerf measured in chrome leather" in said["lines"][0]
    assert "“Make a test piece”" in said["lines"][0]


def test_a_search_says_what_it_does_from_its_beginning_to_its_end(folder: Path):
    job = folder / "jobs/first/job.toml"

    async def heard() -> list[tuple[str, str]]:
        bench = Bench(Shop(folder))
        bench.open()
        stream, found = bench.events.stream(0), []
        hide, machine = folder / "hides/side-7.toml", str(folder / "machines/laser.toml")
        bench.worker.start("first", NestTask(job, (hide,), machine, steps=3))
        async for text in stream:
            if "data: " in text and (said := json.loads(text.split("data: ")[1]))["kind"] == "job":
                found.append((said["stage"], said.get("words", "")))
                if said["stage"] in ("done", "failed"):
                    bench.close()
                    return found
        raise AssertionError

    said = asyncio.run(asyncio.wait_for(heard(), 240))
    assert said[0] == ("before", "Beginning")
    assert list(dict.fromkeys(stage for stage, _ in said if stage != "before")) == [
        "nesting",
        "after",
        "done",
    ]
    assert [words for stage, words in said if stage == "after"] == [
        "Proving how little leather would do",
        "Checking every part against the edge, the flaws and the others",
        "Drawing the picture and writing the layout",
    ]


def test_a_page_says_how_much_had_happened_when_it_was_asked_for(client: TestClient):
    assert '<meta name="seen" content="0">' in client.get("/job/first").text
    client.post("/job/first/belts", data={"do": "add", "kind": "belt"})
    assert '<meta name="seen" content="1">' in client.get("/job/first").text
    assert '<meta name="seen" content="1">' in client.get("/job/first/card").text


def test_a_search_that_has_just_ended_can_be_stopped():
    worker = Worker(lambda *_: None, lambda _, said: said)
    mine, theirs = multiprocessing.Pipe()
    theirs.close()
    worker._running["first"] = (multiprocessing.Process(), mine)
    worker.stop("first")
    worker.stop("another")
    mine.close()


def test_a_search_stopped_as_it_begins_says_so(folder: Path):
    ended: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
    worker = Worker(lambda _, said: ended.put(said) if "lines" in said else None, lambda _, said: said)
    task = NestTask(folder / "jobs/first/job.toml", (folder / "hides/side-7.toml",))
    assert worker.start("first", task)
    worker.stop("first")
    assert ended.get(timeout=60)["lines"] == ["Stopped before there was anything to keep."]
