"""The site's figures, drawn by the program itself from the examples, so that none can fall behind it."""

from __future__ import annotations

from pathlib import Path

EXAMPLES = Path(__file__).parents[1] / "examples"


def drawn() -> dict[str, str]:
    """Return the figures as SVG texts, by path within the site."""
    from strapwright import api
    from strapwright.write.drawing import drawing_svg
    from strapwright.write.picture import picture_svg

    batch = api.read_job(EXAMPLES / "autumn-batch.toml")
    drafted = api.draft(batch)
    hides = api.read_hides([EXAMPLES / "side.toml"])
    layout = api.nest(drafted, hides, api.clearance_for(batch), steps=20, seed=1)
    return {
        "figures/one-belt.svg": drawing_svg(api.draft(api.read_job(EXAMPLES / "one-belt.toml"))),
        "figures/strap-goods.svg": drawing_svg(api.draft(api.read_job(EXAMPLES / "strap-goods.toml"))),
        "figures/side.svg": picture_svg(layout, title=drafted.name),
    }
