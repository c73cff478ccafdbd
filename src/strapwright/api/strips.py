"""What a strip plan is written to: its files and its picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from strapwright.core.units import Units
    from strapwright.job.draft import Draft
    from strapwright.nesting.strips.types import StripPlan


STRIP_FILES: Final = ("strips.json", "strips.png", "strips.txt")
"""What a strip plan is written to."""


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


def strip_picture(drafted: Draft, plan: StripPlan, kind: str = ".svg", units: Units = "mm") -> str | bytes:
    """Return the picture of a plan.

    Args:
        drafted: the draft.
        plan: of its parts.
        kind: ``".svg"``, ``".png"`` or ``".pdf"``.
        units: of its figures.
    """
    from strapwright.api.views import shown
    from strapwright.drawing.layout.strips import strip_picture as draw

    return shown(draw(plan, title=drafted.name, units=units), kind, f"{drafted.name or 'belts'}: strips")
