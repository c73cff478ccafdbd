"""``strapwright machines``: the machine profiles there are, what one says, and copies to edit."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

import click

from strapwright.cli.terminal.options import file_path, force_option, json_option
from strapwright.cli.terminal.report import say

if TYPE_CHECKING:
    from pathlib import Path


@click.group(
    "machines", invoke_without_command=True, epilog="Example: strapwright machines copy wide-laser my.toml"
)
@json_option
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> None:
    """List the shipped machine profiles; show, check or copy one."""
    if ctx.invoked_subcommand is not None:
        return
    from strapwright.api import read_machine
    from strapwright.machine.profile.machine import shipped_profiles

    machines = {name: read_machine(name) for name in shipped_profiles()}
    if as_json:
        from strapwright.cli.terminal.report import print_json

        found = [
            {"name": name, "kind": m.kind, "bed_mm": list(m.bed), "formats": list(m.formats)}
            for name, m in machines.items()
        ]
        print_json({"machines": found, "version": 1})
        return
    from strapwright.cli.terminal.report import print_table

    rows = [
        (name, m.kind.replace("_", " "), f"{m.bed[0]:g} × {m.bed[1]:g}", ", ".join(m.formats), _about(name))
        for name, m in machines.items()
    ]
    print_table("shipped profiles", ("name", "kind", "bed mm", "formats", "what it is"), rows)
    say(
        "They are examples: copy one with `strapwright machines copy NAME FILE` and put in what you measured."
    )


def _about(name: str) -> str:
    """Return what a shipped profile says of itself in its first line."""
    from strapwright.machine.profile.machine import profile_text

    return profile_text(name).splitlines()[0].removeprefix("#").strip()


@command.command("show", epilog="Example: strapwright machines show wide-laser")
@click.argument("name")
def show(name: str) -> None:
    """Print a profile as it stands: NAME is a shipped profile or a file."""
    from strapwright.machine.profile.machine import profile_text, read_machine

    read_machine(name)
    say(profile_text(name), nl=False)


@command.command("check", epilog="Example: strapwright machines check my.toml")
@click.argument("file")
@json_option
def check(file: str, as_json: bool) -> None:
    """Check a profile FILE: every mistake at once, or what it says in one line and what to know of it.

    A file of an older layout is read as if it were written today, which is told.
    """
    from strapwright.machine.kerf import scale_findings, scale_of
    from strapwright.machine.profile.machine import read_machine

    m = read_machine(file)
    scale = scale_of(m)
    findings = scale_findings(m.name, scale) if scale is not None else ()
    if as_json:
        from strapwright.cli.terminal.report import print_json

        about = {"name": m.name, "kind": m.kind, "bed_mm": list(m.bed), "formats": list(m.formats)}
        print_json({"machine": about, "findings": [f.as_json() for f in findings], "version": 1})
        return
    from strapwright.cli.terminal.report import print_findings

    rows = f"{len(m.kerf)} measured kerf{'' if len(m.kerf) == 1 else 's'}"
    kerfs = rows if m.kind == "laser" else "no kerf, a blade"
    say(f"{file}: good: {m.name}, {m.kind.replace('_', ' ')}, bed {m.bed[0]:g} × {m.bed[1]:g} mm, {kerfs}")
    print_findings(findings)


@command.command("copy", epilog="Example: strapwright machines copy wide-laser my.toml")
@click.argument("name")
@click.argument("file", type=file_path())
@force_option
def copy(name: str, file: Path, force: bool) -> None:
    """Copy shipped profile NAME to FILE, to edit it there."""
    from strapwright.api import write_whole
    from strapwright.machine.profile.machine import profile_text

    write_whole({file: profile_text(name)}, force=force)
    check = f"strapwright machines check {shlex.quote(str(file))}"
    say(f"written: {file}; put in what you measured, then: {check}")
