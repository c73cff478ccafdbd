"""A job's belts and other straps: shown, drafted as one types, written when a field is left, worked out."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, Final

from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.files.read import toml_tables
from strapwright.job.spec.job import check_job, surroundings_of
from strapwright.job.spec.strap import ID_LENGTH
from strapwright.page.forms.form import about_form, buckle_names, form_of
from strapwright.page.forms.toml_text import text_with_entries, text_without_entry, with_edits
from strapwright.page.server import respond
from strapwright.page.server.bench import Routes, form_route, json_route, values_of
from strapwright.page.sheet.job_view import KINDS, mistakes_outside_belts, strap_view, working_view
from strapwright.page.sheet.orders import belts_found, columns_found
from strapwright.page.sheet.pictures import how_to_measure, pictures
from strapwright.page.sheet.shop import read_written

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.datastructures import FormData
    from starlette.requests import Request

    from strapwright.page.sheet.job_view import StrapView

_NEW: Final[Mapping[str, Mapping[str, Any]]] = {
    "belt": {"id": "belt", "size": {"girth": "900 mm"}, "buckle": "single-40"},
    "strap": {"id": "strap", "width": "25 mm", "length": "1000 mm"},
}
"""What is added of each kind, to be changed."""


class BeltRoutes(Routes):
    """What concerns the pieces of one job."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        found = [
            form_route("/job/{name}/about", self.change_about),
            form_route("/job/{name}/belts", self.change_list),
            json_route("/job/{name}/orders/{what}", self.orders),
        ]
        for kind in KINDS:
            path = f"/job/{{name}}/{kind}/{{index:int}}"
            found += [
                Route(path, partial(self.piece, kind=kind)),
                form_route(path, partial(self.change, kind=kind)),
                Route(f"{path}/form", partial(self.form, kind=kind)),
                form_route(f"{path}/working", partial(self.working, kind=kind)),
            ]
        return found

    def piece(self, request: Request, kind: str) -> Response:
        """Return one belt or strap as its file says, drawn."""
        path, index = self._shop.job(request.path_params["name"]), request.path_params["index"]
        tables = toml_tables(read_written(path).text, path)
        _entry(tables, kind, index)
        return JSONResponse(_as_json(strap_view(tables, path, kind, index, surroundings_of(path))))

    def form(self, request: Request, kind: str) -> Response:
        """Return the form of one belt or strap with its drawing, for one that is opened."""
        name, index = request.path_params["name"], request.path_params["index"]
        path = self._shop.job(name)
        written, within = read_written(path), surroundings_of(path)
        tables = toml_tables(written.text, path)
        entry = _entry(tables, kind, index)
        return respond.page(
            request,
            "belt.html",
            name=name,
            piece=strap_view(tables, path, kind, index, within),
            groups=form_of(kind, entry, buckle_names(within)).shown(entry, within.units),
            pictures=pictures(within.catalogue.buckles),
            digest=written.digest,
            units=within.units,
            measuring=how_to_measure(),
        )

    def change(self, request: Request, form: FormData, kind: str) -> Response:
        """Draft one belt or strap as its form stands, and write it if that is asked for and it is sound."""
        name, place = request.path_params["name"], (kind, request.path_params["index"])
        path, (values, write) = self._shop.job(name), values_of(request, form)
        written, within = read_written(path), surroundings_of(path)
        tables = toml_tables(written.text, path)
        fields = form_of(kind, _entry(tables, *place), buckle_names(within))

        def check(new: dict[str, Any]) -> tuple[dict[str, Any], str]:
            view = strap_view(new, path, *place, within, posted=values)
            return _as_json(view), view.title

        values = {"unit": within.units} | values
        answer = self._bench.change_fields(
            name, written, tables, fields, values, check, write=write, place=place, at=len(place)
        )
        return JSONResponse(answer)

    def change_about(self, request: Request, form: FormData) -> Response:
        """Check what is said of the job as a whole, and write it where that is asked for and it is sound."""
        name, (values, write) = request.path_params["name"], values_of(request, form)
        path = self._shop.job(name)
        written, within = read_written(path), surroundings_of(path)

        def check(new: dict[str, Any]) -> tuple[dict[str, Any], str]:
            return {"mistakes": mistakes_outside_belts(check_job(new, path, within)[1])}, "the job"

        values = {"unit": within.units} | values
        tables = toml_tables(written.text, path)
        answer = self._bench.change_fields(
            name, written, tables, about_form(), values, check, write=write, at=0
        )
        return JSONResponse(answer)

    def working(self, request: Request, form: FormData, kind: str) -> Response:
        """Return how one figure was worked out, of a belt or strap as its form stands."""
        index, (values, _) = request.path_params["index"], values_of(request, form)
        path = self._shop.job(request.path_params["name"])
        tables, within = toml_tables(read_written(path).text, path), surroundings_of(path)
        entry, unit = _entry(tables, kind, index), values.get("unit", within.units)
        edits = form_of(kind, entry, buckle_names(within)).edits(entry, values, (kind, index), unit)
        figure, title = values.get("figure", ""), values.get("title", "")
        view = working_view(with_edits(tables, edits), path, kind, index, within, figure, title)
        return JSONResponse(
            {"html": respond.fragment("figure_calculation.html", working=view, units=within.units)}
        )

    def change_list(self, request: Request, form: FormData) -> Response:
        """Add, copy or remove a belt or strap, then show the sheet anew; what is new stands open."""
        what, kind, given = (str(form.get(key, "")) for key in ("do", "kind", "index"))
        name, kind = request.path_params["name"], kind or "belt"
        path = self._shop.job(name)
        written = read_written(path)
        tables = toml_tables(written.text, path)
        index = int(given) if given.isdecimal() and len(given) < 10 else -1
        if kind not in KINDS or what not in ("add", "copy", "remove"):
            raise FileProblems(
                (f"found {what!r} of {kind!r}, expected add, copy or remove of a belt or strap",)
            )
        if what == "remove":
            gone = _entry(tables, kind, index)
            if sum(len(tables.get(one, ())) for one in KINDS) == 1:
                raise FileProblems(("this is all the job makes; add another first, or remove the job",))
            new = text_without_entry(written.text, kind, index)
            self._bench.change_text(name, written, new, f"{gone.get('id', f'a {kind}')}: removed")
            return respond.again()
        entry = dict(_entry(tables, kind, index) if what == "copy" else _NEW[kind])
        taken = {str(one.get("id")) for each in KINDS for one in tables.get(each, [])}
        entry["id"] = _free_id(str(entry.get("id") or kind), taken)
        new = text_with_entries(written.text, kind, [entry])
        self._bench.change_text(name, written, new, f"{entry['id']}: added")
        return respond.gone_to(f"/job/{name}?show={kind}-{len(tables.get(kind, ()))}")

    def orders(self, request: Request, data: Any) -> Response:
        """Show what columns a table of orders has, or add its lines as belts."""
        name, what = request.path_params["name"], request.path_params["what"]
        text = data.get("text") if isinstance(data, dict) else None
        keys = data.get("keys", []) if isinstance(data, dict) else None
        if not isinstance(text, str) or not isinstance(keys, list) or what not in ("read", "add"):
            return respond.words("Found no table in what was sent.")
        if what == "read":
            return JSONResponse(columns_found(text))
        path = self._shop.job(name)
        written = read_written(path)
        tables = toml_tables(written.text, path)
        belts, wrong = belts_found(
            text, [str(key) for key in keys], tables, path, surroundings_of(path).units
        )
        if wrong:
            return JSONResponse({"wrong": wrong})
        new = text_with_entries(written.text, "belt", belts)
        self._bench.change_text(name, written, new, f"{len(belts)} belts from a table")
        shown = f"belt-{len(tables.get('belt', ()))}"
        return JSONResponse({"wrong": [], "added": len(belts), "show": shown})


