"""``strapwright schema``: JSON Schemas of the files a person writes."""

from __future__ import annotations

import click

from strapwright.cli.terminal.report import print_json


@click.command("schema", epilog="Example: strapwright schema job > job.schema.json")
@click.argument("what", type=click.Choice(["job", "house", "catalogue", "hide", "strips", "machine"]))
def command(what: str) -> None:
    """Print the JSON Schema of a job, house, catalogue, hide, strips or machine file, for editors."""
    from strapwright.api import schema

    print_json(schema(what))
