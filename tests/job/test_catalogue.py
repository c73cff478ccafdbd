from __future__ import annotations

from pathlib import Path

import pytest

import strapwright
from strapwright.errors import FileProblems
from strapwright.job.catalogue import buckles_for, catalogue_schema, read_catalogue, shipped_buckles
from strapwright.job.model import read_job

OWN = '[buckle.big-70]\nopening = "70 mm"\nbar_diameter = "6 mm"\nframe_depth = "50 mm"\n'
JOB = (
    '[leather]\nthickness = "9 oz"\ntannage = "vegetable"\n'
    '[[belt]]\nid = "a"\nsize = { girth = "960 mm" }\nbuckle = "big-70"\n'
)


def problems_of(path: Path, text: str) -> list[str]:
    path.write_text(text)
    with pytest.raises(FileProblems) as caught:
        read_catalogue(path)
    return [line.replace(f"{path.parent}/", "") for line in caught.value.problems]


def test_the_shipped_buckles_cover_the_trades_kinds() -> None:
    buckles = shipped_buckles()
    assert {buckle.prongs for buckle in buckles.values()} == {0, 1, 2}
    assert {buckle.bar for buckle in buckles.values()} == {"heel", "centre"}
    widths = [buckle.opening or buckle.for_strap or 0 for buckle in buckles.values()]
    assert (min(widths), max(widths)) == (20.0, 60.0)
    assert any(buckle.bar_section for buckle in buckles.values())
    for name, buckle in buckles.items():
        assert buckle.name == name
        assert buckle.frame_depth > (buckle.bar_diameter or 0)


def test_a_catalogue_beside_the_job_is_found_and_wins(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB)
    with pytest.raises(FileProblems, match='found "big-70", expected a buckle of the catalogue'):
        read_job(job)
    (tmp_path / "catalogue.toml").write_text(
        OWN + '[buckle.single-40]\nfor_strap = "39 mm"\nbar_diameter = "4 mm"\nframe_depth = "30 mm"\n'
    )
    assert read_job(job).belts[0].buckle.opening == 70.0
    known = buckles_for(job)
    assert known["single-40"].for_strap == 39.0
    assert set(shipped_buckles()) < set(known)


def test_a_catalogue_named_takes_the_place_of_the_one_beside(tmp_path: Path) -> None:
    (tmp_path / "catalogue.toml").write_text(OWN.replace("70 mm", "71 mm"))
    (tmp_path / "other.toml").write_text(OWN)
    (tmp_path / "job.toml").write_text(JOB)
    assert read_job(tmp_path / "job.toml", tmp_path / "other.toml").belts[0].buckle.opening == 70.0


def test_a_catalogue_that_is_named_must_be_there(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB)
    with pytest.raises(FileProblems, match=r"other\.toml: no such file"):
        read_job(tmp_path / "job.toml", tmp_path / "other.toml")


def test_a_broken_catalogue_is_told_by_its_own_name(tmp_path: Path) -> None:
    (tmp_path / "catalogue.toml").write_text(OWN + "colour = 1\n")
    (tmp_path / "job.toml").write_text(JOB)
    with pytest.raises(FileProblems) as caught:
        read_job(tmp_path / "job.toml")
    (line,) = caught.value.problems
    assert line.startswith(
        f"{tmp_path}/catalogue.toml: buckle.big-70.colour: unknown key; expected one of name, "
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "",
            (
                "catalogue.toml: buckle: missing, expected a table such as { wide-50 = { opening = "
                '"52 mm", bar_diameter = "5 mm", frame_depth = "45 mm" } }'
            ),
        ),
        ("[buckle]\n", "catalogue.toml: buckle: found 0, expected 1 or more entries"),
        ("buckle = 3\n", "catalogue.toml: buckle: found 3, expected a table"),
        ("[buckle]\nx = 3\n", "catalogue.toml: buckle.x: found 3, expected a table"),
        (OWN.replace("buckle.", "buckel."), None),
        (
            OWN.replace("big-70", '" "'),
            (
                'catalogue.toml: buckle." ": found the name " ", expected 1 to 40 printable characters, '
                "no space at either end"
            ),
        ),
        (
            OWN.replace('"70 mm"', '"1 3/0 in"'),
            (
                'catalogue.toml: buckle.big-70.opening: found "1 3/0 in", expected a length such as "54 mm" '
                'or "2 1/8 in"; a fraction cannot be over 0'
            ),
        ),
        (
            OWN + "prongs = 2\n",
            "catalogue.toml: buckle.big-70.prong_spacing: missing, expected with prongs = 2",
        ),
    ],
)
def test_one_mistake_in_a_catalogue_is_one_line(tmp_path: Path, text: str, message: str | None) -> None:
    lines = problems_of(tmp_path / "catalogue.toml", text)
    if message is None:
        assert 'catalogue.toml: buckel: unknown key; did you mean "buckle"?' in lines
    else:
        assert lines == [message]


def test_the_starter_catalogue_is_sound_and_lists_the_shipped_names() -> None:
    path = Path(strapwright.__file__).parent / "starter" / "catalogue.toml"
    assert set(read_catalogue(path)) == {"house-45", "house-double-50", "house-centre-30"}
    comment = " ".join(path.read_text().replace("#", " ").split())
    for name in shipped_buckles():
        assert name in comment


def test_the_schema_of_a_catalogue_has_a_buckle_for_any_name() -> None:
    schema = catalogue_schema()
    assert schema["properties"]["buckle"]["additionalProperties"] == {"$ref": "#/$defs/Buckle"}
