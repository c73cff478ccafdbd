"""Finished belts written down: what was measured on them beside what was drafted, and what to change.

The miss of a girth is what the tape read less what was drafted at that hole. A belt's miss is the mean of its
own, for holes of one belt miss together. The mean of n belts of one buckle, s their standard deviation, is
known to ± t s / √n, with Student's t for 95 % and n − 1 degrees of freedom.

A girth follows G = s − B/2 − π t + f − u − allowance, so a hole seat f greater by the mean miss, or an
allowance less by it, removes it. B, and with it neutral axis and fold play, moves all girths of one thickness
alike: they cannot be told from f, nor from each other, and no advice is given on them.
"""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import dataclass
from datetime import date
from statistics import fmean, stdev
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import Field

from strapwright.core.errors import FileProblems
from strapwright.core.text import first_few
from strapwright.core.units import format_length
from strapwright.files.atomic_write import file_safe, write_whole
from strapwright.files.fields import Count, Day, Length, PositiveLength
from strapwright.files.read import TOML_LIMIT_MB, read_text, toml_tables
from strapwright.files.toml_rows import with_rows_added
from strapwright.files.validate import Strict, validate
from strapwright.job.catalogue.file import shop_folders
from strapwright.job.spec.house import LARGEST_ALLOWANCE

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from strapwright.job.draft import Draft
    from strapwright.job.strap_draft import BeltDraft

TAPE: Final = 2.0
"""A tape round a belt is read to ± 2 mm (common practice): a mean miss of no more is no reason to change."""

LEAST_BELTS: Final = 3
"""Belts of one buckle from which on their mean is given: two say hardly how far a third may lie off."""

MOST_MISS: Final = 50.0
"""A girth further off, mm, two usual hole spacings, is another hole's or in another unit."""

MOST_GAP: Final = 10.0
"""A gap beside a post, or a slot's miss, beyond this, mm, is misread."""

LEAST_SEAT: Final = 1.0
"""Least hole seat a buckle may have, mm."""

_HEAD: Final = "# Measured on finished belts, beside what was drafted. Rows are added, none is changed.\n"

_KINDS: Final = ("girth", "slot", "post_gap")

_DRAFTED: Final = (
    "thickness_mm", "blank_length_mm", "hole_centres_mm", "hole_length_mm", "slot_mm", "turn_back_mm",
    "fastener_centres_mm", "hole_seat_mm", "girth_mm",
)  # fmt: skip
"""What of a drafted belt must be the same for a finished one to be of that draft."""

STUDENT_95: Final = (
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228,
    2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086,
    2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042,
)  # fmt: skip
"""Student's t that 95 % lie within, both ways, for 1 to 30 degrees of freedom.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, column 0.975, from memory; a test holds
them against SciPy. For more degrees of freedom that of 30 is taken, at most 5 % too wide.
"""


class FitRow(Strict):
    """One measure of a finished belt."""

    job: str
    """The job's name."""
    belt: str
    """The belt's id."""
    number: Annotated[Count, Field(ge=1)] = 1
    """Which of several alike."""
    draft: str
    """Digest of what was drafted for this belt."""
    measured: Annotated[date, Day]
    """The day it was measured."""
    buckle: str
    """The buckle's name in the catalogue, or its measures."""
    leather: str
    """The leather's name in the catalogue, or its tannage."""
    thickness: PositiveLength
    """Of all layers at the edges."""
    hole_seat: PositiveLength
    """Where the hole bears, as it was drafted with."""
    hole_seat_measured: bool = False
    """Whether that was measured on the buckle; else it is an estimate."""
    hole_seat_most: PositiveLength | None = None
    """The buckle's frame depth, beyond which no hole can bear; none for a hook."""
    girth_allowance: Length = 0.0
    """The house's, as it was drafted with."""
    drafted: Length
    """As drafted."""
    finished: Length
    """As measured on the finished belt."""

    @property
    def what(self) -> str:
        """What was measured, in words."""
        return "slot"

    @property
    def miss(self) -> float:
        """Measured less drafted, mm."""
        return self.finished - self.drafted

    @property
    def one_belt(self) -> tuple[str, str, int, str]:
        """What distinguishes the finished belt from every other."""
        return self.job, self.belt, self.number, self.draft


