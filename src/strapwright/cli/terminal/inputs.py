"""Jobs and layouts as commands read them: a CSV file's bad lines are reported, the good ones may go on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from strapwright.cli.terminal.report import drafting, say

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.job.draft import Draft
    from strapwright.job.orders import Orders
    from strapwright.job.spec.job import Job


@dataclass(frozen=True)
class DraftedJob:
    """A job read and drafted, as a command goes on with it.

    Args:
        job: the job, or that of a CSV file's good lines.
        draft: its draft.
        bad: what is wrong with the other lines; empty where none is bad.
        lines: the same by the numbers of the lines; None for a job that is no CSV file.
    """

    job: Job
    draft: Draft
    bad: tuple[str, ...] = ()
    lines: tuple[tuple[int, str], ...] | None = None

    def bad_json(self) -> dict[str, Any]:
        """Return the bad lines for a program, as ``problems``; nothing of a job that is no CSV file."""
        if self.lines is None:
            return {}
        return {"problems": [{"line": line, "message": text} for line, text in self.lines]}

    def fail_on_bad(self) -> None:
        """Print what is wrong with the bad lines and end with status 1, if there are any.

        Called last, where no long table pushes it out of sight.
        """
        for line in self.bad:
            say(f"error: {line}", err=True)
        if self.bad:
            raise SystemExit(1)


def read_and_draft(path: Path, common: Common, *, remedy: str) -> DraftedJob:
    """Read and draft a job.

    Args:
        path: the job file.
        common: the catalogue, and whether to go on with the good lines of a CSV file although others are bad.
        remedy: what to do to go on with the good lines, for the message.

    Raises:
        FileProblems: every mistake in the job; of a CSV file also what cannot be made, and how many lines
            are good.
        PartError: belts of a TOML job that cannot be made.
    """
    import numpy as np  # noqa: F401 - before pydantic, whose changes to typing slow NumPy's own loading threefold

    from strapwright import api

    if not api.is_batch(path):
        job = api.read_job(path, common.catalogue)
        with drafting() as progress:
            return DraftedJob(job, api.draft(job, progress=progress))
    with drafting() as progress:
        orders = api.read_orders(path, common.catalogue, progress=progress)
    return drafted_orders(orders, partial=common.partial, remedy=remedy)


def drafted_orders(orders: Orders, *, partial: bool, remedy: str) -> DraftedJob:
    """Return what to go on with of a CSV file's orders; see `read_and_draft`."""
    from strapwright.core.errors import FileProblems

    report = orders.report
    if orders.job is None or orders.draft is None:
        raise FileProblems(report)
    if report and not partial:
        raise FileProblems((*report[:-1], f"{report[-1]}; fix the bad ones, or {remedy}"))
    return DraftedJob(orders.job, orders.draft, report, orders.problems)
