"""Parts assigned to strips: the plan, its files and its picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.core.units import Units
    from strapwright.job.draft import Draft
    from strapwright.nesting.strips.types import Strip, StripAim, StripPlan, StripRules


STRIP_FILES: Final = ("strips.json", "strips.png", "strips.txt")
"""What a strip plan is written to."""


def nest_strips(
    drafted: Draft,
    strips: Sequence[Strip],
    rules: StripRules,
    *,
    aim: StripAim = "fewest",
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[str], None] = lambda _: None,
) -> StripPlan:
    """Assign a draft's parts to strips.

    Args:
        drafted: the draft.
        strips: see :func:`read_strips`.
        rules: what is kept free.
        aim: the ``"fewest"`` strips cut into, the ``"least"`` left over in those, or the most left as
            ``"stock"``: in lengths that go back to the shelf.
        time_limit: seconds to search at most; it ends sooner where the plan is proven the best.
        steps: of the search; with a number the result is the same on every machine.
        seed: of the random choices.
        progress: called now and then with how far it is, in words.
    """
    from strapwright.nesting.strips.assign import assign

    return assign(
        drafted.parts,
        strips,
        rules,
        aim=aim,
        time_limit=time_limit,
        steps=steps,
        seed=seed,
        progress=progress,
    )


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
