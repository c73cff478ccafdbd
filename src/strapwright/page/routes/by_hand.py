"""A job on paper and at the bench: pattern, drawing, strap cutter's list, handout, card with its ticks."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from markupsafe import Markup, escape
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems, StrapwrightError
from strapwright.files.atomic_write import sealed
from strapwright.machine.profile.machine import read_machine
from strapwright.page.server import respond
from strapwright.page.server.bench import Routes, json_route
from strapwright.page.sheet.card_ticks import CardTicks, digests_of, read_ticks, steps_of, tick
from strapwright.page.sheet.cut_form import fume_view
from strapwright.page.sheet.papers import (
    KINDS,
    card_of,
    handout_asked,
    handout_pdf,
    handout_seen,
    open_job,
    paper_of,
    pattern_mistake,
    pattern_seen,
    straps_seen,
)
from strapwright.write.card.html import card_sheets, card_style
from strapwright.write.pattern.paper_sizes import PAPERS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from starlette.datastructures import QueryParams
    from starlette.requests import Request

    from strapwright.page.server.bench import Bench
    from strapwright.page.sheet.card_ticks import Step
    from strapwright.page.sheet.papers import HandoutAsked, OpenJob
    from strapwright.page.sheet.shop import Shop


class ByHandRoutes(Routes):
    """What concerns a job's papers and its card.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._ticking = threading.Lock()

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/job/{name}/paper/{file}", self.paper),
            Route("/job/{name}/pattern", self.pattern),
            Route("/job/{name}/straps", self.straps),
            Route("/job/{name}/handout", self.handout),
            Route("/job/{name}/handout.pdf", self.handout_file),
            Route("/job/{name}/card", self.card),
            Route("/job/{name}/card.css", self.card_css),
            Route("/job/{name}/card/fumes", self.fumes),
            json_route("/job/{name}/card/ticks", self.tick),
        ]

    def paper(self, request: Request) -> Response:
        """Return a pattern, drawing, card or bill of a job, to be seen, printed or saved."""
        name, file = request.path_params["name"], request.path_params["file"]
        asked = request.query_params
        made = paper_of(self._open(name), file, asked, self._machine(asked), self._font(asked))
        headers = {}
        if asked.get("save") == "yes" or file.endswith((".html", ".csv")):
            headers["content-disposition"] = f'attachment; filename="{name}-{file}"'
        kind = KINDS[f".{file.rpartition('.')[2]}"]
        return Response(sealed(made), media_type=kind, headers=headers)

    def pattern(self, request: Request) -> Response:
        """Show a pattern's sheets as they will be printed; or what is wrong, field by field."""
        asked = request.query_params
        try:
            seen = pattern_seen(self._open(request.path_params["name"]), asked, self._font(asked))
        except StrapwrightError as error:
            return JSONResponse({"mistakes": pattern_mistake(error, asked), "html": ""})
        return JSONResponse({"mistakes": {}, "html": respond.fragment("job/pattern.html", **seen)})

    def straps(self, request: Request) -> Response:
        """Show what a strap cutter is set to, to be printed."""
        name = request.path_params["name"]
        opened = self._open(name)
        lists = straps_seen(opened, self._shop.units)
        return respond.page(request, "straps.html", name=name, title=opened.draft.name or name, lists=lists)

    def card(self, request: Request) -> Response:
        """Show a job's bench card, to be ticked."""
        name, asked = request.path_params["name"], request.query_params
        opened = self._open(name)
        made = card_of(opened, asked, self._machine(asked))
        kept, wrong = CardTicks(), ""
        try:
            kept = read_ticks(self._shop.job(name).parent)
        except FileProblems as error:
            wrong = str(error)
        digests, steps = digests_of(opened.draft), steps_of(made.card)
        sheets = card_sheets(made.card, lambda *place: _boxes(place, steps, kept, digests))
        return respond.page(
            request,
            "card.html",
            name=name,
            query=urlencode(asked.multi_items()),
            title=made.card.title,
            sheets=Markup(sheets),  # noqa: S704 - made by a template that escapes
            fallen=kept.fallen(digests),
            wrong=wrong,
            lacking=made.lacking_where,
        )

    def card_css(self, request: Request) -> Response:
        """Return the style of a job's bench card."""
        asked = request.query_params
        made = card_of(self._open(request.path_params["name"]), asked, self._machine(asked))
        return Response(card_style(made.card, made.paper), media_type="text/css")

    def fumes(self, request: Request) -> Response:
        """Show the risk of burning a job's leather where its card names a machine, and what takes it."""
        machine = self._machine(request.query_params)
        view: dict[str, Any] = {"doubtful": "", "risk": ""}
        try:
            if machine is not None:
                parts = self._open(request.path_params["name"]).draft.parts
                view = fume_view(parts, read_machine(str(machine)))
        except StrapwrightError as error:
            return respond.page(request, "job/card_fumes.html", wrong=str(error).splitlines())
        return respond.page(request, "job/card_fumes.html", wrong=(), **view)

    def tick(self, request: Request, data: Any) -> Response:
        """Tick a step of a job's card, or take its tick away, and tell every tab."""
        name, found = request.path_params["name"], data if isinstance(data, dict) else {}
        sheet, step, done = (found.get(key) for key in ("sheet", "step", "done"))
        if not (isinstance(sheet, str) and isinstance(step, str) and isinstance(done, bool)):
            return respond.words("Found no step in what was sent.")
        opened = self._open(name)
        with self._ticking:  # two devices may tick at once
            tick(self._shop.job(name).parent, (sheet, step), done=done, drafted=opened.draft)
        self._bench.tell("card", job=name, sheet=sheet, step=step, done=done)
        return JSONResponse({"done": done})

    def handout(self, request: Request) -> Response:
        """Say what a handout will hold, and offer it; or what is wrong, field by field."""
        name, query = request.path_params["name"], request.query_params
        try:
            asked = self._handout(request)
        except FileProblems as error:
            return JSONResponse({"mistakes": {"font": str(error)}, "html": ""})
        found, mistakes = handout_seen(asked)
        html = ""
        if not mistakes:
            own = urlencode(query.multi_items())
            html = respond.fragment("job/handout.html", name=name, query=own, **found)
        return JSONResponse({"mistakes": mistakes, "html": html})

    def handout_file(self, request: Request) -> Response:
        """Return a handout, to be looked at or saved."""
        asked = self._handout(request)
        headers = {}
        if request.query_params.get("save") == "yes":
            called = asked.belt or request.path_params["name"]
            headers["content-disposition"] = f'attachment; filename="{called}-handout.pdf"'
        return Response(sealed(handout_pdf(asked)), media_type="application/pdf", headers=headers)

    def _open(self, name: str) -> OpenJob:
        path = self._shop.job(name)
        try:
            hides = self._bench.stock.of_layout(name)
        except FileProblems:
            hides = ()
        return open_job(path, hides)

    def _machine(self, asked: QueryParams) -> Path | None:
        name = asked.get("machine", "")
        return self._shop.named(self._shop.machines(), name) if name else None

    def _handout(self, request: Request) -> HandoutAsked:
        asked = request.query_params
        return handout_asked(self._shop.job(request.path_params["name"]), asked, self._font(asked))

    def _font(self, asked: QueryParams) -> Path | None:
        name = asked.get("font", "")
        return self._shop.named(self._shop.fonts(), name) if name else None


