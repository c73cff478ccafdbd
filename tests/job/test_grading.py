from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from pydantic_core import PydanticCustomError

from strapwright.api import schemas
from strapwright.core.errors import FileProblems
from strapwright.core.findings import Finding, Severity
from strapwright.job.draft import draft
from strapwright.job.grading import findings_of, grouped
from strapwright.job.spec.job import Job, read_job
from strapwright.job.spec.size import MOST_SIZES, read_sizes

from .jobs import GOOD, changed

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from strapwright.job.strap_draft import BeltDraft

SIZE = 'size = { girth = "38 in" }'


def run(sizes: str) -> str:
    return changed(SIZE, f"sizes = {sizes}")


@pytest.mark.parametrize(
    ("written", "labels", "values"),
    [
        ("30-46/2", "30 32 34 36 38 40 42 44 46", [30, 32, 34, 36, 38, 40, 42, 44, 46]),
        ("30–34/2", "30 32 34", [30, 32, 34]),
        (" 30 - 32 / 0.5 ", "30 30.5 31 31.5 32", [30, 30.5, 31, 31.5, 32]),
        ("36-36/2", "36", [36]),
        ([30, 32.5, 38], "30 32.5 38", [30, 32.5, 38]),
        ("38, 30,34", "38 30 34", [38, 30, 34]),
        (34, "34", [34]),
    ],
)
def test_trouser_sizes_are_bare_numbers(written: object, labels: str, values: list[float]) -> None:
    found = read_sizes(written)
    assert " ".join(size.label for size in found) == labels
    assert [size.trousers for size in found] == values
    assert {size.girth for size in found} == {None}


@pytest.mark.parametrize(
    ("written", "labels", "values"),
    [
        ("80 cm-90 cm/5 cm", ["80 cm", "85 cm", "90 cm"], [800, 850, 900]),
        ("800mm-900mm/50mm", ["800 mm", "850 mm", "900 mm"], [800, 850, 900]),
        ("80 cm-82.5 cm/1/2 in", None, None),
        ("32 in-34 in/1 in", ["32 in", "33 in", "34 in"], [812.8, 838.2, 863.6]),
        ("31 1/2 in-34 1/2 in/1 1/2 in", ["31.5 in", "33 in", "34.5 in"], [800.1, 838.2, 876.3]),
        ('32-3/4 in-33-1/4 in/1/2"', ["32.75 in", "33.25 in"], [831.85, 844.55]),
        (["80 cm", "33 in"], ["80 cm", "33 in"], [800, 838.2]),
    ],
)
def test_girths_carry_their_unit(
    written: object, labels: list[str] | None, values: list[float] | None
) -> None:
    if labels is None:
        with pytest.raises(PydanticCustomError, match="no whole number of steps"):
            read_sizes(written)
        return
    found = read_sizes(written)
    assert [size.label for size in found] == labels
    assert [size.girth for size in found] == pytest.approx(values)
    assert {size.trousers for size in found} == {None}


