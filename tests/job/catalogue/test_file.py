from __future__ import annotations

import copy
import pickle
import re
from dataclasses import fields
from pathlib import Path

import pytest

import strapwright
from strapwright.api import schemas
from strapwright.core.errors import FileProblems
from strapwright.job.catalogue.file import (
    Catalogue,
    catalogue_for,
    read_catalogue,
    shipped,
)
from strapwright.job.spec.job import read_job

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
    buckles = shipped().buckles
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
    known = catalogue_for(job).buckles
    assert known["single-40"].for_strap == 39.0
    assert set(shipped().buckles) < set(known)


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
                'catalogue.toml: buckle.big-70.opening: found "1 3/0 in", expected a length such as "44 mm" '
                'or "1 3/4 in"; a fraction cannot be over 0'
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
    own = read_catalogue(path)
    assert set(own.buckles) == {"house-45", "house-double-50", "house-centre-30"}
    assert own.screw_posts
    assert own.rivets
    assert own.leathers
    comment = " ".join(path.read_text().replace("#", " ").split())
    for name in shipped().buckles:
        assert name in comment
    for post in shipped().screw_posts:
        assert post.removesuffix(" mm").removesuffix(" in") in comment


def test_the_starter_catalogue_owns_no_punch_until_its_lines_are_taken_into_use(tmp_path: Path) -> None:
    text = (Path(strapwright.__file__).parent / "starter" / "catalogue.toml").read_text()
    (tmp_path / "catalogue.toml").write_text(text)
    assert not read_catalogue(tmp_path / "catalogue.toml").owned_punches
    head, punches = text.split("remove the # to begin.\n")
    (tmp_path / "catalogue.toml").write_text(head + "\n" + re.sub("(?m)^# ?", "", punches))
    owned = read_catalogue(tmp_path / "catalogue.toml").owned_punches
    assert {name: punch.size for name, punch in owned.items()} == {"no-4": "4 mm", "bag-slot": "25 × 5 mm"}


def test_the_examples_catalogue_has_entries_of_its_own() -> None:
    own = read_catalogue(Path(__file__).parents[3] / "examples" / "catalogue.toml")
    for kind in ("buckles", "screw_posts", "rivets", "snaps", "leathers"):
        entries = getattr(own, kind)
        assert entries
        assert not set(entries) & set(getattr(shipped(), kind))


@pytest.mark.parametrize("text", ["", "# nothing yet\n", "[buckle]\n"])
def test_a_catalogue_may_be_empty(tmp_path: Path, text: str) -> None:
    (tmp_path / "catalogue.toml").write_text(text)
    read = read_catalogue(tmp_path / "catalogue.toml")
    assert not any(getattr(read, field.name) for field in fields(read))
    assert catalogue_for(tmp_path / "job.toml") == shipped()


def test_each_kind_is_extended_and_overridden_by_name(tmp_path: Path) -> None:
    (tmp_path / "catalogue.toml").write_text(
        '[screw_post."6 mm"]\nlength = "6.1 mm"\nbarrel_diameter = "5 mm"\nhead_diameter = "12 mm"\n'
        '[screw_post.long-14]\nlength = "14 mm"\nbarrel_diameter = "5 mm"\nhead_diameter = "12 mm"\n'
        "[rivet.tiny]\nleast_stack = 2\nmost_stack = 3\ncap_diameter = 6\nhole = 2\n"
        "[snap.tiny]\nleast_stack = 1\nmost_stack = 2\ncap_diameter = 10\ncap_hole = 3\nstud_hole = 3\n"
        '[leather.harness-9]\nthickness = [3.5, 3.7]\ntannage = "chrome"\n'
        '[punch.mine]\ndiameter = "4.2 mm"\n'
    )
    known = catalogue_for(tmp_path / "job.toml")
    assert (known.screw_posts["6 mm"].length, known.screw_posts["6 mm"].head_diameter) == (6.1, 12.0)
    assert known.screw_posts["long-14"].name == "long-14"
    for kind, new in (("rivets", {"tiny"}), ("snaps", {"tiny"}), ("leathers", set()), ("buckles", set())):
        assert set(getattr(known, kind)) == set(getattr(shipped(), kind)) | new
    assert known.leathers["harness-9"].tannage == "chrome"
    assert set(known.owned_punches) == {"mine"}
    assert set(known.punches) == set(shipped().punches) | {"mine"}
    assert shipped().screw_posts["6 mm"].length == 6.0


def test_all_mistakes_of_all_kinds_are_told_together(tmp_path: Path) -> None:
    lines = problems_of(
        tmp_path / "catalogue.toml",
        '[buckle.x]\nopening = "wide"\nbar_diameter = 5\nframe_depth = 40\n'
        '[screw_post.y]\nlength = "1/4"\nbarrel_diameter = 5\nhead_diameter = 10\n'
        "[rivet.z]\nleast_stack = 4\nmost_stak = 5\ncap_diameter = 9\nhole = 3\n"
        '[leather.w]\nthickness = [3, 4]\ntannage = "vegtable"\n'
        '[punch.v]\nkind = "slot"\ndiameter = 5\nlength = 20\n'
        "[stud.u]\n",
    )
    assert lines == [
        ('catalogue.toml: buckle.x.opening: found "wide", expected a length such as "44 mm" or "1 3/4 in"'),
        (
            'catalogue.toml: screw_post.y.length: found "1/4", expected a length such as "44 mm" or '
            '"1 3/4 in"; a fraction must carry its unit'
        ),
        'catalogue.toml: rivet.z.most_stack: missing, expected a length such as "44 mm" or "1 3/4 in"',
        'catalogue.toml: rivet.z.most_stak: unknown key; did you mean "most_stack"?',
        (
            'catalogue.toml: leather.w.tannage: found "vegtable", expected "vegetable", "chrome", '
            '"combination", "synthetic" or "unknown"; did you mean "vegetable"?'
        ),
        'catalogue.toml: punch.v.diameter: found with kind = "slot", which takes length and width',
        'catalogue.toml: punch.v.width: missing, expected with kind = "slot"',
        (
            "catalogue.toml: stud: unknown key; expected one of buckle, screw_post, rivet, snap, leather, "
            "punch"
        ),
    ]


