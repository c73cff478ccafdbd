"""Options and arguments of commands: each command declares its own in a class, with types and help.

Its attributes are made by the functions here; `takes` hands the command one object with what was typed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from strapwright.core.units import Units
    from strapwright.job.draft import Draft
    from strapwright.nesting.layout.types import Layout

    Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]


@dataclass(frozen=True)
class _Option:
    """One option or argument: what takes it under an attribute's name."""

    taken: Callable[[str], Decorator]


@dataclass(frozen=True)
class _Group:
    """Several options that become one value."""

    kind: Callable[..., Any]
    options: Mapping[str, _Option]


def option(name: str, text: str, **more: Any) -> Any:
    """Take an option, whose default the help shows if it says something.

    Args:
        name: of the option.
        text: what it is for.
        more: what else click knows of options.
    """
    default = more.get("default")
    shown = default not in (None, "") and not isinstance(default, bool)
    return _Option(lambda own: click.option(name, own, help=text, **{"show_default": shown, **more}))


def argument(metavar: str | None = None, **more: Any) -> Any:
    """Take an argument; it is named in the help as given, else by its attribute."""
    return _Option(lambda name: click.argument(name, metavar=metavar, **more))


def takes(kind: type) -> Decorator:
    """Give a command what a class's attributes describe, as one object of that class."""
    given_to = {name: one for name, one in vars(kind).items() if isinstance(one, _Option | _Group)}
    options: dict[str, _Option] = {}
    for name, one in given_to.items():
        options |= one.options if isinstance(one, _Group) else {name: one}

    def taking(function: Callable[..., Any]) -> Callable[..., Any]:
        def run(*context: Any, **given: Any) -> Any:
            asked = kind()
            for name, one in given_to.items():
                own = {key: given[key] for key in one.options} if isinstance(one, _Group) else {}
                setattr(asked, name, one.kind(**own) if isinstance(one, _Group) else given[name])
            return function(*context, asked)

        command: Callable[..., Any] = wraps(function)(run)
        for name, one in reversed(options.items()):
            command = one.taken(name)(command)
        return command

    return taking


_TIME = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(ms|s|min|m)?\s*", re.IGNORECASE)
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


def thickness_option(text: str) -> Any:
    """Take a leather's thickness."""
    return option("--thickness", text, callback=_to_thickness, metavar="THICKNESS")


def material_option(text: str) -> Any:
    """Take a tannage, vegetable where it is not given."""
    return option("--material", text, type=click.Choice(MATERIALS), default="vegetable")


def machine_option(text: str) -> Any:
    """Take a machine profile, which must be given."""
    return option("--machine", text, required=True, metavar="NAME|FILE")


class _FilePath(click.Path):
    """A path that is not empty: an empty one would mean the current folder."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if not str(value).strip():
            self.fail("found an empty name, expected that of a file or folder", param, ctx)
        return super().convert(value, param, ctx)


def file_path() -> click.Path:
    """Return the type of a path; whoever reads or writes it says what is wrong with it."""
    return _FilePath(path_type=Path)


def path_option(name: str, metavar: str, text: str, **more: Any) -> Any:
    """Take a file or a folder: the option's name, what stands for it in the help, and what it is for."""
    return option(name, text, type=file_path(), metavar=metavar, **more)


def length_option(name: str, text: str, **more: Any) -> Any:
    """Take a length with its unit."""
    return option(name, text, callback=to_mm, metavar="LENGTH", **more)


def divided(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...], example: str
) -> Iterator[str]:
    """Yield each of several figures given one by one or with commas or semicolons between.

    A comma between two digits is a decimal comma, unless the number before it has a decimal point.
    """
    from strapwright.core.errors import UnitError
    from strapwright.core.units import divided_figures

    for value in values:
        try:
            yield from divided_figures(value, example)
        except UnitError as error:
            raise click.BadParameter(str(error), ctx, param) from error


