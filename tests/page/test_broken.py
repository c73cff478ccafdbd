"""A folder with broken files opens, says what is wrong with key and line, and lets one mend it there."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING

import pytest

from strapwright.page.forms.toml_text import line_of

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient

BUCKLE = '\n[buckle.bad]\nopening = "none"\n'
BROKEN = {
    "catalogue.toml": (
        '\n[buckle.bad]\nopening = "none"\n',
        "/shop/file/catalogue.toml",
        "buckle.bad.opening: ",
    ),
    "house.toml": ("\n[price]\nwaste = 2\n", "/shop/file/house.toml", "price.waste: found 2"),
    "machines/laser.toml": ("\n[blade]\noffset = 3\n", "/shop/file/machines/laser.toml", "blade"),
    "hides/side-7.toml": ('\n[[flaw]]\nkind = "tear"\n', "/hide/side-7.toml/text", "flaw[4].kind: "),
    "jobs/first/job.toml": ('\n[[belt]]\nid = "b"\nsize = 3\n', "/job/first/text", "size: "),
}


def said(client: TestClient, path: str) -> list[str]:
    """The mistakes on a page."""
    text = client.get(path).text
    return [html.unescape(one) for one in re.findall(r'<(?:li|p) class="mistake">([^<]*)', text)]


def test_five_broken_files_are_named_with_key_and_line_and_mended(client: TestClient, folder: Path):
    sound = {name: (folder / name).read_text("utf-8") for name in BROKEN}
    for name, (more, _, _) in BROKEN.items():
        (folder / name).write_text(sound[name] + more)
    for page in ("/", "/leather", "/shop", "/job/first", "/shop/house", "/shop/machine/laser.toml"):
        assert client.get(page).status_code == 200, page
    for name, (_, page, words) in BROKEN.items():
        text = (folder / name).read_text("utf-8")
        found = [re.fullmatch(r"line (\d+): (.*)", one) for one in said(client, page)]
        lines = [int(one[1]) for one in found if one and words in one[2]]
        assert lines, (name, said(client, page))
        assert sound[name].count("\n") < lines[0] <= text.count("\n")
        digest = re.search(r'name="digest" value="(\w+)"', client.get(page).text)
        assert digest
        answer = client.post(page, data={"digest": digest[1], "text": sound[name]})
        assert answer.status_code == 204, answer.text
        assert (folder / name).read_text("utf-8") == sound[name]
        assert said(client, page) == []


@pytest.mark.parametrize("file", ["catalogue.toml", "house.toml", "jobs/first/catalogue.toml"])
def test_a_job_that_another_file_breaks_leads_to_that_file(client: TestClient, folder: Path, file: str):
    with (folder / file).open("a") as written:
        written.write("\n[price]\nwaste = 2\n" if file == "house.toml" else BUCKLE)
    page = client.get("/job/first").text
    assert f"because of mistakes in <code>{file}</code>" in page
    assert f'href="/shop/file/{file}"' in page
    assert str(folder) not in client.get("/").text
    assert len(said(client, f"/shop/file/{file}")) >= 1


@pytest.mark.parametrize("words", ["", "nonsense", "belt[9].id: x", "line 3: x", ": x", "a.b.c"])
def test_what_has_no_key_in_the_text_has_no_line(words: str):
    assert line_of(words, '[[belt]]\nid = "a"\n') is None


def test_keys_are_found_however_their_tables_are_written():
    text = 'a.b = 1\n[buckle."my one"]\nopening = 3\n[[belt]]\n[belt.size]\ngirth = 1\n'
    text += "[[belt]]\nsize.girth = 2\n"
    for words, line in (
        ("a.b: x", 1),
        ('buckle."my one".opening: x', 3),
        ("belt[1].size.girth: x", 6),
        ("belt[2].size.girth: x", 8),
        ("belt[2].buckle: missing", 7),
    ):
        assert line_of(words, text) == line, words
