from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from strapwright.core.errors import FileProblems
from strapwright.job.spec.csv_table import columns_of, read_batch, sorted_text
from strapwright.job.spec.job import read_job
from strapwright.job.spec.strap import Belt
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from pathlib import Path

HEAD = "id,size.girth,buckle,leather.thickness,leather.tannage"
LINE = "ines,96 cm,single-40,9 oz,vegetable"


def problems_of(tmp_path: Path, text: str | bytes) -> list[str]:
    path = tmp_path / "orders.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(FileProblems) as caught:
        read_job(path)
    assert all(len(line.splitlines()) == 1 for line in caught.value.problems)
    return [line.replace(f"{tmp_path}/orders.csv: ", "") for line in caught.value.problems]


@pytest.mark.parametrize("start", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize(("delimiter", "line_end"), [(",", "\n"), (";", "\r\n"), ("\t", "\n")])
def test_one_belt_a_line_with_comma_semicolon_or_tab(
    tmp_path: Path, start: bytes, delimiter: str, line_end: str
) -> None:
    rows = [
        [
            "id",
            "name",
            "size.girth",
            "size.trousers",
            "buckle",
            "buckle.opening",
            "buckle.bar_section",
            "buckle.frame_depth",
            "tip",
            "holes.count",
            "keeper",
            "keeper.width",
            "leather.thickness",
            "leather.tannage",
            "price",
        ],
        ["7", "Zoë", "96 cm", "", "single-40", "", "", "", "spear", "5", "none", "", "9 oz", "chrome", "80"],
        ["", "", "", "", "", "", "", "", "", "", "", "", "", "", ""],
        ["8", "42", "", "36", "", "40 mm", "6 mm x 2 mm", "35", "", "", "", "25", "3.2", "unknown", "75.5"],
    ]
    path = tmp_path / "autumn.CSV"
    path.write_bytes(start + line_end.join(delimiter.join(row) for row in rows).encode())
    job = read_job(path)
    first, second = job.belts
    assert job.name == "autumn"
    assert (first.id, first.name, first.size.girth, first.tip.shape) == ("7", "Zoë", 960.0, "spear")
    assert (first.holes.count, first.keeper, first.price) == (5, None, 80.0)
    assert job.leather_of(first).tannage is Tannage.CHROME
    assert (second.name, second.size.trousers, second.buckle.opening) == ("42", 36.0, 40.0)
    assert second.buckle.bar_section == (6.0, 2.0)
    assert second.keeper is not None
    assert second.keeper.width == 25.0
    assert job.leather_of(second).thickness == 3.2


def test_columns_may_be_called_as_people_call_them_and_numbers_may_have_a_decimal_comma(
    tmp_path: Path,
) -> None:
    path = tmp_path / "orders.csv"
    path.write_text(
        "Name;Waist;Trouser size;Buckle;Thickness;Tannage;Price;Qty;buckle.opening;buckle.bar_section;"
        "buckle.frame_depth\n"
        "Ann Ost;96,5 cm;;single-40;3,6 mm;vegetable;79,50;2;;;\n"
        "Bo;;36;;3,2;vegetable;80;;40,5;6,5 mm x 2 mm;35\n"
    )
    ann, bo = read_job(path).belts
    assert (ann.id, ann.name, ann.size.girth, ann.price, ann.quantity) == ("Ann Ost", "", 965.0, 79.5, 2)
    assert ann.leather is not None
    assert ann.leather.thickness == 3.6
    assert (bo.size.trousers, bo.buckle.opening, bo.buckle.bar_section) == (36.0, 40.5, (6.5, 2.0))
    path.write_text("id,name,girth,buckle,thickness,tannage\n7,Zoë,80 cm,single-40,9 oz,vegetable\n")
    (belt,) = read_job(path).belts
    assert (belt.id, belt.name) == ("7", "Zoë"), "beside an id, a name is whom it is for"


def test_mistakes_are_shown_under_the_files_own_column_names(tmp_path: Path) -> None:
    head = "Name;Waist;girth;buckle;thickness;tannage"
    assert problems_of(tmp_path, f"{head}\nann;;80 cm;single-40;9 oz;vegetable\n") == [
        "line 1: girth: means the same as the column Waist, expected just one"
    ]
    assert problems_of(tmp_path, "Name;Waist;buckle;Thickness;tannage\nann;80;single-40;x;vegetable\n") == [
        "line 2: Waist: found 80 (a bare number is millimetres), expected 150 mm to 3000 mm",
        'line 2: Thickness: found "x", expected a thickness such as "3.6 mm" or "9 oz"',
    ]


SHOP = """[job]
name = "spring"
[leather]
thickness = "3,6 mm"
tannage = "vegetable"
price_per_m2 = 90
[house]
strap_clearance = "1 mm"
[price]
currency = "EUR"
hourly_rate = 30
"""


@pytest.mark.parametrize("first", ["# job: shop.toml", '"# job: shop.toml",,', "#job shop.toml"])
def test_the_first_line_may_name_a_job_file_for_leather_house_and_price(tmp_path: Path, first: str) -> None:
    (tmp_path / "shop.toml").write_text(SHOP)
    path = tmp_path / "orders.csv"
    path.write_text(f"{first}\nname,waist,buckle\nann,80 cm,single-40\nbo,90 cm,single-40\n")
    job = read_job(path)
    assert (job.name, job.shared_file, job.lines) == ("spring", "shop.toml", (3, 4))
    assert job.leather_of(job.belts[0]).thickness == 3.6
    assert (job.house.strap_clearance, job.price.hourly_rate) == (1.0, 30)
    text = path.read_text()
    batch = read_batch(text, columns_of(Belt))
    assert sorted_text(text, batch, {4})[1] == f"{first}\nname,waist,buckle\nbo,90 cm,single-40\n"


def test_a_job_file_a_csv_names_must_be_there_sound_and_without_belts(tmp_path: Path) -> None:
    csv = "# job: shop.toml\nname,waist,buckle\nann,80 cm,single-40\n"
    shop = tmp_path / "shop.toml"
    assert problems_of(tmp_path, csv) == [f"the job file it names: {shop}: no such file"]
    shop.write_text(SHOP + '[[belt]]\nid = "x"\n')
    assert problems_of(tmp_path, csv) == [
        f"{shop}: found [[belt]], expected none: the belts stand in orders.csv"
    ]
    shop.write_text("[leather]\nthickness = 3\n[hose]\n")
    assert problems_of(tmp_path, csv) == [
        (
            f"{shop}: leather.tannage: missing, expected one of "
            '"vegetable", "chrome", "combination", "synthetic", "unknown"'
        ),
        f'{shop}: hose: unknown key; did you mean "house"?',
    ]
    shop.write_text("[house]\n")
    assert problems_of(tmp_path, csv) == [
        (
            "line 2: leather.thickness: found no column for it, expected a column thickness, or a [leather] "
            "table in shop.toml, for the leather of all"
        ),
        (
            "line 2: leather.tannage: found no column for it, expected a column tannage, or a [leather] "
            "table in shop.toml, for the leather of all"
        ),
    ]
    assert problems_of(tmp_path, csv.replace("shop.toml", "")) == [
        'line 1: found no file after "# job:", expected its name, such as # job: shop.toml',
        (
            "line 2: leather.thickness: found no column for it, expected a column thickness, or a first line "
            '"# job: FILE.toml", for the leather of all'
        ),
        (
            "line 2: leather.tannage: found no column for it, expected a column tannage, or a first line "
            '"# job: FILE.toml", for the leather of all'
        ),
    ]


@pytest.mark.parametrize(
    ("text", "messages"),
    [
        ("", ["line 1: found an empty file, expected column names on the first line"]),
        ("\n\n", ["line 1: found an empty file, expected column names on the first line"]),
        (HEAD, ["line 1: found no belts, expected a line for each below the column names"]),
        (
            f"{HEAD}\n{LINE}\n\nola,36,single-40,9 oz,vegetable\n",
            ["line 4: size.girth: found 36 (a bare number is millimetres), expected 150 mm to 3000 mm"],
        ),
        (
            f"{HEAD}\n{LINE}\n{LINE}\n",
            ['line 3: id: found "ines" again, already the id of line 2; expected its own'],
        ),
        (
            f"{HEAD},quantity\n{LINE},0\n",
            ["line 2: quantity: found 0, expected 1 or more"],
        ),
        (
            f"{HEAD},quantity\n{LINE},1.5\n",
            ["line 2: quantity: found 1.5, expected a whole number"],
        ),
        (
            f"{HEAD},quantty\n{LINE},1\nola,96 cm,single-40,9 oz,vegetable,2\n",
            ['line 1: quantty: unknown column; did you mean "quantity"?'],
        ),
        (
            f"{HEAD},zzz\n{LINE},1\n",
            [
                (
                    "line 1: zzz: unknown column; expected one of id, name, quantity, size.*, sizes, "
                    "hole_in_use, buckle, buckle.*, tip, tip.*, holes.*, fastener, fastener_holes.*, "
                    "keeper, keeper.*, fold_thickness, tip_thickness, stitch.*, lining.*, use, dee.*, "
                    "crease.*, marks.*, corner_radius, turn_back, leather.*, price, due, belt, order, "
                    "customer, qty, waist, girth, belt_size, worn_to_hole, trousers, trouser_size, "
                    "thickness, tannage, holes"
                )
            ],
        ),
        (
            f"{HEAD}\n{LINE}\n".replace(",", " | "),
            [
                (
                    'line 1: found columns divided by " | ", expected commas, semicolons or tabs; save the '
                    "sheet again as CSV, divided by commas"
                )
            ],
        ),
        (
            f"{HEAD}\n{LINE}\n".replace("9 oz", "3,6 mm"),
            [
                (
                    'line 2: found "3,6 mm" in two cells, as commas divide this file; write 3.6 mm, or put '
                    "it in quotation marks"
                )
            ],
        ),
        (f"{HEAD},id\n{LINE},x\n", ["line 1: id: column found twice, expected once"]),
        (f"{HEAD}\n{LINE},x\n", ['line 2: found "x" in column 6, which has no name']),
        (
            f"{HEAD}\nines,,single-40,9 oz,\n",
            [
                'line 2: size: missing, expected a table such as { girth = "38 in" }, or sizes = "30-46/2"',
                "line 2: leather.tannage: missing, expected here or in a [leather] table for all belts",
            ],
        ),
        (
            "id,buckle\nines,single-40\nola,single-40\n",
            [
                (
                    "line 1: size: found no column for it, expected a column waist, trousers, "
                    "size.worn_to_hole or sizes"
                ),
                (
                    "line 1: leather.thickness: found no column for it, expected a column thickness, or a "
                    'first line "# job: FILE.toml", for the leather of all'
                ),
                (
                    "line 1: leather.tannage: found no column for it, expected a column tannage, or a "
                    'first line "# job: FILE.toml", for the leather of all'
                ),
            ],
        ),
        (
            f"{HEAD},buckle.opening,tip,tip.length\n{LINE},40,spear,40 mm\n",
            [
                'line 2: buckle.opening: found 40 beside buckle = "single-40", expected just one',
                'line 2: tip.length: found "40 mm" beside tip = "spear", expected just one',
            ],
        ),
        (
            HEAD.replace(",", ";") + "\nines;1,050 mm;single-40;9 oz;vegetable\n",
            [
                (
                    'line 2: size.girth: found "1,050 mm", expected a length such as "44 mm" or "1 3/4 in"; '
                    "the comma may divide thousands or decimals; write 1050 or 1.05"
                )
            ],
        ),
        (f'{HEAD}\n"ines', ["line 2: not valid CSV: unexpected end of data"]),
        (
            f'{HEAD},name\n{LINE},"two\nlines"\nines2,x,single-40,9 oz,vegetable,\n',
            ['line 4: size.girth: found "x", expected a length such as "44 mm" or "1 3/4 in"'],
        ),
        (
            f"{HEAD}\nZoë,1 1/0 in,single-40,9 oz,vegetable\n",
            [
                (
                    'line 2: size.girth: found "1 1/0 in", expected a length such as "44 mm" or "1 3/4 in"; '
                    "a fraction cannot be over 0"
                )
            ],
        ),
        (
            f"{HEAD}\nines,nan,single-40,9 oz,vegetable\n",
            ['line 2: size.girth: found "nan", expected a length such as "44 mm" or "1 3/4 in"'],
        ),
        (
            (
                "id,size.girth,size.trousers,buckle,leather.thickness,leather.tannage\n"
                "ines,96 cm,36,single-40,9 oz,vegetable\n"
            ),
            [
                (
                    "line 2: size: found both girth and trousers, expected exactly one of worn_to_hole, "
                    "girth, belt_size and trousers"
                )
            ],
        ),
        (
            f"{HEAD}\n".encode() + b"Jos\xe9,96 cm,single-40,9 oz,vegetable\n",
            ["line 2: found the byte 0xe9, expected UTF-8 text; save it again as UTF-8"],
        ),
    ],
)
def test_each_mistake_is_told_with_its_line(tmp_path: Path, text: str | bytes, messages: list[str]) -> None:
    assert problems_of(tmp_path, text) == messages


def test_mistakes_come_in_the_order_of_the_lines(tmp_path: Path) -> None:
    lines = problems_of(
        tmp_path, f"{HEAD},quantity\na,x,single-40,9 oz,vegetable,0\n{LINE},2\na,96 cm,q,9 oz,chrome,1\n"
    )
    assert [line.split(":")[0] for line in lines] == ["line 2", "line 2", "line 4", "line 4"]


def test_a_csv_of_ten_megabytes_is_refused_by_its_size(tmp_path: Path) -> None:
    assert problems_of(tmp_path, f"{HEAD}\n" + f"{LINE}\n" * 280_000) == [
        "found 10.1 MB, expected at most 4 MB; is it the right file?"
    ]


def test_a_cell_longer_than_the_reader_takes_is_one_line(tmp_path: Path) -> None:
    (line,) = problems_of(tmp_path, f"{HEAD}\n{'x' * 200_000},96 cm,single-40,9 oz,vegetable\n")
    assert line.startswith("line 2: not valid CSV: field larger than field limit")


def test_a_quotation_mark_left_open_takes_no_other_line_with_it(tmp_path: Path) -> None:
    assert problems_of(tmp_path, f'{HEAD}\n"{LINE}\nola,x,single-40,9 oz,vegetable\n"a" b\n') == [
        "line 2: not valid CSV: ',' expected after '\"'",
        'line 3: size.girth: found "x", expected a length such as "44 mm" or "1 3/4 in"',
        "line 4: not valid CSV: ',' expected after '\"'",
    ]


def test_after_a_hundred_broken_lines_the_rest_is_not_read(tmp_path: Path) -> None:
    lines = problems_of(tmp_path, f"{HEAD}\n{LINE}\n" + '"a" b\n' * 150)
    assert len(lines) == 100
    assert lines[0] == "line 3: not valid CSV: ',' expected after '\"'"
    assert lines[-1] == "line 102: not valid CSV: ',' expected after '\"'; the lines below are not read"


def test_broken_column_names_are_all_that_is_told(tmp_path: Path) -> None:
    assert problems_of(tmp_path, f'"id" x,size\n{LINE}\n') == [
        "line 1: not valid CSV: ',' expected after '\"'"
    ]


def test_rows_are_sorted_as_they_stand() -> None:
    text = '\n"id"\n\n"a\nb"\n"c\nd\n"e" f\ng'
    batch = read_batch(text, {"id": "text"})
    assert (batch.head, batch.spans) == (2, ((4, 5), (6, 6), (7, 7), (8, 8), (9, 9)))
    assert [line for line, said in batch.problems if "CSV" in said] == [6, 8]
    assert sorted_text(text, batch, {6, 8}) == ('\n"id"\n"a\nb"\nd\ng', '\n"id"\n"c\n"e" f\n')


def test_every_key_of_a_belt_has_its_column() -> None:
    columns = columns_of(Belt)
    assert columns["id"] == columns["name"] == columns["buckle"] == columns["tip"] == "text"
    assert columns["quantity"] == columns["size.trousers"] == "value"
    assert columns["holes.diameter"] == columns["size.old.thickness"] == columns["size.girth"] == "length"
    assert columns["buckle.bar_section"] == "pair"
    assert columns["sizes"] == "text"
    assert "size" not in columns
    assert "holes" not in columns


@pytest.mark.parametrize("delimiter", [",", ";"])
def test_a_run_of_sizes_has_its_column(tmp_path: Path, delimiter: str) -> None:
    rows = [
        ["id", "sizes", "buckle", "leather.thickness", "leather.tannage"],
        ["a", "30-34/2", "single-40", "9 oz", "vegetable"],
        ["b", '"80 cm, 33.5 in"', "single-40", "9 oz", "vegetable"],
        ["c", "36", "single-40", "9 oz", "vegetable"],
    ]
    path = tmp_path / "stock.csv"
    path.write_text("\n".join(delimiter.join(row) for row in rows))
    job = read_job(path)
    assert [belt.id for belt in job.belts] == ["a-30", "a-32", "a-34", "b-80cm", "b-33.5in", "c-36"]
    assert job.lines == (2, 2, 2, 3, 3, 4)
    assert job.place(3) == f"{path}: line 3: "


def test_five_hundred_belts_are_read(tmp_path: Path) -> None:
    rows = "".join(f"b{number},{900 + number % 100} mm,single-40,9 oz,vegetable\n" for number in range(500))
    (tmp_path / "many.csv").write_text(f"{HEAD}\n{rows}")
    job = read_job(tmp_path / "many.csv")
    assert len(job.belts) == 500
    assert job.belts[499].size.girth == 999.0
