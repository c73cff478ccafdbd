"""Run the command line in process and look at what it says."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner, Result

from strapwright.cli.main import command

EXAMPLES = Path(__file__).parents[2] / "examples"
ONE = str(EXAMPLES / "one-belt.toml")
BATCH = str(EXAMPLES / "autumn-batch.toml")
SIDE = str(EXAMPLES / "side.toml")


def run(*arguments: str | Path, status: int = 0) -> Result:
    """Run a command, expect its exit status, and no traceback."""
    result = CliRunner().invoke(command, [str(argument) for argument in arguments])
    unexpected = result.exception is not None and not isinstance(result.exception, SystemExit)
    assert not unexpected, result.exception
    assert result.exit_code == status, result.output
    return result
