"""What a killed run leaves is completed or taken back by whoever comes next, and never a mix."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from functools import cache
from pathlib import Path
from shutil import copytree
from typing import TYPE_CHECKING

import pytest

from strapwright.core.errors import OutputError
from strapwright.files.atomic_write import write_whole
from strapwright.files.journal import JOURNAL, Change, Transaction, commit, settle
from strapwright.files.read import read_text

if TYPE_CHECKING:
    from collections.abc import Callable

KILLER = """
import os, signal, sys
from itertools import count
from shutil import copytree

def run_killed(work, begin, folder):
    '''Run in a copy of a folder for each step, killed before that step; print how many steps there are.'''
    for step in count(1):
        copy = f"{folder}-{step}"
        copytree(begin, copy, symlinks=True)
        child = os.fork()
        if child == 0:
            left = [step]
            def counted(call):
                def do(*args, **kwargs):
                    left[0] -= 1
                    if left[0] == 0:
                        os.kill(os.getpid(), signal.SIGKILL)
                    return call(*args, **kwargs)
                return do
            calls = "open close write fsync link replace unlink mkdir rmdir ftruncate"
            for name in calls.split():
                setattr(os, name, counted(getattr(os, name)))
            os.chdir(copy)
            try:
                work()
            except Exception:
                os._exit(1)
            os._exit(0)
        _, status = os.waitpid(child, 0)
        if not os.WIFSIGNALED(status):
            print(step - 1)
            return
"""
"""Kills a real process, by a signal it cannot catch, before every call that touches the disk."""

OLD = {"a.txt": "old a", "far/b.txt": "old b", "far/keep.txt": "keep"}
NEW = {"a.txt": "new a", "far/b.txt": "new b", "new/c.txt": "new c", "far/keep.txt": "keep"}
FOLDERS = (".", "far", "new")


def files_in(folder: Path) -> dict[str, str]:
    """Return everything in a folder, whatever it is called."""
    return {
        path.relative_to(folder).as_posix(): path.read_text()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.fixture(scope="module")
def killed_at_each_step(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], list[Path]]:
    """What runs a program once for all tests, and returns folders that each copies before it touches them."""
    return cache(lambda program: killed_everywhere(tmp_path_factory.mktemp("killed"), program))


@pytest.fixture
def killed(killed_at_each_step: Callable[[str], list[Path]], tmp_path: Path) -> Callable[[str], list[Path]]:
    """What returns a folder for each step that a program was killed before, and one where it was not."""
    return lambda program: [
        copytree(run, tmp_path / run.name, symlinks=True) for run in killed_at_each_step(program)
    ]


def killed_everywhere(tmp_path: Path, program: str) -> list[Path]:
    begin = tmp_path / "begin"
    for name, text in OLD.items():
        (begin / name).parent.mkdir(parents=True, exist_ok=True)
        (begin / name).write_text(text)
    source = f"{KILLER}\n{program}\nrun_killed(work, {str(begin)!r}, {str(tmp_path / 'run')!r})\n"
    done = subprocess.run([sys.executable, "-c", source], capture_output=True, text=True, check=True)
    steps = int(done.stdout)
    assert steps > 30
    return [tmp_path / f"run-{step}" for step in range(1, steps + 2)]


WRITING = """
from pathlib import Path
from strapwright.files.atomic_write import write_whole

def work():
    files = {"a.txt": "new a", "far/b.txt": "new b", "new/c.txt": "new c"}
    write_whole({Path(name): text for name, text in files.items()}, force=True)
