"""A picture that a hide is drawn over: opened in a process of its own, kept beside the hide's file.

What is kept is the picture anew, without what a camera writes into its file about place and time.
"""

from __future__ import annotations

import io
import json
import os
from collections import OrderedDict
from typing import TYPE_CHECKING, Any, Final, Generic, TypeVar

from strapwright.core.errors import FileProblems
from strapwright.files.atomic_write import write_whole
from strapwright.files.bounded import in_bounds
from strapwright.files.read import read_text
from strapwright.page.sheet.shop import digest_of

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.page.leather.file import Picture

Held = TypeVar("Held")

MOST_PIXELS: Final = 80_000_000
"""Larger pictures are not opened: a telephone's has up to some 50 million."""

_LONGEST_SIDE: Final = 2000

_SECONDS: Final = 60
"""Of waiting, on a busy machine too."""

_WORK_SECONDS: Final = 20
"""Of a processor's time."""

_MEMORY: Final = 2 * 10**9

_KEPT_MB: Final = 8.0

_UNREADABLE: Final = "the picture cannot be opened; expected a PNG or JPEG file"

_HELD: Final = 6


class ShortStore(Generic[Held]):
    """The last things of one kind, by digest; the oldest go first.

    Args:
        most: how many are held.
        gone: what is said where one is asked for that is held no longer.
    """

    def __init__(self, most: int, gone: str) -> None:
        self._most, self._gone = most, gone
        self._held: OrderedDict[str, Held] = OrderedDict()

    def __contains__(self, digest: str) -> bool:
        return digest in self._held

    def hold(self, digest: str, one: Held) -> str:
        """Keep one as the last, and return its digest."""
        self._held[digest] = one
        self._held.move_to_end(digest)
        while len(self._held) > self._most:
            self._held.popitem(last=False)
        return digest

    def get(self, digest: str) -> Held:
        """Return one.

        Raises:
            FileProblems: it is held no longer.
        """
        try:
            return self._held[digest]
        except KeyError:
            raise FileProblems((self._gone,)) from None


def opened(data: bytes) -> bytes:
    """Return a picture as a JPEG of moderate size, turned upright.

    Args:
        data: content of a PNG or JPEG file, from wherever.

    Raises:
        FileProblems: it is neither, is too large, or takes too long.
    """
    try:
        return in_bounds(_shrunk, data, seconds=_SECONDS, work=_WORK_SECONDS, memory=_MEMORY)
    except TimeoutError:
        raise FileProblems(("the picture takes too long to open; save it smaller",)) from None
    except MemoryError:
        raise FileProblems((_UNREADABLE,)) from None


class Pictures:
    """The pictures that the page shows now, by digest; the oldest go first."""

    def __init__(self) -> None:
        self._held: ShortStore[bytes] = ShortStore(_HELD, "the picture is no longer at hand; choose it again")

    def hold(self, content: bytes) -> str:
        """Keep a picture for the page and return its digest."""
        return self._held.hold(digest_of(content), content)

    def get(self, digest: str) -> bytes:
        """Return a picture.

        Raises:
            FileProblems: it is no longer there.
        """
        return self._held.get(digest)

    def of_hide(self, hide: Path) -> dict[str, Any] | None:
        """Return where the picture kept beside a hide's file lies; None where there is none that is sound."""
        from strapwright.page.leather.file import Picture

        picture, place = beside(hide)
        try:
            if os.path.islink(picture) or picture.stat().st_size > _KEPT_MB * 1e6:
                return None
            data = json.loads(read_text(place, limit_mb=0.1))
            digest = self.hold(picture.read_bytes())
            return Picture(
                digest=digest, **{key: data[key] for key in ("mm_per_pixel", "x", "y")}
            ).model_dump()
        except (FileProblems, OSError, ValueError, KeyError, TypeError):
            return None

    def changes(self, hide: Path, sent: Picture | None) -> dict[Path, tuple[bytes | None, bytes | None]]:
        """Keep a hide's picture beside its file, and return what becomes of the file that says where it lies.

        Args:
            hide: the hide's file.
            sent: the picture as the page has it; None for none.

        Raises:
            FileProblems: the picture is no longer there.
            OutputError: the disk does not allow it.
        """
        picture, place = beside(hide)
        before = place.read_bytes() if place.is_file() else None
        after = None
        if sent is not None:
            content = self._kept(picture, sent.digest)
            if picture.is_symlink():
                raise FileProblems((f"{picture.name}: is a link; move it away, then try again",))
            if not picture.is_file() or picture.read_bytes() != content:
                write_whole({picture: content}, force=True)
            data = sent.model_dump(exclude={"digest"})
            after = (json.dumps(data) + "\n").encode()
        return {} if before == after else {place: (before, after)}

    def _kept(self, picture: Path, digest: str) -> bytes:
        """Return a picture: as the page shows it, or, where that was long ago, as it is kept."""
        if digest not in self._held and picture.is_file():
            content = picture.read_bytes()
            if digest_of(content) == digest:
                return content
        return self.get(digest)


def beside(hide: Path) -> tuple[Path, Path]:
    """Return the picture kept beside a hide's file, and the file that says where it lies."""
    return hide.with_name(f"{hide.stem}.picture.jpg"), hide.with_name(f"{hide.stem}.picture.json")


def _shrunk(data: bytes) -> bytes:
    """Return a picture anew, turned upright and not too large."""
    from PIL import Image, ImageOps

    Image.MAX_IMAGE_PIXELS = None  # said below in words
    try:
        found: Image.Image = Image.open(io.BytesIO(data), formats=("PNG", "JPEG"))
        width, height = found.size
        if width * height > MOST_PIXELS:
            most = f"{MOST_PIXELS / 1e6:g} million at most"
            raise FileProblems((f"the picture has {width} by {height} pixels, expected {most}",))  # noqa: TRY301
        found.draft("RGB", (_LONGEST_SIDE, _LONGEST_SIDE))
        upright = ImageOps.exif_transpose(found).convert("RGBA")
    except FileProblems:
        raise
    except Exception as error:  # whatever a broken file makes it raise
        raise FileProblems((_UNREADABLE,)) from error
    upright.thumbnail((_LONGEST_SIDE, _LONGEST_SIDE))
    plain = Image.new("RGB", upright.size, "white")
    plain.paste(upright, mask=upright.getchannel("A"))
    small = io.BytesIO()
    plain.save(small, "JPEG", quality=85)
    return small.getvalue()
