"""Put finished files into a folder, all or none, and overwrite nothing of the user's."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from strapwright.write.cut_files import CutFiles

LAYOUT_FILES: Final = ("layout.json", "layout.png")
"""What a layout is written to."""


def write_files(
    folder: Path, texts: Mapping[str, str], *, force: bool = False, remedy: str = ""
) -> list[Path]:
    """Write files into a folder, all or none; see :func:`strapwright.files.atomic_write.write_whole`.

    Args:
        folder: made where it is not there yet.
        texts: content by file name.
        force: overwrite what stands there, whoever wrote it.
        remedy: what to do about a file in the way, for the message; empty names ``--force``.

    Raises:
        OutputError: something there is not strapwright's to overwrite, or the disk refuses.
    """
    from strapwright.files.atomic_write import OVERWRITE, write_whole

    files = {folder / name: text for name, text in texts.items()}
    write_whole(files, force=force, remedy=remedy or OVERWRITE)
    return list(files)


def check_folder(folder: Path, names: Sequence[str], *, force: bool = False) -> None:
    """Refuse early a folder or files that :func:`write_files` would refuse in the end.

    Raises:
        OutputError: something there is not strapwright's to overwrite, or the folder cannot be made.
    """
    from strapwright.files.atomic_write import check_writable

    check_writable([folder / name for name in names], force=force)


def left_from_earlier(folder: Path, files: CutFiles) -> list[Path]:
    """Return cut files of the same job that an earlier cut left in a folder: of another format or hide."""
    from strapwright.files.atomic_write import is_ours
    from strapwright.write.formats.format import FORMATS

    suffixes = {form.suffix for form in FORMATS.values()}
    return [
        path
        for path in sorted(folder.iterdir())
        if path.suffix in suffixes
        and path.name not in (*files.texts, *LAYOUT_FILES)
        and (path.stem == files.stem or path.stem.startswith(f"{files.stem}-"))
        and is_ours(path)
    ]