"""


@pytest.mark.parametrize("first", FOLDERS)
def test_a_process_killed_at_any_step_leaves_old_or_new_whoever_looks_first(
    killed: Callable[[str], list[Path]], first: str
) -> None:
    seen = []
    for run in killed(WRITING):
        settle(run / first)
        for folder in FOLDERS:
            settle(run / folder)
        found = files_in(run)
        assert found in (OLD, NEW), run.name
        seen.append(found == NEW)
    assert seen == sorted(seen)  # once it is decided it stays so
    assert seen.count(True) > 6
    assert seen.count(False) > 6


def test_reading_one_file_is_enough_to_have_all_of_them_set_right(
    killed: Callable[[str], list[Path]],
) -> None:
    for run in killed(WRITING):
        text = read_text(run / "far" / "b.txt", limit_mb=1)
        known = {name: text for name, text in files_in(run).items() if "/.strap" not in f"/{name}"}
        assert known == (NEW if text == "new b" else OLD), run.name


def test_the_next_write_clears_up_and_goes_on(killed: Callable[[str], list[Path]]) -> None:
    for run in killed(WRITING):
        names = {"a.txt": "third", "far/b.txt": "third", "new/c.txt": "third"}
        write_whole({run / name: text for name, text in names.items()}, force=True)
        assert files_in(run) == {**names, "far/keep.txt": "keep"}, run.name


FAILING = """
from pathlib import Path
import os
from strapwright.files.atomic_write import write_whole

def work():
    replace = os.replace
    def failing(source, target):
        if Path(target).name == "c.txt":
            raise OSError(28, "No space left on device")
        replace(source, target)
    os.replace = failing
    files = {"a.txt": "new a", "far/b.txt": "new b", "new/c.txt": "new c"}
    write_whole({Path(name): text for name, text in files.items()}, force=True)
"""


@pytest.mark.parametrize("first", FOLDERS)
def test_a_process_killed_while_it_takes_an_error_back_leaves_no_mix_either(
    killed: Callable[[str], list[Path]], first: str
) -> None:
    runs = killed(FAILING)
    for run in runs:
        settle(run / first)
        for folder in FOLDERS:
            settle(run / folder)
        assert files_in(run) in (OLD, NEW), run.name
    assert files_in(runs[-1]) == OLD


RECOVERING = """
from pathlib import Path
from strapwright.files.journal import settle

def work():
    settle(Path("far"))
    settle(Path())
