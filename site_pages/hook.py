"""What the site is made of beside its pages: keys out of the schemas, commands out of their help, figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from mkdocs.structure.files import File

import commands
import figures
import keys
from strapwright import api

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files

WRITTEN = {
    "job": ("The job file", "What a person writes to say which belts to make, in TOML."),
    "house": ("The house file", "A shop's settings and prices, which hold for all its jobs, in TOML."),
    "hide": ("The hide file", "A hide by its outline, flaws and direction, in TOML."),
    "strips": ("The strips file", "Strap blanks in stock, in TOML; in a CSV file the keys are the columns."),
    "machine": ("The machine file", "A machine profile: bed, kerf, blade and operations, in TOML."),
    "catalogue": (
        "The catalogue file",
        "A workshop's buckles, fasteners, leathers and punches, in TOML.",
    ),
}


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """Add the made pages and figures to those in the docs folder."""
    made: dict[str, str | bytes] = {"reference/commands.md": commands.page(), **figures.drawn()}
    for what, (title, introduction) in WRITTEN.items():
        schema = f"Printed for editors by `strapwright schema {what}`. A bare number is millimetres."
        made[f"reference/{what}.md"] = keys.page(
            title, f"{introduction} {schema}", api.schema(what), "The file"
        )
    for path, content in made.items():
        files.append(File.generated(config, path, content=content))
    return files
