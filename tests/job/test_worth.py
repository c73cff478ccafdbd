"""What parts are worth by their belts' prices, or by the day they are due."""

from __future__ import annotations

from datetime import datetime

import pytest

from strapwright.core.errors import FileProblems, NestError
from strapwright.files.validate import validate
from strapwright.job.bill import MOST_DAYS, worths
from strapwright.job.draft import draft
from strapwright.job.spec.job import Job, read_job

BELT = {
    "size": {"girth": 960},
    "buckle": {"opening": 46, "bar_diameter": 5, "frame_depth": 38},
}


def job(*belts, **more):
    tables = [BELT | belt for belt in belts]
    return validate(
        Job, {"leather": {"thickness": 3.6, "tannage": "vegetable"}, "belt": tables} | more, "trial.toml"
    )


def of(asked, by):
    return worths(asked, draft(asked), by)


def test_a_belts_price_is_divided_among_its_pieces():
    asked = job({"id": "ines", "quantity": 2, "price": 80}, {"id": "otto", "price": 95})
    found = of(asked, "price")
    assert set(found) == {part.id for part in draft(asked).parts}
    for copy in ("-1", "-2"):
        assert found[f"ines/strap{copy}"] + found[f"ines/keeper{copy}"] == pytest.approx(80)
    assert found["otto/strap"] + found["otto/keeper"] == pytest.approx(95)
    assert found["otto/strap"] > found["otto/keeper"] > 0


def test_what_is_due_first_counts_twice_what_the_next_day_counts():
    asked = job({"id": "later", "due": "2026-04-02"}, {"id": "soon", "due": "2026-03-14"}, {"id": "some-day"})
    found, area = of(asked, "due"), draft(asked).parts[0].outline.area
    assert found["soon/strap"] == pytest.approx(4 * area)
    assert found["later/strap"] == pytest.approx(2 * area)
    assert found["some-day/strap"] == pytest.approx(area)


def test_more_days_than_count_apart_count_as_the_last():
    belts = [{"id": f"b{n}", "due": f"2026-03-{n + 1:02}"} for n in range(MOST_DAYS + 5)]
    found = of(job(*belts), "due")
    assert found[f"b{MOST_DAYS}/strap"] == found[f"b{MOST_DAYS + 4}/strap"]
    assert found["b0/strap"] == pytest.approx(2**MOST_DAYS * found[f"b{MOST_DAYS}/strap"])


def test_a_belt_without_a_price_is_told():
    with pytest.raises(NestError, match='"b" and 1 more: no price'):
        of(job({"id": "a", "price": 80}, {"id": "b"}, {"id": "c"}), "price")
    with pytest.raises(NestError, match="every price is 0"):
        of(job({"id": "a", "price": 0}), "price")
    with pytest.raises(NestError, match="no belt says when it is due"):
        of(job({"id": "a"}), "due")


@pytest.mark.parametrize(
    "due", [20260314, "14.03.2026", True, "soon", "1699920000", "2026-03-14T00:00:00", datetime(2026, 3, 14)]
)
def test_a_day_that_is_none_is_told(due):
    with pytest.raises(FileProblems, match=r"belt.*due: found .*expected a date such as 2026-03-14"):
        job({"id": "a", "due": due})


def test_a_csv_has_a_column_for_the_day_and_a_layout_stays_true_when_it_changes(tmp_path):
    head = "id,size.girth,buckle.opening,buckle.bar_diameter,buckle.frame_depth"
    head += ",leather.thickness,leather.tannage"
    digests = []
    for day in ("2026-03-14", "2026-05-02", ""):
        path = tmp_path / "batch.csv"
        path.write_text(f"{head},due\nines,960,46,5,38,3.6,vegetable,{day}\n", "utf-8")
        read = read_job(path)
        assert str(read.belts[0].due or "") == day
        digests.append(read.digest)
    assert len(set(digests)) == 1
