"""Shop: all of it at a glance, its steps, settings and prices as fields, its own files as text."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from starlette.responses import JSONResponse
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.core.units import format_length
from strapwright.files.read import read_toml, toml_tables
from strapwright.files.validate import attempt, validate
from strapwright.job.catalogue.file import CATALOGUE_NAME, HOUSE_NAME, read_catalogue
from strapwright.job.spec.house import USUAL_MINUTES, HouseFile
from strapwright.machine.profile.machine import read_machine
from strapwright.page.forms.field import parsed_number
from strapwright.page.forms.toml_text import text_with_edits, value_at, with_edits, with_lines
from strapwright.page.server import respond
from strapwright.page.server.bench import SHOP, Routes, form_route, values_of
from strapwright.page.sheet.shop import written_or_new
from strapwright.page.workshop.entries import listed
from strapwright.page.workshop.hardware_pictures import BUCKLE_SCALE, SMALL_SCALE, scale_bar
from strapwright.page.workshop.house import MINUTES, house_form, house_mistakes
from strapwright.page.workshop.machines import machine_row, profiles

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from strapwright.page.server.bench import Bench
    from strapwright.page.sheet.shop import Shop, Written


class ShopRoutes(Routes):
    """What concerns the tools of the shop, its settings, and its files as text.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._house: Path = bench.shop.folder / HOUSE_NAME

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/shop", self.tools),
            form_route("/shop/steps", self.step),
            Route("/shop/house", self.house),
            form_route("/shop/house", self.change),
            form_route("/shop/house/step", self.add_step),
            Route("/shop/file/{file:path}", self.text),
            form_route("/shop/file/{file:path}", self.change_text),
        ]

    def tools(self, request: Request) -> Response:
        """Show hardware, machines and settings."""
        opened, steps = request.query_params.get("open", "buckle"), self._bench.history(SHOP).next
        return respond.page(request, "shop.html", steps=steps, opened=opened, **_tools(self._shop))

    def step(self, request: Request, form: FormData) -> Response:
        """Undo or redo a step of the shop: of its catalogue, machines or settings."""
        del request
        return self._stepped(self._bench.history(SHOP), form, "changed", job=SHOP)

    def house(self, request: Request) -> Response:
        """Show the shop's settings and prices."""
        try:
            written = written_or_new(self._house)
            tables = toml_tables(written.text, self._house)
        except FileProblems as error:
            return file_page(request, self._bench, HOUSE_NAME, error.problems)
        return respond.page(
            request,
            "house.html",
            digest=written.digest,
            unit=self._shop.units,
            groups=house_form(tables).shown(tables, self._shop.units),
            mistakes=house_mistakes(tables),
            steps=self._bench.history(SHOP).next,
        )

    def change(self, request: Request, form: FormData) -> Response:
        """Check the settings as their form stands, and write them where that is asked for."""
        posted, write = values_of(request, form)
        written = written_or_new(self._house)
        tables = toml_tables(written.text, self._house)

        def check(new: dict[str, Any]) -> tuple[dict[str, Any], str]:
            return {"mistakes": house_mistakes(new)}, "house"

        fields = house_form(tables)
        return JSONResponse(
            self._bench.change_fields(SHOP, written, tables, fields, posted, check, write=write)
        )

    def add_step(self, request: Request, form: FormData) -> Response:
        """Add a step of one's own with its minutes, where that is asked for and both are sound."""
        posted, write = values_of(request, form)
        name, minutes = posted.get("name", "").strip(), posted.get("minutes", "").strip()
        return JSONResponse(self._add_step(name, minutes, write))

    def _add_step(self, name: str, minutes: str, write: bool) -> dict[str, Any]:
        written = written_or_new(self._house)
        tables = toml_tables(written.text, self._house)
        place = (*MINUTES, name)

        def wrong_with(value: object) -> str:
            return "; ".join(house_mistakes(with_edits(tables, {place: value})).values())

        mistakes = {"name": "", "minutes": "missing, expected a number" if write and not minutes else ""}
        if name in USUAL_MINUTES or value_at(tables, place) is not None:
            mistakes["name"] = "there is a step of that name already"
        elif name or write:
            mistakes["name"] = wrong_with(1)
            if minutes and not mistakes["name"]:
                mistakes["minutes"] = wrong_with(parsed_number(minutes))
        mistakes = {key: text for key, text in mistakes.items() if text}
        if write and not mistakes:
            new = text_with_edits(written.text, {place: parsed_number(minutes)})
            self._bench.change_text(SHOP, written, new, f"house: the step {name}")
            return {"mistakes": {}, "again": True}
        return {"mistakes": mistakes}

    def text(self, request: Request) -> Response:
        """Show one of the shop's own files as it is written."""
        return file_page(request, self._bench, request.path_params["file"])

    def change_text(self, request: Request, form: FormData) -> Response:
        """Write a file as it was edited as text, unless somebody else has changed it."""
        file = request.path_params["file"]
        written = written_or_new(_own_file(self._bench, file))
        return text_changed(self._bench, SHOP, written, form, f"{file} as text", _place_of(file))


