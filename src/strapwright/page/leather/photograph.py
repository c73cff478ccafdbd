"""A hide measured from a photograph on the page: what the form says, what was found until it is saved."""

from __future__ import annotations

import re
import tempfile
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import PaperError, PhotoError, UnitError
from strapwright.core.units import format_length, parse_length
from strapwright.drawing.layout.hide_thumbnails import length_text
from strapwright.files.atomic_write import file_safe
from strapwright.files.fields import Measure
from strapwright.files.read import toml_tables
from strapwright.nesting.hide.backbone import EDGES
from strapwright.page.leather.picture import ShortStore
from strapwright.page.sheet.shop import digest_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from strapwright.api import FlatPhoto, PhotoAsked, PhotoHide
    from strapwright.core.units import Units

PAPERS: Final = {"a4": "A4", "letter": "letter"}
"""Papers the mark sheets are printed on, and what they are called."""

BACKS: Final = (("", "not said: tap it afterwards"), *((edge, f"the {edge} edge") for edge in EDGES))
"""Which edge is the back, as the photograph shows the hide with its long side across."""

KINDS: Final = (("mark", "a mark: scar or brand"), ("hole", "a hole or cut"), ("loose", "loose leather"))
"""What a colour of chalk may stand for."""

_HELD: Final = 4
_GONE: Final = "this measured hide is no longer at hand; measure the photograph again"
_LONGEST: Final = 80
"""Letters in the name of a hide."""

_PHOTO: Final = "photo"
_OPTION: Final = re.compile(r", such as --flaws \S+")
_SAID: Final = {
    "photo-scale": "Measure from cross to cross on a sheet, type it on the page before, and measure anew.",
    "photo-thickness": "Calliper it, type it on the page before, and measure anew.",
}
"""What to do about a finding, where the command names an option."""


@dataclass(frozen=True)
class Photograph:
    """A photograph that a hide was measured from, as it is held for the page.

    Args:
        name: of its file.
        found: the hide.
        flat: the hide made flat.
        digest: what it is asked for by.
    """

    name: str
    found: PhotoHide
    flat: FlatPhoto
    digest: str

    @property
    def tables(self) -> dict[str, Any]:
        """The tables of the hide's file."""
        return toml_tables(self.found.text, Path(self.name))

    @property
    def place(self) -> dict[str, float]:
        """Where the picture lies below the hide, and its scale."""
        return {"mm_per_pixel": self.flat.mm_per_pixel, "x": self.flat.x, "y": self.flat.y}

    def size_in(self, units: Units) -> str:
        """Return how large the hide is, and how far off its edge may be, in a sentence."""
        inches = units == "in"
        length, width = (length_text(one, inches) for one in (self.found.length, self.found.width))
        off = (
            format_length(self.found.uncertainty, units, 64) if inches else f"{self.found.uncertainty:.1f} mm"
        )
        return f"{length} by {width}; 95 of 100 points of its edge are off by {off} at most."

    def said_in(self, units: Units) -> list[tuple[str, str, str]]:
        """Return what to know of it: how much it matters, what was seen, what to do."""
        return [
            (str(one.severity), one.what, _SAID.get(one.code, one.do))
            for one in (finding.in_units(units) for finding in self.found.findings)
            if one.code != "photo-edge"  # said of the hide's file as well
        ]


class Photographs:
    """Measures photographs one after the other, and holds what was found in the last ones."""

    def __init__(self) -> None:
        self._held: ShortStore[Photograph] = ShortStore(_HELD, _GONE)
        self._lock = threading.Lock()

    def measure(self, form: Mapping[str, str], name: str, content: bytes) -> tuple[str, dict[str, str]]:
        """Return what the hide of a photograph is held under, or what is wrong by field.

        Args:
            form: what it is measured by, as text.
            name: of the photograph's file, as its sender calls it.
            content: of the file.
        """
        from strapwright import api

        mistakes = dict(_mistakes(form))
        if not content:
            mistakes[_PHOTO] = "choose a photograph"
        if mistakes:
            return "", mistakes
        with tempfile.TemporaryDirectory() as folder, self._lock:
            path = Path(folder) / _file_name(name)
            path.write_bytes(content)
            try:
                found = api.measure_photos(_asked(form, path))
            except PhotoError as error:
                words = _OPTION.sub(" below", str(error).replace(str(path), path.name))
                return "", {_PHOTO: words}
            assert found.flat is not None
            one = Photograph(path.name, found, found.flat, digest_of(found.text.encode()))
        return self._held.hold(one.digest, one), {}

    def get(self, digest: str) -> Photograph:
        """Return a measured photograph.

        Raises:
            FileProblems: it is no longer there.
        """
        return self._held.get(digest)


