"""Steps are undone and redone, the last hundred of them, and never over somebody else's change."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from strapwright.core.errors import OutputError
from strapwright.files.journal import Change, Transaction
from strapwright.page.sheet.history import MOST_STEPS, STEPS_FILE, History, Step


def make(history: History, path, new: str) -> None:
    before = path.read_bytes() if path.exists() else None
    history.make(Step(f"to {new}", Transaction((Change(path, before, new.encode()),))))


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text("one")
    return path


def test_steps_go_back_and_forth(path):
    history = History(path.parent)
    for text in ("two", "three"):
        make(history, path, text)
    assert history.next == ("to three", "")
    assert (history.undo(), path.read_text()) == ("to three", "two")
    assert (history.undo(), path.read_text()) == ("to two", "one")
    assert (history.undo(), path.read_text()) == ("", "one")
    assert (history.redo(), path.read_text()) == ("to two", "two")
    assert History(path.parent).next == ("to two", "to three")  # kept on disk


def test_a_new_step_forgets_what_was_undone(path):
    history = History(path.parent)
    make(history, path, "two")
    history.undo()
    make(history, path, "other")
    assert history.redo() == ""
    assert path.read_text() == "other"


def test_a_file_that_somebody_else_changed_is_left_alone(path):
    history = History(path.parent)
    make(history, path, "two")
    path.write_text("theirs")
    with pytest.raises(OutputError, match="changed since by another program"):
        history.undo()
    assert path.read_text() == "theirs"
    assert history.next[0] == "to two"


def test_a_file_that_was_made_is_taken_away_by_undo(tmp_path):
    history = History(tmp_path)
    make(history, tmp_path / "layout.json", "{}")
    history.undo()
    assert not (tmp_path / "layout.json").exists()


def test_the_last_hundred_are_kept(path):
    history = History(path.parent)
    for count in range(MOST_STEPS + 5):
        make(history, path, f"text {count}")
    undone = 0
    while history.undo():
        undone += 1
    assert undone == MOST_STEPS
    assert path.read_text() == "text 4"


def test_steps_that_lead_out_of_the_folder_are_not_followed(path, tmp_path):
    outside = tmp_path.parent / "outside.txt"
    outside.write_text("mine")
    kept = '{"done": [{"words": "x", "files": [["../outside.txt", "", "bWluZQ=="]]}], "undone": []}'
    (path.parent / STEPS_FILE).write_text(kept)
    assert History(path.parent).undo() == ""
    assert outside.read_text() == "mine"


def test_files_elsewhere_in_the_shop_belong_to_a_step(tmp_path):
    job, hides = tmp_path / "jobs/one", tmp_path / "hides"
    job.mkdir(parents=True)
    hides.mkdir()
    (hides / "side.toml").write_bytes(b"side")
    history = History(job, tmp_path)
    moved = (Change(hides / "side.toml", b"side", None), Change(hides / "used/side.toml", None, b"side"))
    history.make(Step("used", Transaction(moved)))
    assert (hides / "used/side.toml").exists()
    assert History(job, tmp_path).undo() == "used"
    assert (hides / "side.toml").read_bytes() == b"side"


def test_a_spoilt_file_of_steps_is_as_good_as_none(path):
    (path.parent / STEPS_FILE).write_text("{")
    assert History(path.parent).next == ("", "")


def test_steps_of_several_threads_at_once_are_all_kept_and_all_undone(tmp_path):
    names = [f"{number}.json" for number in range(8)]
    with ThreadPoolExecutor(len(names)) as threads:
        list(threads.map(lambda name: make(History(tmp_path), tmp_path / name, name), names))
        undone = list(threads.map(lambda _: History(tmp_path).undo(), names))
    assert sorted(undone) == [f"to {name}" for name in names]
    assert not list(tmp_path.glob("[0-9].json"))
