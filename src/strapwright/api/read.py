"""Read what a maker wrote: jobs, hides, machines, layouts, and the schema of each file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from strapwright.job.draft import Draft
    from strapwright.machine.profile.machine import Machine
    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.file import ResumePoint
    from strapwright.nesting.layout.types import Layout
    from strapwright.nesting.stock.folder import Stock


def read_hide(path: Path) -> Hide:
    """Read a hide from its TOML file, or from a DXF or SVG drawing.

    Raises:
        FileProblems: every mistake in it.
    """
    from strapwright.nesting.hide.file import read_hide as read

    return read(path)


def read_hides(paths: Sequence[Path]) -> tuple[Hide, ...]:
    """Read several hides; of two with one name each gets a number.

    Raises:
        FileProblems: every mistake in the first file that has any.
    """
    from dataclasses import replace

    hides: list[Hide] = []
    for path in paths:
        hide = read_hide(path)
        taken = {other.name for other in hides}
        name, count = hide.name, 1
        while name in taken:
            count += 1
            name = f"{hide.name} {count}"
        hides.append(replace(hide, name=name))
    return tuple(hides)


def read_machine(name_or_path: str) -> Machine:
    """Read a machine profile: a shipped one by its name, or a TOML file by its path.

    Raises:
        FileProblems: every mistake in it, or an unknown name.
    """
    from strapwright.machine.profile.machine import read_machine as read

    return read(name_or_path)


def read_layout(path: Path, drafted: Draft, hides: Sequence[Hide]) -> Layout:
    """Read a layout written by :func:`nest`'s command and check it against its job and hides.

    Raises:
        FileProblems: not a layout file.
        NestError: it was made for another job or hide, or something on it does not keep clear.
    """
    from strapwright.nesting.layout.file import layout_from_json

    data = _layout_data(path)
    return layout_from_json(data, drafted.parts, hides, job_digest=drafted.digest, source=str(path))


def read_start(path: Path, drafted: Draft, hides: Sequence[Hide]) -> ResumePoint:
    """Read a layout to go on from: the parts it locks stay, and it is kept if nothing better is found.

    The job may have changed since; then only what is locked stays.

    Raises:
        FileProblems: not a layout file, or what it locks is not in this job or on these hides.
    """
    from strapwright.nesting.layout.file import resume_point_from_json

    data = _layout_data(path)
    return resume_point_from_json(data, drafted.parts, hides, job_digest=drafted.digest, source=str(path))


def _layout_data(path: Path) -> object:
    import json

    from strapwright.core.errors import FileProblems
    from strapwright.files.read import read_text

    try:
        return json.loads(read_text(path, limit_mb=50))
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise FileProblems(
            (f"{path}: {where}: not JSON, so not a layout file; nest the job again",)
        ) from error
    except (ValueError, RecursionError) as error:
        if isinstance(error, FileProblems):
            raise
        raise FileProblems((f"{path}: not a layout file: {error}; nest the job again",)) from error


def schema(what: str) -> dict[str, Any]:
    """Return the JSON Schema of a file a person writes.

    Args:
        what: ``"job"``, ``"house"``, ``"catalogue"``, ``"hide"`` or ``"machine"``.
    """
    if what == "job":
        from strapwright.job.spec.job import job_schema

        return job_schema()
    if what == "catalogue":
        from strapwright.job.catalogue.file import catalogue_schema

        return catalogue_schema()
    if what == "hide":
        from strapwright.nesting.hide.file import hide_schema

        return hide_schema()
    if what == "house":
        from strapwright.job.spec.job import house_schema

        return house_schema()
    from strapwright.machine.profile.machine import machine_schema

    return machine_schema()


def read_stock(
    folder: Path,
    *,
    strap_width: float = 38.0,
    margin: float = 2.0,
    progress: Callable[[Path], None] | None = None,
) -> Stock:
    """Read every hide in a folder: see :func:`strapwright.nesting.stock.folder.read_stock`."""
    from strapwright.nesting.stock.folder import read_stock as read

    return read(folder, strap_width=strap_width, margin=margin, progress=progress)


def stock_sheet(stock: Stock, suffix: str, *, title: str, inches: bool = False) -> str:
    """Return a sheet of thumbnails.

    Args:
        stock: the folder's hides.
        suffix: ``".svg"`` or ``".html"``.
        title: what stands at its head.
        inches: whether it gives inches and square feet.
    """
    from strapwright.drawing.stock.hide_sheet import sheet_html, sheet_svg

    return (sheet_html if suffix == ".html" else sheet_svg)(stock, title=title, inches=inches)