class GirthRow(FitRow):
    """A girth at a hole, taped as the job file's ``girth`` is, or round the closed belt's inside."""

    hole: Annotated[Count, Field(ge=1, le=15)]
    """The hole it was closed at, 1 = nearest the buckle."""

    @property
    def what(self) -> str:
        """What was measured, in words."""
        return f"girth at hole {self.hole}"


class PostGapRow(FitRow):
    """How far front and turn-back are held apart beside a post."""

    row: Literal["A", "B", "C"]
    """The post's row, A nearest the buckle."""

    @property
    def what(self) -> str:
        """What was measured, in words."""
        return f"gap at post {self.row}"


class FitFile(Strict):
    """All that was measured on finished belts: ``records/fit.toml`` of a shop."""

    girth: tuple[GirthRow, ...] = ()
    """Girths at a hole."""
    slot: tuple[FitRow, ...] = ()
    """Lengths of the prong slot."""
    post_gap: tuple[PostGapRow, ...] = ()
    """Gaps beside a post."""

    @property
    def rows(self) -> tuple[FitRow, ...]:
        """All of them: girths, slots, gaps."""
        return (*self.girth, *self.slot, *self.post_gap)


@dataclass(frozen=True)
class Finished:
    """What was measured on one finished belt; lengths in mm.

    Args:
        girths: by hole, 1 = nearest the buckle.
        slot: length of the prong slot; None where it was not measured.
        post_gaps: by the post's row, A, B or C.
        number: which of several belts alike.
        day: it was measured on; None is today.
        remade: it is a new belt, made since the job changed.
    """

    girths: tuple[tuple[int, float], ...] = ()
    slot: float | None = None
    post_gaps: tuple[tuple[str, float], ...] = ()
    number: int = 1
    day: date | None = None
    remade: bool = False


def fit_file(job: Path) -> Path:
    """Return where a job's finished belts are written down: ``records/fit.toml`` in its shop or folder."""
    return shop_folders(job)[-1] / "records" / "fit.toml"


def read_fit(path: Path) -> FitFile:
    """Read what was measured on finished belts; nothing where the file is not there.

    Raises:
        FileProblems: it cannot be read, or every mistake in it.
    """
    return _validated(_text(path), path)


def record_fit(path: Path, drafted: Draft, belt: str, finished: Finished) -> tuple[FitRow, ...]:
    """Append what was measured on a finished belt to the records, whole or not at all.

    Args:
        path: of the records.
        drafted: the job as the belt was made from it.
        belt: its id.
        finished: what was measured on it.

    Returns:
        The rows that were added.

    Raises:
        FileProblems: no such belt, a measure that cannot be, or a job changed since, a line each; records
            with mistakes.
        OutputError: they cannot be written.
    """
    text = _text(path)
    before = _validated(text, path)
    rows = rows_to_record(drafted, belt, finished, before, _as_made(path.parent, drafted.name, belt))
    tables, new_text = with_rows_added(text or _HEAD, rows, str(path), _KINDS)
    after = validate(FitFile, tables, str(path))
    # Only rows are added to what stands there, and a file that is no such record was refused above.
    write_whole({path: new_text}, force=True)
    return tuple(row for kind in _KINDS for row in getattr(after, kind)[len(getattr(before, kind)) :])