def lengths_option(name: str, text: str, example: str) -> Any:
    """An option for several lengths, divided as the example shows, in mm."""

    def read(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> tuple[float, ...]:
        lengths = (to_mm(ctx, param, one) for one in divided(ctx, param, values, example))
        return tuple(length for length in lengths if length is not None)

    return option(name, text, multiple=True, callback=read, metavar="LENGTH")


def date_option() -> Any:
    """An option for the day something was measured."""
    day = click.DateTime(["%Y-%m-%d"])
    return option("--date", "Day it was measured; default today.", type=day, metavar="YYYY-MM-DD")


def paper_option(text: str) -> Any:
    """An option for the paper something is printed on, A4 or letter."""
    return option("--paper", text, type=click.Choice(["a4", "letter"]), default="a4")


def font_option(text: str) -> Any:
    """An option for a font of the user's own."""
    return path_option("--font", "FILE.ttf", text)


def flag(name: str, text: str) -> Any:
    """Take an option without a value."""
    return option(name, text, is_flag=True)


@dataclass(frozen=True)
class Common:
    """Options that many commands share.

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


def _units_of(ctx: click.Context, param: click.Parameter, value: Units | None) -> Units:
    """Return the units asked for, else those of the job's shop; mm where it says nothing that can be read."""
    del param
    job = ctx.params.get("job")
    if value is not None:
        return value
    if job is None:
        return "mm"
    from strapwright.core.errors import StrapwrightError
    from strapwright.job.spec.job import house_units

    try:
        return house_units(job)
    except StrapwrightError:
        return "mm"  # what is wrong with the file is said when the job is read


_COMMON: Final[dict[str, _Option]] = {
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
    "units": option(
        "--units",
        "Units of tables and sheets; files for machines stay in mm.",
        type=click.Choice(["mm", "in"]),
        callback=_units_of,
        show_default="units of the shop's house.toml, else mm",
    ),
    "as_json": flag("--json", "Print JSON for programs, and nothing else, to stdout."),
    "force": flag("--force", "Overwrite files that strapwright did not write, or that were edited."),
}


def common_options(names: str) -> Any:
    """Take those of the common options that are named, as one `Common`."""
    return _Group(Common, {name: _COMMON[name] for name in names.split()})


@dataclass(frozen=True)
class LayoutGiven:
    """A layout made before, and the hides it was made for, where they were given.

    Args:
        layout: its file.
        hides: theirs.
    """

    layout: Path | None
    hides: tuple[Path, ...]

    def read(self, drafted: Draft) -> Layout | None:
        """Return the layout, or None where none was given.

        Args:
            drafted: the draft it was made for.

        Raises:
            UsageError: one of the two without the other.
            FileProblems: not a layout, or made for another job or hide, or for either before it was changed.
        """
        from strapwright import api

        if bool(self.layout) != bool(self.hides):
            raise click.UsageError("--layout and --hide go together: the layout, and every hide it is of")
        return api.read_layout(self.layout, drafted, api.read_hides(self.hides)) if self.layout else None


layout_options: Any = _Group(
    LayoutGiven,
    {
        "layout": path_option(
            "--layout", "FILE", "The layout that nest wrote; refused if job or hide changed since."
        ),
        "hides": path_option(
            "--hide", "FILE", "With --layout: a hide it was made for; give it again for more.", multiple=True
        ),
    },
)
"""Take a layout made before and the hides it was made for, as one `LayoutGiven`."""

job_argument: Any = argument("JOB", type=file_path())

ends_only_option: Any = flag(
    "--ends-only", "Only the last 150 mm of buckle end and tip of every belt, to try the buckle in scrap."
)

fume_option: Any = flag(
    "--accept-fume-risk", "Laser only: you have checked extraction, local rules and the leather's data sheet."
)

_HIDE: Final = (
    "--hide",
    "FILE",
    "A hide file (.toml, .svg or .dxf); give it again for more hides, in order of use.",
)

hide_option: Any = path_option(*_HIDE, multiple=True, required=True)

hide_or_strips_option: Any = path_option(*_HIDE, multiple=True)

strips_option: Any = path_option(
    "--strips",
    "FILE",
    "Cut from strap blanks instead of hides: a file (.csv, .toml) or folder of them; give it again for more.",
    multiple=True,
)

remnants_option: Any = path_option(
    "--remnants", "DIR", "Write what is left of each hide there as a hide file, to use as stock."
)


def format_option(text: str = "") -> Any:
    """Take formats of cut files; the text says what is written without it."""
    text = f"Format to write; give it again for more. Default: all the machine reads{text}."
    return option("--format", text, multiple=True, metavar="NAME")


_AIM: Final = (
    "Everything on the fewest hides, or on the least leather with other hides left whole; or, where not "
    "everything fits, the most by area, by price, or by what is due first."
)

search_options: Any = _Group(
    dict,
    {
        "aim": option(
            "--aim",
            _AIM,
            type=click.Choice(AIMS),
            default="fewest",
        ),
        "time_limit": option(
            "--time",
            "Longest time to search for a better layout. Ctrl-C keeps the best so far.",
            callback=_seconds,
            metavar="TIME",
            default="10s",
        ),
        "seed": option("--seed", "Seed of the random choices.", type=click.IntRange(min=0), default=0),
        "steps": option(
            "--steps",
            "Steps to search instead of a time: the result is then the same on any machine.",
            type=click.IntRange(min=1),
        ),
    },
)
"""Take the limits of the search for a layout, by the names `strapwright.api.nest` has for them."""

nest_search_options: Any = _Group(
    dict,
    {
        **search_options.options,
        "aim": option(
            "--aim",
            f"{_AIM} Of strips: fewest cut into, least leather left over in those, or the most left as "
            "stock, in lengths worth keeping.",
            type=click.Choice((*AIMS, "stock")),
            default="fewest",
        ),
    },
)
"""The same for a nest, which may cut from strips."""
