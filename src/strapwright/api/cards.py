"""The bench card of a job and its bill, and the as-made record that keeps both with the job."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import date
    from pathlib import Path

    from strapwright.core.findings import Finding
    from strapwright.core.units import Units
    from strapwright.job.bill import Bill, Waste
    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.machine.profile.machine import Machine
    from strapwright.nesting.layout.types import Layout
    from strapwright.write.card.blocks import Card, Paper


@dataclass(frozen=True)
class BenchCard:
    """A job's bench card.

    Args:
        draft: what it is of.
        card: its content.
        bill: materials, minutes and price.
        font: a TrueType font of your own for the PDF; None takes the usual one.
        paper: it is printed on.
    """

    draft: Draft
    card: Card
    bill: Bill
    font: Path | None = None
    paper: Paper = "a4"

    def html(self) -> str:
        """Return it as one HTML file that needs nothing else."""
        from strapwright.write.card.html import card_html

        return card_html(self.card, self.paper)

    def pdf(self) -> bytes:
        """Return it as PDF."""
        from strapwright.write.card.pdf import card_pdf

        return card_pdf(self.card, self.font, self.paper)

    @property
    def lacking(self) -> tuple[str, ...]:
        """Letters of the card that the PDF's font lacks and that print as something else, each once."""
        from strapwright.drawing.text import font_of

        return font_of(self.font).lacking(self.card.text)

    @property
    def lacking_where(self) -> str:
        """The same with the words they stand in, for a message."""
        from strapwright.drawing.text import font_of

        return font_of(self.font).lacking_where(self.card.text)


def card(
    job: Job,
    *,
    drafted: Draft | None = None,
    layout: Layout | None = None,
    wastes: Mapping[str, Waste] | None = None,
    machine: Machine | None = None,
    machine_minutes: float | None = None,
    kerf: float | None = None,
    accept_fume_risk: bool = False,
    units: Units = "mm",
    brief: bool = False,
    font: Path | None = None,
    paper: Paper = "a4",
) -> BenchCard:
    """Return a job's bench card with its bill.

    Args:
        job: the job.
        drafted: its draft, where it has been made before; None drafts it.
        layout: where the parts lie, for the true waste and the picture; None assumes the house's waste.
        wastes: the true waste of parts that are cut from strips, by their ids; None where they are not.
        machine: what cuts, named with its cautions; None for work by hand.
        machine_minutes: how long it runs for the whole job; None has it calculated from the cut plan, where
            there are a layout and a machine.
        kerf: width of the cut given by hand for that plan, mm; None takes the measured one.
        accept_fume_risk: True where leather of doubtful tannage may be burnt here: your decision.
        units: of the lengths on it.
        brief: half a page a belt, without drawing and order of work.
        font: a TrueType font of your own for the PDF; None takes the usual one.
        paper: it is printed on, ``"a4"`` or ``"letter"``.

    Raises:
        PartError: belts that make no sound part.
        SafetyError: the machine's fumes could hurt someone.
    """
    from strapwright.job.bill import price
    from strapwright.job.draft import draft
    from strapwright.nesting.remnant import wastes_of
    from strapwright.rules.safety import check_fumes
    from strapwright.write.card.card import AtMachine, card_of

    drafted = drafted or draft(job)
    at = None
    if machine is not None:
        check_fumes((part.tannage for part in drafted.parts), machine.kind, accept_fume_risk)
        if machine_minutes is None:
            at = AtMachine(machine, *_machine_time(layout, machine, kerf, accept_fume_risk))
        else:
            at = AtMachine(machine, machine_minutes, "as given")
    bill = price(
        job,
        drafted,
        waste=wastes if layout is None else wastes_of(layout),
        by_machine=at is not None,
        machine_minutes=at.minutes if at else machine_minutes,
        machine_said=at.said if at else "as given",
    )
    made = card_of(
        drafted,
        bill,
        job.catalogue,
        machine=at,
        layout=layout,
        units=units,
        brief=brief,
        waste=job.price.waste,
        from_strips=bool(wastes),
    )
    return BenchCard(drafted, made, bill, font, paper)