A_RUN = (
    'expected a run of trouser sizes such as "30-46/2", or of girths such as "80 cm-110 cm/5 cm", or a list '
    "such as [30, 32, 34]"
)


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ('"46-30/2"', 'found "46-30/2", which runs downwards; expected the smaller size first: "30-46/2"'),
        ('"30-46/0"', 'found "30-46/0", a step of 0; expected one above 0'),
        (
            '"30-45/2"',
            (
                'found "30-45/2", and from 30 to 45 is no whole number of steps of 2; expected an end of 44 '
                "or 46"
            ),
        ),
        (
            '"80 cm-111 cm/5 cm"',
            (
                'found "80 cm-111 cm/5 cm", and from 80 cm to 111 cm is no whole number of steps of 5 cm; '
                "expected an end of 110 cm or 115 cm"
            ),
        ),
        ('"30-46"', 'found "30-46", expected a step after the run too, such as "30-46/2"'),
        ('"80 cm-110 cm"', 'found "80 cm-110 cm", expected a step after the run too, such as "30-46/2"'),
        ('"20-70/0.5"', 'found "20-70/0.5", 101 sizes; expected at most 40 in one run'),
        (
            '"10-20/2"',
            (
                'found "10-20/2", and 10 is no trouser size; expected 20 to 70, or girths with their unit '
                'such as "80 cm-110 cm/5 cm"'
            ),
        ),
        (
            '"800-1100/50"',
            (
                'found "800-1100/50", and 800 is no trouser size; expected 20 to 70, or girths with their '
                'unit such as "80 cm-110 cm/5 cm"'
            ),
        ),
        ('"8 cm-11 cm/1 cm"', 'found "8 cm-11 cm/1 cm", with a girth of 8 cm; expected 150 to 3000 mm'),
        (
            '"80-110/5 cm"',
            (
                'found "80-110/5 cm", a length beside a bare number; expected all trouser sizes, such as '
                '"30-46/2", or the unit with each, such as "80 cm-110 cm/5 cm"'
            ),
        ),
        ('"x"', f'found "x", {A_RUN}'),
        ('""', f'found "", {A_RUN}'),
        ('"-30-46/2"', f'found "-30-46/2", {A_RUN}'),
        ('"30-46/2/2"', f'found "30-46/2/2", {A_RUN}'),
        ("true", f"found true, {A_RUN}"),
        ("[]", f"found an empty list, {A_RUN}"),
        ('[30, "large"]', f'found "large" in the list, {A_RUN}'),
        ("[30, true]", f"found true in the list, {A_RUN}"),
        ("{ from = 30 }", f"found a table, {A_RUN}"),
        ("[30, 32, 30]", "found a list with 30 in it twice, expected each size once"),
        (
            '[30, "80 cm"]',
            (
                "found a list with trouser sizes and girths in it, expected all of one kind: bare numbers, "
                "or lengths with their unit"
            ),
        ),
        (str(list(range(20, 61))), "found a list of 41 sizes, expected at most 40 in one run"),
    ],
)
def test_a_malformed_run_is_one_line(write: Callable[..., Path], written: str, message: str) -> None:
    path = write(run(written))
    with pytest.raises(FileProblems) as caught:
        read_job(path)
    assert caught.value.problems == (f"{path}: belt[1].sizes: {message}",)


def test_a_run_as_long_as_a_novel_is_refused_at_once(write: Callable[..., Path]) -> None:
    with pytest.raises(FileProblems, match=r"belt\[1\].sizes: found .*expected a run of trouser sizes"):
        read_job(write(run('"' + "30-1/" * 100_000 + '"')))


def test_just_one_of_size_and_sizes(write: Callable[..., Path]) -> None:
    for text, message in (
        (
            changed(SIZE, SIZE + '\nsizes = "30-34/2"'),
            "sizes: found beside size, expected just one of the two",
        ),
        (
            changed(SIZE, ""),
            'size: missing, expected a table such as { girth = "38 in" }, or sizes = "30-46/2"',
        ),
    ):
        path = write(text)
        with pytest.raises(FileProblems) as caught:
            read_job(path)
        assert caught.value.problems == (f"{path}: belt[1].{message}",)


def test_a_graded_belt_is_one_belt_a_size_alike_in_all_else(write: Callable[..., Path]) -> None:
    job = read_job(write(run('"30-34/2"') + 'quantity = 3\ntip = "spear"\n'))
    assert [belt.id for belt in job.belts] == ["ines-30", "ines-32", "ines-34"]
    assert [belt.size.trousers for belt in job.belts] == [30, 32, 34]
    assert {belt.run for belt in job.belts} == {"ines"}
    assert {(belt.quantity, belt.tip.shape, belt.buckle.name) for belt in job.belts} == {
        (3, "spear", "single-40")
    }
    single = read_job(write(changed(SIZE, "size = { trousers = 32 }") + 'quantity = 3\ntip = "spear"\n'))
    own, graded = draft(single).belts[0].as_json(), draft(job).belts[1].as_json()
    assert (graded.pop("run"), graded.pop("run_size")) == ("ines", "32")
    for data in (own, graded):
        data.pop("id")
        for finding in data["findings"]:
            finding.pop("subject")
    assert graded == own
    assert single.belts[0].run == ""


