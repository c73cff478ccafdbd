"""``strapwright machines``: the machine profiles there are, what one says, and copies to edit."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import common_options, file_path
from strapwright.cli.terminal.report import emit, print_findings, print_table, say

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.machine.profile.machine import Machine


@click.group(
    "machines", invoke_without_command=True, epilog="Example: strapwright machines copy wide-laser my.toml"
)
@common_options("as_json")
@click.pass_context
def command(ctx: click.Context, common: Common) -> None:
    """List the shipped machine profiles; show, check or copy one."""
    if ctx.invoked_subcommand is not None:
        return
    from strapwright.api import read_machine
    from strapwright.machine.profile.machine import shipped_profiles

    machines = {name: read_machine(name) for name in shipped_profiles()}
    emit(
        lambda: {"machines": [{"name": name, **_as_json(m)} for name, m in machines.items()]},
        lambda: _report(machines),
        as_json=common.as_json,
    )


def _as_json(m: Machine) -> dict[str, Any]:
    return {"kind": m.kind, "bed_mm": list(m.bed), "formats": list(m.formats)}


def _report(machines: dict[str, Machine]) -> None:
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
@common_options("as_json")
def check(file: str, common: Common) -> None:
    """Check a profile FILE: every mistake at once, or what it says in one line and what to know of it."""
    from strapwright.machine.kerf import scale_findings, scale_of
    from strapwright.machine.profile.machine import read_machine

    m = read_machine(file)
    findings = list(scale_findings(m.name, scale_of(m)))

    def report() -> None:
        rows = f"{len(m.kerf)} measured kerf{'' if len(m.kerf) == 1 else 's'}"
        kerfs = rows if m.kind == "laser" else "no kerf, a blade"
        kind, (width, depth) = m.kind.replace("_", " "), m.bed
        say(f"{file}: good: {m.name}, {kind}, bed {width:g} × {depth:g} mm, {kerfs}")
        print_findings(findings)

    about = {"name": m.name, **_as_json(m)}
    emit(
        lambda: {"machine": about, "findings": [f.as_json() for f in findings]},
        report,
        as_json=common.as_json,
    )


@command.command("copy", epilog="Example: strapwright machines copy wide-laser my.toml")
@click.argument("name")
@click.argument("file", type=file_path())
@common_options("force")
def copy(name: str, file: Path, common: Common) -> None:
    """Copy shipped profile NAME to FILE, to edit it there."""
    from strapwright.api import write_whole
    from strapwright.machine.profile.machine import profile_text

    write_whole({file: profile_text(name)}, force=common.force)
    check = f"strapwright machines check {shlex.quote(str(file))}"
    say(f"written: {file}; put in what you measured, then: {check}")