def _machine_time(
    layout: Layout | None, machine: Machine, kerf: float | None, accept_fume_risk: bool
) -> tuple[float | None, str, tuple[Finding, ...]]:
    """Return how long a machine takes for a layout, in minutes, where that comes from, and what was noticed.

    Returns:
        None for the minutes, with the reason, where there is no layout or it cannot be planned.
    """
    from strapwright.core.errors import PlanError
    from strapwright.machine.duration import together
    from strapwright.machine.planning import plan

    if layout is None:
        return None, "without a layout there is no cut plan to calculate them from", ()
    try:
        made = plan(layout, machine, kerf=kerf, accept_fume_risk=accept_fume_risk)
    except PlanError as error:
        return None, f"no cut plan: {'; '.join(str(error).splitlines())}", ()
    time = together(made.durations)
    told = f"from the cut plan: {time.words}"
    if time.assumed:
        told += f"; assumed because the profile gives no figure: {', '.join(time.assumed)}"
    return time.total / 60, told, made.findings


def keep_record(
    shelf: Path,
    job_path: Path,
    job: Job,
    made: BenchCard,
    *,
    catalogue: Path | None = None,
    layout: Path | None = None,
    hides: Sequence[Path] = (),
    machine: str = "",
    today: date | None = None,
    beside: Mapping[Path, str | bytes] | None = None,
    force: bool = False,
    write: Callable[[Mapping[Path, str | bytes]], object] | None = None,
) -> Path:
    """Keep a job, what it was drafted with and what was made of it in a new folder; never over another.

    Args:
        shelf: the folder of all records; the job gets a folder in it, and each record one in that.
        job_path: the job's file, whose bytes are kept.
        job: as it was read from there.
        made: its card.
        catalogue: your own catalogue it was read with; None takes those beside the job and in
            its shop.
        layout: the layout's file, if there is one.
        hides: the files of its hides.
        machine: the machine's name or file; empty for none.
        today: the day it is kept under; None takes today.
        beside: files to write elsewhere together with it: all of them, or none.
        force: overwrite what stands in the place of those.
        write: writes the files with what else belongs to them, all or none; None writes them alone.

    Returns:
        The record's folder: drafting the job in it makes the same belts again.

    Raises:
        OutputError: the disk does not allow it.
    """
    import datetime

    from strapwright.files.atomic_write import file_safe, write_whole
    from strapwright.files.read import read_bytes
    from strapwright.write.as_made_record import INDEX, claimed_folder, record_index

    day = today or datetime.date.today()
    job_file = "job.csv" if job_path.suffix.lower() == ".csv" else "job.toml"
    contents = _inputs(job_path, job, catalogue, layout, machine)
    contents |= {job_file: read_bytes(job_path), **_made(job, made)}
    kept, hide_files = _kept_hides(hides)
    contents |= kept
    stem = file_safe(job.name or job_path.stem)
    with claimed_folder(shelf, stem, day, job.digest) as (folder, earlier):
        index = record_index(job.name, job_file, job.digest, day, contents, earlier, hide_files)
        record = {folder / name: content for name, content in {**contents, INDEX: index.encode()}.items()}
        unmarked = [path for path in beside or {} if path.suffix.lower() == ".csv"]
        files = {**(beside or {}), **record}
        if write is not None:
            write(files)
        else:
            write_whole(files, unmarked=unmarked, force=force)
    return folder


