"""What the page answers with: templates, plain words, files, and errors line by line."""

from __future__ import annotations

import io
import json
import zipfile
from functools import cache
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.responses import FileResponse, HTMLResponse, PlainTextResponse, Response

from strapwright.core.errors import FileProblems, StrapwrightError
from strapwright.page.forms.page_words import in_page_words
from strapwright.page.server.access import TooLargeError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from starlette.requests import Request


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """Return a page of a template."""
    token, place, seen = request.state.post_token, request.url.path, request.state.seen
    text = _templates().get_template(template).render(post_token=token, place=place, seen=seen, **values)
    return HTMLResponse(text, status)


async def sent_json(request: Request) -> Any:
    """Return what was sent as JSON; None where it cannot be read."""
    try:
        return json.loads(await request.body())
    except (ValueError, RecursionError):
        return None


def fragment(template: str, **values: Any) -> str:
    """Return a part of a page."""
    return _templates().get_template(template).render(**values)


def words(text: str, status: int = 400) -> Response:
    """Return what is wrong, in words."""
    return PlainTextResponse(text, status)


def again() -> Response:
    """Have the tab load its page anew."""
    return Response(status_code=204, headers={"hx-refresh": "true"})


def gone_to(path: str) -> Response:
    """Have the tab go to another page."""
    return Response(status_code=204, headers={"hx-redirect": path})


def file(path: Path) -> Response:
    """Return a file to be shown.

    Raises:
        FileProblems: it is not there.
    """
    if not path.is_file():
        raise FileProblems((f"found no {path.name} of this job yet",))
    return FileResponse(path)


def archive(files: Mapping[str, bytes], saved_as: str) -> Response:
    """Return some files as one archive, to be saved.

    Args:
        files: content by name.
        saved_as: the archive's name.
    """
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in files.items():
            made.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    headers = {"content-disposition": f'attachment; filename="{saved_as}"'}
    return Response(held.getvalue(), media_type="application/zip", headers=headers)


def refused(request: Request, error: Exception) -> Response:
    """Answer with what is wrong, line by line: as a page where one was asked for."""
    lines = in_page_words(str(error)).splitlines()
    status = 404 if isinstance(error, FileProblems) and request.method == "GET" else 400
    if request.method == "GET" and "text/html" in request.headers.get("accept", ""):
        return page(request, "refused.html", status, lines=lines)
    return words("\n".join(lines), status)


def _always(text: str, status: int) -> Callable[[Request, Exception], Response]:
    """Return what answers every error of a kind alike."""
    return lambda *_: words(text, status)


def no_such_page(request: Request, error: Exception) -> Response:
    """Answer an address there is nothing at."""
    assert isinstance(error, HTTPException)
    if error.status_code == 400:  # a form that is none
        return words("What was sent cannot be read; nothing was done.")
    if "text/html" in request.headers.get("accept", "") and request.method == "GET":
        return page(request, "refused.html", error.status_code, lines=["There is no such page here."])
    return words("There is no such page here.", error.status_code)


HANDLERS: dict[Any, Any] = {
    StrapwrightError: refused,
    HTTPException: no_such_page,
    TooLargeError: _always("Larger than what is taken here; nothing was done.", 413),
    ClientDisconnect: _always("It was not sent whole; nothing was done.", 400),
    Exception: _always(
        "strapwright made a mistake here; the terminal that runs it says which. Load it again.", 500
    ),
}
"""Which error is answered how: a post that goes on and on, one who went away, a mistake of this program."""


@cache
def _templates() -> Environment:
    return Environment(
        loader=PackageLoader("strapwright.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
