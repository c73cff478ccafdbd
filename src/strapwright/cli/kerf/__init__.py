"""``strapwright kerf``: try a leather new to a machine, and measure the width of its cut."""

import click

from strapwright.cli.kerf.coupon import coupon
from strapwright.cli.kerf.record import record
from strapwright.cli.kerf.show import show
from strapwright.cli.kerf.trial import trial


@click.group("kerf", epilog="Example: strapwright kerf coupon --machine my-laser.toml --out coupon")
def command() -> None:
    """Try a new leather, measure the width of the cut on a test piece, record it, show what is known."""


for page in (coupon, record, show, trial):
    command.add_command(page)
