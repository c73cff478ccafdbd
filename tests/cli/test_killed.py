"""A command killed between two renames, and the next command in the same folders."""

from __future__ import annotations

import signal
from itertools import count
from pathlib import Path
from shutil import copytree
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cli.forked import Forks

pytestmark = pytest.mark.slow


def killed(forks: Forks, number: int, folder: Path, *words: str) -> bool:
    """Run a command in a folder and return whether it was killed before its n-th rename."""
    done = forks.run(folder, *words, killed_at=number)
    assert done.status in (0, -signal.SIGKILL), done.said
    return done.status != 0


def files_in(folder: Path) -> dict[str, bytes]:
    paths = sorted(folder.rglob("*"))
    return {str(path.relative_to(folder)): path.read_bytes() for path in paths if path.is_file()}


def test_start_killed_between_any_two_renames_is_completed_by_the_next_command(
    forks: Forks, tmp_path: Path
) -> None:
    assert not killed(forks, 0, tmp_path, "start", "whole")
    whole = files_in(tmp_path / "whole")
    for number in count(1):
        folder = tmp_path / str(number)
        folder.mkdir()
        if not killed(forks, number, folder, "start", "shop"):
            break
        assert files_in(folder / "shop") != whole
        done = forks.run(folder, "draft", "shop/jobs/first/job.toml")
        assert "a run was ended while it wrote" in done.said
        assert "Traceback" not in done.said
        assert files_in(folder / "shop") == whole
    assert number == len(whole) + 1


def test_a_card_and_a_bill_killed_between_them_are_both_new_after_the_next_card(
    forks: Forks, tmp_path: Path
) -> None:
    examples = Path(__file__).parents[2] / "examples"
    for name in ("one-belt.toml", "catalogue.toml"):
        tmp_path.joinpath(name).write_bytes(examples.joinpath(name).read_bytes())
    words = ("card", "one-belt.toml", "--out", "a/card.html", "--bom", "b/bill.csv")
    assert not killed(forks, 0, tmp_path, *words)
    old = files_in(tmp_path)
    job = tmp_path / "one-belt.toml"
    job.write_text(job.read_text().replace('"9 oz"', '"8 oz"'))
    begin = copytree(tmp_path, tmp_path.with_name(tmp_path.name + "-begin"))
    assert not killed(forks, 0, tmp_path, *words)
    new = files_in(tmp_path)
    assert old["a/card.html"] != new["a/card.html"]
    assert old["b/bill.csv"] != new["b/bill.csv"]
    written = len(new) - 2  # all but the job and its catalogue
    for number in range(1, written + 1):
        folder = copytree(begin, Path(f"{begin}-{number}"))
        assert killed(forks, number, folder, *words)
        done = forks.run(folder, "hides", "b")  # any command that looks into one of the folders
        assert f"a run was ended while it wrote {written} files here; that is now complete" in done.said
        assert files_in(folder) == new


def test_a_record_killed_half_way_is_completed_when_the_next_is_kept(forks: Forks, tmp_path: Path) -> None:
    one = str(Path(__file__).parents[2] / "examples" / "one-belt.toml")
    assert killed(forks, 3, tmp_path, "card", one, "--out", "card.html", "--record", "records")
    (half,) = (tmp_path / "records").glob("*/*")
    assert not (half / "record.toml").exists()
    done = forks.run(tmp_path, "card", one, "--record", "records")
    assert "that is now complete" in done.said
    first, second = sorted((tmp_path / "records").glob("*/*"), key=lambda path: len(path.name))
    assert first == half
    assert files_in(first).keys() == files_in(second).keys()
    assert (tmp_path / "card.html").exists()
    assert f'earlier = ["{first.name}"]' in (second / "record.toml").read_text("utf-8")
