"""A job's layouts: searched for, shown, moved by hand, locked; others kept, seen side by side, cut from."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems, NestError, StrapwrightError, UnitError
from strapwright.files.atomic_write import file_safe, sealed
from strapwright.nesting.layout.avoided_zone import zone_to_avoid
from strapwright.nesting.layout.types import AvoidedZone
from strapwright.nesting.layout.verify import verify
from strapwright.page.layout_view import (
    Move,
    faults,
    free_move,
    layout_json,
    moved,
    places_json,
    taken_off,
    with_zones,
)
from strapwright.page.layouts import file_of, kept_with_figures, read_basis, reasons, zones_kept_clear
from strapwright.page.server import respond
from strapwright.page.server.bench import Routes, form_route, json_route
from strapwright.page.server.worker import NestTask
from strapwright.page.sheet.cut_form import read_kerf
from strapwright.page.sheet.shop import LAYOUT, RUNNING, digest_of, kept_layouts

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.datastructures import FormData
    from starlette.requests import Request

    from strapwright.nesting.layout.types import Layout
    from strapwright.page.layouts import KeptLayout, OpenLayout
    from strapwright.parts.part import Part

_PICTURE: Final = "layout.png"


class LayoutRoutes(Routes):
    """What concerns one job's layout."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            form_route("/job/{name}/nest", self.nest),
            Route("/job/{name}/stop", self.stop, methods=["POST"]),
            form_route("/job/{name}/empty", self.empty),
            Route("/job/{name}/layout", self.layout),
            Route("/job/{name}/layout.png", self.picture),
            Route("/job/{name}/running", partial(self.layout, file=RUNNING)),
            Route("/job/{name}/running/places", self.places),
            json_route("/job/{name}/layout/{what}", self.change),
        ]

    def nest(self, request: Request, form: FormData) -> Response:
        """Begin to lay a job on hides."""
        name = request.path_params["name"]
        hides, profile, kerf = self._chosen(form)
        seconds = _whole(form.get("seconds") or "10", "Seconds to search", 1, 3600)
        steps = _whole(form.get("steps") or "0", "Steps", 0, 10**9)
        task = NestTask(
            self._shop.job(name),
            hides,
            profile,
            float(seconds),
            steps or None,
            _whole(form.get("seed") or "0", "Seed", 0, 2**31),
            go_on=form.get("go_on") == "yes",
            kerf=kerf,
        )
        return self._begin(name, task)

    def empty(self, request: Request, form: FormData) -> Response:
        """Begin with nothing laid on the hides chosen, every part in the tray."""
        from strapwright import api

        name, (hides, profile, kerf) = request.path_params["name"], self._chosen(form)
        job = self._shop.job(name)
        basis = read_basis(job, hides, profile, kerf)
        empty = basis.empty(zones_kept_clear(job.parent / LAYOUT, basis.hides))
        files = api.layout_files(basis.draft, empty)
        self._write(name, {file: sealed(text) for file, text in files.items()}, "begun with nothing laid")
        return respond.again()

    def _chosen(self, form: FormData) -> tuple[tuple[Path, ...], str, float | None]:
        """Return the hides chosen, the machine's file or nothing, and the kerf given by hand.

        Raises:
            FileProblems: no hide is chosen, there is no such hide or machine, or a kerf is no length.
        """
        hides = tuple(self._shop.hide(str(one)) for one in form.getlist("hide"))
        if not hides:
            raise FileProblems(("Choose at least one hide first.",))
        machine = str(form.get("machine") or "")
        file = str(self._shop.named(self._shop.machines(), machine)) if machine else ""
        try:
            kerf = read_kerf(form)
        except UnitError as error:
            raise FileProblems((f"Kerf by hand: {error}",)) from error
        if kerf is not None and not file:
            raise FileProblems(("Kerf by hand: choose the machine that cuts it, or leave it empty.",))
        return hides, file, kerf

    async def stop(self, request: Request) -> Response:
        """Have a search end with the best it has."""
        self._bench.worker.stop(request.path_params["name"])
        return Response(status_code=204)

    def picture(self, request: Request) -> Response:
        """Return the picture of a job's layout."""
        return respond.file(self._shop.job(request.path_params["name"]).parent / "layout.png")

    def layout(self, request: Request, file: str = LAYOUT) -> Response:
        """Return a job's layout to be drawn, or the best so far of a search."""
        name = request.path_params["name"]
        try:
            found = self._bench.layouts.read(name, file)
        except StrapwrightError as error:  # made before the job or a hide was changed: said in its place
            return JSONResponse({"wrong": reasons(error, self._shop.job(name).parent / file)})
        return JSONResponse(layout_json(found.layout) | {"digest": found.digest})

    def places(self, request: Request) -> Response:
        """Return the placements alone of the best layout so far."""
        path = self._shop.job(request.path_params["name"]).parent / RUNNING
        try:
            return JSONResponse(places_json(json.loads(path.read_text("utf-8"))))
        except (OSError, ValueError, KeyError, TypeError):  # the search has just ended
            return JSONResponse([])

    def change(self, request: Request, data: Any) -> Response:
        """Check, place, take off or lock a part, find room for it, or keep a zone clear."""
        doing = {
            "check": self._check,
            "place": self._place,
            "room": self._room,
            "off": self._take_off,
            "lock": self._lock,
            "zone": self._zone,
        }.get(request.path_params["what"])
        if doing is None or not isinstance(data, dict):
            return respond.words("There is no such page here.", 404)
        try:
            return JSONResponse(doing(request.path_params["name"], data))
        except (KeyError, TypeError, ValueError, OverflowError) as error:
            if isinstance(error, FileProblems | NestError):
                raise
            return respond.words("Found no move in what was sent.")

    def _check(self, name: str, data: dict[str, Any]) -> dict[str, Any]:
        found = self._current(name, data)
        new = moved(found.layout, _move(data), found.draft.parts)
        return {"faults": faults(new, str(data["part"]))}

    def _place(self, name: str, data: dict[str, Any]) -> dict[str, Any]:
        found = self._current(name, data)
        new = moved(found.layout, _move(data), found.draft.parts)
        try:
            verify(new, [part.id for part in found.draft.parts])
        except NestError as error:
            return {"faults": str(error).splitlines()}
        return self._keep(name, found, new, f"{data['part']}: moved")

    def _room(self, name: str, data: dict[str, Any]) -> dict[str, Any]:
        """Return a place on a hide where a part could lie."""
        found = self._current(name, data)
        part, hide = _part(found, str(data["part"])), _hide(found, str(data["hide"]))
        move = free_move(found.layout, part, hide, found.draft.parts)
        if move is None:
            return {"faults": [f"{part.id}: no room was found on {hide} beside what lies there"]}
        return {"faults": [], "turns": move.turns, "x": move.x, "y": move.y}

    def _take_off(self, name: str, data: dict[str, Any]) -> dict[str, Any]:
        found = self._current(name, data)
        part = _part(found, str(data["part"]))
        if part.id not in {one.part.id for one in found.layout.placed}:
            raise FileProblems((f"{part.id}: is not laid",))
        if part.id in found.layout.locked:
            raise FileProblems((f"{part.id}: is locked; unlock it first",))
        new = taken_off(found.layout, {part.id: "taken off by hand"}, found.draft.parts)
        return self._keep(name, found, new, f"{part.id}: taken off")

    def _lock(self, name: str, data: dict[str, Any]) -> dict[str, Any]:
        found, part = self._current(name, data), str(data["part"])
        if part not in {one.part.id for one in found.layout.placed}:
            raise FileProblems((f"found no part {part!r} in this layout",))
        rest = tuple(one for one in found.layout.locked if one != part)
        locked = bool(data["locked"])
        new = replace(found.layout, locked=(*rest, part) if locked else rest)
        if not locked:  # what was proven with it lying there says nothing of other places
            new = replace(new, bound=None)
        return self._keep(name, found, new, f"{part}: {'locked' if locked else 'unlocked'}")

    def _zone(self, name: str, data: dict[str, Any]) -> dict[str, Any]:
        """Keep a zone clear that is new, or instead of one that is there; or keep one clear no longer."""
        found = self._current(name, data)
        zones, index, text = list(found.layout.avoided), data.get("index"), str(data.get("text") or "")
        if index is not None and not (isinstance(index, int) and 0 <= index < len(zones)):
            raise FileProblems(("found no such zone in this layout",))
        if index is None and not text:
            raise FileProblems(("zone to keep clear: type its corners, or its middle and size",))
        new = []
        if text:
            hide = _hide(found, str(data["hide"]))
            _, zone = zone_to_avoid(f"{hide}:{text}", found.layout.hides)
            new = [AvoidedZone(hide, zone.polygon)]
        at = slice(len(zones), None) if index is None else slice(index, index + 1)
        zones[at] = new
        laid = with_zones(found.layout, zones, found.draft.parts)
        what = "kept clear" if text and index is None else "changed" if text else "free again"
        hide = new[0].hide if new else found.layout.avoided[index or 0].hide
        answer = self._keep(name, found, laid, f"a zone of {hide}: {what}")
        off = {one.part.id for one in laid.unplaced} - {one.part.id for one in found.layout.unplaced}
        return answer | {"off": sorted(off)}

    def _keep(self, name: str, found: OpenLayout, new: Layout, words: str) -> dict[str, Any]:
        """Write a layout and its picture as one step."""
        from strapwright import api
        from strapwright.nesting.solver.findings import nest_findings

        if (new.placed, new.unplaced) != (found.layout.placed, found.layout.unplaced):
            notes = nest_findings(found.draft.parts, new.hides, new.placed, new.unplaced)
            new = replace(new, findings=notes)
        files = {file: sealed(text) for file, text in api.layout_files(found.draft, new).items()}
        self._write(name, files, words, found.digest)
        kept = digest_of(files[LAYOUT])
        self._bench.layouts.written(name, replace(found, digest=kept, layout=new))
        return {"faults": [], **layout_json(new), "digest": kept}

    def _write(self, name: str, files: dict[str, bytes], words: str, digest: str = "") -> None:
        """Write files of a job as one step, if its layout still has a digest, where one is given."""
        folder = self._shop.job(name).parent
        before = {file: (folder / file).read_bytes() if (folder / file).exists() else None for file in files}
        if digest and digest_of(before[LAYOUT] or b"") != digest:
            raise FileProblems(("the layout was changed meanwhile; look at it again",))
        self._bench.change(name, {folder / file: (before[file], files[file]) for file in files}, words)

    def _current(self, name: str, data: dict[str, Any]) -> OpenLayout:
        """Return the layout a tab has drawn, if it is still the one on file.

        Raises:
            FileProblems: it has changed since.
        """
        found = self._bench.layouts.read(name)
        if data["digest"] != found.digest:
            raise FileProblems(("the layout was changed meanwhile; look at it again",))
        return found


def _part(found: OpenLayout, id_: str) -> Part:
    """Return one of the job's parts.

    Raises:
        FileProblems: there is no such one.
    """
    part = next((one for one in found.draft.parts if one.id == id_), None)
    if part is None:
        raise FileProblems((f"found no part {id_!r} in this job",))
    return part


def _hide(found: OpenLayout, name: str) -> str:
    """Return the name of one of the layout's hides.

    Raises:
        FileProblems: there is no such one.
    """
    if name not in {one.name for one in found.layout.hides}:
        raise FileProblems((f"found no hide {name!r} in this layout",))
    return name


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


class KeptLayoutRoutes(Routes):
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
