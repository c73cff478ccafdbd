from __future__ import annotations

import hashlib
import os
import time
from pathlib import Path

import pytest

from strapwright.core.errors import FileProblems
from strapwright.files.read import digest_of, read_text, read_toml


def problems_of(path: Path, content: bytes | None = None) -> tuple[str, ...]:
    """Return what `read_toml` says about a file, its folder left out of the messages."""
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(FileProblems) as caught:
        read_toml(path)
    return tuple(line.replace(f"{path.parent}/", "") for line in caught.value.problems)


def test_text_is_read_with_or_without_a_byte_order_mark(tmp_path: Path) -> None:
    for start in (b"", b"\xef\xbb\xbf"):
        (tmp_path / "a.toml").write_bytes(start + 'name = "Zoë"\r\n'.encode())
        assert read_text(tmp_path / "a.toml", limit_mb=1) == 'name = "Zoë"\r\n'
        assert read_toml(tmp_path / "a.toml") == {"name": "Zoë"}


@pytest.mark.parametrize(
    ("content", "place"),
    [
        (b"a = \n", "line 1, column 5"),
        (b"a = 1\nb 2\n", "line 2, column 3"),
        (b"a = 1\na = 2\n", "line 2, column 6"),
        (b'a = "x', "end of file"),
    ],
)
def test_broken_toml_is_one_line_with_its_place(tmp_path: Path, content: bytes, place: str) -> None:
    (line,) = problems_of(tmp_path / "job.toml", content)
    start, what = line.split("not valid TOML: ")  # what it says differs between Pythons
    assert start == f"job.toml: {place}: "
    assert what[0].islower()
    assert "(at" not in what


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"a = \xe9\n", "job.toml: line 1: found the byte 0xe9, expected UTF-8 text; save it again as UTF-8"),
        (b"\xff\xfea\x00", "job.toml: found UTF-16 text, expected UTF-8; save it again as UTF-8"),
        (b"a = " + b"[" * 5000, "job.toml: not valid TOML: nested too deeply"),
    ],
)
def test_what_is_no_text_of_ours_is_one_line(tmp_path: Path, content: bytes, message: str) -> None:
    assert problems_of(tmp_path / "job.toml", content) == (message,)


def test_a_number_of_ten_thousand_digits_is_refused_in_one_line(tmp_path: Path) -> None:
    assert problems_of(tmp_path / "job.toml", b"b = 1\na = " + b"9" * 10_000) == (
        "job.toml: line 2: found a number of thousands of digits, expected one of a few",
    )


@pytest.mark.parametrize(
    "key",
    [
        b"a." * 50_000 + b"b = 1",
        b"[" + b"a." * 50_000 + b"b]",
        b"[[ " + b"a . " * 50_000 + b"b ]]",
        b"t = { x = 1, " + b'"a b".' * 50_000 + b"b = 1 }",
        b"  " + b"'a'\t.\t" * 50_000 + b"b = 1",
    ],
)
def test_a_key_of_fifty_thousand_parts_is_refused_at_once(tmp_path: Path, key: bytes) -> None:
    began = time.process_time()
    assert problems_of(tmp_path / "job.toml", b"x = 1\n" + key) == (
        "job.toml: line 2: found a key of more than 30 parts, expected a few",
    )
    assert time.process_time() - began < 1.0


def test_what_only_looks_like_a_deep_key_is_read(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text("# " + "a." * 100 + '\na.b.c = "' + "a." * 100 + '"\n' + "k" * 200_000 + " = 1\n")
    assert read_toml(path)["a"]["b"]["c"] == "a." * 100


def test_a_file_of_ten_megabytes_is_refused_by_its_size(tmp_path: Path) -> None:
    assert problems_of(tmp_path / "job.toml", b"# fill\n" * 1_428_572) == (
        "job.toml: found 10.0 MB, expected at most 4 MB; is it the right file?",
    )


def test_a_folder_a_pipe_and_a_path_through_a_file_are_refused(tmp_path: Path) -> None:
    (tmp_path / "job.toml").mkdir()
    assert problems_of(tmp_path / "job.toml") == ("job.toml: found a folder, expected a file",)
    os.mkfifo(tmp_path / "pipe.toml")
    assert problems_of(tmp_path / "pipe.toml") == ("pipe.toml: found a pipe or device, expected a file",)
    (tmp_path / "file").write_text("")
    assert problems_of(tmp_path / "file" / "job.toml")[0].endswith(
        "no such file: a part of the path is a file, not a folder"
    )


def test_a_missing_file_suggests_the_one_meant(tmp_path: Path) -> None:
    assert problems_of(tmp_path / "job.toml") == ("job.toml: no such file",)
    (tmp_path / "jobs.toml").write_text("")
    assert problems_of(tmp_path / "job.toml") == ('job.toml: no such file; did you mean "jobs.toml"?',)


def test_a_name_that_would_break_the_line_is_shown_escaped(tmp_path: Path) -> None:
    with pytest.raises(FileProblems) as caught:
        read_toml(tmp_path / "a\nb.toml")
    (line,) = caught.value.problems
    assert line.endswith("a\\nb.toml: no such file")
    with pytest.raises(FileProblems, match="cannot be read"):
        read_toml(Path("a\0b"))


def test_a_file_that_may_not_be_read_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "job.toml"
    path.write_text("")

    def refused(*args: object, **kwargs: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refused)
    assert problems_of(path) == ("job.toml: cannot be read: permission denied",)
    with pytest.raises(FileProblems, match="cannot be read: permission denied"):
        digest_of(path)


def test_a_digest_is_that_of_the_bytes(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"x" * 3_000_000)
    assert digest_of(tmp_path / "a") == hashlib.sha256(b"x" * 3_000_000).hexdigest()
    with pytest.raises(FileProblems, match="no such file"):
        digest_of(tmp_path / "b")
