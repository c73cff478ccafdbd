"""What a command is given: each option said once, all of them handed over as one object."""

from __future__ import annotations

from pathlib import Path

import click
from click.testing import CliRunner

from strapwright.cli.terminal.options import (
    argument,
    common_options,
    flag,
    layout_options,
    length_option,
    option,
    takes,
)


class Options:
    job = argument("JOB", type=click.Path(path_type=Path))
    wide = length_option("--strap-width", "How wide.", default="38 mm")
    names = option("--name", "What for.", multiple=True)
    brief = flag("--brief", "Short.")
    given = layout_options
    common = common_options("units force")


@click.command()
@takes(Options)
def command(o):
    """Show what was given."""
    click.echo((o.job, o.wide, o.names, o.brief, o.given, o.common.units, o.common.force))
    assert (o.common.as_json, o.common.partial, o.common.catalogue) == (False, False, None)


def test_a_command_gets_one_object_with_all_it_was_given():
    first = CliRunner().invoke(command, ["a.toml"])
    assert first.stdout == (
        f"{(Path('a.toml'), 38.0, (), False)}"[:-1] + ", LayoutGiven(layout=None, hides=()), 'mm', False)\n"
    )
    typed = ["a.toml", "--strap-width", "1 in", "--name", "x", "--name", "y", "--units", "in"]
    second = CliRunner().invoke(command, typed)
    assert ", 25.4, ('x', 'y'), False, " in second.stdout
    assert "'in', False" in second.stdout
    assert not isinstance(Options.wide, float), "what one call was given is not left for the next"


def test_the_help_lists_options_in_their_order_and_shows_defaults_that_say_something():
    text = CliRunner().invoke(command, ["--help"]).stdout
    places = [text.index(name) for name in ("--strap-width", "--name", "--brief", "--layout", "--units")]
    assert places == sorted(places)
    assert text.count("[default: ") == 2
    assert "[default: 38 mm]" in text


def test_units_are_those_of_the_shop_unless_others_are_typed(tmp_path: Path):
    (tmp_path / "house.toml").write_text('units = "in"\n')
    job = str(tmp_path / "a.toml")
    assert "'in', False" in CliRunner().invoke(command, [job]).stdout
    assert "'mm', False" in CliRunner().invoke(command, [job, "--units", "mm"]).stdout
    (tmp_path / "house.toml").write_text('units = "ell"\n')
    assert "'mm', False" in CliRunner().invoke(command, [job]).stdout
