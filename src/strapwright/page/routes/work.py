"""Work: all jobs of the shop; a new one begun, one copied, put away and put back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.page.jobs import PLACES, begin, copied, first_form, put_away, put_back, stored, work_list
from strapwright.page.server import respond
from strapwright.page.server.bench import Routes

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


class WorkRoutes(Routes):
    """What concerns all jobs."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/", self.work),
            Route("/", self.change, methods=["POST"]),
            Route("/new", self.start),
            Route("/new", self.begin, methods=["POST"]),
        ]

    async def work(self, request: Request) -> Response:
        """Show all jobs and how far each is; of an empty shop, where to begin."""
        by_name = request.query_params.get("sort") == "name"
        jobs = await run_in_threadpool(work_list, self._shop, by_name=by_name)
        away = stored(self._shop)
        if not jobs and not any(away.values()):
            return await self.start(request)
        return respond.page(request, "work.html", jobs=jobs, away=away, by_name=by_name)

    async def start(self, request: Request) -> Response:
        """Show the few questions a job begins with."""
        picked = request.query_params.get("buckle", "")  # measured a moment ago
        form = await run_in_threadpool(first_form, self._shop, {"buckle": picked} if picked else {})
        return respond.page(request, "start.html", first=form)

    async def begin(self, request: Request) -> Response:
        """Begin a job with one belt, and show it; or say beside the questions what is wrong."""
        posted = {key: value for key, value in (await request.form()).items() if isinstance(value, str)}
        name, form = await run_in_threadpool(begin, self._shop, posted)
        if name:
            return respond.gone_to(f"/job/{name}")
        return respond.page(request, "first_belt.html", first=form)

    async def change(self, request: Request) -> Response:
        """Copy a job, put one away, or put one back."""
        form = await request.form()
        what, name, where = (str(form.get(key, "")) for key in ("do", "job", "from"))
        await run_in_threadpool(self._change, what, name, where)
        return respond.again()

    def _change(self, what: str, name: str, where: str) -> Any:
        if what == "copy":
            return copied(self._shop, name)
        if what == "back":
            return put_back(self._shop, where, name)
        if what not in PLACES:
            raise FileProblems((f"found {what!r}, expected copy, back, {' or '.join(PLACES)}",))
        if self._bench.worker.is_running(name):
            raise FileProblems((f"{name}: a search or cut files are under way; stop them first",))
        return put_away(self._shop, name, what)
