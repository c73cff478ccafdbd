"""Buckles and hardware: what is in the catalogue, added, measured anew, changed and removed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlencode

from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.files.read import toml_tables
from strapwright.job.catalogue.file import CATALOGUE_NAME, shipped, with_entry
from strapwright.job.measuring import (
    BUCKLE_QUESTIONS,
    check_name,
    entry_of as measured_entry,
    entry_text,
    takes,
)
from strapwright.page.forms import form as forms
from strapwright.page.forms.field import Group
from strapwright.page.forms.form import Form
from strapwright.page.forms.toml_text import text_with_edits, with_edits
from strapwright.page.server import respond
from strapwright.page.server.bench import SHOP, Routes, form_route, values_of
from strapwright.page.sheet.shop import written_or_new
from strapwright.page.workshop import measuring
from strapwright.page.workshop.entries import (
    KINDS,
    entry_form,
    entry_of,
    free_name,
    measures_of,
    own_table,
    shipped_table,
    table_text,
    users_of,
)
from strapwright.page.workshop.hardware_pictures import calliper_pictures, picture_of

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from strapwright.page.forms.toml_text import Edits
    from strapwright.page.server.bench import Bench

NAME: str = "called"
"""The field that says what a new entry is called."""

_SHEET: Final = re.compile(r"/job/([^/?]+)(\?show=(belt|strap)-\d{1,4})?")
"""A job's sheet, and what of it one comes from."""


