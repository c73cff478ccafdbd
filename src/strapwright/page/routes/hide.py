"""One hide, drawn by hand: its page, what is drawn checked as it changes, written as a step of the stock."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.core.text import numbered
from strapwright.drawing.layout.hide_thumbnails import length_text
from strapwright.files.atomic_write import file_safe, sealed
from strapwright.nesting.stock import STRAP_WIDTH
from strapwright.page.leather.file import (
    UNSURE,
    Sent,
    base_of,
    changed_content,
    checked,
    matched,
    mistakes_by_place,
    tables_as_sent,
    text_as_sent,
)
from strapwright.page.leather.form import SHAPES, differences, drawn_state, figures, shown
from strapwright.page.leather.picture import beside, opened
from strapwright.page.server import respond
from strapwright.page.server.bench import Routes
from strapwright.page.sheet.made_view import USED
from strapwright.page.sheet.shop import digest_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from starlette.requests import Request

    from strapwright.core.units import Units
    from strapwright.page.leather.photograph import Photograph


class HideRoutes(Routes):
    """What concerns the drawing of one hide."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/leather/add", self.add),
            _drawn("/leather/check", self._check),
            _drawn("/leather/save", self._save),
            Route("/leather/picture", self.take_picture, methods=["POST"]),
            Route("/leather/picture/{digest}", self.picture),
            Route("/leather/measured/{digest}", self.measured),
            Route("/hide/{file}/edit", self.edit),
        ]

    def add(self, request: Request) -> Response:
        """Show the page of a hide that is not there yet."""
        return self._page(request, None, "", {"hide": {}}, "")

    def measured(self, request: Request) -> Response:
        """Show the page of a hide that was measured from a photograph and is not in stock yet."""
        found = self._bench.photographs.get(request.path_params["digest"])
        return self._page(request, None, "", found.tables, "", found)

    def edit(self, request: Request) -> Response:
        """Show the page of a hide; one whose file cannot be read as it is, as text."""
        path = self._shop.hide(request.path_params["file"])
        drawing = "" if path.suffix.lower() == ".toml" else path.name
        own = None if drawing else path
        try:
            _, tables, digest = base_of(own, drawing)
            if drawing:
                tables = {"hide": {"name": path.stem, **tables["hide"]}}
            return self._page(request, own, drawing, tables, digest)
        except FileProblems:
            return RedirectResponse(f"/hide/{path.name}/text", 303)

    def _page(
        self,
        request: Request,
        path: Path | None,
        drawing: str,
        tables: Mapping[str, Any],
        digest: str,
        measured: Photograph | None = None,
    ) -> Response:
        units = self._shop.units
        state = drawn_state(tables, path or self._new_path(drawing), units)
        state |= {"file": path.name if path else "", "drawing": drawing, "digest": digest}
        state["measured"] = measured.digest if measured else ""
        if measured is not None:
            state["picture"] = {"digest": self._bench.pictures.hold(measured.flat.picture), **measured.place}
        else:
            state["picture"] = self._bench.pictures.of_hide(path) if path else None
        name = str(tables["hide"].get("name", "")) or "A new hide"
        return respond.page(
            request,
            "hide.html",
            name=name,
            path=path,
            state=state,
            groups=shown(tables["hide"], units),
            units=units,
            strap=length_text(STRAP_WIDTH, units == "in"),
            measured=measured,
        )

    def _check(self, sent: Sent) -> dict[str, Any]:
        """Return what is wrong with a hide as it is drawn, and its figures where nothing is."""
        units = self._shop.units
        path, _, tables, digest = self._base(sent)
        if sent.digest != digest:
            sent = matched(tables, sent, units)
        own, new = path or self._new_path(sent.drawing), tables_as_sent(tables, sent, units)
        try:
            return {"mistakes": {}} | _figures(new, own, sent, units)
        except FileProblems as error:
            mistakes = mistakes_by_place(error.problems, own)
        if mistakes.keys() != {"name"}:
            return {"mistakes": mistakes}
        named = new | {"hide": new["hide"] | {"name": "hide"}}  # drawn before it is called anything
        try:
            return {"mistakes": mistakes} | _figures(named, own, sent, units)
        except FileProblems as error:
            return {"mistakes": mistakes | mistakes_by_place(error.problems, own)}

    def _save(self, sent: Sent) -> dict[str, Any]:
        """Write a hide as it is drawn, where it is sound and nobody else has changed its file."""
        units = self._shop.units
        path, text, tables, digest = self._base(sent)
        if sent.digest != digest:
            here = tables_as_sent(tables, matched(tables, sent, units), units)
            own = path or self._new_path(sent.drawing)
            return {"conflict": differences(tables, here), "digest": digest, "theirs": _outline(tables, own)}
        if sent.over:
            sent = matched(tables, sent, units)
        new = tables_as_sent(tables, sent, units)
        target = path or self._free_path(str(new["hide"].get("name", "")))
        try:
            checked(new, target)
        except FileProblems as error:
            return {"mistakes": mistakes_by_place(error.problems, target)}
        after = text_as_sent(text, new, sent)
        changes: dict[Path, tuple[bytes | None, bytes | None]] = {}
        if path is None:
            changes[path := target] = (None, sealed(after))
            words = "added"
        else:
            before, content = changed_content(path, digest, after)
            changes |= {path: (before, content)} if before != content else {}
            words = ", ".join(_changed(tables, new)) or "its picture"
        changes |= self._bench.pictures.changes(path, sent.picture)
        if changes:
            self._bench.change_stock(changes, f"{path.name}: {words}")
        return {"written": True, "file": path.name, "digest": digest_of(path.read_bytes())}

    def _base(self, sent: Sent) -> tuple[Path | None, str, dict[str, Any], str]:
        """Return what a drawn hide goes out from: its file, its text and tables, and their digest."""
        path = self._shop.hide(sent.file) if sent.file else None
        if path is not None and path.suffix.lower() != ".toml":
            raise FileProblems((f"{path.name}: a drawing is not written over",))
        if sent.drawing:
            self._shop.hide(sent.drawing)
        if path is None and sent.measured:
            found = self._bench.photographs.get(sent.measured)
            return None, found.found.text, found.tables, ""
        return path, *base_of(path, sent.drawing)

    def _new_path(self, name: str) -> Path:
        return self._shop.folder / "hides" / f"{file_safe(name, 'hide')}.toml"

    def _free_path(self, name: str) -> Path:
        """Return a file for a new hide, that neither one in stock nor one used up has."""
        path = self._new_path(name)
        if not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(self._shop.folder)):
            raise FileProblems((f"{path.parent}: leads out of the shop; nothing is written there",))
        for stem in numbered(path.stem):
            path = path.with_name(f"{stem}.toml")
            if not any(one.exists() for one in (path, path.parent / USED / path.name, *beside(path))):
                break
        return path

    async def take_picture(self, request: Request) -> Response:
        """Take a picture to draw over."""
        data = await request.body()
        content = await run_in_threadpool(opened, data)
        return JSONResponse({"digest": self._bench.pictures.hold(content)})

    def picture(self, request: Request) -> Response:
        """Return a picture that is drawn over."""
        return Response(self._bench.pictures.get(request.path_params["digest"]), media_type="image/jpeg")


