from __future__ import annotations

from time import process_time
from typing import TYPE_CHECKING

import pytest

from strapwright.core.errors import PartError
from strapwright.job.draft import draft
from strapwright.job.orders import Orders, read_orders
from strapwright.job.spec.csv_table import columns_of, read_batch
from strapwright.job.spec.job import read_job
from strapwright.job.spec.strap import Belt

if TYPE_CHECKING:
    from pathlib import Path

HEAD = "id,size.girth,sizes,buckle,leather.thickness,leather.tannage"
TINY = "[buckle.tiny]\nopening = 12\nbar_diameter = 5\nframe_depth = 38\nprong_width = 6\n"
SLOT = "slot_width is 7.5 mm, which leaves 1.2 mm at the side of a 10 mm strap; allowed is at most 6.0 mm"


def good(name: str) -> str:
    return f"{name},96 cm,,single-40,9 oz,vegetable"


def unsound(name: str) -> str:
    return f"{name},96 cm,,tiny,9 oz,vegetable"


def orders(tmp_path: Path, *lines: str, end: str = "\n", start: bytes = b"", head: str = HEAD) -> Orders:
    (tmp_path / "catalogue.toml").write_text(TINY)
    path = tmp_path / "orders.csv"
    path.write_bytes(start + "".join(line + end for line in (head, *lines)).encode())
    return read_orders(path)


def report(found: Orders) -> list[str]:
    return [line.removeprefix(f"{found.source}: ") for line in found.report]


def test_nothing_is_reported_where_all_is_well(tmp_path: Path) -> None:
    found = orders(tmp_path, good("a"), "", good("b"))
    assert found.report == ()
    assert (found.count, found.bad) == (2, frozenset())
    assert found.draft is not None
    assert [belt.id for belt in found.draft.belts] == ["a", "b"]
    assert found.draft == draft(read_job(tmp_path / "orders.csv"))


def test_mistakes_of_every_kind_are_reported_in_the_order_of_the_lines(tmp_path: Path) -> None:
    found = orders(
        tmp_path,
        unsound("a"),
        good("b"),
        "",
        "c,96 m,,single-40,9 oz,",
        "d,,30-45/2,single-40,9 oz,vegetable",
        '"e,96 cm,,single-40,9 oz,vegetable',
        good("b"),
        unsound("g") + ",x",
        good("h"),
    )
    assert report(found) == [
        f'line 2: belt "a": {SLOT}',
        (
            'line 5: size.girth: found "96 m", expected a length such as "44 mm" or "1 3/4 in"; the unit '
            '"m" is not one of mm, cm or in'
        ),
        "line 5: leather.tannage: missing, expected here or in a [leather] table for all belts",
        (
            'line 6: sizes: found "30-45/2", and from 30 to 45 is no whole number of steps of 2; expected '
            "an end of 44 or 46"
        ),
        "line 7: not valid CSV: unexpected end of data",
        'line 8: id: found "b" again, already the id of line 3; expected its own',
        'line 9: found "x" in column 7, which has no name',
        "6 of 8 lines are bad, 2 are good",
    ]
    assert found.draft is not None
    assert [belt.id for belt in found.draft.belts] == ["b", "h"]


