"""Lay a draft on hides, and turn the layout into its files."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.job.draft import Draft
    from strapwright.job.model import Job
    from strapwright.nesting.hide import Hide
    from strapwright.nesting.layout import Clearance, Layout
    from strapwright.nesting.nest import NestProgress

LAYOUT_FILES: Final = ("layout.json", "layout.svg")
"""What a layout is written to."""


def clearance_for(job: Job, kerf: float = 0.0) -> Clearance:
    """Return what the nest keeps clear: the job's gap and margin, and what the tool's kerf needs.

    Args:
        job: its ``[layout]`` table.
        kerf: of the widest cut, mm.
    """
    from strapwright.nesting.layout import Clearance

    return Clearance(gap=job.layout.gap, margin=job.layout.margin, kerf=kerf)


def nest(
    drafted: Draft,
    hides: Sequence[Hide],
    clearance: Clearance,
    *,
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[NestProgress], None] | None = None,
) -> Layout:
    """Lay a draft's parts on hides.

    Args:
        drafted: the draft.
        hides: in the order they are to be used up.
        clearance: see :func:`clearance_for`.
        time_limit: seconds to search at most.
        steps: of the search; with a number the result is the same on every machine.
        seed: of the random choices.
        progress: called now and then with how far it is.
    """
    from strapwright.nesting.nest import nest as lay

    return lay(
        drafted.parts,
        hides,
        clearance,
        time_limit=time_limit,
        steps=steps,
        seed=seed,
        progress=progress,
    )


def layout_files(drafted: Draft, layout: Layout) -> dict[str, str]:
    """Return the layout as ``layout.json`` and its picture as ``layout.svg``, by file name."""
    import json

    from strapwright.files.whole import MARK
    from strapwright.job.grading import told
    from strapwright.nesting.layout import layout_to_json
    from strapwright.trade.safety import cautions
    from strapwright.write.picture import picture_svg

    data = {"mark": MARK, **layout_to_json(layout, drafted.digest)}
    findings = (*told(drafted), *layout.findings)
    picture = picture_svg(layout, title=drafted.name, findings=findings, cautions=cautions("bench"))
    as_text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    return dict(zip(LAYOUT_FILES, (as_text, picture), strict=True))
