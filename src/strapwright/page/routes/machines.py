"""Machines: added from a shipped profile, changed, their kerfs shown and recorded, put away."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.files.atomic_write import file_safe, sealed
from strapwright.files.read import toml_tables
from strapwright.machine.profile.append import with_rows
from strapwright.machine.profile.machine import Machine, machine_from, profile_text, shipped_profiles
from strapwright.page.forms.toml_text import text_with_edits, text_without, value_at
from strapwright.page.routes.shop import file_page
from strapwright.page.server import respond
from strapwright.page.server.bench import SHOP, Routes, change_fields, posted_form
from strapwright.page.sheet.shop import read_written
from strapwright.page.workshop.machines import (
    kerf_plots,
    machine_form,
    machine_mistakes,
    piece_of,
    piece_seen,
    reading_of,
    record_fields,
    row_words,
    scale_words,
)
from strapwright.rules.leather import Tannage
from strapwright.rules.safety import cautions

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request
    from starlette.responses import Response


PUT_AWAY: Final = "put-away"
"""The folder of ``machines`` that files go to which are no longer used."""

LONGEST_NAME: Final = 80


class MachineRoutes(Routes):
    """What concerns the shop's machines."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/shop/machines", self.add, methods=["POST"]),
            Route("/shop/machine/{file}", self.machine),
            Route("/shop/machine/{file}", self.change, methods=["POST"]),
            Route("/shop/machine/{file}/test-piece", self.test_piece),
            Route("/shop/machine/{file}/test-piece.zip", self.test_piece_files),
            Route("/shop/machine/{file}/kerf", self.record, methods=["POST"]),
            Route("/shop/machine/{file}/kerf/remove", self.remove_row, methods=["POST"]),
            Route("/shop/machine/{file}/remove", self.put_away, methods=["POST"]),
        ]

    def _path(self, file: str) -> Path:
        return self._shop.named(self._shop.machines(), file)

    async def add(self, request: Request) -> Response:
        """Copy a shipped profile to a machine of one's own, where that is asked for and its name is sound."""
        posted, write = await posted_form(request)
        profile, name = posted.get("profile", ""), " ".join(posted.get("name", "").split())
        mistakes = {}
        if profile not in shipped_profiles():
            mistakes["profile"] = "choose one to begin from"
        if (name or write) and not (1 <= len(name) <= LONGEST_NAME and name.isprintable()):
            mistakes["name"] = f"expected 1 to {LONGEST_NAME} printable characters"
        answer: dict[str, Any] = {"mistakes": mistakes}
        if write and not mistakes:
            answer["to"] = f"/shop/machine/{await run_in_threadpool(self._add, profile, name)}"
        return JSONResponse(answer)

    def _add(self, profile: str, name: str) -> str:
        folder, stem = self._shop.folder / "machines", file_safe(name, otherwise="machine").lower()
        path = _free(folder, stem)
        text = text_with_edits(_unmeasured(profile_text(profile)), {("machine", "name"): name})
        self._bench.change(SHOP, {path: (None, text.encode())}, f"{name}: added")
        return path.name

    async def machine(self, request: Request) -> Response:
        """Show a machine: its keys as fields, and its kerfs drawn."""
        file = request.path_params["file"]
        try:
            shown = await run_in_threadpool(self._machine, file)
        except FileProblems as error:
            return file_page(request, self._bench, f"machines/{file}", error.problems)
        return respond.page(request, "machine.html", asked=request.query_params, **shown)

    def _machine(self, file: str) -> dict[str, Any]:
        written = read_written(self._path(file))
        tables = toml_tables(written.text, written.path)
        mistakes = machine_mistakes(tables)
        machine = None if mistakes else machine_from(tables, str(written.path))
        return {
            "file": file,
            "name": str(value_at(tables, ("machine", "name")) or file),
            "kind": str(value_at(tables, ("machine", "kind")) or "").replace("_", " "),
            "digest": written.digest,
            "unit": self._shop.units,
            "groups": machine_form().shown(tables, self._shop.units),
            "mistakes": mistakes,
            "machine": machine,
            "plots": kerf_plots(machine) if machine else [],
            "scale": scale_words(machine) if machine else ("", []),
            "record": record_fields(machine) if machine else [],
            "tannages": [str(one) for one in Tannage],
            "cautions": cautions(machine.kind) if machine else (),
            "steps": self._bench.history(SHOP).next,
        }

    async def change(self, request: Request) -> Response:
        """Check a machine's keys as its form stands, and write them where that is asked for."""
        posted, write = await posted_form(request)
        path = self._path(request.path_params["file"])
        answer = await run_in_threadpool(
            lambda: change_fields(
                self._bench, path, machine_form(), posted, machine_mistakes, write=write, title=path.stem
            )
        )
        return JSONResponse(answer)

    async def record(self, request: Request) -> Response:
        """Work out what readings of a test piece come to, and record it where that is asked for."""
        posted, write = await posted_form(request)
        path = self._path(request.path_params["file"])
        return JSONResponse(await run_in_threadpool(self._record, path, posted, write))

    def _record(self, path: Path, posted: dict[str, str], write: bool) -> dict[str, Any]:
        machine = self._read(path)
        digest = read_written(path).digest
        found = reading_of(machine, posted)
        begun = any(posted.get(name, "").strip() for name, _, usual in record_fields(machine) if not usual)
        if not begun and not write:
            return {"mistakes": {}, "digest": digest, "working": "", "summary": ""}
        answer: dict[str, Any] = {"mistakes": found.mistakes, "digest": digest}
        if write and posted.get("digest") != digest:
            stale = (
                "The machine's file was changed meanwhile; nothing is recorded. Look again, then record it."
            )
            answer, write = {"mistakes": {"": stale}, "digest": digest}, False
        if found.recorded is None:
            waiting = "" if write else "Give what you measured, its leather and its thickness."
            shown = {key: text for key, text in found.mistakes.items() if write or key}
            return answer | {"mistakes": shown, "working": "", "findings": "", "summary": waiting}
        answer |= {
            "working": respond.fragment("working.html", steps=found.recorded.measured.steps),
            "findings": respond.fragment("notes.html", notes=found.notes),
            "summary": " ".join(row_words(table, row) for table, row in found.recorded.rows),
        }
        if write:
            before, after = with_rows(str(path), found.recorded.rows)
            what = " and ".join(table for table, _ in found.recorded.rows)
            self._bench.change(SHOP, {path: (before, after)}, f"{machine.name}: {what} recorded")
            answer["again"] = True
        return answer

    async def test_piece(self, request: Request) -> Response:
        """Show what is measured on a kerf test piece, and offer its files; or what is wrong."""
        file, asked = request.path_params["file"], request.query_params
        machine = await run_in_threadpool(self._read, self._path(file))
        seen = await run_in_threadpool(piece_seen, machine, asked)
        shown = {"file": file, "query": urlencode(asked.multi_items()), **seen}
        return respond.page(request, "test_piece.html", **shown)

    async def test_piece_files(self, request: Request) -> Response:
        """Return a kerf test piece's files as one archive."""
        file, asked = request.path_params["file"], request.query_params
        machine = await run_in_threadpool(self._read, self._path(file))
        made = await run_in_threadpool(piece_of, machine, asked)
        saved = f"{file_safe(machine.name, otherwise='machine').lower()}-test-piece.zip"
        return respond.archive({name: sealed(text) for name, text in made.files.texts.items()}, saved)

    async def remove_row(self, request: Request) -> Response:
        """Take a measured row out that was wrong, then show the machine anew."""
        form = await request.form()
        path = self._path(request.path_params["file"])
        index = str(form.get("index", ""))
        await run_in_threadpool(self._remove_row, path, index, str(form.get("digest", "")))
        return respond.again()

    def _remove_row(self, path: Path, index: str, digest: str) -> None:
        machine, written = self._read(path), read_written(path)
        _unchanged(digest, written.digest)
        if not index.isdecimal() or int(index) >= len(machine.kerf):
            raise FileProblems(("found no such kerf in this machine's file",))
        row = machine.kerf[int(index)]
        new = text_without(written.text, "kerf", int(index))
        self._bench.change_text(SHOP, written, new, f"{machine.name}: kerf of {row.measured} removed")

    async def put_away(self, request: Request) -> Response:
        """Move a machine's file to the folder of those no longer used."""
        form = await request.form()
        path = self._path(request.path_params["file"])
        await run_in_threadpool(self._put_away, path, str(form.get("digest", "")))
        return respond.gone_to("/shop#machines")

    def _put_away(self, path: Path, digest: str) -> None:
        _unchanged(digest, read_written(path).digest)
        content = path.read_bytes()
        aside = _free(path.parent / PUT_AWAY, path.stem)
        self._bench.change(SHOP, {path: (content, None), aside: (None, content)}, f"{path.stem}: put away")

    def _read(self, path: Path) -> Machine:
        return machine_from(toml_tables(read_written(path).text, path), str(path))


def _unmeasured(text: str) -> str:
    """Return a profile's text without its invented kerfs and scales: those of a new machine are not known."""
    kept = [line for line in text.splitlines(keepends=True) if not line.startswith("# THESE ROWS ARE")]
    text = "".join(kept)
    for kind in ("kerf", "scale"):
        while kind in tomllib.loads(text):
            text = text_without(text, kind, 0)
    return text


def _free(folder: Path, stem: str) -> Path:
    """Return a file's path in a folder that nothing stands at yet."""
    path, count = folder / f"{stem}.toml", 2
    while path.exists():
        path, count = folder / f"{stem}-{count}.toml", count + 1
    return path


def _unchanged(digest: str, now: str) -> None:
    if digest != now:
        raise FileProblems(("The file was changed meanwhile; load this page again.",))
