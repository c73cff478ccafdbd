"""Finished belts written down: what is kept of them, their mean miss, and the setting that removes it."""

from __future__ import annotations

import json
import tomllib
from datetime import date, timedelta
from math import sqrt

import pytest
from scipy.stats import t as student

from strapwright import api
from strapwright.core.errors import FileProblems
from strapwright.job.fit_record import STUDENT_95, Finished, fit_words, mean_of

SHOP = """
[leather]
thickness = "3.6 mm"
tannage = "vegetable"
"""
BUCKLE = 'opening = "40 mm"\nbar_diameter = "5 mm"\nframe_depth = "40 mm"\n'


def shop(tmp_path, belts='size = { girth = "960 mm" }', *, house="", more="", buckles=("crew",)):
    """A shop with a job of three belts, each of its own girth rule, and buckles of its own."""
    (tmp_path / "house.toml").write_text(f"[house]\n{house}\n")
    catalogue = "\n".join(f"[buckle.{name}]\n{BUCKLE}{more}" for name in buckles)
    (tmp_path / "catalogue.toml").write_text(catalogue)
    (tmp_path / "jobs").mkdir(exist_ok=True)
    job = tmp_path / "jobs" / "job.toml"
    tables = "".join(
        f'[[belt]]\nid = "{name}-{k}"\n{belts}\nbuckle = "{name}"\n' for name in buckles for k in (1, 2, 3)
    )
    job.write_text(SHOP + tables)
    return job


def drafted(job):
    return api.draft(api.read_job(job))


def recorded(job, misses, buckle="crew", hole=4, **more):
    """Write down each belt of a buckle as much off as is given; return where."""
    found, path = drafted(job), api.fit_file(job)
    for k, miss in enumerate(misses, 1):
        belt = next(one for one in found.belts if one.id == f"{buckle}-{k}")
        read = ((hole, belt.figures.girth_at(hole) + miss),)
        api.record_fit(path, found, belt.id, Finished(girths=read, **more))
    return path


def test_what_is_kept_is_the_draft_beside_the_tape(tmp_path):
    job = shop(tmp_path)
    found = drafted(job)
    finished = Finished(girths=((4, 966.0), (5, 1004.2)), slot=24.0, post_gaps=(("A", 0.4),))
    rows = api.record_fit(api.fit_file(job), found, "crew-1", finished)
    assert api.fit_file(job) == tmp_path / "records" / "fit.toml"
    assert api.read_fit(api.fit_file(job)).rows == rows
    # The hole in use is the fourth of seven, and the holes lie a strap width of 38 mm apart.
    assert [row.drafted for row in rows] == pytest.approx(
        [960.0, found.belts[0].figures.girth_at(5), *found.belts[0].figures.end.slot[:1], 0.0], abs=0.005
    )
    assert "\n\n\n" not in api.fit_file(job).read_text("utf-8")
    assert [row.what for row in rows] == ["girth at hole 4", "girth at hole 5", "slot", "gap at post A"]
    assert rows[0].miss == pytest.approx(6.0)
    assert (rows[0].buckle, rows[0].leather, rows[0].thickness) == ("crew", "vegetable", 3.6)
    assert (rows[0].hole_seat, rows[0].hole_seat_measured, rows[0].hole_seat_most) == (36.5, False, 40.0)


def test_girths_at_the_outer_holes_are_those_the_draft_prints(tmp_path):
    got = drafted(shop(tmp_path)).belts[0].figures
    assert (got.girth_at(1), got.girth_at(7)) == pytest.approx(got.girths, abs=1e-9)
    assert got.girth_at(4) == pytest.approx(got.girth_in_use, abs=1e-9)


def test_rows_are_added_and_every_comment_stays(tmp_path):
    job = shop(tmp_path)
    path = recorded(job, [5.0])
    written = (
        path.read_text("utf-8").replace("number = 1\n", "number = 1  # the brown one\n", 1) + "\n# end\n"
    )
    path.write_text(written, "utf-8")
    recorded(job, [6.0])
    after = path.read_text("utf-8")
    assert "# the brown one" in after
    assert "# end" in after
    assert after.startswith(written.split("\n# end")[0].rstrip("\n"))
    assert [row["finished"] for row in tomllib.loads(after)["girth"]] == ["965 mm", "966 mm"]
    assert len(api.fits_of(api.read_fit(path))[0].belts) == 1  # one belt, taped twice


def test_broken_records_are_refused_and_left_as_they_are(tmp_path):
    job = shop(tmp_path)
    path = recorded(job, [5.0])
    for text in ("[[girth]]\nhole = 4\n", "girth = [", path.read_text() + "\n[notes]\n"):
        path.write_text(text)
        with pytest.raises(FileProblems, match=r"fit\.toml"):
            recorded(job, [6.0])
        assert path.read_text() == text


