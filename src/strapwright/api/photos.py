"""A hide measured from a photograph: the mark sheets, then the hide file and the picture to check it by."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import PhotoError
from strapwright.files.bounded import in_bounds

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from strapwright.core.findings import Finding
    from strapwright.photo.measure import MeasuredHide

MOST_SECONDS: Final = 120.0
"""A photograph is given up after so long."""

MOST_PHOTOS: Final = 8
"""Of one hide."""

MOST_MEMORY: Final = 3 * 2**30
"""What reading one may take, bytes of addresses."""


@dataclass(frozen=True)
class PhotoAsked:
    """What a hide is measured by.

    Args:
        photos: files of photographs of it, one at least.
        paper: of the mark sheets, ``a4`` or ``letter``.
        name: of the hide.
        thickness: of it, mm; None if not known.
        backbone: which edge is the back, empty if nobody says.
        correct: what a check bar should measure and what it did; empty if nobody measured.
        flaws: what each colour of chalk stands for; empty takes the usual.
        flat: whether the plain photograph made flat is wanted, to draw over.
    """

    photos: tuple[Path, ...]
    paper: str = "a4"
    name: str = "hide"
    thickness: float | None = None
    backbone: str = ""
    correct: str = ""
    flaws: Mapping[str, str] = field(default_factory=dict)
    flat: bool = False


@dataclass(frozen=True)
class FlatPhoto:
    """The hide of a photograph as it is seen from straight above, with nothing drawn in it.

    Args:
        picture: a JPEG.
        mm_per_pixel: its scale.
        x: of its lower left corner in the hide's frame, mm.
        y: likewise.
    """

    picture: bytes
    mm_per_pixel: float
    x: float
    y: float


@dataclass(frozen=True)
class PhotoHide:
    """A hide measured from a photograph.

    Args:
        text: its hide file.
        picture: a PNG to check it by.
        area: mm².
        length: along x, mm.
        width: mm.
        uncertainty: 95 of 100 points of its outline are off by no more, mm.
        flaws: how many of each kind.
        sheets: of the mark sheets that counted.
        findings: what to know of it.
        tape: what a tape should show between the two points of the outline that lie furthest apart.
        flat: the plain photograph made flat; None where it was not asked for.
    """

    text: str
    picture: bytes
    area: float
    length: float
    width: float
    uncertainty: float
    flaws: Mapping[str, int]
    sheets: tuple[int, ...]
    findings: tuple[Finding, ...]
    tape: str
    flat: FlatPhoto | None = None


def mark_sheets(paper: str = "a4", count: int = 8) -> bytes:
    """Return the sheets to lay round a hide, as a PDF.

    Args:
        paper: ``a4`` or ``letter``.
        count: of the sheets.

    Raises:
        PhotoError: there is no such paper here, or the count is out of range.
    """
    from strapwright.photo.mark_sheet import LEAST_SHEETS, MOST_SHEETS, SIZES, mark_sheets as drawn

    check_photo_extra()
    if paper not in SIZES:
        raise PhotoError(f"--sheets: found {paper!r}, expected one of {', '.join(SIZES)}")
    if not LEAST_SHEETS <= count <= MOST_SHEETS:
        raise PhotoError(f"--count: found {count}, expected {LEAST_SHEETS} to {MOST_SHEETS} sheets")
    return drawn(SIZES[paper], count)


def check_photo_extra() -> None:
    """See that what reads photographs is installed.

    Raises:
        PhotoError: it is not, and how to install it.
    """
    try:
        import cv2  # noqa: F401
    except ImportError as error:
        raise PhotoError(
            "photographs need OpenCV: install strapwright with its extra, pip install 'strapwright[photo]'"
        ) from error


def measure_photos(asked: PhotoAsked, *, within: float = MOST_SECONDS) -> PhotoHide:
    """Return a hide measured from photographs, in a process of its own, bounded in time and memory.

    Of several the surest is taken; the others check it, and fill in the edge where it is not seen well.

    Args:
        asked: the photographs, and what they are measured by.
        within: seconds each of them may take.

    Raises:
        PhotoError: it cannot be measured from; what is wrong, and what to do.
    """
    check_photo_extra()
    if not 1 <= len(asked.photos) <= MOST_PHOTOS:
        raise PhotoError(f"found {len(asked.photos)} photographs, expected 1 to {MOST_PHOTOS} of one hide")
    names = ", ".join(str(photo) for photo in asked.photos)
    within *= len(asked.photos)
    try:
        return in_bounds(_measured, asked, seconds=within, memory=MOST_MEMORY)
    except TimeoutError:
        said = f"took longer than {within:.0f} s, and was given up"
    except MemoryError:
        said = f"could not be read within {MOST_MEMORY / 2**30:.0f} GB of memory"
    raise PhotoError(f"{names}: {said}; make it smaller")


def _measured(asked: PhotoAsked) -> PhotoHide:
    from collections import Counter

    import numpy as np

    from strapwright.geometry.polygon import signed_area
    from strapwright.photo.hide_pictures import check_picture
    from strapwright.photo.hide_text import hide_text
    from strapwright.photo.measure import USUAL
    from strapwright.photo.photograph import read_photo
    from strapwright.photo.several import joined

    kinds = {colour: _kind(colour, kind) for colour, kind in asked.flaws.items()} or USUAL
    printed = _printed(asked.correct, asked.paper) if asked.correct else None
    each = [_one(photo, asked, kinds, printed) for photo in asked.photos]
    names = [photo.name for photo in asked.photos]
    first, found = joined(each, names)
    picture = read_photo(asked.photos[first])
    text = hide_text(
        found,
        name=asked.name,
        photo=names[first],
        thickness=asked.thickness,
        backbone=asked.backbone,
        printed=printed,
    )
    length, width = np.ptp(found.outline, axis=0)
    return PhotoHide(
        text,
        check_picture(picture, found),
        abs(signed_area(found.outline)),
        float(length),
        float(width),
        found.uncertainty,
        dict(Counter(str(flaw.kind) for flaw in found.flaws)),
        tuple(sorted(found.fit.sheets)),
        found.findings,
        found.tape,
        _flat(picture, found) if asked.flat else None,
    )


def _one(photo: Path, asked: PhotoAsked, kinds: Any, printed: tuple[float, float] | None) -> MeasuredHide:
    from strapwright.photo.mark_sheet import SIZES
    from strapwright.photo.measure import measure_hide
    from strapwright.photo.photograph import read_photo

    picture = read_photo(photo)
    try:
        return measure_hide(
            picture, SIZES[asked.paper], printed=printed, thickness=asked.thickness, kinds=kinds
        )
    except PhotoError as error:
        if len(asked.photos) == 1:
            raise
        raise PhotoError(f"{photo}: {error}") from error


def _flat(picture: Any, found: MeasuredHide) -> FlatPhoto:
    from strapwright.photo.hide_pictures import flat_picture

    content, scale, (x, y) = flat_picture(picture, found)
    return FlatPhoto(content, scale, x, y)


def _kind(colour: str, kind: str) -> Any:
    from strapwright.nesting.hide.types import FlawKind
    from strapwright.photo.flaws import COLOURS

    if colour not in COLOURS:
        raise PhotoError(f"--flaws: found the colour {colour!r}, expected one of {', '.join(COLOURS)}")
    try:
        return FlawKind(kind)
    except ValueError:
        raise PhotoError(f"--flaws: found {colour}={kind}, expected hole, void, mark or loose") from None


def _printed(text: str, paper: str) -> tuple[float, float]:
    from strapwright.write.pattern.paper_sizes import PAPERS, read_correction

    found = read_correction(text, PAPERS[paper])
    return 1 / found.short, 1 / found.long
