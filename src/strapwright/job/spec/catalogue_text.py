"""The catalogue and house settings of a job, as files of its own: shipped ones change over the years."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pydantic import BaseModel

    from strapwright.job.spec.job import Job
    from strapwright.rules.punches import Punch


def catalogue_text(job: Job) -> str:
    """Return, as a catalogue file, all that bears on a job: read beside it, the same draft comes of it.

    It holds the buckles and the leather the job names, every fastener there was to choose from, and the
    punches that are owned. Lengths are bare numbers, mm.

    Args:
        job: as it was read.
    """
    import tomlkit

    known = job.catalogue
    buckles = {belt.buckle.name for belt in job.belts} & set(known.buckles)
    leathers = {job.leather.of} & set(known.leathers) if job.leather is not None else set()
    entries: dict[str, Mapping[str, BaseModel]] = {
        "buckle": {name: known.buckles[name] for name in sorted(buckles)},
        "screw_post": known.screw_posts,
        "rivet": known.rivets,
        "snap": known.snaps,
        "leather": {name: known.leathers[name] for name in sorted(leathers)},
    }
    tables = {kind: {name: _as_table(one, name) for name, one in of.items()} for kind, of in entries.items()}
    tables["punch"] = {name: _punch(punch) for name, punch in known.owned_punches.items()}
    head = "# All of the catalogue that this job was drafted with; lengths in mm.\n\n"
    return head + tomlkit.dumps({kind: table for kind, table in tables.items() if table})


def house_text(job: Job) -> str:
    """Return, as a house file, every setting and price a job was drafted with; lengths are bare numbers, mm.

    Args:
        job: as it was read.
    """
    import tomlkit

    tables = {
        "house": job.house.model_dump(mode="json"),
        "price": job.price.model_dump(mode="json", exclude_none=True),
    }
    return "# The settings and prices that this job was drafted with; lengths in mm.\n\n" + tomlkit.dumps(
        tables
    )


def _as_table(entry: BaseModel, name: str) -> dict[str, Any]:
    values = entry.model_dump(mode="json", exclude_none=True, exclude_unset=True)
    if values.get("name") == name:
        del values["name"]
    return values


def _punch(punch: Punch) -> dict[str, Any]:
    if punch.kind == "round":
        return {"diameter": punch.length}
    return {"kind": punch.kind, "length": punch.length, "width": punch.width}