def test_each_size_is_cut_as_often_as_asked(write: Callable[..., Path]) -> None:
    drafted = draft(read_job(write(run('["80 cm", "32.5 in"]') + "quantity = 2\n")))
    straps = [part.id for part in drafted.parts if part.kind == "strap"]
    assert straps == [f"ines-{size}/strap-{copy}" for size in ("80cm", "32.5in") for copy in (1, 2)]


def test_a_job_with_a_run_can_be_written_out_again(write: Callable[..., Path]) -> None:
    job = read_job(write(run('"30-34/2"')))
    again = Job.model_validate(job.model_dump(by_alias=True))
    assert [(belt.id, belt.size) for belt in again.belts] == [(belt.id, belt.size) for belt in job.belts]
    assert again.digest == job.digest
    assert job.digest != read_job(write(run('"30-36/2"'))).digest


def test_ids_stay_unique_with_their_sizes(write: Callable[..., Path]) -> None:
    second = '[[belt]]\nid = "{}"\nsizes = {}\nbuckle = "single-40"\n'
    for more, message in (
        (second.format("ines", "[40]"), 'found "ines" again, already the id of belt[1]; expected its own'),
        (second.format("ines-", "[40]"), ""),
        (
            second.format("ines-32", "[40]"),
            'found "ines-32" again, already the id of belt[1]; expected its own',
        ),
    ):
        path = write(run('"30-34/2"') + more)
        if not message:
            assert read_job(path).belts[-1].id == "ines--40"
            continue
        with pytest.raises(FileProblems) as caught:
            read_job(path)
        assert caught.value.problems == (f"{path}: belt[2].id: {message}",)
    path = write(GOOD.replace('"ines"', '"ines-34"') + second.format("ines", '"30-34/2"'))
    with pytest.raises(FileProblems) as caught:
        read_job(path)
    message = 'makes "ines-34", already the id of belt[1]; expected its own'
    assert caught.value.problems == (f"{path}: belt[2].id: {message}",)


def test_an_id_leaves_room_for_the_size(write: Callable[..., Path]) -> None:
    long = "a" * 37
    path = write(run('"30-34/2"').replace('"ines"', f'"{long}"'))
    assert len(read_job(path).belts[0].id) == 40
    path = write(run('["80 cm", "100 cm"]').replace('"ines"', f'"{long}"'))
    with pytest.raises(FileProblems) as caught:
        read_job(path)
    assert caught.value.problems == (
        (
            f'{path}: belt[1].id: found "{long}", which with its size makes "{long}-100cm" of 43 characters; '
            "expected at most 40 with the size"
        ),
    )


def test_the_schema_takes_a_run_in_place_of_a_size() -> None:
    belt = schemas.schema("job")["$defs"]["Belt"]
    assert belt["properties"]["sizes"]["anyOf"][0] == {"type": "string"}
    assert "size" not in belt["required"]


def test_forty_sizes_are_taken() -> None:
    assert len(read_sizes("80 cm-119 cm/1 cm")) == MOST_SIZES


def drafts(write: Callable[..., Path], found: Sequence[Sequence[Finding]]) -> list[BeltDraft]:
    from dataclasses import replace

    sizes = f"[{', '.join(str(30 + 2 * k) for k in range(len(found)))}]"
    made = draft(read_job(write(run(sizes)))).belts
    return [replace(belt, findings=tuple(own)) for belt, own in zip(made, found, strict=True)]


