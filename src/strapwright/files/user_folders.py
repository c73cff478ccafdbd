"""Where this user's own settings and throw-away files are kept, as each system has it."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def cache_folder(part: str) -> Path:
    """Return a folder for what can be worked out anew; it need not be there, nor be writable.

    Args:
        part: what is kept there.
    """
    return _folder("LOCALAPPDATA", "~/Library/Caches", "XDG_CACHE_HOME", "~/.cache") / part


def config_folder() -> Path:
    """Return the folder of this user's own settings; it need not be there."""
    return _folder("APPDATA", "~/Library/Application Support", "XDG_CONFIG_HOME", "~/.config")


def _folder(windows: str, macos: str, xdg: str, usual: str) -> Path:
    if sys.platform == "win32":
        base = os.environ.get(windows, "")
    elif sys.platform == "darwin":
        base = os.path.expanduser(macos)
    else:
        base = os.environ.get(xdg, "")
    return Path(base if os.path.isabs(base) else os.path.expanduser(usual)) / "strapwright"
