"""``strapwright schema``: JSON Schemas of the files a person writes."""

from __future__ import annotations

import click

from strapwright.cli.terminal.report import print_json


@click.command("schema", epilog="Example: strapwright schema job > job.schema.json")
@click.argument("what", type=click.Choice(["job", "house", "catalogue", "hide", "machine"]))
def command(what: str) -> None:
    """Print the JSON Schema of a job, house, catalogue, hide or machine file, for editors that check them."""
    from strapwright.api import schema

    print_json(schema(what))