class CatalogueRoutes(Routes):
    """What concerns the shop's catalogue.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._path: Path = bench.shop.folder / CATALOGUE_NAME

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/shop/{kind}/{name:path}", self.entry),
            form_route("/shop/{kind}/{name:path}", self.change),
        ]

    def entry(self, request: Request) -> Response:
        """Show an entry's form, or that of a new one: blank, or filled from another."""
        kind, name, new = _asked_for(request)
        copied = request.query_params.get("of", "") if new else ""
        own = None if new else own_table(self._path, kind, name)
        if not new and own is None:
            copied, new = name, True  # a shipped one: what is saved is a copy
        table = own or {}
        if copied:
            table = own_table(self._path, kind, copied) or shipped_table(kind, copied) or {}
            if not table:
                raise FileProblems((f"found no {KINDS[kind].one} {copied!r} in the catalogue",))
        entry, _ = entry_of(kind, name, table)
        taken = self._names(kind)
        groups = entry_form(kind).shown(table, self._shop.units)
        if kind == "buckle":
            price = tuple(one for one in groups[0].fields if one.key == "price")
            groups = (Group("For the bill", price),)
        typed = measuring.typed_of(table) if table else {}
        asked = measuring.measured(typed).asked if kind == "buckle" else ()
        return respond.page(
            request,
            "catalogue_entry.html",
            kind=KINDS[kind],
            unit=self._shop.units,
            name=name,
            new=new,
            copied=copied,
            from_shipped=bool(copied) and own_table(self._path, kind, copied) is None,
            wanted_name=free_name(copied, taken) if copied else "",
            action=f"/shop/{kind}/new" if new else request.url.path,
            own_query="&own=1" if not new and name == "new" else "",
            back=self._back(request.query_params.get("back", "")),
            digest=written_or_new(self._path).digest,
            groups=groups,
            questions=[(one, typed.get(one.key, ""), one.key in asked) for one in BUCKLE_QUESTIONS]
            if kind == "buckle"
            else [],
            pictures=calliper_pictures(),
            asks=measuring.ASKED,
            choice_words=measuring.CHOICES,
            drawing=picture_of(entry, name or copied or "new", large=True)
            if entry
            else (measuring.WAITING if kind == "buckle" else ""),
            words=measures_of(entry, self._shop.units) if entry else "",
            users=[] if new else users_of(self._shop, kind, name),
            under_it=not new and name in getattr(shipped(), KINDS[kind].field),
            steps=self._bench.history(SHOP).next,
        )

    def change(self, request: Request, form: FormData) -> Response:
        """Check an entry as its form stands, and save it where that is asked for; or remove it."""
        kind, name, new = _asked_for(request)
        posted, write = values_of(request, form)
        if request.query_params.get("do") == "remove" and not new:
            self._remove(kind, name, posted.get("digest", ""))
            return respond.gone_to(f"/shop?open={kind}#{kind}")
        work = self._buckle if kind == "buckle" else self._plain
        answer = work(kind, name, new, posted, write)
        if saved := answer.pop("saved", ""):
            back = self._back(request.query_params.get("back", ""))
            mark = "&" if "?" in back else "?"
            answer["to"] = f"{back}{mark}{urlencode({kind: saved})}" if back else f"/shop?open={kind}#{kind}"
        return JSONResponse(answer)

    def _plain(self, kind: str, name: str, new: bool, posted: dict[str, str], write: bool) -> dict[str, Any]:
        form = entry_form(kind)
        table = {} if new else self._own(kind, name)
        edits = form.edits(table, posted, (), posted.get("unit", "mm"))
        if not new and (conflict := self._conflict(posted)):
            return conflict | {"conflict": forms.differences(form.shown(table), posted, (), edits)}
        whole = with_edits(table, edits)
        entry, mistakes = entry_of(kind, name, whole)
        if new:
            name, wrong = self._name(kind, posted, write)
            mistakes = mistakes | wrong
        answer = self._answer(entry, name, mistakes, write)
        if write and not mistakes:
            text = table_text(kind, name, whole) if new else ""
            self._save(kind, name, edits, text)
            answer["saved"] = name
        return answer

    def _buckle(self, kind: str, name: str, new: bool, posted: dict[str, str], write: bool) -> dict[str, Any]:
        table = {} if new else self._own(kind, name)
        taken = measuring.measured(posted, posted.get("unit", "mm"), done=write)
        fields = tuple(one for one in entry_form(kind).fields if one.key == "price")
        price = Form((), fields).edits(table, posted, ())
        if not new and (conflict := self._conflict(posted)):
            return conflict | {"conflict": measuring.differences(table, posted)}
        mistakes = dict(taken.mistakes)
        if taken.buckle is not None:
            _, wrong = entry_of(kind, name, with_edits(measured_entry(taken.answers), price))
            mistakes |= wrong
        usual = measuring.name_asked(taken, self._names(kind))
        if new:
            name, wrong = self._name(kind, posted, write, usual.default if usual else "")
            mistakes |= wrong
        answer = self._answer(taken.buckle, name, mistakes, write)
        if taken.buckle is None:
            answer["drawing"] = measuring.WAITING
        answer |= {"asked": taken.asked, "usual_name": usual.default if usual else ""}
        if taken.buckle is not None:
            answer["summary"] = " ".join(takes(name if new else "", taken.answers))
        if write and not mistakes and taken.buckle is not None:
            text = entry_text(name, taken.answers) + "".join(
                f"price = {value!r}\n" for value in price.values() if new and value is not None
            )
            self._save(kind, name, measuring.edits_of(table, taken.answers) | price, text if new else "")
            answer["saved"] = name
        return answer

    def _answer(self, entry: Any, name: str, mistakes: Mapping[str, str], write: bool) -> dict[str, Any]:
        """Return what is shown of an entry; before it is saved, what is still empty is no mistake."""
        shown = {key: text for key, text in mistakes.items() if write or not text.startswith("missing")}
        answer: dict[str, Any] = {"mistakes": shown}
        if entry is not None:
            words = measures_of(entry, self._shop.units)
            answer |= {"drawing": picture_of(entry, name or "new", large=True), "summary": words}
        return answer

    def _name(
        self, kind: str, posted: Mapping[str, str], write: bool, usual: str = ""
    ) -> tuple[str, dict[str, str]]:
        """Return what a new entry is called, and what is wrong with that."""
        name = posted.get(NAME, "").strip() or usual
        if not name and not write:
            return "", {}
        try:
            return check_name(name, self._names(kind)), {}
        except ValueError as error:
            return name, {NAME: str(error)}

    def _save(self, kind: str, name: str, edits: Edits, text: str) -> None:
        """Write a new entry's text, or edits of one there is."""
        written = written_or_new(self._path)
        if text:
            before = self._path.read_bytes() if self._path.exists() else None
            new = with_entry(self._path, kind, name, text)
            self._bench.change(SHOP, {self._path: (before, new)}, f"{name}: added")
        elif edits:
            placed = {(kind, name, *key): value for key, value in edits.items()}
            words = ", ".join(sorted({str(key[0]).replace("_", " ") for key in edits}))
            self._bench.change_text(SHOP, written, text_with_edits(written.text, placed), f"{name}: {words}")

    def _remove(self, kind: str, name: str, digest: str) -> None:
        self._own(kind, name)
        written = written_or_new(self._path)
        if digest != written.digest:
            raise FileProblems(("The catalogue was changed meanwhile; load this page again.",))
        new = text_with_edits(written.text, {(kind, name): None})
        self._bench.change_text(SHOP, written, new, f"{name}: removed")

    def _own(self, kind: str, name: str) -> dict[str, Any]:
        """Return the table of an entry of one's own.

        Raises:
            FileProblems: there is no such one.
        """
        table = own_table(self._path, kind, name)
        if table is None:
            raise FileProblems((f"found no {KINDS[kind].one} {name!r} in your catalogue",))
        return table

    def _names(self, kind: str) -> frozenset[str]:
        written = written_or_new(self._path)
        found = toml_tables(written.text, self._path).get(kind)
        return frozenset(found) if isinstance(found, dict) else frozenset()

    def _conflict(self, posted: Mapping[str, str]) -> dict[str, Any]:
        """Return the file's digest where it was changed since the form was filled; else nothing."""
        digest = written_or_new(self._path).digest
        return {"digest": digest} if digest != posted.get("digest") else {}

    def _back(self, wanted: str) -> str:
        """Return the job's sheet to go back to, or that of a first belt; empty for anything else."""
        sheet = _SHEET.fullmatch(wanted)
        return wanted if wanted == "/new" or (sheet and sheet[1] in self._shop.jobs()) else ""


def _asked_for(request: Request) -> tuple[str, str, bool]:
    """Return the kind and name of an entry, and whether it is to be a new one."""
    kind, name = request.path_params["kind"], request.path_params["name"]
    if kind not in KINDS:
        raise HTTPException(404)
    new = name == "new" and "own" not in request.query_params
    return kind, "" if new else name, new