def test_the_mean_and_its_uncertainty_by_hand():
    # Of 4, 6 and 8 mm: mean 6, deviation 2, t for 2 degrees of freedom 4.303: 4.303 × 2 / √3 = 4.97.
    mean = mean_of([4.0, 6.0, 8.0])
    assert (mean.value, mean.count) == (6.0, 3)
    assert mean.half == pytest.approx(4.969, abs=5e-4)
    assert (mean.low, mean.high) == pytest.approx((1.031, 10.969), abs=5e-4)
    assert mean_of([4.0, 6.0]) is None


def test_students_t_is_scipys():
    exact = [student.ppf(0.975, degrees) for degrees in range(1, 31)]
    assert list(STUDENT_95) == pytest.approx(exact, abs=5.1e-4)
    many = mean_of([0.0, 1.0] * 500)
    narrowest = student.ppf(0.975, 999) * sqrt(0.25 * 1000 / 999) / sqrt(1000)
    assert narrowest <= many.half <= 1.05 * narrowest


@pytest.mark.parametrize("belts", ['size = { belt_size = "960 mm" }', 'size = { worn_to_hole = "960 mm" }'])
def test_the_hole_seat_that_is_advised_makes_the_draft_say_what_the_tape_read(tmp_path, belts):
    job = shop(tmp_path, belts)
    path = recorded(job, [-5.0, -6.0, -7.0])
    [fit] = api.fits_of(api.read_fit(path))
    assert (fit.verdict, fit.advice.setting, fit.advice.value) == ("off", "hole_seat", 30.5)
    before = drafted(job).belts[0].figures
    after = drafted(shop(tmp_path, belts, more='hole_seat = "30.5 mm"')).belts[0].figures
    assert after.holes.xs == pytest.approx(before.holes.xs, abs=1e-9)
    # To a twentieth of a millimetre: the doubled end takes a hair more room round a smaller body.
    assert after.girth_at(4) - before.girth_at(4) == pytest.approx(-6.0, abs=0.05)


@pytest.mark.parametrize("setting", ["hole_seat", "girth_allowance"])
def test_a_belt_made_again_with_the_advised_setting_fits_the_girth_asked_for(tmp_path, setting):
    measured = 'hole_seat = "36.5 mm"\n' if setting == "girth_allowance" else ""
    job = shop(tmp_path, more=measured)
    [fit] = api.fits_of(api.read_fit(recorded(job, [-5.0, -6.0, -7.0])))
    assert fit.advice.setting == setting
    assert fit.advice.value == pytest.approx({"hole_seat": 30.5, "girth_allowance": 6.0}[setting])
    before = drafted(job).belts[0].figures
    written = f'{setting} = "{fit.advice.value} mm"\n'
    job = shop(
        tmp_path, **({"more": written} if setting == "hole_seat" else {"house": written, "more": measured})
    )
    after = drafted(job).belts[0].figures
    # What closed 6 mm tight is made 6 mm longer, and drafted for the same girth.
    assert after.hole_in_use - before.hole_in_use == pytest.approx(6.0, abs=1e-9)
    assert after.girth_in_use == pytest.approx(960.0, abs=1e-9)
    # Belts of the new draft begin anew; those of the old one are kept, and advised on no more.
    path = recorded(job, [0.5, -0.5, 0.0], remade=True)
    old, new = api.fits_of(api.read_fit(path))
    assert (old.verdict, old.advice, len(old.belts)) == ("replaced", None, 3)
    assert (new.verdict, new.advice, new.mean.value) == ("tape", None, pytest.approx(0.0, abs=0.005))


def test_buckles_that_are_off_alike_are_answered_by_the_allowance(tmp_path):
    job = shop(tmp_path, buckles=("crew", "field"))
    recorded(job, [-5.0, -6.0, -7.0], "crew")
    crew, field = api.fits_of(api.read_fit(recorded(job, [-6.0, -7.0, -8.0], "field")))
    assert crew.advice == field.advice
    assert (crew.advice.setting, crew.advice.value) == ("girth_allowance", 6.5)


def test_one_buckle_that_is_off_among_others_is_answered_by_its_seat_even_where_it_was_measured(tmp_path):
    job = shop(tmp_path, buckles=("crew", "field"), more='hole_seat = "36 mm"\n')
    recorded(job, [-5.0, -6.0, -7.0], "crew")
    crew, field = api.fits_of(api.read_fit(recorded(job, [0.0, 1.0, -1.0], "field")))
    assert (crew.advice.setting, crew.advice.value) == ("hole_seat", 30.0)
    assert (field.verdict, field.advice) == ("tape", None)


