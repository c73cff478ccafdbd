"""Work: all jobs of the shop; a new one begun, one copied, put away and put back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.page.jobs import PLACES, begin, copied, first_form, put_away, put_back, stored, work_list
from strapwright.page.server import respond
from strapwright.page.server.bench import Routes, form_route

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response


class WorkRoutes(Routes):
    """What concerns all jobs."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/", self.work),
            form_route("/", self.change),
            Route("/new", self.start),
            form_route("/new", self.begin),
        ]

    def work(self, request: Request) -> Response:
        """Show all jobs and how far each is; of an empty shop, where to begin."""
        by_name = request.query_params.get("sort") == "name"
        jobs, away = work_list(self._shop, by_name=by_name), stored(self._shop)
        if not jobs and not any(away.values()):
            return self.start(request)
        return respond.page(request, "work.html", jobs=jobs, away=away, by_name=by_name)

    def start(self, request: Request) -> Response:
        """Show the few questions a job begins with."""
        picked = request.query_params.get("buckle", "")  # measured a moment ago
        form = first_form(self._shop, {"buckle": picked} if picked else {})
        return respond.page(request, "start.html", first=form)

    def begin(self, request: Request, form: FormData) -> Response:
        """Begin a job with one belt, and show it; or say beside the questions what is wrong."""
        name, first = begin(self._shop, {key: str(value) for key, value in form.items()})
        if name:
            return respond.gone_to(f"/job/{name}")
        return respond.page(request, "first_belt.html", first=first)

    def change(self, request: Request, form: FormData) -> Response:
        """Copy a job, put one away, or put one back."""
        del request
        what, name, where = (str(form.get(key, "")) for key in ("do", "job", "from"))
        if what == "copy":
            copied(self._shop, name)
        elif what == "back":
            put_back(self._shop, where, name)
        elif what not in PLACES:
            raise FileProblems((f"found {what!r}, expected copy, back, {' or '.join(PLACES)}",))
        elif self._bench.worker.is_running(name):
            raise FileProblems((f"{name}: a search or cut files are under way; stop them first",))
        else:
            put_away(self._shop, name, what)
        return respond.again()