def _made(job: Job, made: BenchCard) -> dict[str, bytes]:
    """Return what was made of a job, by file name, and the catalogue it was made with."""
    import json

    from strapwright.drawing.belt.job_drawing import drawing
    from strapwright.drawing.svg import svg
    from strapwright.job.spec.job import catalogue_text, house_text

    return {
        "catalogue.toml": catalogue_text(job).encode(),
        "house.toml": house_text(job).encode(),
        "card.html": made.html().encode(),
        "card.pdf": made.pdf(),
        "bill.csv": made.bill.csv().encode(),
        "drawing.svg": svg(drawing(made.draft)).encode(),
        "draft.json": (json.dumps(made.draft.as_json(), indent=1, ensure_ascii=False) + "\n").encode(),
    }


def _inputs(
    job_path: Path, job: Job, catalogue: Path | None, layout: Path | None, machine: str
) -> dict[str, bytes]:
    """Return the other files the job was made from, by the name they are kept under."""
    from strapwright.core.errors import OutputError
    from strapwright.files.read import read_bytes
    from strapwright.job.catalogue.file import own_catalogues

    found: dict[str, bytes] = {}
    for number, own in enumerate((catalogue,) if catalogue else own_catalogues(job_path), 1):
        found[f"catalogue-as-given{f'-{number}' if number > 1 else ''}.toml"] = read_bytes(own)
    if job.shared_file:
        shared = PurePath(job.shared_file)
        if shared.is_absolute() or ".." in shared.parts:
            raise OutputError(
                f"{job.shared_file}: outside the CSV file's folder; move it there to keep a record"
            )
        found[job.shared_file] = read_bytes(job_path.parent / job.shared_file)
    found |= {name: source.encode() for name, source in job.sketches.items()} | job.drawings
    if layout is not None:
        found["layout.json"] = read_bytes(layout)
    if machine:
        from strapwright.machine.profile.machine import profile_text

        found["machine.toml"] = profile_text(machine).encode()
    return found


def _kept_hides(hides: Sequence[Path]) -> tuple[dict[str, bytes], list[str]]:
    """Return the files of hides by the name they are kept under, and which of them are the hides, in order.

    A hide's file keeps its bytes, so that a layout made for it stays true, and what it names lies where it
    looks for it. Where that is above its own folder, it is kept as many folders down; where files of two
    hides would be one, the second's lie in a folder of their own.

    Raises:
        OutputError: a hide's file names another by its whole path, which a record cannot keep.
    """
    from strapwright.files.read import read_bytes

    kept: dict[str, bytes] = {}
    names: list[str] = []
    for number, hide in enumerate(hides, 1):
        beside = _named_by(hide)
        up = max((PurePath(name).parts.count("..") for name in beside), default=0)
        mine = {_within("/".join(["hide"] * up + [hide.name])): read_bytes(hide)}
        mine |= {_within("/".join(["hide"] * up + [name])): content for name, content in beside.items()}
        taken = {name.casefold(): content for name, content in kept.items()}
        clash = any(
            taken.get(f"hides/{name}".casefold(), content) != content for name, content in mine.items()
        )
        folder = f"hides/{number}" if clash else "hides"
        kept |= {f"{folder}/{name}": content for name, content in mine.items()}
        names.append(f"{folder}/{next(iter(mine))}")
    return kept, names


def _within(name: str) -> str:
    """Return a path without its steps up, which lead nowhere out of the folder it starts in."""
    plain = PurePath(os.path.normpath(name)).as_posix()
    assert not plain.startswith(("..", "/"))
    return plain


def _named_by(hide: Path) -> dict[str, bytes]:
    """Return the drawing or the stations a hide's TOML file names, by the path it names them by."""
    from strapwright.core.errors import OutputError
    from strapwright.files.read import read_bytes
    from strapwright.nesting.hide.file import files_named

    if hide.suffix.lower() != ".toml":
        return {}
    found: dict[str, bytes] = {}
    for key, name in files_named(hide).items():
        if PurePath(name).is_absolute() or PurePath(name).drive:
            raise OutputError(
                f'{hide}: hide.{key}: found the whole path "{name}", which a record cannot keep; put that '
                "file beside the hide's and name it without a folder"
            )
        found[os.path.normpath(name)] = read_bytes(hide.parent / name)
    return found
