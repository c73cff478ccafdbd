"""Lay a draft on hides, and turn the layout, or a plan of strips, into its files."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, Literal

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from concurrent.futures import Executor

    from strapwright.core.units import Units
    from strapwright.drawing.canvas import Canvas
    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.machine.profile.machine import Machine
    from strapwright.nesting.hide.types import Flaw, Hide
    from strapwright.nesting.layout.file import ResumePoint
    from strapwright.nesting.layout.types import Clearance, Layout
    from strapwright.nesting.solver.nest import NestProgress
    from strapwright.nesting.strips.types import StripPlan

STRIP_FILES: Final = ("strips.json", "strips.png", "strips.txt")
"""What a strip plan is written to."""

LAYOUT_FILES: Final = ("layout.json", "layout.png")
"""What a layout is written to."""

Aim = Literal["fewest", "least", "area", "price", "due"]
"""What a nest is after: see :func:`nest`."""

AIMS: Final[tuple[Aim, ...]] = ("fewest", "least", "area", "price", "due")


def clearance_for(job: Job, kerf: float = 0.0, machine: Machine | None = None) -> Clearance:
    """Return what the nest keeps clear: the job's gap and margin, and what kerf and lead-in need.

    Args:
        job: its ``[layout]`` table.
        kerf: of the widest cut, mm.
        machine: whose blade's lead-in needs space, and which may cut neighbours' common edges once;
            None: neither.
    """
    from strapwright.nesting.layout.types import Clearance

    if machine is None:
        return Clearance(gap=job.layout.gap, margin=job.layout.margin, kerf=kerf)
    from strapwright.machine.toolpath.lead_in import ROOM_FOR_LEAD_IN
    from strapwright.machine.toolpath.runs import is_compensated

    lead_in = ROOM_FOR_LEAD_IN if is_compensated(machine) else 0.0
    shared = machine.share_edges and not machine.ends_only
    return Clearance(job.layout.gap, job.layout.margin, kerf, lead_in, shared)


def nest(
    drafted: Draft,
    hides: Sequence[Hide],
    clearance: Clearance,
    *,
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[NestProgress], None] | None = None,
    stage: Callable[[str], None] | None = None,
    ending: Callable[[str], None] | None = None,
    start: ResumePoint | None = None,
    avoid: Sequence[str] = (),
    aim: Aim = "fewest",
    job: Job | None = None,
    executor: Executor | None = None,
    at_once: int = 2,
) -> Layout:
    """Lay a draft's parts on hides.

    Args:
        drafted: the draft.
        hides: in the order they are to be used up.
        clearance: see :func:`clearance_for`.
        time_limit: seconds to search at most, not counting those in which the search is compiled once on a
            machine.
        steps: of the search; with a number the result is the same on every machine.
        seed: of the random choices.
        progress: called now and then with how far it is.
        stage: called with what is done before the search, in words, where that takes long.
        ending: called likewise with what is done after it.
        start: what to go on from: see :func:`read_start`.
        avoid: further zones to keep clear: see :func:`strapwright.nesting.layout.avoided_zone.zone_to_avoid`.
        aim: everything on the ``"fewest"`` hides, or on the ``"least"`` leather with other hides left whole;
            or, where not everything fits, the most by ``"area"``, by ``"price"``, or by what is ``"due"``
            first.
        job: the draft's job, which says prices and days; needed to aim at those.
        executor: where many hides are searched side by side: see
            :func:`strapwright.nesting.solver.nest.nest`.
        at_once: how many hides the executor searches at once.
    """
    search: dict[str, Any] = {
        "time_limit": time_limit,
        "steps": steps,
        "seed": seed,
        "progress": progress,
        "stage": stage,
        "ending": ending,
        "aim": aim if aim in ("fewest", "least") else "value",
        "worths": None,
        "executor": executor,
        "at_once": at_once,
    }
    if aim in ("price", "due"):
        from strapwright.core.errors import NestError
        from strapwright.job.bill import worths

        if job is None:
            raise NestError(f'aim "{aim}": needs the job, which says what belts cost and when they are due')
        search["worths"] = worths(job, drafted, "price" if aim == "price" else "due")
    if start is not None or avoid:
        from strapwright.nesting.layout.avoided_zone import zone_to_avoid
        from strapwright.nesting.solver.resume import resume

        zones: dict[str, list[Flaw]] = {}
        for text in avoid:
            name, zone = zone_to_avoid(text, hides)
            zones.setdefault(name, []).append(zone)
        return resume(drafted.parts, hides, clearance, start=start, avoid=zones, **search)
    from strapwright.nesting.solver.nest import nest as lay

    return lay(drafted.parts, hides, clearance, **search)


def layout_files(drafted: Draft, layout: Layout) -> dict[str, str | bytes]:
    """Return the layout as ``layout.json`` and its picture as ``layout.png``, by file name.

    The picture is no SVG, for it lies beside cut files: whoever takes it for one would cut it.
    """
    from strapwright.drawing.png import png_of_any

    picture = png_of_any(layout_picture(drafted, layout))
    return dict(zip(LAYOUT_FILES, (layout_text(drafted, layout), picture), strict=True))


def layout_text(drafted: Draft, layout: Layout) -> str:
    """Return what ``layout.json`` holds of a layout."""
    import json

    from strapwright.files.atomic_write import MARK
    from strapwright.nesting.layout.file import layout_to_json

    data = {"mark": MARK, **layout_to_json(layout, drafted.digest)}
    return json.dumps(data, indent=1, ensure_ascii=False) + "\n"


def layout_picture(drafted: Draft, layout: Layout) -> Canvas:
    """Return the picture of a layout with what was noticed."""
    from strapwright.drawing.layout.picture import picture
    from strapwright.job.grading import findings_as_read

    return picture(layout, title=drafted.name, findings=(*findings_as_read(drafted), *layout.findings))


def strip_files(drafted: Draft, plan: StripPlan, units: Units = "mm") -> dict[str, str | bytes]:
    """Return a plan as ``strips.json``, ``strips.png`` and ``strips.txt``, the marks to pull, by file name.

    Args:
        drafted: the draft.
        plan: of its parts.
        units: of picture and list; ``strips.json`` is in mm.
    """
    import json

    from strapwright.drawing.layout.strips import strip_picture as draw
    from strapwright.drawing.png import png_of_any
    from strapwright.files.atomic_write import MARK
    from strapwright.nesting.strips.plan_file import plan_to_json
    from strapwright.nesting.strips.pull_list import list_text

    data = {"mark": MARK, **plan_to_json(plan, drafted.digest)}
    texts = (
        json.dumps(data, indent=1, ensure_ascii=False) + "\n",
        png_of_any(draw(plan, title=drafted.name, units=units)),
        f"# {MARK}\n{list_text(plan, units)}",
    )
    return dict(zip(STRIP_FILES, texts, strict=True))