def _figures(tables: Mapping[str, Any], path: Path, sent: Sent, units: Units) -> dict[str, Any]:
    """Return the figures of a hide.

    Raises:
        FileProblems: everything that is wrong, one line each.
    """
    hide = drawn = checked(tables, path)
    plain = {key: value for key, value in tables.items() if key != UNSURE}
    plain["hide"] = {key: value for key, value in tables["hide"].items() if key != "uncertainty"}
    if plain != tables:
        drawn = checked(plain, path)
    return figures(hide, drawn, path, len(sent.flaws), units)


def _drawn(path: str, answer: Callable[[Sent], dict[str, Any]]) -> Route:
    """Return the route of what a page has drawn; what is no drawing of a hide is refused."""

    async def read(request: Request) -> Response:
        try:
            drawn = Sent.model_validate_json(await request.body())
        except ValidationError as error:
            place = ".".join(str(one) for one in error.errors()[0]["loc"])
            raise FileProblems((f"found no hide in what was sent: {place}",)) from error
        return JSONResponse(await run_in_threadpool(answer, drawn))

    return Route(path, read, methods=["POST"])


def _outline(tables: Mapping[str, Any], path: Path) -> list[list[float]]:
    """Return the outline that a file has by now; none where it is not sound."""
    try:
        return [[float(x), float(y)] for x, y in checked(tables, path).outline]
    except FileProblems:
        return []


def _changed(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    """Return what of a hide's file was changed, in words."""
    old, new = before["hide"], after["hide"]
    keys = [key for key in dict.fromkeys((*old, *new)) if old.get(key) != new.get(key)]
    words = [key.replace("_", " ") for key in keys if key not in SHAPES]
    words = ["edge", *words] if len(words) < len(keys) else words
    return words + [
        name
        for key, name in (("flaw", "flaws"), ("zone", "thickness"), (UNSURE, "unsure stretches"))
        if before.get(key) != after.get(key)
    ]
