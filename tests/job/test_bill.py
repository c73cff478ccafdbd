"""The bill: what is counted, what has no price, and that every sum can be done again from its line."""

from __future__ import annotations

import csv
import io

import pytest

from strapwright.core.errors import FileProblems
from strapwright.files.validate import validate
from strapwright.job.bill import COLUMNS, Waste, price, total_of
from strapwright.job.draft import draft
from strapwright.job.spec.job import Job

BELT = {
    "id": "ines",
    "quantity": 2,
    "price": 95,
    "size": {"girth": 960},
    "buckle": {"opening": 46, "bar_diameter": 5, "frame_depth": 38, "price": 7.25},
}
RATES = {"currency": "EUR", "hourly_rate": 36, "margin": 0.5, "sundries": 1.2, "waste": 0.25}


def job(price=RATES, leather=95.0, **more):
    own = {"thickness": 3.6, "tannage": "vegetable"} | ({"price_per_m2": leather} if leather else {})
    return validate(Job, {"leather": own, "belt": [BELT | more], "price": price}, "trial.toml")


def bill_of(asked, **options):
    return price(asked, draft(asked), **options)


def line(bill, words):
    (found,) = [one for one in bill.lines if words in one.item]
    return found


def test_leather_is_its_area_over_what_is_not_wasted_times_its_price():
    asked = job()
    strap = next(part for part in draft(asked).parts if part.kind == "strap")
    told = line(bill_of(asked), "leather for the strap")
    assert told.quantity == pytest.approx(2 * strap.outline.area / 1e6 / 0.75, abs=5e-5)
    assert told.sum == round(told.quantity * 95, 2)
    assert told.source == "leather.price_per_m2"
    assert "price.waste, not nested" in told.counted


def test_a_nested_part_pays_the_waste_of_its_own_hide():
    asked = job()
    parts = [part.id for part in draft(asked).parts if part.kind == "strap"]
    bill = bill_of(asked, waste={parts[0]: Waste(0.5, "side 1"), parts[1]: Waste(0.0, "side 2")})
    first, second = [one for one in bill.lines if "leather for the strap" in one.item]
    assert first.quantity == pytest.approx(2 * second.quantity, abs=2e-4)
    assert "0.500 waste: side 1" in first.counted


def test_hardware_is_counted_by_row_across_and_belt():
    bill = bill_of(job())
    assert line(bill, "buckle as measured").quantity == 2
    assert line(bill, "buckle as measured").sum == 14.5
    posts = line(bill, "screw post")
    assert posts.quantity == 8
    assert posts.counted == "2 rows × 2 across, × 2"


def test_what_has_no_price_says_so_and_adds_nothing():
    bill = bill_of(job(price={}, leather=None))
    told = {one.item.partition(",")[0]: one.source for one in bill.unpriced}
    assert told["leather for the strap"] == "no price known: give leather.price_per_m2"
    assert told["screw post 1/4 in"] == 'no price known: give [screw_post."1/4 in"] price'
    assert told["marking out"] == "no rate known: give price.hourly_rate"
    assert told["margin on the cost"] == "no margin known: give price.margin, such as 0.4"
    assert bill.total == 14.5  # the two buckles alone
    assert bill.total_words(bill.lines) == "at least 14.50"


def test_a_price_of_nothing_is_a_price():
    assert line(bill_of(job(leather=0.0, price=RATES)), "leather for the strap").source.startswith("no price")
    asked = validate(
        Job,
        {"leather": {"thickness": 3.6, "tannage": "vegetable", "price_per_m2": 0}, "belt": [BELT]},
        "trial.toml",
    )
    told = line(bill_of(asked), "leather for the strap")
    assert told.sum == 0.0
    assert told.source == "leather.price_per_m2"


def test_a_step_of_your_own_is_counted_once_a_strap():
    bill = bill_of(job(price=RATES | {"minutes": {"tooling": 20}}))
    tooling = line(bill, "tooling")
    assert tooling.counted == "2 × 20 min (price.minutes.tooling) = 40.0 min"


@pytest.mark.parametrize(("name", "words"), [("holes", 'did you mean "hole"'), (" ", "1 to 40 printable")])
def test_a_step_named_nearly_like_a_known_one_is_refused(name: str, words: str):
    with pytest.raises(FileProblems, match=words):
        job(price=RATES | {"minutes": {name: 1}})


def test_minutes_are_counted_from_the_draft_and_say_whether_they_are_assumed():
    bill = bill_of(job(price=RATES | {"minutes": {"hole": 1.0}}))
    holes = line(bill, "punching holes")
    assert holes.counted == "30 × 1 min (price.minutes.hole) = 30.0 min"  # 7 and 8 in each of two belts
    assert holes.sum == pytest.approx(0.5 * 36)
    assert "house assumption" in line(bill, "marking out").counted


def test_a_machine_marks_cuts_and_punches_and_its_own_time_is_told():
    bill = bill_of(job(price=RATES | {"machine_rate": 24}), by_machine=True, machine_minutes=15)
    items = [one.item for one in bill.lines]
    assert not {"marking out", "cutting out", "punching holes", "prong slots"} & set(items)
    machine = line(bill, "machine, with")
    assert (machine.order, machine.quantity, machine.sum) == ("", 0.25, 6.0)
    unknown = line(bill_of(job(), by_machine=True), "machine, with")
    assert (unknown.sum, unknown.counted) == (None, "its minutes are not known")
    assert unknown.source == "the machine's minutes are not known; give --machine-minutes"


def test_the_margin_is_a_share_of_the_cost_above_it():
    bill = bill_of(job())
    above = [one for one in bill.of("ines") if one.kind != "margin"]
    margin = line(bill, "margin")
    assert margin.unit_price == total_of(above)
    assert margin.sum == round(0.5 * total_of(above), 2)


def test_every_row_of_the_csv_can_be_done_again():
    bill = bill_of(job())
    rows = list(csv.DictReader(io.StringIO(bill.csv())))
    assert tuple(rows[0]) == COLUMNS
    sums = []
    for row in rows:
        if row["kind"] in ("total", "all"):
            continue
        assert row["quantity from"]
        assert row["price from"]
        if row["sum"]:
            again = float(row["quantity"]) * float(row["unit price"])
            assert float(row["sum"]) == pytest.approx(again, abs=0.005 + 1e-9)
            sums.append(float(row["sum"]))
    assert float(rows[-1]["sum"]) == pytest.approx(sum(sums), abs=1e-6)
    assert "without a price left out" in rows[-1]["quantity from"]


def test_prices_make_no_layout_stale():
    assert job().digest == job(price={}, leather=None).digest
    dearer = BELT["buckle"] | {"price": 9}
    assert job(buckle=dearer).digest == job().digest
    assert job(buckle=dearer | {"bar_diameter": 6}).digest != job().digest