def test_a_catalogue_is_read_only_yet_can_be_copied_and_sent(tmp_path: Path) -> None:
    known = shipped()
    with pytest.raises(TypeError):
        known.buckles["x"] = known.buckles["single-40"]  # type: ignore[index]
    for again in (pickle.loads(pickle.dumps(known)), copy.deepcopy(known)):
        assert isinstance(again, Catalogue)
        assert again == known


def test_a_job_carries_its_catalogue_and_no_key_for_it(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace("big-70", "single-40"))
    assert read_job(path).catalogue == shipped()
    (tmp_path / "catalogue.toml").write_text(OWN + "[punch.mine]\ndiameter = 4.2\n")
    job = read_job(path)
    assert set(job.catalogue.owned_punches) == {"mine"}
    assert "catalogue" not in job.model_dump()
    path.write_text('catalogue = "x"\n' + JOB.replace("big-70", "single-40"))
    with pytest.raises(FileProblems, match="catalogue: unknown key"):
        read_job(path)


def test_a_batch_carries_its_catalogue_too(tmp_path: Path) -> None:
    (tmp_path / "catalogue.toml").write_text(OWN)
    path = tmp_path / "batch.csv"
    path.write_text(
        "id,size.girth,buckle,leather.thickness,leather.tannage\na,960 mm,big-70,3.6 mm,vegetable\n"
    )
    job = read_job(path)
    assert job.belts[0].buckle.opening == 70.0
    assert "big-70" in job.catalogue.buckles


def test_a_jobs_digest_covers_what_it_uses_of_the_catalogue_and_no_more(tmp_path: Path) -> None:
    path, own = tmp_path / "job.toml", tmp_path / "catalogue.toml"
    path.write_text(JOB.replace("big-70", "single-40"))
    plain = read_job(path).digest

    def with_own(text: str) -> str:
        own.write_text(text)
        return read_job(path).digest

    rivet = "[rivet.r]\nleast_stack = 2\nmost_stack = 3\ncap_diameter = 6\nhole = 2\n"
    post = "[screw_post.p]\nlength = 7\nbarrel_diameter = 5\nhead_diameter = 9\n"
    assert with_own(OWN) == plain
    assert with_own(rivet) == plain
    assert with_own(post) != plain
    assert with_own("[punch.mine]\ndiameter = 4.2\n") not in (plain, with_own("[punch.mine]\ndiameter = 4\n"))
    path.write_text(JOB.replace("big-70", "single-40") + 'fastener = "rivet"\n')
    riveted = with_own("")
    assert with_own(rivet) != riveted
    assert with_own(post) == riveted


def test_the_schema_of_a_catalogue_has_a_buckle_for_any_name() -> None:
    schema = schemas.schema("catalogue")
    assert schema["properties"]["buckle"]["additionalProperties"] == {"$ref": "#/$defs/Buckle"}


LEATHER = '[leather]\nthickness = "9 oz"\ntannage = "vegetable"\n'


def test_a_leather_may_be_taken_from_the_catalogue_in_whole_or_in_part(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    text = JOB.replace("big-70", "single-40")
    assert LEATHER in text
    path.write_text(text.replace(LEATHER, '[leather]\nof = "harness-9"\n'))
    job = read_job(path)
    leather = job.leather_of(job.belts[0])
    assert (leather.of, leather.tannage, leather.temper) == ("harness-9", "vegetable", "firm")
    assert leather.thickness == pytest.approx(3.6)
    path.write_text(
        text.replace(LEATHER, '[leather]\nof = "harness-9"\nthickness = "3.45 mm"\nprice_per_m2 = 99\n')
        + 'leather = { thickness = "3 mm" }\n'
    )
    job = read_job(path)
    assert job.leather is not None
    assert (job.leather.thickness, job.leather.price_per_m2, job.leather.temper) == (3.45, 99, "firm")
    thinner = job.leather_of(job.belts[0])
    assert (thinner.of, thinner.thickness, thinner.price_per_m2) == ("harness-9", 3.0, 99)


@pytest.mark.parametrize(
    ("leather", "message"),
    [
        (
            'of = "harnes-9"\n',
            (
                'job.toml: leather: found "harnes-9", expected a leather of the catalogue '
                f'({", ".join(shipped().leathers)}); did you mean "harness-9"?'
            ),
        ),
        (
            "of = 9\nthickness = 3\ntannage = 'chrome'\n",
            "job.toml: leather.of: found 9, expected text in quotes",
        ),
        (
            'of = "harness-9"\nthickness = "thick"\n',
            'job.toml: leather.thickness: found "thick", expected a thickness such as "3.6 mm" or "9 oz"',
        ),
        (
            'off = "harness-9"\nthickness = 3\ntannage = "chrome"\n',
            'job.toml: leather.off: unknown key; did you mean "of"?',
        ),
    ],
)
def test_a_mistake_about_a_leather_by_name_is_one_line(tmp_path: Path, leather: str, message: str) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace("big-70", "single-40").replace(LEATHER, f"[leather]\n{leather}"))
    with pytest.raises(FileProblems) as caught:
        read_job(path)
    assert [line.replace(f"{tmp_path}/", "") for line in caught.value.problems] == [message]
