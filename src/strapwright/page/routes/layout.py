"""A job's layout: searched for, shown, moved by hand, locked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems, NestError, StrapwrightError
from strapwright.page.server import respond
from strapwright.page.server.worker import NestTask
from strapwright.page.sheet.layout_view import Move, faults, layout_json, moved
from strapwright.page.sheet.permission import check_programs
from strapwright.page.sheet.shop import LAYOUT, digest_of

if TYPE_CHECKING:
    from starlette.requests import Request

    from strapwright.job.draft import Draft
    from strapwright.nesting.layout.types import Layout
    from strapwright.page.server.bench import Bench


@dataclass(frozen=True)
class _Open:
    """A layout as it was read, and the digests it is good for.

    Args:
        digests: of the layout's file and the job's.
        draft: what it is of.
        layout: the layout.
    """

    digests: tuple[str, str]
    draft: Draft
    layout: Layout


class LayoutRoutes:
    """What concerns one job's layout.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop
        self._open: dict[str, _Open] = {}

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/job/{name}/nest", self.nest, methods=["POST"]),
            Route("/job/{name}/stop", self.stop, methods=["POST"]),
            Route("/job/{name}/layout", self.layout),
            Route("/job/{name}/layout.png", self.picture),
            Route("/job/{name}/layout/{what}", self.move, methods=["POST"]),
        ]

    async def nest(self, request: Request) -> Response:
        """Begin to lay a job on hides."""
        name = request.path_params["name"]
        form = await request.form()
        hides = tuple(self._shop.named(self._shop.hides(), str(one)) for one in form.getlist("hide"))
        if not hides:
            return respond.words("Choose at least one hide first.")
        machine = str(form.get("machine") or "")
        seconds = _whole(form.get("seconds") or "10", "Seconds to search", 1, 3600)
        steps = _whole(form.get("steps") or "0", "Steps", 0, 10**9)
        task = NestTask(
            self._shop.job(name),
            hides,
            str(self._shop.named(self._shop.machines(), machine)) if machine else "",
            float(seconds),
            steps or None,
            _whole(form.get("seed") or "0", "Seed", 0, 2**31),
            go_on=form.get("go_on") == "yes",
        )
        if not self._bench.worker.start(name, task):
            return respond.words("Something is running for this job already; stop it, or wait.", 409)
        return Response(status_code=204)

    async def stop(self, request: Request) -> Response:
        """Have a search end with the best it has."""
        self._bench.worker.stop(request.path_params["name"])
        return Response(status_code=204)

    async def picture(self, request: Request) -> Response:
        """Return the picture of a job's layout."""
        return respond.file(self._shop.job(request.path_params["name"]).parent / "layout.png")

    async def layout(self, request: Request) -> Response:
        """Return a job's layout to be drawn."""
        try:
            found = await run_in_threadpool(self._read, request.path_params["name"])
        except StrapwrightError as error:  # made before the job or a hide was changed: said in its place
            return JSONResponse({"wrong": str(error).splitlines()})
        return JSONResponse(layout_json(found.layout) | {"digest": found.digests[0]})

    async def move(self, request: Request) -> Response:
        """Check where a part is put while it is moved; put it there; lock or unlock it."""
        name, what = request.path_params["name"], request.path_params["what"]
        data = await request.json()
        doing = {"check": self._check, "place": self._place, "lock": self._lock}.get(what)
        if doing is None or not isinstance(data, dict):
            return respond.words("There is no such page here.", 404)
        try:
            return JSONResponse(await run_in_threadpool(doing, name, data))
        except (KeyError, TypeError, ValueError, OverflowError) as error:
            if isinstance(error, FileProblems | NestError):
                raise
            return respond.words("Found no move in what was sent.")

    def _check(self, name: str, data: dict[str, Any]) -> dict[str, Any]:
        new = moved(self._current(name, data).layout, _move(data))
        return {"faults": faults(new, str(data["part"]))}

    def _place(self, name: str, data: dict[str, Any]) -> dict[str, Any]:
        from strapwright.nesting.layout.verify import verify
        from strapwright.nesting.solver.findings import nest_findings

        found = self._current(name, data)
        new = moved(found.layout, _move(data))
        try:
            verify(new, [part.id for part in found.draft.parts])
        except NestError as error:
            return {"faults": str(error).splitlines()}
        notes = nest_findings(found.draft.parts, new.hides, new.placed, new.unplaced)
        return self._keep(name, found, replace(new, findings=notes), f"{data['part']}: moved")

    def _lock(self, name: str, data: dict[str, Any]) -> dict[str, Any]:
        found, part = self._current(name, data), str(data["part"])
        if part not in {one.part.id for one in found.layout.placed}:
            raise FileProblems((f"found no part {part!r} in this layout",))
        rest = tuple(one for one in found.layout.locked if one != part)
        locked = bool(data["locked"])
        new = replace(found.layout, locked=(*rest, part) if locked else rest)
        return self._keep(name, found, new, f"{part}: {'locked' if locked else 'unlocked'}")

    def _keep(self, name: str, found: _Open, new: Layout, words: str) -> dict[str, Any]:
        """Write a layout and its picture as one step."""
        from strapwright import api
        from strapwright.files.atomic_write import sealed

        folder = self._shop.job(name).parent
        files = {
            folder / file: sealed(content) for file, content in api.layout_files(found.draft, new).items()
        }
        before = {path: path.read_bytes() if path.exists() else None for path in files}
        if digest_of(before[folder / LAYOUT] or b"") != found.digests[0]:
            raise FileProblems(("the layout was changed meanwhile; load the page again",))
        self._bench.change(name, {path: (before[path], files[path]) for path in files}, words)
        kept = digest_of(files[folder / LAYOUT])
        self._open[name] = replace(found, digests=(kept, found.digests[1]), layout=new)
        return {"faults": [], **layout_json(new), "digest": kept}

    def _current(self, name: str, data: dict[str, Any]) -> _Open:
        """Return the layout a tab has drawn, if it is still the one on file.

        Raises:
            FileProblems: it has changed since.
        """
        found = self._read(name)
        if data["digest"] != found.digests[0]:
            raise FileProblems(("the layout was changed meanwhile; load the page again",))
        return found

    def _read(self, name: str) -> _Open:
        """Return a job's layout, read again only where its file or the job's has changed."""
        from strapwright import api

        path = self._shop.job(name)
        if not (path.parent / LAYOUT).is_file():
            raise FileProblems(("there is no layout of this job yet",))
        digests = digest_of((path.parent / LAYOUT).read_bytes()), digest_of(path.read_bytes())
        found = self._open.get(name)
        if found is None or found.digests != digests:
            drafted = api.draft(check_programs(api.read_job(path)))
            hides = api.read_hides(self._bench.stock.of_layout(name))
            found = _Open(digests, drafted, api.read_layout(path.parent / LAYOUT, drafted, hides))
            self._open[name] = found
        return found


def _whole(given: object, what: str, least: int, most: int) -> int:
    """Return a whole number as it was typed.

    Raises:
        FileProblems: it is none, or out of range.
    """
    text = str(given).strip()
    if not (text.isascii() and text.isdigit() and len(text) < 12 and least <= int(text) <= most):
        raise FileProblems((f"{what}: found {text!r}, expected {least} to {most}",))
    return int(text)


def _move(data: dict[str, Any]) -> Move:
    return Move(str(data["part"]), str(data["hide"]), int(data["turns"]), float(data["x"]), float(data["y"]))
