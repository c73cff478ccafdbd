"""Machines: added from a shipped profile, changed, their kerfs shown and recorded, put away."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlencode

from starlette.responses import JSONResponse
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.core.text import numbered
from strapwright.files.atomic_write import file_safe, sealed
from strapwright.files.read import toml_tables
from strapwright.machine.profile.machine import (
    Machine,
    machine_from,
    profile_text,
    shipped_profiles,
    with_rows,
)
from strapwright.page.forms.toml_text import text_with_edits, text_without, value_at
from strapwright.page.routes.shop import file_page
from strapwright.page.server import respond
from strapwright.page.server.bench import SHOP, Routes, form_route, values_of
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

    from starlette.datastructures import FormData
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
            form_route("/shop/machines", self.add),
            Route("/shop/machine/{file}", self.machine),
            form_route("/shop/machine/{file}", self.change),
            Route("/shop/machine/{file}/test-piece", self.test_piece),
            Route("/shop/machine/{file}/test-piece.zip", self.test_piece_files),
            form_route("/shop/machine/{file}/kerf", self.record),
            form_route("/shop/machine/{file}/kerf/remove", self.remove_row),
            form_route("/shop/machine/{file}/remove", self.put_away),
        ]

    def _path(self, file: str) -> Path:
        return self._shop.named(self._shop.machines(), file)

    def add(self, request: Request, form: FormData) -> Response:
        """Copy a shipped profile to a machine of one's own, where that is asked for and its name is sound."""
        posted, write = values_of(request, form)
        profile, name = posted.get("profile", ""), " ".join(posted.get("name", "").split())
        mistakes = {}
        if profile not in shipped_profiles():
            mistakes["profile"] = "choose one to begin from"
        if (name or write) and not (1 <= len(name) <= LONGEST_NAME and name.isprintable()):
            mistakes["name"] = f"expected 1 to {LONGEST_NAME} printable characters"
        answer: dict[str, Any] = {"mistakes": mistakes}
        if write and not mistakes:
            path = _free(self._shop.folder / "machines", file_safe(name, otherwise="machine").lower())
            text = text_with_edits(_unmeasured(profile_text(profile)), {("machine", "name"): name})
            self._bench.change(SHOP, {path: (None, text.encode())}, f"{name}: added")
            answer["to"] = f"/shop/machine/{path.name}"
        return JSONResponse(answer)

    def machine(self, request: Request) -> Response:
        """Show a machine: its keys as fields, and its kerfs drawn."""
        file = request.path_params["file"]
        try:
            shown = self._machine(file)
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

    def change(self, request: Request, form: FormData) -> Response:
        """Check a machine's keys as its form stands, and write them where that is asked for."""
        posted, write = values_of(request, form)
        written = read_written(self._path(request.path_params["file"]))
        tables = toml_tables(written.text, written.path)

        def check(new: dict[str, Any]) -> tuple[dict[str, Any], str]:
            return {"mistakes": machine_mistakes(new)}, written.path.stem

        return JSONResponse(
            self._bench.change_fields(SHOP, written, tables, machine_form(), posted, check, write=write)
        )

    def record(self, request: Request, form: FormData) -> Response:
        """Work out what readings of a test piece come to, and record it where that is asked for."""
        posted, write = values_of(request, form)
        return JSONResponse(self._record(self._path(request.path_params["file"]), posted, write))

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
            "working": respond.fragment("calculation.html", steps=found.recorded.measured.steps),
            "findings": respond.fragment("notes.html", notes=found.notes),
            "summary": " ".join(row_words(table, row) for table, row in found.recorded.rows),
        }
        if write:
            before, after = with_rows(str(path), found.recorded.rows)
            what = " and ".join(table for table, _ in found.recorded.rows)
            self._bench.change(SHOP, {path: (before, after)}, f"{machine.name}: {what} recorded")
            answer["again"] = True
        return answer

    def test_piece(self, request: Request) -> Response:
        """Show what is measured on a kerf test piece, and offer its files; or what is wrong."""
        file, asked = request.path_params["file"], request.query_params
        seen = piece_seen(self._read(self._path(file)), asked)
        query = urlencode(asked.multi_items())
        return respond.page(request, "test_piece.html", file=file, query=query, **seen)

    def test_piece_files(self, request: Request) -> Response:
        """Return a kerf test piece's files as one archive."""
        machine = self._read(self._path(request.path_params["file"]))
        made = piece_of(machine, request.query_params)
        saved = f"{file_safe(machine.name, otherwise='machine').lower()}-test-piece.zip"
        return respond.archive({name: sealed(text) for name, text in made.files.texts.items()}, saved)

    def remove_row(self, request: Request, form: FormData) -> Response:
        """Take a measured row out that was wrong, then show the machine anew."""
        path, index = self._path(request.path_params["file"]), str(form.get("index", ""))
        machine, written = self._read(path), read_written(path)
        _unchanged(form, written.digest)
        if not index.isdecimal() or int(index) >= len(machine.kerf):
            raise FileProblems(("found no such kerf in this machine's file",))
        row = machine.kerf[int(index)]
        new = text_without(written.text, "kerf", int(index))
        self._bench.change_text(SHOP, written, new, f"{machine.name}: kerf of {row.measured} removed")
        return respond.again()

    def put_away(self, request: Request, form: FormData) -> Response:
        """Move a machine's file to the folder of those no longer used."""
        path = self._path(request.path_params["file"])
        _unchanged(form, read_written(path).digest)
        content = path.read_bytes()
        aside = _free(path.parent / PUT_AWAY, path.stem)
        self._bench.change(SHOP, {path: (content, None), aside: (None, content)}, f"{path.stem}: put away")
        return respond.gone_to("/shop#machines")

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
    paths = (folder / f"{name}.toml" for name in numbered(stem))
    return next(path for path in paths if not path.exists())


def _unchanged(form: FormData, now: str) -> None:
    if form.get("digest") != now:
        raise FileProblems(("The file was changed meanwhile; load this page again.",))