def chalks() -> tuple[tuple[str, str], ...]:
    """Return the colours of chalk that are told apart, and what each usually stands for."""
    from strapwright.photo.flaws import COLOURS
    from strapwright.photo.measure import USUAL

    return tuple((colour, str(USUAL.get(colour, ""))) for colour in COLOURS)


def crosses(paper: str) -> tuple[float, float]:
    """Return how far apart the crosses of a sheet should be, across and along, mm."""
    from strapwright.photo.mark_sheet import SIZES

    return SIZES[paper].across, SIZES[paper].along


def _mistakes(form: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Yield what cannot be read in a form, by field."""
    if len(_name(form)) > _LONGEST:
        yield "name", f"found {len(_name(form))} letters, expected {_LONGEST} or fewer"
    if thickness := _thickness(form):
        try:
            Measure("thickness", least=0.0, above=True).read(thickness)
        except ValueError as error:
            yield "thickness", str(error)
    for key, choices in (("paper", PAPERS), ("backbone", dict(BACKS))):
        if form.get(key, "") not in choices:
            yield key, f"found {form.get(key, '')!r}, expected one of {', '.join(filter(None, choices))}"
    kinds = ("", *(kind for kind, _ in KINDS))
    for colour, _ in chalks():
        if form.get(colour, "") not in kinds:
            yield colour, f"found {form[colour]!r}, expected {', '.join(kinds[1:])}"
    if form.get("paper", "") in PAPERS:
        for key, asked in zip(("across", "along"), crosses(form["paper"]), strict=True):
            if wrong := _not_measured(form.get(key, "").strip(), asked, form["paper"]):
                yield key, wrong


def _not_measured(text: str, asked: float, paper: str) -> str:
    """Return what is wrong with a length measured from cross to cross; nothing where none is."""
    from strapwright.write.pattern.paper_sizes import PAPERS as SIZES, read_correction

    if not text:
        return ""
    try:
        if parse_length(text) <= 0:
            return f"found {text}, expected a length of more than 0 mm"
        read_correction(f"{asked:g}:{text}", SIZES[paper])
    except (UnitError, PaperError) as error:
        return str(error).removeprefix("correct: ")
    return ""


def _asked(form: Mapping[str, str], photo: Path) -> PhotoAsked:
    """Return what a photograph is measured by, of a form with no mistakes."""
    from strapwright import api

    thickness = _thickness(form)
    chosen = {colour: form[colour] for colour, _ in chalks() if form.get(colour)}
    return api.PhotoAsked(
        (photo,),
        form["paper"],
        _name(form) or photo.stem,
        Measure("thickness").read(thickness) if thickness else None,
        form.get("backbone", ""),
        _correct(form),
        chosen,
        flat=True,
    )


def _name(form: Mapping[str, str]) -> str:
    return " ".join(form.get("name", "").split())


def _thickness(form: Mapping[str, str]) -> str:
    text = form.get("thickness", "").strip()
    return f"{text} mm" if text[-1:].isdigit() else text


def _correct(form: Mapping[str, str]) -> str:
    """Return what was measured from cross to cross, as the command takes it; one alone counts for both."""
    lengths = [
        (way, f"{asked:g}:{form[key].strip()}")
        for (key, way), asked in zip(
            (("across", "short"), ("along", "long")), crosses(form["paper"]), strict=True
        )
        if form.get(key, "").strip()
    ]
    return lengths[0][1] if len(lengths) == 1 else ",".join(f"{way}={ratio}" for way, ratio in lengths)


def _file_name(sent: str) -> str:
    """Return a photograph's name, as that of a file here."""
    path = Path(sent.replace("\\", "/").rpartition("/")[2])
    ending = path.suffix if re.fullmatch(r"\.[A-Za-z0-9]{1,5}", path.suffix) else ""
    return file_safe(path.stem, "photograph") + ending
