"""``strapwright measure``: a buckle by callipers, into a catalogue; a hide by a photograph, into its file."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from strapwright.cli.terminal.options import (
    argument,
    common_options,
    file_path,
    option,
    paper_option,
    path_option,
    takes,
    thickness_option,
)
from strapwright.cli.terminal.report import emit, length, print_findings, print_pairs, say, showing, written

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from strapwright.api import PhotoHide
    from strapwright.cli.terminal.options import Common
    from strapwright.job.measuring import Question


@click.group("measure", epilog="Example: strapwright measure buckle --catalogue catalogue.toml")
def command() -> None:
    """Measure a buckle with callipers, for your catalogue, or a hide from a photograph."""


class Options:
    """Where a buckle goes, and by what name."""

    catalogue: Path | None = path_option(
        "--catalogue",
        "FILE",
        "Your own catalogue; the buckle is appended, and all else in it stays as it is. Default: "
        "catalogue.toml here or in the shop this folder is in.",
    )
    name: str = option("--name", "The name jobs use for it; asked for if not given.", default="")


@command.command("buckle", epilog="Example: strapwright measure buckle --name brass-46")
@takes(Options)
def buckle(o: Options) -> None:
    """Ask for a buckle's measures, one at a time, and append it to a catalogue.

    Answer with lengths such as "44 mm" or "1 3/4 in"; a bare number is millimetres. "back" returns to
    the question before, "quit" stops and writes nothing.
    """
    from strapwright.core.errors import FileProblems
    from strapwright.job.catalogue.file import (
        CATALOGUE_NAME,
        append_buckle,
        buckle_names,
        own_catalogues,
        shop_folders,
    )
    from strapwright.job.measuring import check_name, entry_text

    here = Path("job.toml")  # where a job would find it
    catalogue = o.catalogue or (*own_catalogues(here), shop_folders(here)[-1] / CATALOGUE_NAME)[0]
    taken = buckle_names(catalogue)
    name = o.name
    if name:
        try:
            name = check_name(name, taken)
        except ValueError as error:
            raise FileProblems((f"--name: {error}",)) from error
    say(f"Measuring a buckle for {catalogue}. Answer in mm or in; you can type back or quit at any question.")
    answers = _answers(taken, name)
    if answers.get("confirm") != "yes":
        say("stopped; nothing was written", err=True)
        raise click.exceptions.Exit(1)
    name = name or answers["name"]
    append_buckle(catalogue, name, entry_text(name, answers))
    say(f'appended to {catalogue}; call it in a job with buckle = "{name}"')


def _answers(taken: Collection[str], name: str) -> Mapping[str, str]:
    """Ask until all is answered; where the person stops, the answers lack the confirmation."""
    from strapwright.job.measuring import answered, next_question

    answers: dict[str, str] = {}
    before: dict[str, str] = {}
    shown = ""
    number = 0
    while (question := next_question(answers, taken, name=name)) is not None:
        if shown != question.key:
            shown = question.key
            number = len(answers) + 1
            _show(question, number, answers, name)
        text = _typed(question, before.get(question.key) or question.default)
        if text is None or text.casefold() == "quit":
            return {}
        if text.casefold() == "back":
            if answers:
                key, before[key] = answers.popitem()
                shown = ""
            else:
                say("this is the first question; type quit to stop")
            continue
        try:
            answers = answered(answers, question, text or before.get(question.key, ""))
        except ValueError as error:
            say(f"{error}")
    return answers


def _show(question: Question, number: int, answers: Mapping[str, str], name: str) -> None:
    from strapwright.job.measuring import summary

    if question.key == "confirm":
        say("\n" + summary(name or answers["name"], answers))
        say(question.ask)
        return
    say(f"\n{number}. {question.ask}")
    if question.drawing:
        say(f"\n{question.drawing}", nl=False)
    if question.how:
        say(f"   {question.how}")


def _typed(question: Question, default: str) -> str | None:
    """Return what was typed, or None where there is nothing more to read."""
    prompt = f"{question.key}, {question.allowed}" + (f" [{default}]" if default else "")
    try:
        typed = str(click.prompt(prompt, default="", show_default=False)).strip()
    except click.Abort:
        say()
        return None
    if not sys.stdin.isatty():
        say()  # nobody pressed Enter on this screen
    return typed


class HideOptions:
    """The photographs of a hide, or the sheets to lay round it."""

    photos: tuple[Path, ...] = argument("[PHOTO]...", type=file_path(), nargs=-1)
    sheets: str = option(
        "--sheets",
        "Print the mark sheets on this paper instead, to the PDF that --out names.",
        type=click.Choice(["a4", "letter"]),
        default=None,
    )
    count: int = option("--count", "With --sheets: how many.", type=click.IntRange(8, 40), default=8)
    out: Path = path_option("--out", "FILE", "The hide file (.toml), or the sheets (.pdf).", required=True)
    paper: str = paper_option("The paper the mark sheets are printed on.")
    name: str = option("--name", "What you call the hide; default the name of the file.", default="")
    thickness: float | None = thickness_option("How thick the hide is, as callipered, such as 3.6mm or 9oz.")
    correct: str = option(
        "--correct",
        "From cross to cross on a printed sheet, what it should be and what you measured: 240:239.2, or "
        "short=160:159.6,long=240:239.2.",
        default="",
    )
    flaws: str = option(
        "--flaws",
        "What rings of chalk stand for; colours are blue, red, yellow, green, white.",
        default="blue=mark,red=void,yellow=loose",
        show_default=True,
    )
    backbone: str = option(
        "--backbone",
        "Which edge is the back, as the check picture shows the hide.",
        type=click.Choice(["bottom", "top", "left", "right"]),
        default=None,
    )
    picture: Path | None = path_option(
        "--picture", "FILE", "The photograph made flat, to check it by (.png)."
    )
    common: Common = common_options("units as_json force")


@command.command(
    "hide",
    epilog="Example: strapwright measure hide side-7.jpg --out hides/side-7.toml --thickness 3.6mm "
    "--correct 240:239.2 --backbone bottom --picture side-7.png",
)
@takes(HideOptions)
def hide(o: HideOptions) -> None:
    """Measure a hide from a PHOTO with printed mark sheets round it, and write its hide file.

    First print the sheets: strapwright measure hide --sheets a4 --out sheets.pdf. Lay them flat round the
    hide, some on it, ring its flaws in coloured chalk, and photograph all of it from above. Look at the
    check picture before you cut. Of several photographs the surest is taken; the others check it, fill in
    the edge where it is not seen well, and add the flaws only they show.
    """
    from strapwright import api

    if o.sheets:
        if o.photos:
            raise click.UsageError("--sheets prints the sheets; give PHOTO without it")
        _ends_in(o.out, ".pdf", "--out")
        api.write_whole({o.out: api.mark_sheets(o.sheets, o.count)}, force=o.common.force)
        emit(o.common, lambda: {"sheets": o.count, "files": [str(o.out)]}, lambda: written([o.out]))
        return
    if not o.photos:
        raise click.UsageError("give a PHOTO, or print the mark sheets first: --sheets a4 --out sheets.pdf")
    _ends_in(o.out, ".toml", "--out")
    files = [o.out]
    if o.picture is not None:
        _ends_in(o.picture, ".png", "--picture")
        files.append(o.picture)
    api.check_writable(files, force=o.common.force)
    flaws = dict(_pair(term) for term in o.flaws.split(",") if term.strip())
    asked = api.PhotoAsked(
        o.photos, o.paper, o.name or o.out.stem, o.thickness, o.backbone or "", o.correct, flaws
    )
    with showing(f"measuring {', '.join(photo.name for photo in o.photos)}"):
        best = api.measure_photos(asked)
    contents: dict[Path, str | bytes] = {o.out: best.text}
    if o.picture is not None:
        contents[o.picture] = best.picture
    api.write_whole(contents, force=o.common.force)
    emit(o.common, lambda: _hide_json(best, files), lambda: _hide_report(best, o.common, files))


def _ends_in(path: Path, ending: str, option: str) -> None:
    if path.suffix.lower() != ending:
        text = f'found "{path.suffix}", expected a file ending in {ending}'
        raise click.BadParameter(text, param_hint=option)


def _pair(term: str) -> tuple[str, str]:
    colour, sign, kind = term.strip().partition("=")
    if not sign:
        text = f"found {term.strip()!r}, expected colours and kinds, such as blue=mark,red=void"
        raise click.BadParameter(text, param_hint="--flaws")
    return colour.strip(), kind.strip()


def _hide_json(found: PhotoHide, files: list[Path]) -> dict[str, object]:
    return {
        "area_m2": round(found.area / 1e6, 4),
        "length_mm": round(found.length, 1),
        "width_mm": round(found.width, 1),
        "uncertainty_mm": round(found.uncertainty, 2),
        "flaws": dict(found.flaws),
        "sheets": list(found.sheets),
        "findings": [
            {"code": one.code, "severity": str(one.severity), "what": one.what} for one in found.findings
        ],
        "files": [str(path) for path in files],
        "version": 1,
    }


def _hide_report(found: PhotoHide, common: Common, files: list[Path]) -> None:
    units = common.units
    flaws = ", ".join(f"{count} {kind}" for kind, count in found.flaws.items())
    print_pairs(
        "The hide",
        [
            ("length", length(found.length, units)),
            ("width", length(found.width, units)),
            ("area", f"{found.area / 1e6:.3f} m²"),
            ("off by at most", f"{length(found.uncertainty, units)} on 95 of 100 points of the outline"),
            ("flaws", flaws or "none"),
            ("mark sheets", ", ".join(map(str, found.sheets))),
        ],
    )
    print_findings(found.findings, units=units)
    written(files)
    say(
        "Before you cut, look at the check picture, and measure with a tape between the two points of the "
        f"edge that lie furthest apart: {found.tape}."
    )
