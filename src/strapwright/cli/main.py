"""The command ``strapwright``: finds its subcommands, and turns errors into exit statuses.

Exit status: 0 done, 1 refused or failed, 2 called wrongly.
"""

from __future__ import annotations

import sys
from importlib import import_module
from typing import Any

import click

from strapwright import __version__
from strapwright.errors import StrapwrightError

COMMANDS = ("start", "measure", "draft", "nest", "cut", "machines", "schema")


class _Commands(click.Group):
    """Subcommands, each imported from its own module only when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in the order one uses them."""
        del ctx
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command by name."""
        del ctx
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"strapwright.cli.{cmd_name}").command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Suggest the nearest command where there is none of that name."""
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            from difflib import get_close_matches

            near = get_close_matches(args[0], COMMANDS, n=1)
            if not near:
                raise
            text = f'no such command "{args[0]}"; did you mean "{near[0]}"?'
            raise click.UsageError(text, ctx) from error

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; what it refuses is told line by line."""
        try:
            return super().invoke(ctx)
        except StrapwrightError as error:
            for line in str(error).splitlines():
                click.echo(f"error: {line}", err=True)
            ctx.exit(1)
        except KeyboardInterrupt:
            click.echo("stopped; nothing was written", err=True)
            ctx.exit(1)


@click.group(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Begin with: strapwright start my-belts",
)
@click.version_option(__version__, "-V", "--version", message="strapwright %(version)s")
def command() -> None:
    """Work out belts from buckle, person and leather, lay them on hides, and write cut files.

    A job file says what to make. `draft` computes it, `nest` lays it on a hide, `cut` does both and
    writes proven files for a machine.
    """


def main() -> None:
    """Run the command line."""
    # Findings and tables hold signs that a terminal set to another encoding could not print.
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    command(prog_name="strapwright")


if __name__ == "__main__":
    main()