def by_hand_values(shop: Shop, path: Path) -> dict[str, Any]:
    """Return what a job's sheet shows of its papers: sizes, fonts, units, and how many steps are ticked.

    Args:
        shop: the shop.
        path: the job's file.
    """
    try:
        count = len(read_ticks(path.parent).of)
        ticked = f"{count} step{'s' if count != 1 else ''} ticked on the card" if count else ""
    except FileProblems:
        ticked = "the card's ticks cannot be read"
    papers = {name: paper.words for name, paper in PAPERS.items()}
    fonts = [one.name for one in shop.fonts()]
    return {"units": shop.units, "ticked": ticked, "papers": papers, "fonts": fonts}


def _boxes(
    place: tuple[int, ...],
    steps: Mapping[tuple[int, int, int], Step],
    kept: CardTicks,
    digests: Mapping[str, str],
) -> Callable[[int], str]:
    """Return what returns the attributes of the boxes of one block of a card, row by row."""

    def attributes(row: int) -> str:
        step = steps.get((place[0], place[1], row))
        if step is None:  # a row that has no box
            return ""
        told = " checked" if kept.holds(step, digests) else " data-fell" if step in kept.of else ""
        return Markup(f' data-sheet="{escape(step[0])}" data-step="{escape(step[1])}"{told}')  # noqa: S704

    return attributes