"""


def test_a_process_killed_while_it_sets_right_what_another_left_leaves_no_mix(
    killed_at_each_step: Callable[[str], list[Path]], tmp_path: Path
) -> None:
    left = [run for run in killed_at_each_step(WRITING) if (run / JOURNAL).exists()]
    for number in (len(left) // 2, -1):
        begin = left[number]
        for damaged in (False, True):
            again = tmp_path / f"again-{number}-{damaged}"
            copytree(begin, again)
            if damaged:  # then it has to be taken back
                next(again.rglob(".strapwright-*.new"), again / "none").unlink(missing_ok=True)
            source = f"{KILLER}\n{RECOVERING}\nrun_killed(work, {str(again)!r}, {str(again)!r})\n"
            done = subprocess.run([sys.executable, "-c", source], capture_output=True, text=True, check=True)
            for step in range(1, int(done.stdout) + 2):
                run = Path(f"{again}-{step}")
                for folder in FOLDERS:
                    settle(run / folder)
                assert files_in(run) in (OLD, NEW), run.name


def test_a_committed_change_knows_all_contents_and_digests_and_can_be_undone_and_redone(
    tmp_path: Path,
) -> None:
    kept, made, gone = tmp_path / "kept.txt", tmp_path / "sub" / "made.txt", tmp_path / "gone.bin"
    kept.write_text("before")
    gone.write_bytes(b"\x00\xff")
    changes = (
        Change(kept, b"before", b"after"),
        Change(made, None, b"made"),
        Change(gone, b"\x00\xff", None),
    )
    done = Transaction(changes)
    commit(done)
    after = {"kept.txt": b"after", "sub/made.txt": b"made"}
    assert {p.relative_to(tmp_path).as_posix(): p.read_bytes() for p in tmp_path.rglob("*.*")} == after
    assert changes[0].digests == tuple(hashlib.sha256(text).hexdigest() for text in (b"before", b"after"))
    assert changes[1].digests == (None, hashlib.sha256(b"made").hexdigest())
    commit(done.reversed())
    assert kept.read_text() == "before"
    assert gone.read_bytes() == b"\x00\xff"
    assert not made.exists()
    commit(done)
    assert kept.read_text() == "after"
    assert not gone.exists()


def test_undoing_is_refused_once_a_file_was_changed_since(tmp_path: Path) -> None:
    path, other = tmp_path / "a.txt", tmp_path / "b.txt"
    done = write_whole({path: "first", other: "first"})
    path.write_text("my own")
    with pytest.raises(OutputError, match=r"a\.txt: was changed by another program just now"):
        commit(done.reversed())
    assert files_in(tmp_path) == {"a.txt": "my own", "b.txt": "first"}


@pytest.fixture
def left_by_a_kill(killed: Callable[[str], list[Path]]) -> Path:
    """A folder in which a run was killed between two renames."""
    return next(run for run in killed(WRITING) if (run / "a.txt").read_text() == "new a")


def test_a_file_changed_after_the_kill_is_left_alone_and_named(
    left_by_a_kill: Path, caplog: pytest.LogCaptureFixture
) -> None:
    run = left_by_a_kill
    assert (run / "far" / "b.txt").read_text() == "old b"
    (run / "far" / "b.txt").write_text("my own")
    settle(run)
    assert files_in(run) == {**NEW, "far/b.txt": "my own"}
    folders = f"{run}, {run / 'far'}, {run / 'new'}"
    assert [record.message for record in caplog.records] == [
        f"{folders}: a run was ended while it wrote 3 files here; that is now complete",
        f"{run / 'far' / 'b.txt'}: was changed since by another program and is left as it is",
    ]


def test_where_what_lay_ready_is_gone_it_is_taken_back_and_where_that_is_gone_too_it_is_said(
    left_by_a_kill: Path, tmp_path: Path
) -> None:
    run = left_by_a_kill
    again = copytree(run, tmp_path / "again")
    next(run.glob("new/*.new"), run / "far" / "none").unlink()
    settle(run / "far")
    assert files_in(run) == OLD
    for spare in (*again.rglob(".*.old"), *again.rglob(".*.new")):
        spare.unlink()
    for _ in range(2):  # it is said again and again, until somebody has seen to it
        with pytest.raises(
            OutputError, match="was ended while it wrote these files, and what would complete them is"
        ):
            read_text(again / "a.txt", limit_mb=1)
    for journal in again.rglob(JOURNAL):
        journal.unlink()
    assert read_text(again / "a.txt", limit_mb=1) == "new a"


def test_a_folder_moved_since_is_set_right_where_it_is(left_by_a_kill: Path, tmp_path: Path) -> None:
    moved = left_by_a_kill.rename(tmp_path / "elsewhere")
    settle(moved / "new")
    assert files_in(moved) == NEW


def hostile_journal(folder: Path, name: str, spare: str = ".strapwright-x.new") -> None:
    folder.mkdir(exist_ok=True)
    (folder / ".strapwright-x.new").write_text("evil")
    files = [[name, None, hashlib.sha256(b"evil").hexdigest(), spare, ".strapwright-x.old"]]
    text = json.dumps({"number": "0" * 16, "folders": ["."], "files": files})
    (folder / JOURNAL).write_text(f"{text}\n{hashlib.sha256(text.encode()).hexdigest()}\n")


@pytest.mark.parametrize(
    "name", ["../mine.txt", "{there}/mine.txt", "..", "", ".", 7, None, "sub/../../mine.txt"]
)
def test_a_journal_in_somebodys_folder_reaches_no_file_outside_it(tmp_path: Path, name: object) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    folder = tmp_path / "sent"
    hostile_journal(folder, name.format(there=tmp_path) if isinstance(name, str) else name)  # type: ignore[arg-type]
    (folder / "job.toml").write_text("job")
    assert read_text(folder / "job.toml", limit_mb=1) == "job"
    assert files_in(tmp_path) == {"mine.txt": "mine", "sent/job.toml": "job"}


def test_a_journal_in_somebodys_folder_follows_no_link_out_of_it(tmp_path: Path) -> None:
    mine = tmp_path / "mine.txt"
    mine.write_text("mine")
    folder = tmp_path / "sent"
    hostile_journal(folder, "link.txt")
    (folder / "link.txt").symlink_to(mine)
    settle(folder)
    assert mine.read_text() == "mine"
    (folder / JOURNAL).symlink_to(mine)  # nor is a journal that is a link opened
    with pytest.raises(OutputError, match="cannot be written"):
        write_whole({folder / "new.txt": "new"})
    assert mine.read_text() == "mine"


def test_a_torn_journal_counts_for_nothing_and_its_spares_are_cleared_up(tmp_path: Path) -> None:
    hostile_journal(tmp_path, "a.txt")
    whole = (tmp_path / JOURNAL).read_bytes()
    for length in (0, 1, len(whole) // 2, len(whole) - 2):
        (tmp_path / JOURNAL).write_bytes(whole[:length])
        (tmp_path / ".strapwright-0.old").write_text("left")
        settle(tmp_path)
        assert files_in(tmp_path) == {}
    (tmp_path / ".strapwright-0.old").write_text("left by a power cut")
    write_whole({tmp_path / "a.txt": "a"})
    assert files_in(tmp_path) == {"a.txt": "a"}


def test_a_reader_waits_for_a_writer_that_is_alive_and_writers_for_each_other(tmp_path: Path) -> None:
    slow = (
        "import os, time\nfrom pathlib import Path\nfrom strapwright.files.atomic_write import write_whole\n"
        "replace = os.replace\n"
        "def slowly(*args):\n    replace(*args)\n    print('renamed', flush=True)\n    time.sleep(0.3)\n"
        "os.replace = slowly\n"
        "write_whole({Path('a.txt'): 'new', Path('b.txt'): 'new'}, force=True)\n"
    )
    write_whole({tmp_path / "a.txt": "old", tmp_path / "b.txt": "old"})
    writer = subprocess.Popen([sys.executable, "-c", slow], cwd=tmp_path, stdout=subprocess.PIPE, text=True)
    assert writer.stdout is not None
    with writer.stdout:
        assert writer.stdout.readline() == "renamed\n"
        assert read_text(tmp_path / "b.txt", limit_mb=1) == "new"
        write_whole({tmp_path / "a.txt": "third", tmp_path / "b.txt": "third"}, force=True)
    assert writer.wait() == 0
    assert files_in(tmp_path) == {"a.txt": "third", "b.txt": "third"}


def test_many_at_once_in_the_same_folders_leave_one_run_s_files(tmp_path: Path) -> None:
    program = (
        "import sys\nfrom pathlib import Path\nfrom strapwright.files.atomic_write import write_whole\n"
        "for k in range(20):\n    text = f'{sys.argv[1]} {k}'\n"
        "    write_whole({Path('x/a'): text, Path('y/b'): text, Path('c'): text}, force=True)\n"
    )
    commands = [[sys.executable, "-c", program, name] for name in "pqr"]
    running = [
        subprocess.Popen(command, cwd=tmp_path, stderr=subprocess.PIPE, text=True) for command in commands
    ]
    said = [process.communicate()[1] for process in running]
    left = files_in(tmp_path)
    assert sorted(left) == ["c", "x/a", "y/b"]
    assert len(set(left.values())) == 1
    for process, text in zip(running, said, strict=True):
        assert process.returncode == 0 or "was changed by another program just now" in text, text


def test_a_run_that_never_lets_go_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("strapwright.files.journal._PATIENCE", 0.05)
    program = (
        f"import os, fcntl, time\nh = os.open({JOURNAL!r}, os.O_RDWR | os.O_CREAT)\n"
        "fcntl.flock(h, fcntl.LOCK_EX)\nprint('held', flush=True)\ntime.sleep(60)\n"
    )
    command = [sys.executable, "-c", program]
    holder = subprocess.Popen(command, cwd=tmp_path, stdout=subprocess.PIPE, text=True)
    try:
        assert holder.stdout is not None
        with holder.stdout:
            holder.stdout.readline()
            with pytest.raises(
                OutputError, match="another strapwright has been writing here for a long time"
            ):
                write_whole({tmp_path / "a.txt": "a"})
    finally:
        holder.kill()
        holder.wait()
    write_whole({tmp_path / "a.txt": "a"})
    assert files_in(tmp_path) == {"a.txt": "a"}
