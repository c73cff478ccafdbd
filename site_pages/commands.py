"""The page of commands, out of the help each of them prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    import click

WIDTH = 80


def page() -> str:
    """Return the page in Markdown: every command and sub-command with its help."""
    from strapwright.cli.main import command

    parts = ["# Commands\n\nEach command shows the same with `--help`.\n"]
    for name, found in _commands(command, "strapwright"):
        parts.append(f"## {name}\n\n```text\n{_help(found, name)}\n```\n")
    return "\n".join(parts)


def _commands(group: click.Command, name: str) -> Iterator[tuple[str, click.Command]]:
    import click

    yield name, group
    if isinstance(group, click.Group):
        context = click.Context(group, info_name=name)
        for word in group.list_commands(context):
            command = group.get_command(context, word)
            if command is not None:
                yield from _commands(command, f"{name} {word}")


def _help(command: click.Command, name: str) -> str:
    import click

    context = click.Context(command, info_name=name, max_content_width=WIDTH, terminal_width=WIDTH)
    return command.get_help(context).rstrip()
