"""Options that several commands take, defined once."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

if TYPE_CHECKING:
    from collections.abc import Callable

    from strapwright.core.units import Units

    Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]

_TIME = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(ms|s|min|m)?\s*", re.IGNORECASE)
_TOUCH = re.compile(
    r"\s*(?:([ABab])|{0}\s*,\s*{0})\s*=\s*{0}\s*,\s*{0}\s*".format(r"([-+]?\d+(?:\.\d*)?|[-+]?\.\d+)")
)
_SECONDS = {"ms": 0.001, "s": 1.0, "m": 60.0, "min": 60.0}
MOST_SECONDS = 24 * 3600.0


def _seconds(ctx: click.Context, param: click.Parameter, value: str) -> float:
    """Return the seconds of a time such as ``10s`` or ``2min``; a bare number is seconds."""
    match = _TIME.fullmatch(value)
    seconds = float(match[1].replace(",", ".")) * _SECONDS[(match[2] or "s").lower()] if match else -1.0
    if not 0 <= seconds <= MOST_SECONDS:
        text = f'found "{value}", expected a time such as 5s, 2min or 0s, up to 24 hours'
        raise click.BadParameter(text, ctx, param)
    return seconds


def minutes_of(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
    """Return the minutes of a time such as ``12min`` or ``90s``; a bare number is minutes."""
    if value is None:
        return None
    bare = re.fullmatch(r"\d+([.,]\d+)?", value.strip())
    return _seconds(ctx, param, f"{value.strip()}min" if bare else value) / 60


class Decimal(click.FloatRange):
    """A number within limits, its decimal point a point or a comma."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number."""
        from strapwright.core.units import parse_number

        number = parse_number(value) if isinstance(value, str) else None
        return float(super().convert(value if number is None else number, param, ctx))


def to_mm(
    ctx: click.Context, param: click.Parameter, value: str | None, *, ounces: bool = False
) -> float | None:
    """Return the mm of a length such as ``0.2mm`` or ``1/64 in``; a bare number is mm."""
    from strapwright.core.errors import UnitError
    from strapwright.core.units import parse_length

    try:
        return None if value is None else parse_length(value, ounces=ounces)
    except UnitError as error:
        raise click.BadParameter(str(error), ctx, param) from error


AIMS = ("fewest", "least", "area", "price", "due")
"""What a nest may aim for; a test holds them to those the nest has."""

MATERIALS = ("vegetable", "chrome", "combination", "synthetic", "unknown")
"""The tannages; a test holds them to those the leather has."""


