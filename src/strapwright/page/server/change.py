"""One of the shop's own files changed by a form: checked, and written as one step that can be undone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from strapwright.files.read import toml_tables
from strapwright.page.forms.form import differences
from strapwright.page.forms.job_file import text_with_edits, value_at, with_edits
from strapwright.page.server.bench import SHOP
from strapwright.page.sheet.shop import read_written, written_or_new

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from starlette.requests import Request

    from strapwright.page.forms.form import Form
    from strapwright.page.forms.job_file import Key
    from strapwright.page.server.bench import Bench


async def posted_form(request: Request) -> tuple[dict[str, str], bool]:
    """Return a form's values, those of one name with commas between, and whether they are to be written."""
    form = await request.form()
    values = {key: ", ".join(str(one) for one in form.getlist(key)) for key in form}
    return values, request.query_params.get("write") == "1"


def change_fields(
    bench: Bench,
    path: Path,
    form: Form,
    posted: dict[str, str],
    mistakes_of: Callable[[Mapping[str, Any]], Mapping[str, str]],
    *,
    write: bool,
    title: str,
    place: Key = (),
) -> dict[str, Any]:
    """Check what a form changes of a file, and write it where that is asked for and it is sound.

    Args:
        bench: of the shop.
        path: the file; need not be there.
        form: whose fields were posted.
        posted: their values, and the digest of the file they were filled from.
        mistakes_of: says what is wrong with the file's tables, by the fields' keys.
        write: whether it is to be written.
        title: what is changed, for the step.
        place: of the form's table in the file.

    Returns:
        Mistakes by field, the file's digest and whether it was written; or, where the file was changed
        meanwhile and nothing is, what differs.
    """
    written = written_or_new(path)
    tables = toml_tables(written.text, path)
    unit, digest = posted.get("unit", "mm"), posted.get("digest", "")
    table = value_at(tables, place) if place else tables
    edits = form.edits(table, posted, place, unit)
    if digest != written.digest:
        return {"conflict": differences(form.shown(table), posted, place, edits), "digest": written.digest}
    mistakes = mistakes_of(with_edits(tables, edits))
    answer = {"mistakes": dict(mistakes), "digest": written.digest, "written": False}
    if not (write and edits) or mistakes:
        return answer
    keys = sorted({str(key[-1]).replace("_", " ") for key in edits})
    bench.change_text(SHOP, written, text_with_edits(written.text, edits), f"{title}: {', '.join(keys)}")
    steps = bench.history(SHOP).next
    return answer | {"digest": read_written(path).digest, "written": True, "steps": steps}
