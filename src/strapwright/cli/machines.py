"""``strapwright machines``: the machine profiles there are, what one says, and copies to edit."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import argument, common_options, file_path, takes
from strapwright.cli.terminal.report import emit, print_findings, print_table, say

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.machine.profile.machine import Machine


class Listed:
    """How profiles are listed."""

    common: Common = common_options("as_json")


class Checked:
    """Which file is checked."""

    file: str = argument()
    common: Common = common_options("as_json")


class Copied:
    """Which profile is copied to where."""

    name: str = argument()
    file: Path = argument(type=file_path())
    common: Common = common_options("force")


@click.group(
    "machines", invoke_without_command=True, epilog="Example: strapwright machines copy wide-laser my.toml"
)
@takes(Listed)
@click.pass_context
def command(ctx: click.Context, o: Listed) -> None:
    """List the shipped machine profiles; show, check or copy one."""
    if ctx.invoked_subcommand is not None:
        return
    from strapwright.api import read_machine
    from strapwright.machine.profile.machine import shipped_profiles

    machines = {name: read_machine(name) for name in shipped_profiles()}
    emit(
        o.common,
        lambda: {"machines": [{"name": name, **_as_json(m)} for name, m in machines.items()]},
        lambda: _report(machines),
    )


def _as_json(m: Machine) -> dict[str, Any]:
    return {"kind": m.kind, "bed_mm": list(m.bed), "formats": list(m.formats)}


def _report(machines: dict[str, Machine]) -> None:
    from strapwright.machine.profile.machine import profile_text

    rows = [
        {
            "name": name,
            "kind": m.kind.replace("_", " "),
            "bed mm": f"{m.bed[0]:g} × {m.bed[1]:g}",
            "formats": ", ".join(m.formats),
            # what it says of itself in its first line
            "what it is": profile_text(name).splitlines()[0].removeprefix("#").strip(),
        }
        for name, m in machines.items()
    ]
    print_table("shipped profiles", rows)
    say(
        "They are examples: copy one with `strapwright machines copy NAME FILE` and put in what you measured."
    )


@command.command("show", epilog="Example: strapwright machines show wide-laser")
@click.argument("name")
def show(name: str) -> None:
    """Print a profile as it stands: NAME is a shipped profile or a file."""
    from strapwright.machine.profile.machine import profile_text, read_machine

    read_machine(name)
    say(profile_text(name), nl=False)


@command.command("check", epilog="Example: strapwright machines check my.toml")
@takes(Checked)
def check(o: Checked) -> None:
    """Check a profile FILE: every mistake at once, or what it says in one line and what to know of it."""
    from strapwright.machine.kerf import scale_findings, scale_of
    from strapwright.machine.profile.machine import read_machine

    m = read_machine(o.file)
    findings = list(scale_findings(m.name, scale_of(m)))

    def report() -> None:
        rows = f"{len(m.kerf)} measured kerf{'' if len(m.kerf) == 1 else 's'}"
        kerfs = rows if m.kind == "laser" else "no kerf, a blade"
        kind, (width, depth) = m.kind.replace("_", " "), m.bed
        say(f"{o.file}: good: {m.name}, {kind}, bed {width:g} × {depth:g} mm, {kerfs}")
        print_findings(findings)

    about = {"name": m.name, **_as_json(m)}
    emit(o.common, lambda: {"machine": about, "findings": [f.as_json() for f in findings]}, report)


@command.command("copy", epilog="Example: strapwright machines copy wide-laser my.toml")
@takes(Copied)
def copy(o: Copied) -> None:
    """Copy shipped profile NAME to FILE, to edit it there."""
    from strapwright.api import write_whole
    from strapwright.machine.profile.machine import profile_text

    write_whole({o.file: profile_text(o.name)}, force=o.common.force)
    check = f"strapwright machines check {shlex.quote(str(o.file))}"
    say(f"written: {o.file}; put in what you measured, then: {check}")