@pytest.mark.parametrize("start", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_are_kept_apart_byte_for_byte(tmp_path: Path, start: bytes, end: str) -> None:
    name = f'"Zoë ""the second""{end}of two"' + ",96 cm,,single-40, 9 oz ,vegetable"
    found = orders(tmp_path, good("a"), unsound("b"), "", name, "c,x" + good("")[5:], start=start, end=end)
    head = start + f"{HEAD}{end}".encode()
    assert found.good_text == head + f"{good('a')}{end}".encode()
    bad = (unsound("b"), name, "c,x" + good("")[5:])
    assert found.bad_text == head + "".join(line + end for line in bad).encode()


def test_a_name_of_two_lines_is_one_row(tmp_path: Path) -> None:
    found = orders(tmp_path, good("a") + ',"two\nlines"', unsound("b") + ",", head=HEAD + ",name")
    assert report(found) == [f'line 4: belt "b": {SLOT}', "1 of 2 lines is bad, 1 is good"]
    assert found.good_text.decode().endswith(',"two\nlines"\n')


def test_the_good_lines_are_a_job_like_a_file_of_theirs(tmp_path: Path) -> None:
    found = orders(tmp_path, unsound("x"), good("a"), good("b"))
    assert found.job is not None
    assert found.draft is not None
    assert found.job.lines == (3, 4)
    path = tmp_path / "kept" / "orders.csv"
    path.parent.mkdir()
    path.write_bytes(found.good_text)
    alone = read_job(path, tmp_path / "catalogue.toml")
    assert found.draft == draft(alone)
    assert found.job.digest == found.draft.digest == alone.digest


def test_a_run_of_which_one_size_cannot_be_made_is_bad_as_a_whole(tmp_path: Path) -> None:
    found = orders(
        tmp_path,
        "a,,30-34/2,single-40,9 oz,vegetable,",
        'b,,"80 cm, 20 cm, 90 cm",single-40,9 oz,vegetable,15',
        good("c") + ",",
        head=HEAD + ",holes.count",
    )
    (problem, summary) = report(found)
    assert problem.startswith('line 3: belt "b-20cm": ')
    assert summary == "1 of 3 lines is bad, 2 are good"
    assert found.job is not None
    assert [belt.id for belt in found.job.belts] == ["a-30", "a-32", "a-34", "c"]
    assert found.job.lines == (2, 2, 2, 4)
    assert found.draft is not None
    assert {part.belt_id for part in found.draft.parts} == {"a-30", "a-32", "a-34", "c"}


def test_wrong_column_names_leave_no_line_good(tmp_path: Path) -> None:
    found = orders(tmp_path, good("a") + ",2", good("b") + ",1", head=HEAD + ",quantty")
    assert report(found) == [
        'line 1: quantty: unknown column; did you mean "quantity"?',
        "2 of 2 lines are bad, none is good",
    ]
    assert found.job is found.draft is None
    assert found.good_text == (HEAD + ",quantty\n").encode()


def test_no_line_that_can_be_made_is_no_job(tmp_path: Path) -> None:
    found = orders(tmp_path, unsound("a"))
    assert report(found) == [f'line 2: belt "a": {SLOT}', "1 of 1 lines is bad, none is good"]
    assert found.job is found.draft is None


def test_a_file_without_lines_is_told_without_counting_them(tmp_path: Path) -> None:
    assert report(orders(tmp_path)) == [
        "line 1: found no belts, expected a line for each below the column names"
    ]


def test_drafting_a_csv_job_tells_the_line_of_what_cannot_be_made(tmp_path: Path) -> None:
    source = orders(tmp_path, good("a"), "", unsound("b")).source
    job = read_job(tmp_path / "orders.csv")
    with pytest.raises(PartError) as caught:
        draft(job)
    assert str(caught.value) == f'{source}: line 4: belt "b": {SLOT}'


def test_five_hundred_orders_with_bad_ones_among_them(tmp_path: Path) -> None:
    lines = [unsound(f"b{n}") if n % 50 == 7 else good(f"b{n}") for n in range(500)]
    found = orders(tmp_path, *lines)
    assert [line for line, _ in found.problems] == [9 + 50 * k for k in range(10)]
    assert report(found)[-1] == "10 of 500 lines are bad, 490 are good"
    assert found.draft is not None
    assert len(found.draft.belts) == 490
    assert found.good_text.count(b"\n") + found.bad_text.count(b"\n") == 502


def test_more_than_ten_thousand_orders_are_refused_before_they_are_read(tmp_path: Path) -> None:
    lines = [good(f"b{number}") for number in range(100_000)]
    started = process_time()
    found = orders(tmp_path, *lines)
    assert process_time() - started < 5
    assert report(found) == ["line 1: found 100,000 orders, expected at most 10,000; split the file"]
    assert found.job is found.draft is None
    sound = tmp_path / "sound.csv"
    sound.write_text("".join(f"{line}\n" for line in (HEAD, *lines[:10_000])))
    assert len(read_batch(sound.read_text(), columns_of(Belt)).belts) == 10_000
