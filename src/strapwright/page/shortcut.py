"""An icon on the desktop that opens a shop's page."""

from __future__ import annotations

import os
import shlex
import stat
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

from strapwright.core.errors import OutputError
from strapwright.core.text import one_line
from strapwright.files.atomic_write import file_safe, write_whole

if TYPE_CHECKING:
    from collections.abc import Sequence


def make_shortcut(folder: Path, system: str, program: Sequence[str], home: Path) -> Path:
    """Put an icon on the desktop that opens a shop's page, and return its file; nothing is written over.

    Args:
        folder: the shop's.
        system: ``sys.platform``'s word for the system.
        program: the words that start strapwright.
        home: the user's folder.

    Raises:
        OutputError: there is no such shop, no desktop, or something of that name lies there.
    """
    if not folder.is_dir():
        raise OutputError(
            f"{folder}: no such folder; make it first, or begin with: strapwright start {folder}"
        )
    shop = Path(os.path.realpath(folder))
    name = one_line(shop.name) or "shop"
    ending, text = shortcut_text(name, [*program, "bench", str(shop)], system)
    desktop = _desktop(home, system)
    if not desktop.is_dir():
        raise OutputError(f"{desktop}: no such folder, so there is no desktop to put an icon on")
    path = desktop / f"{file_safe(name, otherwise='shop')}-bench{ending}"
    if os.path.lexists(path):
        raise OutputError(f"{path}: is there already, and is left as it is; delete it first for a new one")
    write_whole({path: text})
    if ending != ".bat":
        path.chmod(path.stat().st_mode | stat.S_IXUSR)
    return path


def shortcut_text(name: str, command: Sequence[str], system: str) -> tuple[str, str]:
    """Return the ending and the text of a shortcut.

    Args:
        name: the shop's.
        command: the words it runs.
        system: ``sys.platform``'s word for the system.

    Source: Desktop Entry Specification 1.5, on quoting the Exec key; batch files double a per cent sign.
    """
    if system == "win32":
        line = subprocess.list2cmdline(command).replace("%", "%%")
        return ".bat", f"@echo off\r\nchcp 65001 >nul\r\n{line}\r\nif errorlevel 1 pause\r\n"
    if system == "darwin":
        return ".command", f"#!/bin/sh\nexec {shlex.join(command)}\n"
    line = " ".join(_exec_word(word) for word in command)
    entry = f"[Desktop Entry]\nType=Application\nName={_escaped(name)}: bench\nExec={line}\nTerminal=true\n"
    return ".desktop", f"{entry}Categories=Office;\n"


def _exec_word(word: str) -> str:
    r"""Return a word of an Exec key: quoted, then escaped as any text of the file.

    Example:
        >>> print(_exec_word("100% of $5"))
        "100%% of \\$5"
    """
    quoted = "".join(f"\\{letter}" if letter in '"`$\\' else letter for letter in word).replace("%", "%%")
    return _escaped(f'"{quoted}"')


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace("\n", "\\n")


def _desktop(home: Path, system: str) -> Path:
    """Return where a user's desktop is: as the system's own file says, or the usual place."""
    if system == "win32":
        synced = home / "OneDrive" / "Desktop"
        return synced if synced.is_dir() else home / "Desktop"
    if system != "darwin":
        try:
            settings = (home / ".config" / "user-dirs.dirs").read_text("utf-8")
        except (OSError, UnicodeDecodeError):
            settings = ""
        for line in settings.splitlines():
            key, _, value = line.partition("=")
            if key.strip() == "XDG_DESKTOP_DIR":
                return Path(value.strip().strip('"').replace("$HOME", str(home)))
    return home / "Desktop"
