"""``strapwright schema``: JSON Schemas of the files a person writes."""

from __future__ import annotations

import click


@click.command("schema", epilog="Example: strapwright schema job > job.schema.json")
@click.argument("what", type=click.Choice(["job", "hide", "machine"]))
def command(what: str) -> None:
    """Print the JSON Schema of a job, hide or machine file, for editors that check as one types."""
    import json

    if what == "job":
        from strapwright.job.model import job_schema as schema
    elif what == "hide":
        from strapwright.nesting.hide import hide_schema as schema
    else:
        from strapwright.machine.profile import machine_schema as schema
    click.echo(json.dumps(schema(), indent=1, ensure_ascii=False))