def rows_to_record(
    drafted: Draft, belt: str, finished: Finished, before: FitFile, as_made: frozenset[str] = frozenset()
) -> tuple[tuple[str, Mapping[str, object]], ...]:
    """Return what was measured on a finished belt beside what was drafted, as rows for the records.

    Args:
        drafted: the job as the belt was made from it.
        belt: its id.
        finished: what was measured on it.
        before: the records as they stand.
        as_made: digests of the drafts that as-made records hold of this belt; empty for none.

    Raises:
        FileProblems: no such belt, a measure that cannot be, or a job changed since, a line each.
    """
    found = next((one for one in drafted.belts if one.id == belt), None)
    if found is None:
        ids = first_few([one.id for one in drafted.belts], 8) or "no belt"
        raise FileProblems((f'--belt: found no belt "{belt}" in {drafted.name}, expected one of: {ids}',))
    today = date.today()
    day = finished.day or today
    digest = draft_digest(found.as_json())
    problems = [*_impossible(found, finished)]
    if day > today:
        problems.append(f"--date {day}: expected today, {today}, or a day before it")
    if not finished.remade:
        problems += _changed(found, finished, digest, drafted.name, before, as_made)
    if problems:
        raise FileProblems(tuple(problems))
    buckle, seat = found.buckle, found.figures.seat
    about: dict[str, object] = {
        "job": drafted.name,
        "belt": belt,
        "number": finished.number,
        "draft": digest,
        "measured": day,
        "buckle": buckle.name or f"{found.width:g} mm, frame {buckle.frame_depth:g} mm deep",
        "leather": found.leather.of or str(found.leather.tannage),
        "thickness": _mm(found.thickness),
        "hole_seat": _mm(seat.hole_seat),
        "hole_seat_measured": buckle.seat_is_measured,
    }
    if buckle.prongs:
        about["hole_seat_most"] = _mm(buckle.frame_depth)
    if seat.allowance:
        about["girth_allowance"] = _mm(seat.allowance)

    def row(kind: str, place: Mapping[str, object], drafted_mm: float, finished_mm: float) -> Any:
        return kind, {**about, **place, "drafted": _mm(drafted_mm), "finished": _mm(finished_mm)}

    got = found.figures
    rows = [row("girth", {"hole": hole}, got.girth_at(hole), read) for hole, read in finished.girths]
    if finished.slot is not None:
        rows.append(row("slot", {}, got.end.slot[0], finished.slot))
    rows += [
        row("post_gap", {"row": name}, got.end.gaps["ABC".index(name)], read)
        for name, read in finished.post_gaps
    ]
    return tuple(rows)


def draft_digest(belt: Mapping[str, Any]) -> str:
    """Return the digest of what was drafted for a belt.

    Args:
        belt: its numbers, as a draft's JSON has them.
    """
    return hashlib.sha256(json.dumps([belt.get(key) for key in _DRAFTED]).encode()).hexdigest()[:12]


def _impossible(belt: BeltDraft, finished: Finished) -> Iterator[str]:
    """Yield every measure this belt cannot have."""
    holes, end = belt.strap.holes.count, belt.figures.end
    if not (finished.girths or finished.slot is not None or finished.post_gaps):
        yield "nothing was measured: give --girth, --slot or --post-gap"
    if not 1 <= finished.number <= belt.quantity:
        yield f"--number {finished.number}: expected 1 to {belt.quantity}, as many as are made of {belt.id}"
    for hole, girth in finished.girths:
        if not 1 <= hole <= holes:
            yield f"--girth: found hole {hole}, expected 1 to {holes}, 1 nearest the buckle"
        elif abs(girth - (drafted := belt.figures.girth_at(hole))) > MOST_MISS:
            check = "; check the unit, and count the holes from the buckle"
            yield f"--girth {hole}: {_too_far(girth, MOST_MISS, drafted)}{check}"
    if finished.slot is not None:
        if not end.slot[0]:
            yield "--slot: this belt has no prong slot"
        elif abs(finished.slot - end.slot[0]) > MOST_GAP:
            yield f"--slot: {_too_far(finished.slot, MOST_GAP, end.slot[0])}"
    rows = "ABC"[: len(end.gaps)]
    for name, gap in finished.post_gaps:
        if name not in list(rows):
            yield f"--post-gap: found row {name}, expected {', '.join(rows) or 'none: this end is stitched'}"
        elif not 0 <= gap <= MOST_GAP:
            yield f"--post-gap {name}: found {format_length(gap)}, expected 0 to {MOST_GAP:g} mm"


def _too_far(found: float, most: float, drafted: float) -> str:
    near = f"within {most:g} mm of the {format_length(round(drafted, 1))} drafted"
    return f"found {format_length(found)}, expected {near}"


def _changed(
    belt: BeltDraft, finished: Finished, digest: str, job: str, before: FitFile, as_made: frozenset[str]
) -> Iterator[str]:
    """Yield what shows that the belt was made from another draft than this one."""
    remedy = "give the job as it was when the belt was made, or --remade for a belt made from it as it is now"
    earlier = [
        row for row in before.rows if (row.job, row.belt, row.number) == (job, belt.id, finished.number)
    ]
    if earlier and earlier[-1].draft != digest:
        yield f"{belt.id}: its draft has changed since it was measured on {earlier[-1].measured}; {remedy}"
    elif as_made and digest not in as_made:
        yield f"{belt.id}: its draft has changed since its as-made record was kept; {remedy}"