def _as_json(view: StrapView) -> dict[str, Any]:
    """Return a piece as plain values; what stands beside its fields, as it is put there."""
    return {
        "title": view.title,
        "who": view.who,
        "summary": view.summary,
        "figures": respond.fragment("figures.html", figures=view.figures),
        "drawing": view.drawing,
        "beside": {key: respond.fragment("findings.html", found=found) for key, found in view.beside.items()},
        "rest": respond.fragment("findings.html", found=view.rest),
        "working": [[one.label, one.formula, one.numbers, one.value] for one in view.working],
        "mistakes": dict(view.mistakes),
    }


def _entry(tables: Mapping[str, Any], kind: str, index: int) -> dict[str, Any]:
    """Return one of a list of tables.

    Raises:
        FileProblems: there is no such one.
    """
    entries = tables.get(kind)
    if not isinstance(entries, list) or not 0 <= index < len(entries) or not isinstance(entries[index], dict):
        raise FileProblems((f"found no {kind} {index + 1} in this job",))
    entry: dict[str, Any] = entries[index]
    return entry


def _free_id(wanted: str, taken: set[str]) -> str:
    """Return an id like another that no belt has yet, cut short where it would be too long.

    Example:
        >>> _free_id("ines", {"ines", "ines-2"})
        'ines-3'
    """
    stem, count = wanted.rstrip("0123456789").rstrip("-") or "belt", 2
    if stem not in taken:
        return stem
    while (free := f"{stem[: ID_LENGTH - 1 - len(str(count))]}-{count}") in taken:
        count += 1
    return free