def _to_thickness(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
    """Return the mm of a thickness such as ``3.6mm`` or ``9 oz``; a bare number is mm."""
    thickness = to_mm(ctx, param, value, ounces=True)
    if thickness is not None and thickness <= 0:
        raise click.BadParameter(f'found "{value}", expected more than 0 mm', ctx, param)
    return thickness


def thickness_option(text: str) -> Decorator:
    """Take a leather's thickness."""
    return click.option("--thickness", callback=_to_thickness, metavar="THICKNESS", help=text)


def material_option(text: str) -> Decorator:
    """Take a tannage, vegetable where it is not given."""
    return click.option(
        "--material", type=click.Choice(MATERIALS), default="vegetable", show_default=True, help=text
    )


def machine_option(text: str) -> Decorator:
    """Take a machine profile, which must be given."""
    return click.option("--machine", "machine_name", required=True, metavar="NAME|FILE", help=text)


class _FilePath(click.Path):
    """A path; an empty one would be the folder one is in, which nobody means."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if not str(value).strip():
            self.fail("found an empty name, expected that of a file or folder", param, ctx)
        return super().convert(value, param, ctx)


def file_path() -> click.Path:
    """Return the type of a path; whoever reads or writes it says what is wrong with it."""
    return _FilePath(path_type=Path)


def path_option(name: str, metavar: str, text: str, **more: Any) -> Decorator:
    """Take a file or a folder: the option's name, what stands for it in the help, and what it is for."""
    return click.option(*name.split(), type=file_path(), metavar=metavar, help=text, **more)


def length_option(name: str, text: str, **more: Any) -> Decorator:
    """Take a length with its unit."""
    return click.option(*name.split(), callback=to_mm, metavar="LENGTH", help=text, **more)


def flag(name: str, text: str) -> Decorator:
    """Take an option without a value."""
    return click.option(*name.split(), is_flag=True, help=text)


def together(*options: Decorator) -> Decorator:
    """Take several options, in the order the help lists them."""

    def taking(function: Callable[..., Any]) -> Callable[..., Any]:
        for option in reversed(options):
            function = option(function)
        return function

    return taking


@dataclass(frozen=True)
class Common:
    """What many commands may be given, read alike by all.

    Args:
        catalogue: a catalogue of the user's own.
        partial: go on with the good lines of a CSV job.
        units: of tables and sheets.
        as_json: print JSON instead of text.
        force: overwrite files in the way.
    """

    catalogue: Path | None = None
    partial: bool = False
    units: Units = "mm"
    as_json: bool = False
    force: bool = False


_COMMON: Final[dict[str, Decorator]] = {
    "catalogue": path_option(
        "--catalogue",
        "FILE",
        "Your own buckles, screw posts, rivets, snaps, leathers and punches; default catalogue.toml "
        "beside the job and in its shop.",
    ),
    "partial": flag(
        "--partial",
        "Of a CSV job: go on with the good lines even if others are bad; the exit status is then 1.",
    ),
    "units": click.option(
        "--units",
        type=click.Choice(["mm", "in"]),
        default="mm",
        show_default=True,
        help="Units of tables and sheets; files for machines stay in mm.",
    ),
    "as_json": flag("--json as_json", "Print JSON for programs, and nothing else, to stdout."),
    "force": flag("--force", "Overwrite files that strapwright did not write, or that were edited."),
}


def common_options(names: str) -> Decorator:
    """Take those of the common options that are named, and hand them over as one ``common``."""
    own = names.split()

    def taking(function: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(function)
        def command(**given: Any) -> Any:
            return function(common=Common(**{name: given.pop(name) for name in own}), **given)

        return together(*(_COMMON[name] for name in own))(command)

    return taking


job_argument = click.argument("job", type=file_path(), metavar="JOB")
"""Take the job file."""

ends_only_option = flag(
    "--ends-only", "Only the last 150 mm of buckle end and tip of every belt, to try the buckle in scrap."
)

fume_option = flag(
    "--accept-fume-risk",
    "Laser only: you have checked extraction, local rules and the leather's data sheet.",
)

long_edges_option = flag(
    "--long-edges-by-hand",
    "Leave the long edges to the strap cutter: cut only tips, holes and buckle ends of straps "
    "already cut to width, and write a file of lines to place them on.",
)

hide_option = path_option(
    "--hide hides",
    "FILE",
    "A hide file (.toml, .svg or .dxf); give it again for more hides, in order of use.",
    multiple=True,
    required=True,
)

remnants_option = path_option(
    "--remnants", "DIR", "Write what is left of each hide there as a hide file, to use as stock."
)

layout_options = together(
    path_option(
        "--layout layout_file", "FILE", "The layout that nest wrote; refused if job or hide changed since."
    ),
    path_option(
        "--hide hides",
        "FILE",
        "With --layout: a hide it was made for; give it again for more.",
        multiple=True,
    ),
)
"""Take a layout made before, and the hides it was made for."""


def format_option(text: str = "") -> Decorator:
    """Take formats of cut files; the text says what is written without it."""
    return click.option(
        "--format",
        "formats",
        multiple=True,
        metavar="NAME",
        help=f"Format to write; give it again for more. Default: all the machine reads{text}.",
    )


Touched = tuple["tuple[float, float] | str", tuple[float, float]]
"""A point of the hide, or the name of a registration hole, and what the machine showed on it."""


def _touches(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> tuple[Touched, ...]:
    """Return each ``x,y=x,y`` and ``A=x,y``; points of the hide twice or not at all, and so the holes."""
    found: list[Touched] = []
    for value in values:
        match = _TOUCH.fullmatch(value)
        if match is None:
            text = (
                f'found "{value}", expected a point of the hide and where the machine stood there, such as '
                '"20,35=41.5,60.2", or with --window a registration hole, such as "A=41.5,60.2"'
            )
            raise click.BadParameter(text, ctx, param)
        hole, x, y, own_x, own_y = match.groups()
        found.append((hole.upper() if hole else (float(x), float(y)), (float(own_x), float(own_y))))
    holes = sorted(what for what, _ in found if isinstance(what, str))
    if len(found) - len(holes) not in (0, 2):
        text = f"given {len(found) - len(holes)} times, expected twice or not at all"
        raise click.BadParameter(text, ctx, param)
    if holes and holes != ["A", "B"]:
        text = f"found registration holes {', '.join(holes)}, expected both A and B, once each"
        raise click.BadParameter(text, ctx, param)
    if bool(holes) != (ctx.params.get("window") is not None):
        text = (
            "registration holes A and B are touched for one window; give --window, A and B, or none of them"
        )
        raise click.BadParameter(text, ctx, param)
    return tuple(found)


touch_options = together(
    click.option(
        "--window",
        type=click.IntRange(min=1),
        is_eager=True,  # --touch is checked against it
        metavar="N",
        help="Write only window N again, from where its two registration holes were touched, beside the "
        "files of all windows in --out.",
    ),
    click.option(
        "--touch",
        "touches",
        multiple=True,
        callback=_touches,
        metavar="X,Y=X,Y",
        help="Twice: a point of the hide, in mm as drawn, and the machine's own numbers with its pointer or "
        "blade on it. Says where the hide sits. With --window A=X,Y and B=X,Y for its registration holes.",
    ),
)


def search_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Take the limits of the search for a layout, and hand them over as one ``search``."""

    @wraps(function)
    def command(**given: Any) -> Any:
        search = {name: given.pop(name) for name in ("time_limit", "steps", "seed", "aim")}
        return function(search=search, **given)

    return together(
        click.option(
            "--aim",
            type=click.Choice(AIMS),
            default="fewest",
            show_default=True,
            help="Everything on the fewest hides, or on the least leather with other hides left whole; or, "
            "where not everything fits, the most by area, by price, or by what is due first.",
        ),
        click.option(
            "--time",
            "time_limit",
            callback=_seconds,
            metavar="TIME",
            default="10s",
            show_default=True,
            help="Longest time to search for a better layout. Ctrl-C keeps the best so far.",
        ),
        click.option(
            "--seed",
            type=click.IntRange(min=0),
            default=0,
            show_default=True,
            help="Seed of the random choices.",
        ),
        click.option(
            "--steps",
            type=click.IntRange(min=1),
            help="Steps to search instead of a time: the result is then the same on any machine.",
        ),
    )(command)