def _as_made(shelf: Path, job: str, belt: str) -> frozenset[str]:
    """Return the digests of the drafts of a belt that as-made records on a shelf hold."""
    found = set()
    for path in shelf.glob(f"{file_safe(job)}/*/draft.json"):
        try:
            made = json.loads(read_text(path, limit_mb=TOML_LIMIT_MB))
            found |= {draft_digest(one) for one in made["belts"] if one["id"] == belt}
        except (FileProblems, ValueError, LookupError, TypeError):
            continue  # no record of ours, or a broken one: it shows nothing
    return frozenset(found)


def _text(path: Path) -> str:
    return read_text(path, limit_mb=TOML_LIMIT_MB) if path.exists() else ""


def _validated(text: str, path: Path) -> FitFile:
    return validate(FitFile, toml_tables(text, path), str(path))


def _mm(value: float) -> str:
    return f"{round(value, 2) + 0.0:.7g} mm"


@dataclass(frozen=True)
class Mean:
    """The mean of several misses.

    Args:
        value: mm.
        half: how far the true one may lie off it, with 95 %, mm either way.
        count: of belts.
    """

    value: float
    half: float
    count: int

    @property
    def low(self) -> float:
        """The least the true mean may be."""
        return self.value - self.half

    @property
    def high(self) -> float:
        """The greatest it may be."""
        return self.value + self.half


def mean_of(values: Sequence[float]) -> Mean | None:
    """Return the mean of belts' misses with its uncertainty; None for fewer than three.

    Example:
        >>> mean = mean_of([5.0, 6.0, 7.0])
        >>> mean.value, round(mean.half, 2)
        (6.0, 2.48)
    """
    count = len(values)
    if count < LEAST_BELTS:
        return None
    student = STUDENT_95[min(count - 1, len(STUDENT_95)) - 1]
    return Mean(fmean(values), student * stdev(values) / math.sqrt(count), count)


@dataclass(frozen=True)
class BeltMiss:
    """How far one finished belt's girths are off.

    Args:
        rows: its girths.
    """

    rows: tuple[GirthRow, ...]

    @property
    def miss(self) -> float:
        """Mean of its girths' misses, mm."""
        return fmean(row.miss for row in self.rows)


@dataclass(frozen=True)
class Advice:
    """The one setting that would remove a mean miss.

    Args:
        setting: its key.
        value: to write, mm.
        place: the file and table it stands in, in words.
        why: this one rather than another, a sentence.
    """

    setting: Literal["hole_seat", "girth_allowance"]
    value: float
    place: str
    why: str


Verdict = Literal["few", "tape", "unsure", "off", "replaced"]
"""Too few belts; no more than a tape's misreading; perhaps none; a miss; drafted with older settings."""


@dataclass(frozen=True)
class BuckleFit:
    """How belts of one buckle came out that were drafted with the same settings.

    Args:
        belts: in the order they were first measured.
        mean: of their misses; None for fewer than three.
        verdict: what it comes to.
        advice: what would remove it; None where nothing should be changed.
    """

    belts: tuple[BeltMiss, ...]
    mean: Mean | None
    verdict: Verdict
    advice: Advice | None = None

    @property
    def drafted_with(self) -> GirthRow:
        """A row of it: buckle and settings are the same in all."""
        return self.belts[0].rows[0]

    @property
    def thicknesses(self) -> tuple[float, ...]:
        """Of its belts, each once, mm."""
        return tuple(sorted({row.thickness for belt in self.belts for row in belt.rows}))


def fits_of(file: FitFile) -> tuple[BuckleFit, ...]:
    """Return how the finished belts of each buckle came out, with what to change where that is sure.

    Belts drafted with another hole seat or allowance than the buckle's latest are not advised on.

    Args:
        file: as it was read.
    """
    latest = {row.buckle: _settings(row) for row in file.girth}
    groups: dict[tuple[Any, ...], dict[tuple[Any, ...], list[GirthRow]]] = {}
    for row in file.girth:
        groups.setdefault((row.buckle, *_settings(row)), {}).setdefault(row.one_belt, []).append(row)
    fits = []
    for group in groups.values():
        belts = tuple(BeltMiss(tuple(rows)) for rows in group.values())
        mean, one = mean_of([belt.miss for belt in belts]), belts[0].rows[0]
        fits.append(BuckleFit(belts, mean, _verdict(mean, current=latest[one.buckle] == _settings(one))))
    return tuple(_advised(fit, fits) for fit in fits)


