"""The three places: work, leather and shop."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.responses import Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems, StrapwrightError
from strapwright.files.atomic_write import file_safe, write_whole
from strapwright.page import respond
from strapwright.page.sheet.job_view import progress_of

if TYPE_CHECKING:
    from starlette.requests import Request

    from strapwright.page.bench import Bench
    from strapwright.page.sheet.shop import Shop

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


class Places:
    """What concerns the shop as a whole.

    Args:
        bench: its page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/", self.work),
            Route("/new", self.begin, methods=["POST"]),
            Route("/leather", self.leather),
            Route("/shop", self.tools),
            Route("/hide/{file}", self.hide),
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

    async def leather(self, request: Request) -> Response:
        """Show the hides in stock."""
        hides = await run_in_threadpool(self._bench.stock.rows)
        return respond.page(request, "leather.html", hides=hides)

    async def tools(self, request: Request) -> Response:
        """Show machines and buckles."""
        return respond.page(request, "shop.html", **await run_in_threadpool(_tools, self._shop))

    async def hide(self, request: Request) -> Response:
        """Return a hide as a small picture."""
        picture = await run_in_threadpool(self._bench.stock.picture, request.path_params["file"])
        return Response(picture, media_type="image/svg+xml")


def _tools(shop: Shop) -> dict[str, Any]:
    """Return machines and buckles; of a bad file, what is wrong with it."""
    from strapwright.job.catalogue.file import CATALOGUE_NAME, catalogue_for, read_catalogue, shipped
    from strapwright.machine.profile.machine import read_machine

    machines: list[dict[str, Any]] = []
    for path in shop.machines():
        about: dict[str, Any] = {"file": path.name, "name": path.stem, "kind": "", "wrong": ()}
        try:
            one = read_machine(str(path))
            about |= {"name": one.name, "kind": str(one.kind).replace("_", " ")}
        except StrapwrightError as error:
            about["wrong"] = str(error).splitlines()
        machines.append(about)
    own_path = shop.folder / CATALOGUE_NAME
    own, wrong, buckles = frozenset[str](), tuple[str, ...](), shipped().buckles
    try:
        if own_path.exists():
            own = frozenset(read_catalogue(own_path).buckles)
        buckles = catalogue_for(shop.folder / "job.toml").buckles
    except FileProblems as error:
        wrong = error.problems
    return {"machines": machines, "buckles": sorted(buckles.items()), "own": own, "wrong": wrong}