def _tools(shop: Shop) -> dict[str, Any]:
    """Return what the shop has; of a bad file, what is wrong with it."""
    machines = (machine_row(str(path), path.name) for path in shop.machines())
    kinds, wrong = listed(shop.folder / CATALOGUE_NAME, shop.units)
    return {
        "kinds": kinds,
        "wrong": shop.told(wrong),
        "bars": (scale_bar(BUCKLE_SCALE, 50.0), scale_bar(SMALL_SCALE, 10.0)),
        "machines": [replace(one, wrong=shop.told(one.wrong)) for one in machines],
        "profiles": profiles(),
        "house": _house_words(shop),
    }


def _house_words(shop: Shop) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what the settings say, in short, and what is wrong with their file."""
    path = shop.folder / HOUSE_NAME
    try:
        tables = toml_tables(written_or_new(path).text, path)
    except FileProblems as error:
        return (), shop.told(error.problems)
    file, mistakes = attempt(HouseFile, tables)
    if file is None:
        return (), tuple(one.line(HOUSE_NAME) for one in mistakes)
    price = file.price
    clearance = format_length(file.house.strap_clearance, file.units)
    words = [f"A strap is made {clearance} narrower than its buckle's opening."]
    sign = f"{price.currency} " if price.currency else ""
    rates = (("An hour at the bench", price.hourly_rate), ("An hour of the machine", price.machine_rate))
    words += [f"{what}: {sign}{value:g}." for what, value in rates if value is not None]
    if price.hourly_rate is None:
        words.append("No hourly rate is set yet.")
    return tuple(words), ()


def file_page(request: Request, bench: Bench, file: str, problems: tuple[str, ...] = ()) -> Response:
    """Return the page of one of the shop's own files as text, with what is wrong with it.

    Raises:
        FileProblems: there is no such file.
    """
    path, written = _own_file(bench, file), None
    try:
        written = written_or_new(path)
        problems = with_lines(problems or _problems_in(path), str(path), written.text)
    except FileProblems as error:
        problems = error.problems
    shown: dict[str, Any] = {"name": file, "path": path, "problems": bench.shop.told(problems), "others": ()}
    shown["written"] = written
    return respond.page(request, "file.html", action=f"/shop/file/{file}", back=_place_of(file), **shown)


def text_changed(
    bench: Bench, name: str, written: Written, form: FormData, words: str, then: str
) -> Response:
    """Write a file as it was edited as text, unless somebody else has changed it, and go on.

    Args:
        bench: of the shop.
        name: the job's, or `SHOP`.
        written: the file as it is.
        form: its text as it is to be, and the digest of the file it was shown from.
        words: what was done.
        then: where to go.

    Raises:
        FileProblems: the text is no TOML.
    """
    text = str(form.get("text", "")).replace("\r\n", "\n")
    if form.get("digest", "") != written.digest:
        return respond.words(
            "The file was changed by another program; nothing is written. Load this page again.", 409
        )
    toml_tables(text, written.path)
    bench.change_text(name, written, text, words)
    return respond.gone_to(then)


def of_other_files(bench: Bench, problems: Sequence[str]) -> list[tuple[str, list[str]]]:
    """Return the shop's own files that some mistakes are in, each with its mistakes."""
    found: dict[str, list[str]] = {}
    for line in bench.shop.told(tuple(problems)):
        file, _, words = line.partition(": ")
        try:
            _own_file(bench, file)
        except FileProblems:
            continue
        found.setdefault(file, []).append(words)
    return list(found.items())


def _problems_in(path: Path) -> tuple[str, ...]:
    """Return what is wrong with one of the shop's own files; nothing where it is not there yet."""
    try:
        if not path.exists():
            return ()
        if path.name == HOUSE_NAME:
            validate(HouseFile, read_toml(path), str(path))
        elif path.name == CATALOGUE_NAME:
            read_catalogue(path)
        else:
            read_machine(str(path))
    except FileProblems as error:
        return error.problems
    return ()


def _own_file(bench: Bench, file: str) -> Path:
    """Return the path of one of the shop's own files: settings or catalogue, also a job's, or a machine's.

    Raises:
        FileProblems: it is none of those.
    """
    if file in (HOUSE_NAME, CATALOGUE_NAME):
        return bench.shop.folder / file
    folder, _, name = file.rpartition("/")
    job = folder.removeprefix("jobs/")
    if job in bench.shop.jobs() and name in (HOUSE_NAME, CATALOGUE_NAME):
        return bench.shop.named(tuple(bench.shop.job(job).parent.glob("*.toml")), name)
    return bench.shop.named(bench.shop.machines() if folder == "machines" else (), name)


def _place_of(file: str) -> str:
    """Return where a file is changed by its fields."""
    if file.startswith("jobs/"):
        return f"/{file.rpartition('/')[0].replace('jobs', 'job', 1)}"
    if file == CATALOGUE_NAME:
        return "/shop"
    return "/shop/house" if file == HOUSE_NAME else f"/shop/machine/{file.rpartition('/')[2]}"