def _settings(row: GirthRow) -> tuple[float, float]:
    return row.hole_seat, row.girth_allowance


def _verdict(mean: Mean | None, *, current: bool) -> Verdict:
    if not current:
        return "replaced"
    if mean is None:
        return "few"
    if abs(mean.value) <= TAPE:
        return "tape"
    return "off" if mean.low * mean.high > 0 else "unsure"


def _advised(fit: BuckleFit, fits: Sequence[BuckleFit]) -> BuckleFit:
    """Return a buckle's fit with what would remove its mean miss."""
    if fit.verdict != "off":
        return fit
    assert fit.mean is not None
    known = [(one, one.mean) for one in fits if one.mean is not None and one.verdict != "replaced"]
    one = fit.drafted_with
    alike = (
        all(other.verdict == "off" for other, _ in known)
        and len({other.drafted_with.girth_allowance for other, _ in known}) == 1
        and max(mean.low for _, mean in known) <= min(mean.high for _, mean in known)
    )
    seat = round(one.hole_seat + fit.mean.value, 1)
    cannot = f"A hole seat of {seat:.1f} mm cannot be in this frame."
    seat_may_be = LEAST_SEAT <= seat <= (one.hole_seat_most or math.inf)
    if len(known) > 1 and alike:
        miss = fmean(belt.miss for group, _ in known for belt in group.belts)
        why = f"Belts of {len(known)} buckles are off alike, so it is not one buckle's seat."
        advice = _allowance(one.girth_allowance - miss, why)
    elif len(known) > 1 and seat_may_be:
        advice = _seat(one, seat, "Belts of other buckles are not off alike, so it is this buckle's.")
    elif seat_may_be and not one.hole_seat_measured:
        advice = _seat(one, seat, "Its hole seat is an estimate so far; measure the buckle too, if you can.")
    elif len(known) > 1:
        why = (
            f"{cannot} Belts of other buckles are not off alike, and the allowance moves them too: look for "
        )
        why += "another cause first."
        advice = _allowance(one.girth_allowance - fit.mean.value, why)
    else:
        why = "Its hole seat was measured." if seat_may_be else cannot
        why += " The allowance holds for all buckles: measure belts of another one too."
        advice = _allowance(one.girth_allowance - fit.mean.value, why)
    return BuckleFit(fit.belts, fit.mean, fit.verdict, advice)


def _seat(one: GirthRow, value: float, why: str) -> Advice:
    place = f"the table of buckle {one.buckle}, in catalogue.toml or in the job"
    return Advice("hole_seat", value, place, why)


def _allowance(value: float, why: str) -> Advice | None:
    if abs(value) > LARGEST_ALLOWANCE:
        return None
    return Advice("girth_allowance", round(value, 1), "[house] of house.toml, or of the job", why)


UNTOLD: Final = (
    "A neutral axis or a fold play that is off moves all girths of one thickness as well: these measures "
    "cannot tell them apart, nor from the hole seat. They say what removes the miss, not what causes it."
)
"""What is said under every advice."""


def fit_words(fit: BuckleFit) -> str:
    """Return what belts of a buckle come to, in a sentence or a few."""
    mean, count = fit.mean, len(fit.belts)
    many = f"{count} belt{'s' if count > 1 else ''}"
    if fit.verdict == "replaced":
        return f"{many}, drafted with settings that were changed since; not counted any more."
    if mean is None:
        return f"{many}; the mean miss is given from {LEAST_BELTS} on."
    value = f"{mean.value:+.1f}".replace("-", "−")
    said = f"{many}, mean miss {value} mm, ± {mean.half:.1f} mm with 95 %"
    if fit.verdict == "tape":
        return f"{said}: no more than a tape's ± {TAPE:g} mm; leave the settings."
    if fit.verdict == "unsure":
        return f"{said}: it may as well be none; measure more belts before you change anything."
    if fit.advice is None:
        return f"{said}: more than any setting allows for; check the buckle, the job and the tape."
    advice = fit.advice
    return f'{said}. {advice.setting} = "{advice.value:g} mm" in {advice.place} removes it. {advice.why}'
