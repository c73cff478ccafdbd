"""A command killed between two renames, and the next command in the same folders."""

from __future__ import annotations

import signal
import subprocess
import sys
from itertools import count
from pathlib import Path
from shutil import copytree

KILLED = """
import os, signal, sys
left = int(sys.argv.pop(1))
def counted(call):
    def do(*args, **kwargs):
        global left
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return call(*args, **kwargs)
    return do
os.replace = counted(os.replace)
from strapwright.cli.main import main
main()
"""
"""Ends the command line by a signal it cannot catch, before the n-th rename."""


def killed(number: int, folder: Path, *words: str) -> bool:
    """Run a command in a folder and return whether it was killed before its n-th rename."""
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(number), *words], cwd=folder, capture_output=True
    )
    assert done.returncode in (0, -signal.SIGKILL), done.stderr
    return done.returncode != 0


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "strapwright.cli.main", *words]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True)


def files_in(folder: Path) -> dict[str, bytes]:
    paths = sorted(folder.rglob("*"))
    return {str(path.relative_to(folder)): path.read_bytes() for path in paths if path.is_file()}


def test_start_killed_between_any_two_renames_is_completed_by_the_next_command(tmp_path: Path) -> None:
    assert not killed(0, tmp_path, "start", "whole")
    whole = files_in(tmp_path / "whole")
    for number in count(1):
        folder = tmp_path / str(number)
        folder.mkdir()
        if not killed(number, folder, "start", "shop"):
            break
        assert files_in(folder / "shop") != whole
        done = run(folder, "draft", "shop/jobs/first/job.toml")
        assert "a run was ended while it wrote" in done.stderr
        assert "Traceback" not in done.stderr
        assert files_in(folder / "shop") == whole
    assert number == len(whole) + 1


def test_a_card_and_a_bill_killed_between_them_are_both_new_after_the_next_card(tmp_path: Path) -> None:
    examples = Path(__file__).parents[2] / "examples"
    for name in ("one-belt.toml", "catalogue.toml"):
        tmp_path.joinpath(name).write_bytes(examples.joinpath(name).read_bytes())
    words = ("card", "one-belt.toml", "--out", "a/card.html", "--bom", "b/bill.csv")
    assert not killed(0, tmp_path, *words)
    old = files_in(tmp_path)
    job = tmp_path / "one-belt.toml"
    job.write_text(job.read_text().replace('"9 oz"', '"8 oz"'))
    begin = copytree(tmp_path, tmp_path.with_name(tmp_path.name + "-begin"))
    assert not killed(0, tmp_path, *words)
    new = files_in(tmp_path)
    assert old["a/card.html"] != new["a/card.html"]
    assert old["b/bill.csv"] != new["b/bill.csv"]
    written = len(new) - 2  # all but the job and its catalogue
    for number in range(1, written + 1):
        folder = copytree(begin, Path(f"{begin}-{number}"))
        assert killed(number, folder, *words)
        done = run(folder, "hides", "b")  # any command that looks into one of the folders
        assert f"a run was ended while it wrote {written} files here; that is now complete" in done.stderr
        assert files_in(folder) == new


def test_a_record_killed_half_way_is_completed_when_the_next_is_kept(tmp_path: Path) -> None:
    one = str(Path(__file__).parents[2] / "examples" / "one-belt.toml")
    assert killed(3, tmp_path, "card", one, "--out", "card.html", "--record", "records")
    (half,) = (tmp_path / "records").glob("*/*")
    assert not (half / "record.toml").exists()
    done = run(tmp_path, "card", one, "--record", "records")
    assert "that is now complete" in done.stderr
    first, second = sorted((tmp_path / "records").glob("*/*"), key=lambda path: len(path.name))
    assert first == half
    assert files_in(first).keys() == files_in(second).keys()
    assert (tmp_path / "card.html").exists()
    assert f'earlier = ["{first.name}"]' in (second / "record.toml").read_text("utf-8")