def test_a_seat_that_no_frame_could_have_is_not_advised(tmp_path):
    # 36.5 mm by estimate and 6 mm more lie beyond the frame's 40 mm.
    [fit] = api.fits_of(api.read_fit(recorded(shop(tmp_path), [5.0, 6.0, 7.0])))
    assert (fit.advice.setting, fit.advice.value) == ("girth_allowance", -6.0)
    assert "cannot be in this frame" in fit.advice.why


@pytest.mark.parametrize(
    ("misses", "verdict", "said"),
    [
        ([9.0, 9.0], "few", "2 belts; the mean miss is given from 3 on."),
        ([1.9, 2.0, 2.1], "tape", "mean miss +2.0 mm, ± 0.2 mm with 95 %: no more than a tape's ± 2 mm"),
        ([-1.0, 3.0, 7.0], "unsure", "mean miss +3.0 mm, ± 9.9 mm with 95 %: it may as well be none"),
        ([2.9, 3.0, 3.1], "off", 'hole_seat = "39.5 mm" in the table of buckle crew'),
    ],
)
def test_what_is_said_of_misses(tmp_path, misses, verdict, said):
    [fit] = api.fits_of(api.read_fit(recorded(shop(tmp_path), misses)))
    assert fit.verdict == verdict
    assert said in fit_words(fit)
    assert (fit.advice is not None) == (verdict == "off")


def test_holes_of_one_belt_are_one_belt(tmp_path):
    job = shop(tmp_path)
    for hole in (2, 4, 6):
        path = recorded(job, [5.0, 7.0], hole=hole)
    [fit] = api.fits_of(api.read_fit(path))
    assert [belt.miss for belt in fit.belts] == pytest.approx([5.0, 7.0], abs=0.005)
    assert fit.verdict == "few"


def test_every_measure_that_cannot_be_is_one_line(tmp_path):
    job = shop(tmp_path)
    tomorrow = date.today() + timedelta(days=1)
    finished = Finished(
        girths=((8, 960.0), (4, 96.0)), slot=2.0, post_gaps=(("D", 1.0), ("A", 30.0)), number=2, day=tomorrow
    )
    with pytest.raises(FileProblems) as refused:
        api.record_fit(api.fit_file(job), drafted(job), "crew-1", finished)
    heads = [line.split(":")[0] for line in refused.value.problems]
    assert heads == [
        "--number 2", "--girth", "--girth 4", "--slot", "--post-gap", "--post-gap A", f"--date {tomorrow}"
    ]  # fmt: skip
    with pytest.raises(FileProblems, match='no belt "nobody" in job, expected one of: crew-1, crew-2'):
        api.record_fit(api.fit_file(job), drafted(job), "nobody", Finished(slot=20.0))
    with pytest.raises(FileProblems, match="nothing was measured"):
        api.record_fit(api.fit_file(job), drafted(job), "crew-1", Finished())
    assert not api.fit_file(job).exists()


def test_a_job_changed_since_the_belt_was_measured_is_refused_until_the_belt_is_made_again(tmp_path):
    path = recorded(shop(tmp_path), [5.0])
    kept = path.read_bytes()
    changed = shop(tmp_path, 'size = { girth = "980 mm" }')
    with pytest.raises(FileProblems, match="crew-1: its draft has changed since it was measured on"):
        recorded(changed, [5.0])
    assert path.read_bytes() == kept
    recorded(changed, [5.0], remade=True)
    recorded(changed, [6.0])  # the belt in hand is now the new one
    assert len(api.read_fit(path).girth) == 3


def test_a_job_changed_since_its_as_made_record_is_refused(tmp_path):
    job = shop(tmp_path)
    made = tmp_path / "records" / "job" / "2026-03-02-1f2e3d4c"
    made.mkdir(parents=True)
    (made / "draft.json").write_text(json.dumps(drafted(job).as_json()))
    recorded(job, [5.0])
    changed = drafted(shop(tmp_path, 'size = { girth = "980 mm" }'))
    with pytest.raises(FileProblems, match="crew-2: its draft has changed since its as-made record"):
        api.record_fit(api.fit_file(job), changed, "crew-2", Finished(slot=25.0))


def test_an_allowance_moves_holes_of_girths_and_makes_older_layouts_stale_only_where_it_is_given(tmp_path):
    plain = api.read_job(shop(tmp_path))
    none = api.read_job(shop(tmp_path, house='girth_allowance = "0 mm"'))
    some = api.read_job(shop(tmp_path, house='girth_allowance = "6 mm"'))
    assert plain.digest == none.digest != some.digest
    formulas = {step.formula for step in api.draft(some).belts[0].steps if "allowance" in step.formula}
    assert formulas == {"s = B/2 + G + π t − f + u + allowance", "G = s − B/2 − π t + f − u − allowance"}
    assert not [step for step in api.draft(plain).belts[0].steps if "allowance" in step.formula]
