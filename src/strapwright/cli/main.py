"""The command ``strapwright``: finds its subcommands, and turns errors into exit statuses.

Exit status: 0 done, 1 refused or failed, 2 called wrongly.
"""

from __future__ import annotations

import codecs
import errno
import gc
import os
import sys
from importlib import import_module
from typing import Any, Final

import click

from strapwright import __version__
from strapwright.core.errors import StrapwrightError, os_reason
from strapwright.core.text import printable_lines

COMMANDS = (
    "start",
    "bench",
    "measure",
    "draft",
    "hides",
    "nest",
    "pattern",
    "card",
    "handout",
    "cut",
    "send",
    "fit",
    "model",
    "kerf",
    "machines",
    "schema",
)


_PAPERS: Final = ("pattern", "card", "handout")
"""Commands whose modules lie together in a folder of their own."""


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
        folder = "papers." if cmd_name in _PAPERS else ""
        command: click.Command = import_module(f"strapwright.cli.{folder}{cmd_name}").command
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

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the options before the command's name."""
        try:
            return super().parse_args(ctx, args)
        except click.UsageError as error:
            raise _printable(error) from error

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; what it refuses is printed line by line."""
        try:
            return super().invoke(ctx)
        except click.UsageError as error:
            raise _printable(error) from error
        except StrapwrightError as error:
            for line in str(error).split("\n"):
                click.echo(f"error: {line}", err=True)
            ctx.exit(1)
        except KeyboardInterrupt:
            click.echo("stopped; every file is as it was, or whole", err=True)
            ctx.exit(1)
        except OSError as error:
            if error.errno == errno.EPIPE:
                raise  # who reads has seen enough, as in `| head`: click ends in silence
            # What is left in the stream must not fail once more as the program ends.
            sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - open to the end
            click.echo(f"error: cannot print: {os_reason(error)}", err=True)
            ctx.exit(1)


def _printable(error: click.UsageError) -> click.UsageError:
    """Return an error that repeats what was typed without control characters."""
    words = error.format_message()
    clean = printable_lines(words)
    return error if clean == words else click.UsageError(clean, error.ctx)


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
    # A plan's hundred thousands of small values live to the end. Looked through at every 700 new ones, as is
    # Python's habit, they take a twentieth of the time.
    gc.set_threshold(50_000, 20, 20)
    # A closed stream is none at all; what is said there is lost, as it was meant to be, and nothing is typed.
    sys.stdin = sys.stdin or open(os.devnull, encoding="utf-8")  # noqa: SIM115 - open to the end
    sys.stdout = sys.stdout or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - open to the end
    sys.stderr = sys.stderr or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    # Findings and tables hold signs that a terminal set to another encoding could not print.
    codecs.register_error("plain", _stand_in)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="plain")
    command(prog_name="strapwright")


_PLAIN: Final = {
    "×": "x", "−": "-", "–": "-", "·": "*", "÷": "/", "²": "2", "′": "'", "°": "deg", "⌀": "D", "…": "...",
    "√": "sqrt", "ε": "eps", "─": "-",
}  # fmt: skip
"""Signs of tables and formulas, in letters any terminal has."""


def _stand_in(error: UnicodeError) -> tuple[str, int]:
    """Stand in for what an encoding lacks: a figure's sign must not become a question mark.

    Example:
        >>> codecs.register_error("plain", _stand_in)
        >>> "−3 × 5 θ, Žofie".encode("ascii", "plain")
        b'-3 x 5 theta, Zofie'
    """
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(_stand_in_letter, error.object[error.start : error.end])), error.end


def _stand_in_letter(letter: str) -> str:
    """Return what stands in for a letter: one of ours, a Greek letter's name, or it without its accent."""
    import unicodedata

    if letter in _PLAIN:
        return _PLAIN[letter]
    name = unicodedata.name(letter, "")
    if name.startswith("GREEK SMALL LETTER "):
        return name.split()[-1].lower()
    return unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode() or "?"


if __name__ == "__main__":
    main()
