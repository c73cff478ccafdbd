"""Leather: the hides in stock, listed, retired, mended as text, chosen by picture for a job."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.page.leather.file import changed_content, problems_with_lines, read_sent_text
from strapwright.page.leather.stock import AT_ONCE, fits, in_words, needed_leather
from strapwright.page.server import respond
from strapwright.page.server.bench import Routes, form_route
from strapwright.page.sheet.made_view import USED, files_of_hide
from strapwright.page.sheet.shop import read_written

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.datastructures import FormData
    from starlette.requests import Request

    from strapwright.page.leather.stock import Found
    from strapwright.page.sheet.shop import Shop


FIRST: Final = 0.3
"""Seconds that hides are worked out for before what there is of them is shown."""

MORE: Final = 1.0
"""The same for each time the page asks for more of them."""


class LeatherRoutes(Routes):
    """What concerns the stock of hides, and the choice of some for a job."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/leather", self.leather),
            Route("/leather/rows", self.rows),
            form_route("/leather/steps", self.step),
            Route("/hide/{file}", self.hide),
            Route("/hide/{file}/retire", self.retire, methods=["POST"]),
            Route("/hide/{file}/text", self.text),
            form_route("/hide/{file}/text", self.change_text),
            Route("/job/{name}/hides", self.stock),
            Route("/job/{name}/need", self.need),
        ]

    def leather(self, request: Request) -> Response:
        """Show the hides in stock: at once those that are worked out already."""
        found = self._bench.stock.rows_within(FIRST)
        return respond.page(
            request,
            "leather.html",
            hides=found.rows,
            left=found.left,
            number=found.number,
            units=self._shop.units,
            steps=self._bench.stock_history().next,
        )

    def rows(self, request: Request) -> Response:
        """Work out more of the hides, and return those that the page has not got yet."""
        found = self._more(request)
        shown = respond.fragment("hide_rows.html", hides=found.rows, units=self._shop.units)
        return JSONResponse({"rows": shown, "left": found.left, "number": found.number})

    def _more(self, request: Request) -> Found:
        """Return the hides worked out since those that the page has got."""
        given = request.query_params.get("after", "")
        after = int(given) if given.isdecimal() and len(given) < 10 else -1
        return self._bench.stock.rows_within(MORE, after=after)

    def hide(self, request: Request) -> Response:
        """Return a hide as a small picture."""
        picture = self._bench.stock.picture(request.path_params["file"])
        return Response(picture, media_type="image/svg+xml")

    def retire(self, request: Request) -> Response:
        """Take a hide from stock: its files go to those that are used up."""
        path = self._shop.hide(request.path_params["file"])
        changes: dict[Path, tuple[bytes | None, bytes | None]] = {}
        for one in files_of_hide(path):
            used = path.parent / USED / one.name
            if used.exists():
                raise FileProblems((f"{used}: is there already; move it away, then try again",))
            content = one.read_bytes()
            changes |= {one: (content, None), used: (None, content)}
        self._bench.change_stock(changes, f"{path.name}: retired")
        return respond.again()

    def step(self, request: Request, form: FormData) -> Response:
        """Undo or redo a step of the stock."""
        del request
        return self._stepped(self._bench.stock_history(), form, "stock", files={})

    def text(self, request: Request) -> Response:
        """Show a hide's file as it is written, with every mistake in it and its line."""
        path = self._shop.named(self._shop.hides(), request.path_params["file"])
        return respond.page(request, "hide_text.html", **text_page(self._shop, path))

    def change_text(self, request: Request, form: FormData) -> Response:
        """Write a hide's file as it was edited as text, where it is sound and nobody else has changed it."""
        path = self._shop.named(self._shop.hides(), request.path_params["file"])
        text, digest = str(form.get("text", "")).replace("\r\n", "\n"), str(form.get("digest", ""))
        try:
            self._shop.check_hide(path, text)
            read_sent_text(text, path)
        except FileProblems as error:
            return respond.words("\n".join(problems_with_lines(error.problems, path, text)))
        changes = {path: changed_content(path, digest, text)}
        self._bench.change_stock(changes, f"{path.name}: the file as text")
        return respond.gone_to("/leather")

    def stock(self, request: Request) -> Response:
        """Return the hides in stock to choose from, as far as they are worked out."""
        job, found = self._shop.job(request.path_params["name"]), self._more(request)
        needed, good = needed_leather(job), [row for row in found.rows if not row.wrong]
        fitting = {row.file for row in good if fits(row, needed)}
        shown = respond.fragment(
            "job/hide_rows.html", hides=good, fitting=fitting, order=False, units=self._shop.units
        )
        return JSONResponse({"rows": shown, "left": found.left, "number": found.number})

    def need(self, request: Request) -> Response:
        """Return the leather a job's parts take against that of some hides, in a line."""
        rows = {row.file: row for row in self._bench.stock.rows_within(AT_ONCE).rows}
        chosen = [rows[file] for file in request.query_params.getlist("hide") if file in rows]
        needed = needed_leather(self._shop.job(request.path_params["name"]))
        return JSONResponse({"words": in_words(needed, chosen, self._shop.units)})


def text_page(shop: Shop, path: Path) -> dict[str, Any]:
    """Return what the page of a hide's file as text shows: a drawing is not shown as text."""
    from strapwright.nesting.hide.file import read_hide

    problems: tuple[str, ...] = ()
    written = None
    try:
        if path.suffix.lower() == ".toml":
            written = read_written(path)
        shop.check_hide(path)
        read_hide(path)
    except FileProblems as error:
        problems = problems_with_lines(error.problems, path)
    return {"path": path, "written": written, "problems": problems}
