"""What every cut file says of itself: job, hide, machine, kerf and the machine's cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.trade.safety import cautions

if TYPE_CHECKING:
    from strapwright.machine.cut_plan import CutPlan, CutSheet


def header_lines(sheet: CutSheet, plan: CutPlan) -> tuple[str, ...]:
    """Return what a file of a sheet says of itself, one fact or caution a line."""
    machine = plan.machine
    return tuple(
        one_line(text)
        for text in (
            f"job: {plan.job_name or 'without a name'}",
            f"hide: {sheet.hide}",
            f"machine: {machine.name}, bed {sheet.width:g} x {sheet.height:g} mm",
            f"kerf: {kerf_words(plan)}",
            *cautions(machine.kind),
        )
    )


def kerf_words(plan: CutPlan) -> str:
    """Return the kerf of each leather in words.

    Where all leathers have the same, it is told once; a plan that allows for none, as a test piece's,
    says so.
    """
    if not plan.kerfs:
        return "not allowed for, the cuts run on the lines themselves"
    widths = sorted({kerf.width for kerf in plan.kerfs})
    if not any(widths):
        return "none, the blade takes nothing away"
    if len(widths) == 1:
        return f"{widths[0]:.3g} mm, allowed for in the paths"
    each = ", ".join(f"{k.width:.3g} mm in {k.tannage} {k.thickness:.3g} mm" for k in plan.kerfs)
    return f"{each}, allowed for in the paths"


def one_line(text: str) -> str:
    r"""Return text without line breaks or other characters a file's comment cannot hold.

    Example:
        >>> one_line("two\nlines\x07")
        'two lines'
    """
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
