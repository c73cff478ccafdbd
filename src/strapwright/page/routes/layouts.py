"""A job's other layouts: kept under a name, seen side by side, made the one that is cut from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems, StrapwrightError
from strapwright.files.atomic_write import file_safe, sealed
from strapwright.page.layout_view import layout_json
from strapwright.page.layouts import file_of, kept_with_figures
from strapwright.page.server import respond
from strapwright.page.server.bench import Routes, form_route
from strapwright.page.sheet.shop import LAYOUT, RUNNING, kept_layouts

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request

    from strapwright.page.layouts import KeptLayout

_PICTURE: Final = "layout.png"


class LayoutsRoutes(Routes):
    """What concerns a job's other layouts."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/job/{name}/layouts", self.listed),
            form_route("/job/{name}/layouts", self.change),
            Route("/job/{name}/layouts/picture", self.picture),
            form_route("/job/{name}/broken-off", self.broken_off),
        ]

    def listed(self, request: Request) -> Response:
        """Return the layouts with their figures, and two of them side by side."""
        name = request.path_params["name"]
        found = kept_with_figures(self._bench.layouts, name)
        wanted = [request.query_params.get(key) for key in ("one", "other")]
        names = [one.name for one in found]
        others = [one for one in names if one != names[0]]
        shown = [one if one in names else None for one in wanted]
        if names and shown[0] is None:
            shown[0] = names[0]
        if others and shown[1] is None:
            shown[1] = others[-1]
        pair = [one for key in shown for one in found if one.name == key]
        return respond.page(
            request, "job/layouts.html", name=name, kept=found, pair=pair, rows=side_by_side(pair)
        )

    def picture(self, request: Request) -> Response:
        """Return one of the layouts to be drawn."""
        name, kept = request.path_params["name"], request.query_params.get("kept", "")
        try:
            file = file_of(self._named(name, kept))
            found = self._bench.layouts.read(name, file)
        except StrapwrightError as error:
            return JSONResponse({"wrong": str(error).splitlines()})
        return JSONResponse(layout_json(found.layout))

    def change(self, request: Request, form: FormData) -> Response:
        """Keep the present layout under a name, cut from another one, rename or delete one."""
        name = request.path_params["name"]
        do, kept, to = (str(form.get(key) or "").strip() for key in ("do", "kept", "to"))
        folder = self._shop.job(name).parent
        files: dict[str, bytes | None]
        if do == "keep":
            if not (folder / LAYOUT).is_file():
                raise FileProblems(("there is no layout of this job yet; lay it out first",))
            new = self._new_name(name, to)
            files, words = {file_of(new): (folder / LAYOUT).read_bytes()}, f"layout kept as {new}"
        elif do == "use":
            files, words = self._laid_as(name, file_of(self._other(name, kept))), f"{kept}: cut from"
        elif do == "rename":
            old, new = file_of(self._other(name, kept)), self._new_name(name, to)
            files = {old: None, file_of(new): (folder / old).read_bytes()}
            words = f"{kept}: called {new}"
        elif do == "delete":
            files, words = {file_of(self._other(name, kept)): None}, f"{kept}: deleted"
        else:
            return respond.words("There is no such page here.", 404)
        self._bench.replace(name, {folder / file: made for file, made in files.items()}, words)
        return respond.again()

    def broken_off(self, request: Request, form: FormData) -> Response:
        """Keep what a search that was broken off had found as the layout, or throw it away."""
        name = request.path_params["name"]
        if self._bench.worker.is_running(name):
            return respond.words("A search is running for this job; stop it, or wait.", 409)
        folder = self._shop.job(name).parent
        if not (folder / RUNNING).is_file():
            raise FileProblems(("there is nothing of a search that was broken off",))
        files: dict[str, bytes | None] = {RUNNING: None}
        words = "threw away what a search had found"
        if form.get("do") == "keep":
            files, words = files | self._laid_as(name, RUNNING), "kept what a search had found"
        self._bench.replace(name, {folder / file: made for file, made in files.items()}, words)
        return respond.again()

    def _laid_as(self, name: str, file: str) -> dict[str, bytes | None]:
        """Return the files that make one layout the one that is cut from.

        Raises:
            StrapwrightError: it is not sound, or not of the job as it is now.
        """
        from strapwright import api

        found = self._bench.layouts.read(name, file)
        text = (self._shop.job(name).parent / file).read_bytes()
        picture = api.layout_files(found.draft, found.layout)[_PICTURE]
        return {LAYOUT: text, _PICTURE: sealed(picture)}

    def _other(self, name: str, kept: str) -> str:
        if not kept:
            raise FileProblems(("found no name of a layout kept",))
        return self._named(name, kept)

    def _named(self, name: str, kept: str) -> str:
        if kept and kept not in kept_layouts(self._shop.job(name)):
            raise FileProblems((f"found no layout {kept!r} kept of this job",))
        return kept

    def _new_name(self, name: str, given: str) -> str:
        if not given:
            raise FileProblems(("Name: give the layout a name",))
        new = file_safe(given, "layout")
        if new.lower() in {one.lower() for one in kept_layouts(self._shop.job(name))}:
            raise FileProblems((f"Name: a layout {new} is kept already; take another name",))
        return new


def side_by_side(pair: list[KeptLayout]) -> list[dict[str, Any]]:
    """Return the figures of layouts row by row, and which one is better in each."""
    if not pair or any(one.wrong for one in pair):
        return []
    rows = []
    for number, (label, _) in enumerate(pair[0].figures):
        order = [one.order[number] for one in pair]
        known = [one for one in order if one is not None]
        differ = len(known) == len(pair) and len(set(known)) > 1
        best = [differ and one == min(known) for one in order]
        values = [one.figures[number][1] for one in pair]
        rows.append({"label": label, "cells": list(zip(values, best, strict=True))})
    return rows
