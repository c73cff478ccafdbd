"""Work: all jobs of the shop, and a new one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from starlette.concurrency import run_in_threadpool
from starlette.routing import Route

from strapwright.files.atomic_write import file_safe, write_whole
from strapwright.page.server import respond
from strapwright.page.sheet.job_view import progress_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from strapwright.page.server.bench import Bench

LONGEST_TITLE: Final = 80
"""Longest name of a job begun here, in characters."""

_NEW_JOB: Final = """[job]
name = "{title}"

[leather]
thickness = "3.6 mm"
tannage = "vegetable"

[[belt]]
id = "belt-1"
size = {{ girth = "900 mm" }}
buckle = "single-40"
"""


class WorkRoutes:
    """What concerns all jobs.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/", self.work),
            Route("/new", self.begin, methods=["POST"]),
        ]

    async def work(self, request: Request) -> Response:
        """Show all jobs and how far each is."""
        jobs = await run_in_threadpool(lambda: [progress_of(self._shop, name) for name in self._shop.jobs()])
        return respond.page(request, "work.html", jobs=jobs)

    async def begin(self, request: Request) -> Response:
        """Begin a job with one belt, and show it."""
        form = await request.form()
        title = " ".join(str(form.get("title") or "").split())
        if not 1 <= len(title) <= LONGEST_TITLE or not title.isprintable():
            return respond.words(f"A job's name has 1 to {LONGEST_TITLE} printable characters.")
        base = file_safe(title, otherwise="job").lower()
        name, count, taken = base, 2, self._shop.jobs()
        while name in taken:
            name, count = f"{base}-{count}", count + 1
        written = title.replace("\\", "\\\\").replace('"', '\\"')
        write_whole({self._shop.folder / "jobs" / name / "job.toml": _NEW_JOB.format(title=written)})
        return respond.gone_to(f"/job/{name}")
