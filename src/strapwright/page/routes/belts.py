"""A job's belts and other straps: shown, drafted as one types, written when a field is left, worked out."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.files.read import toml_tables
from strapwright.job.spec.job import check_job, surroundings_of
from strapwright.job.spec.strap import ID_LENGTH
from strapwright.page.forms.form import about_form, buckle_names, form_of
from strapwright.page.forms.toml_text import (
    text_with_edits,
    text_with_entries,
    text_without_entry,
    value_at,
    with_edits,
)
from strapwright.page.server import respond
from strapwright.page.server.bench import Routes
from strapwright.page.sheet.job_view import KINDS, mistakes_outside_belts, strap_view, working_view
from strapwright.page.sheet.orders import belts_found, columns_found
from strapwright.page.sheet.pictures import how_to_measure, pictures
from strapwright.page.sheet.shop import read_written

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.requests import Request

    from strapwright.job.spec.job import Surroundings
    from strapwright.page.forms.form import Form
    from strapwright.page.forms.toml_text import Edits, Key
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
            Route("/job/{name}/about", self.change_about, methods=["POST"]),
            Route("/job/{name}/belts", self.change_list, methods=["POST"]),
            Route("/job/{name}/orders/{what}", self.orders, methods=["POST"]),
        ]
        for kind in KINDS:
            path = f"/job/{{name}}/{kind}/{{index:int}}"
            found += [
                Route(path, partial(self.piece, kind=kind)),
                Route(path, partial(self.change, kind=kind), methods=["POST"]),
                Route(f"{path}/form", partial(self.form, kind=kind)),
                Route(f"{path}/working", partial(self.working, kind=kind), methods=["POST"]),
            ]
        return found

    async def piece(self, request: Request, kind: str) -> Response:
        """Return one belt or strap as its file says, drawn."""
        name, index = request.path_params["name"], request.path_params["index"]

        def drawn() -> dict[str, Any]:
            path = self._shop.job(name)
            tables = toml_tables(read_written(path).text, path)
            _entry(tables, kind, index)
            return _as_json(strap_view(tables, path, kind, index, surroundings_of(path)))

        return JSONResponse(await run_in_threadpool(drawn))

    async def form(self, request: Request, kind: str) -> Response:
        """Return the form of one belt or strap with its drawing, for one that is opened."""
        name, index = request.path_params["name"], request.path_params["index"]

        def shown() -> dict[str, Any]:
            path = self._shop.job(name)
            written, within = read_written(path), surroundings_of(path)
            tables = toml_tables(written.text, path)
            entry = _entry(tables, kind, index)
            return {
                "piece": strap_view(tables, path, kind, index, within),
                "groups": form_of(kind, entry, buckle_names(within)).shown(entry, within.units),
                "pictures": pictures(within.catalogue.buckles),
                "digest": written.digest,
                "units": within.units,
                "measuring": how_to_measure(),
            }

        return respond.page(request, "belt.html", name=name, **await run_in_threadpool(shown))

    async def change(self, request: Request, kind: str) -> Response:
        """Draft one belt or strap as its form stands, and write it if that is asked for and it is sound."""
        name, place = request.path_params["name"], (kind, request.path_params["index"])
        posted, write = await _posted(request)
        return JSONResponse(await run_in_threadpool(self._change, name, place, posted, write))

    async def change_about(self, request: Request) -> Response:
        """Check what is said of the job as a whole, and write it where that is asked for and it is sound."""
        posted, write = await _posted(request)
        return JSONResponse(
            await run_in_threadpool(self._change, request.path_params["name"], (), posted, write)
        )

    async def working(self, request: Request, kind: str) -> Response:
        """Return how one figure was worked out, of a belt or strap as its form stands."""
        name, index = request.path_params["name"], request.path_params["index"]
        posted, _ = await _posted(request)
        figure, title = posted.pop("figure", ""), posted.pop("title", "")

        def shown() -> str:
            path = self._shop.job(name)
            tables, within = toml_tables(read_written(path).text, path), surroundings_of(path)
            entry = _entry(tables, kind, index)
            unit = posted.pop("unit", within.units)
            edits = form_of(kind, entry, buckle_names(within)).edits(entry, posted, (kind, index), unit)
            view = working_view(with_edits(tables, edits), path, kind, index, within, figure, title)
            return respond.fragment("figure_working.html", working=view, units=within.units)

        return JSONResponse({"html": await run_in_threadpool(shown)})

    def _change(self, name: str, place: Key, posted: dict[str, str], write: bool) -> dict[str, Any]:
        path = self._shop.job(name)
        written, within = read_written(path), surroundings_of(path)
        tables = toml_tables(written.text, path)
        unit, digest = posted.pop("unit", within.units), posted.pop("digest", "")
        if place:
            _entry(tables, str(place[0]), int(place[1]))
        table = value_at(tables, place) if place else tables
        form = form_of(str(place[0]), table, buckle_names(within)) if place else about_form()
        edits = form.edits(table, posted, place, unit)
        if digest != written.digest:
            return {"conflict": _differing(form, table, posted, place, edits), "digest": written.digest}
        changed = with_edits(tables, edits)
        answer, title = self._drafted(changed, place, within, name, posted)
        answer |= {"digest": written.digest, "written": False}
        if not (write and edits) or answer["mistakes"]:
            return answer
        keys = sorted({str(key[len(place)]).replace("_", " ") for key in edits})
        self._bench.change_text(
            name, written, text_with_edits(written.text, edits), f"{title}: {', '.join(keys)}"
        )
        steps = self._bench.history(name).next
        return answer | {"digest": read_written(path).digest, "written": True, "steps": steps}

    def _drafted(
        self, tables: dict[str, Any], place: Key, within: Surroundings, name: str, posted: Mapping[str, str]
    ) -> tuple[dict[str, Any], str]:
        """Return what is answered of tables as they would be, and what the piece is called."""
        path = self._shop.job(name)
        if not place:
            return {"mistakes": mistakes_outside_belts(check_job(tables, path, within)[1])}, "the job"
        view = strap_view(tables, path, str(place[0]), int(place[1]), within, posted=posted)
        return _as_json(view), view.title

    async def change_list(self, request: Request) -> Response:
        """Add, copy or remove a belt or strap, then show the sheet anew; what is new stands open."""
        form = await request.form()
        what, kind, index = (str(form.get(key, "")) for key in ("do", "kind", "index"))
        name = request.path_params["name"]
        new = await run_in_threadpool(self._change_list, name, what, kind or "belt", index)
        return respond.gone_to(f"/job/{name}?show={new}") if new else respond.again()

    def _change_list(self, name: str, what: str, kind: str, given: str) -> str:
        """Change the list, and return what is new in it as the sheet calls it; empty of what is removed."""
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
            words = f"{gone.get('id', f'a {kind}')}: removed"
        else:
            entry = dict(_entry(tables, kind, index) if what == "copy" else _NEW[kind])
            taken = {str(one.get("id")) for each in KINDS for one in tables.get(each, [])}
            entry["id"] = _free_id(str(entry.get("id") or kind), taken)
            new, words = text_with_entries(written.text, kind, [entry]), f"{entry['id']}: added"
        self._bench.change_text(name, written, new, words)
        return "" if what == "remove" else f"{kind}-{len(tables.get(kind, ()))}"

    async def orders(self, request: Request) -> Response:
        """Show what columns a table of orders has, or add its lines as belts."""
        name, what = request.path_params["name"], request.path_params["what"]
        data = await respond.sent_json(request)
        text = data.get("text") if isinstance(data, dict) else None
        keys = data.get("keys", []) if isinstance(data, dict) else None
        if not isinstance(text, str) or not isinstance(keys, list) or what not in ("read", "add"):
            return respond.words("Found no table in what was sent.")
        if what == "read":
            return JSONResponse(await run_in_threadpool(columns_found, text))
        return JSONResponse(await run_in_threadpool(self._add_orders, name, text, [str(key) for key in keys]))

    def _add_orders(self, name: str, text: str, keys: list[str]) -> dict[str, Any]:
        path = self._shop.job(name)
        written = read_written(path)
        tables = toml_tables(written.text, path)
        belts, wrong = belts_found(text, keys, tables, path, surroundings_of(path).units)
        if wrong:
            return {"wrong": wrong}
        new = text_with_entries(written.text, "belt", belts)
        self._bench.change_text(name, written, new, f"{len(belts)} belts from a table")
        return {"wrong": [], "added": len(belts), "show": f"belt-{len(tables.get('belt', ()))}"}


async def _posted(request: Request) -> tuple[dict[str, str], bool]:
    """Return a form's values, and whether they are to be written."""
    form = await request.form()
    values = {key: value for key, value in form.items() if isinstance(value, str)}
    return values, request.query_params.get("write") == "1"


def _as_json(view: StrapView) -> dict[str, Any]:
    """Return a piece as plain values; what stands beside its fields, as it is put there."""
    return {
        "title": view.title,
        "who": view.who,
        "summary": view.summary,
        "figures": respond.fragment("figures.html", figures=view.figures),
        "drawing": view.drawing,
        "beside": {key: respond.fragment("found.html", found=found) for key, found in view.beside.items()},
        "rest": respond.fragment("found.html", found=view.rest),
        "working": [[one.label, one.formula, one.numbers, one.value] for one in view.working],
        "mistakes": dict(view.mistakes),
    }


def _differing(
    form: Form, table: Mapping[str, Any], posted: Mapping[str, str], place: Key, edits: Edits
) -> list[list[str]]:
    """Return the fields a form changes, each as it stands in the file and as it was posted."""
    fields = [one for group in form.shown(table) for one in group.fields]
    return [
        [one.label, one.value, posted.get(one.key, "")]
        for one in fields
        if (*place, *(int(part) if part.isdigit() else part for part in one.key.split("."))) in edits
    ]


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
