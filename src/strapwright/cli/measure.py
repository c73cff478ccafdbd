"""``strapwright measure``: asks for what to measure, and adds the entry to a catalogue."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from strapwright.cli.terminal.options import option, path_option, takes
from strapwright.cli.terminal.report import say

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from strapwright.job.measuring.questions import Question


@click.group("measure", epilog="Example: strapwright measure buckle --catalogue catalogue.toml")
def command() -> None:
    """Ask for what to measure with callipers, and add it to your catalogue."""


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
    from strapwright.job.measuring.entry import entry_text
    from strapwright.job.measuring.questions import check_name

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
    from strapwright.job.measuring.entry import answered, next_question

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
    from strapwright.job.measuring.drawings import DRAWINGS
    from strapwright.job.measuring.entry import summary

    if question.key == "confirm":
        say("\n" + summary(name or answers["name"], answers))
        say(question.ask)
        return
    say(f"\n{number}. {question.ask}")
    if question.key in DRAWINGS:
        say(DRAWINGS[question.key].rstrip("\n"))
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
