from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path, PureWindowsPath

import pytest
from hypothesis import given, strategies as st

from strapwright.core.errors import OutputError
from strapwright.files.atomic_write import MARK, file_safe, is_ours, write_whole

OURS = f"<!-- {MARK} -->\nfirst\n"
NEXT = f"<!-- {MARK} -->\nsecond\n"


def refusal_of(files: dict[Path, str | bytes], *, force: bool = False) -> str:
    """Return why a set is refused, folders left out of the message."""
    with pytest.raises(OutputError) as caught:
        write_whole(files, force=force)
    folders = {f"{path.parent}/" for path in files}
    text = str(caught.value)
    for folder in sorted(folders, key=len, reverse=True):
        text = text.replace(folder, "")
    return text


def names_in(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def test_a_file_is_written_whole_sealed_and_known_again(tmp_path: Path) -> None:
    path = tmp_path / "new" / "deep" / "a.svg"
    write_whole({path: OURS})
    text = path.read_text()
    assert text.endswith("first\n")
    assert MARK not in text
    assert len(text) == len(OURS)
    assert is_ours(path)
    assert names_in(path.parent) == ["a.svg"]


def test_writing_the_same_again_gives_the_same_bytes(tmp_path: Path) -> None:
    write_whole({tmp_path / "a.svg": OURS, tmp_path / "b.svg": OURS})
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()


def test_bytes_and_line_ends_are_kept_as_they_are(tmp_path: Path) -> None:
    write_whole({tmp_path / "a": b"\x00\xff\r\n", tmp_path / "b": "é\r\n"})
    assert (tmp_path / "a").read_bytes() == b"\x00\xff\r\n"
    assert (tmp_path / "b").read_bytes() == "é\r\n".encode()


def test_our_own_untouched_file_is_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    write_whole({path: OURS})
    write_whole({path: NEXT})
    assert "second" in path.read_text()
    assert names_in(tmp_path) == ["a.svg"]


def test_our_own_file_edited_since_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    write_whole({path: OURS})
    path.write_text(path.read_text().replace("first", "my own"))
    assert not is_ours(path)
    assert refusal_of({path: NEXT}) == ("a.svg: was edited since strapwright wrote it; --force overwrites it")
    assert "my own" in path.read_text()


def test_a_foreign_file_is_refused_and_kept(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    path.write_text("precious")
    assert refusal_of({path: OURS}) == (
        "a.svg: already exists and strapwright did not write it; --force overwrites it"
    )
    assert path.read_text() == "precious"


def test_a_file_with_a_made_up_seal_is_not_ours(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    path.write_text("strapwright-" + "a" * 64)
    assert not is_ours(path)
    assert "was edited" in refusal_of({path: OURS})
    path.write_text(MARK)
    assert not is_ours(path)
    assert not is_ours(tmp_path / "missing")
    assert not is_ours(tmp_path)


def test_text_that_looks_like_a_seal_does_not_hide_the_real_one(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    write_whole({path: f"name = strapwright-{'b' * 64}\n{OURS}{MARK}\n"})
    assert is_ours(path)


def test_what_is_there_already_byte_for_byte_needs_no_force(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(b"same")
    write_whole({path: b"same"})
    assert path.read_bytes() == b"same"


def test_force_overwrites_whatever_is_there(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    path.write_text("precious")
    write_whole({path: OURS}, force=True)
    assert is_ours(path)


def test_of_two_files_neither_is_written_where_the_second_is_refused(tmp_path: Path) -> None:
    first, second = tmp_path / "new" / "a.svg", tmp_path / "b.svg"
    second.write_text("precious")
    third = tmp_path / "c.svg"
    third.write_text("dear")
    assert refusal_of({first: OURS, second: OURS, third: OURS}) == (
        "b.svg: already exists and strapwright did not write it; --force overwrites it\n"
        "c.svg: already exists and strapwright did not write it; --force overwrites it"
    )
    assert names_in(tmp_path) == ["b.svg", "c.svg"]


@pytest.mark.parametrize("fails_at", [1, 2, 3])
def test_where_a_rename_fails_everything_is_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int
) -> None:
    old, new, third = tmp_path / "a.svg", tmp_path / "made" / "b.svg", tmp_path / "c.svg"
    write_whole({old: OURS, third: OURS})
    before = old.read_bytes()
    replace, calls = os.replace, []

    def failing(source: Path, target: Path) -> None:
        calls.append(target)
        if len(calls) == fails_at:
            raise OSError(28, "No space left on device")
        replace(source, target)

    monkeypatch.setattr(os, "replace", failing)
    failed = ("a.svg", "b.svg", "c.svg")[fails_at - 1]
    assert refusal_of({old: NEXT, new: NEXT, third: NEXT}) == (
        f"{failed}: cannot be written: no space left on device"
    )
    assert old.read_bytes() == third.read_bytes() == before
    assert names_in(tmp_path) == ["a.svg", "c.svg"]


def test_where_there_are_no_hard_links_a_copy_is_kept_to_go_back_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = tmp_path / "a.svg", tmp_path / "b.svg"
    write_whole({first: OURS})
    before = first.read_bytes()
    replace = os.replace

    def no_links(*args: object) -> None:
        raise OSError(95, "Operation not supported")

    def failing(source: Path, target: Path) -> None:
        if Path(target).name == "b.svg":
            raise OSError(5, "Input/output error")
        replace(source, target)

    monkeypatch.setattr(os, "link", no_links)
    monkeypatch.setattr(os, "replace", failing)
    assert "b.svg: cannot be written: input/output error" in refusal_of({first: NEXT, second: NEXT})
    assert first.read_bytes() == before
    assert names_in(tmp_path) == ["a.svg"]


def test_an_interruption_while_writing_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.svg"
    write_whole({path: OURS})
    before = path.read_bytes()

    def interrupted(handle: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_whole({path: NEXT, tmp_path / "made" / "b.svg": NEXT})
    assert path.read_bytes() == before
    assert names_in(tmp_path) == ["a.svg"]


def test_a_process_killed_before_the_rename_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    write_whole({path: OURS})
    before = path.read_bytes()
    program = (
        "import os, sys\n"
        "from pathlib import Path\n"
        "from strapwright.files.atomic_write import write_whole\n"
        "os.replace = lambda *args: os._exit(9)\n"
        f"write_whole({{Path({str(path)!r}): {NEXT!r}}})\n"
    )
    done = subprocess.run([sys.executable, "-c", program], check=False)
    assert done.returncode == 9
    assert path.read_bytes() == before


def test_a_folder_that_cannot_be_written_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("")
    assert refusal_of({tmp_path / "file" / "a.svg": OURS}) == "a.svg: cannot be written: not a directory"
    assert refusal_of({tmp_path / "file" / "deep" / "a.svg": OURS}).endswith(
        "a.svg: cannot be written: not a directory"
    )

    def read_only(*args: object, **kwargs: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", read_only)
    assert refusal_of({tmp_path / "a.svg": OURS}) == "a.svg: cannot be written: permission denied"
    assert names_in(tmp_path) == ["file"]


def test_a_folder_or_a_pipe_of_that_name_is_refused_even_with_force(tmp_path: Path) -> None:
    (tmp_path / "a.svg").mkdir()
    assert refusal_of({tmp_path / "a.svg": OURS}, force=True) == (
        "a.svg: a folder of that name exists; choose another name"
    )
    os.mkfifo(tmp_path / "b.svg")
    assert refusal_of({tmp_path / "b.svg": OURS}, force=True) == (
        "b.svg: a pipe or device of that name exists; choose another name"
    )


def test_two_names_of_one_file_are_refused(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(tmp_path)
    assert "two outputs would be one file" in refusal_of(
        {tmp_path / "a.svg": OURS, tmp_path / "link" / "a.svg": OURS}
    )
    assert names_in(tmp_path) == ["link"]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.svg", tmp_path / "link.svg"
    write_whole({real: OURS})
    link.symlink_to(real)
    write_whole({link: NEXT})
    assert link.is_symlink()
    assert "second" in real.read_text()


def test_permissions_follow_the_umask_and_then_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    old_mask = os.umask(0o027)
    try:
        write_whole({path: OURS})
    finally:
        os.umask(old_mask)
    assert path.stat().st_mode & 0o777 == 0o640
    path.chmod(0o604)
    write_whole({path: NEXT})
    assert path.stat().st_mode & 0o777 == 0o604


def reserved(name: str) -> bool:
    """Whether Windows keeps a name for itself, as the standard library knows it."""
    if sys.version_info >= (3, 13):
        import ntpath

        return ntpath.isreserved(name)
    return PureWindowsPath(name).is_reserved()


@given(st.text())
def test_a_safe_name_is_plain_ascii_and_no_system_s_own(name: str) -> None:
    safe = file_safe(name)
    assert re.fullmatch(r"[A-Za-z0-9_]([A-Za-z0-9_-]*[A-Za-z0-9_])?", safe)
    assert len(safe) <= 85
    assert not reserved(f"{safe}.nc")
    assert file_safe(safe) == safe


@pytest.mark.parametrize(
    "name", ["con", "PRN", "Aux", "nul", "com1", "COM9", "lpt1", "COM¹", "LPT³", "conin$"]
)
def test_a_name_windows_keeps_for_a_device_gets_a_suffix(name: str) -> None:
    # Source: Microsoft, Naming Files, Paths, and Namespaces: CON, PRN, AUX, NUL, COM0 to COM9, COM¹, COM²,
    # COM³, LPT0 to LPT9, LPT¹, LPT², LPT³, also with an ending. The library knows them by itself.
    assert reserved(f"{name}.nc")
    assert file_safe(name).endswith("-file")
    assert not reserved(f"{file_safe(name)}.nc")


def test_names_that_lose_letters_stay_apart() -> None:
    names = ["Пояс", "Ремень", "革帯", "x" * 81, "x" * 82, "Größe 5", "Grosse 5"]
    safe = [file_safe(name) for name in names]
    assert safe[-2:] == ["Grosse-5", "Grosse-5"]  # as one would spell it
    assert len(set(safe)) == len(names) - 1