def finding(code: str, what: str, severity: Severity = Severity.NOTE) -> Finding:
    return Finding(code, severity, what, "See to it.", "ines")


def told(findings: Sequence[Finding]) -> list[Any]:
    return [(one.subject, one.what, one.do) for one in findings]


def test_what_all_sizes_have_in_common_is_told_once(write: Callable[..., Path]) -> None:
    thick = finding("thick", "It is thick.")
    belts = drafts(write, [[thick], [thick], [thick]])
    assert told(findings_of(belts)) == [("ines, all sizes", "It is thick.", "See to it.")]
    assert told(findings_of(belts[:1])) == [("ines", "It is thick.", "See to it.")]


def test_what_some_sizes_have_names_them(write: Callable[..., Path]) -> None:
    short = finding("short", "It is short.")
    belts = drafts(write, [[short], [], [short]])
    assert told(findings_of(belts)) == [("ines, 30, 34", "It is short.", "See to it.")]


def test_what_differs_in_its_numbers_is_told_of_the_first(write: Callable[..., Path]) -> None:
    belts = drafts(write, [[], [finding("long", "It is 9 mm.")], [finding("long", "It is 10 mm.")]])
    also = "See to it. So too, each with its own numbers: 34."
    assert told(findings_of(belts)) == [("ines, 32", "It is 9 mm.", also)]


def test_two_findings_of_a_sort_stay_two(write: Callable[..., Path]) -> None:
    rows = [finding("post", "Row A works loose."), finding("post", "Row B works loose.")]
    expected = [("ines, all sizes", row.what, "See to it.") for row in rows]
    assert told(findings_of(drafts(write, [rows, rows]))) == expected


def test_a_stop_is_told_in_full_of_every_size(write: Callable[..., Path]) -> None:
    stops = [[finding("no", f"It is {n} mm.", Severity.STOP)] for n in (9, 10)]
    assert told(findings_of(drafts(write, stops))) == [
        ("ines, 30", "It is 9 mm.", "See to it."),
        ("ines, 32", "It is 10 mm.", "See to it."),
    ]


def test_the_sizes_of_a_run_are_grouped_and_others_stand_alone(write: Callable[..., Path]) -> None:
    more = '[[belt]]\nid = "ola"\nsize = { trousers = 36 }\nbuckle = "single-40"\n'
    belts = draft(read_job(write(run('"30-34/2"') + more + more.replace("ola", "ida")))).belts
    assert [[belt.id for belt in group] for group in grouped(belts)] == [
        ["ines-30", "ines-32", "ines-34"],
        ["ola"],
        ["ida"],
    ]


def test_a_run_may_say_which_hole_shall_fit(write: Callable[..., Path]) -> None:
    job = read_job(write(run('"30-34/2"\nhole_in_use = 3')))
    assert [belt.hole_in_use for belt in job.belts] == [3, 3, 3]
    middle = draft(read_job(write(run('"30-34/2"')))).belts
    for third, fourth in zip(draft(job).belts, middle, strict=True):
        assert third.figures.hole_in_use == fourth.figures.hole_in_use
        assert third.strap.holes.xs[2] == pytest.approx(third.figures.hole_in_use)
    assert Job.model_validate(job.model_dump(by_alias=True)).digest == job.digest
    assert job.digest != read_job(write(run('"30-34/2"'))).digest


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (run('"30-34/2"\nhole_in_use = 8'), "hole_in_use: found 8, expected 1 to 7, the holes' count"),
        (
            changed(SIZE, f"{SIZE}\nhole_in_use = 3"),
            "hole_in_use: found without sizes, expected only with them; with size, write it in that table",
        ),
    ],
)
def test_a_hole_in_use_that_cannot_be_is_one_line(
    write: Callable[..., Path], text: str, message: str
) -> None:
    path = write(text)
    with pytest.raises(FileProblems) as caught:
        read_job(path)
    assert caught.value.problems == (f"{path}: belt[1].{message}",)
