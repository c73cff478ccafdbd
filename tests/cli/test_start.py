"""`start`: a folder that works as it stands, and is never written over."""

from __future__ import annotations

from tests.cli.runner import run

from strapwright import api


def test_the_starter_folder_goes_all_the_way_to_cut_files(tmp_path, monkeypatch):
    folder = tmp_path / "my-belts"
    said = run("start", folder).output
    names = {path.relative_to(folder).as_posix() for path in folder.rglob("*.*")}
    shop = {"house.toml", "catalogue.toml", "machines/laser.toml", "hides/side-7.toml", "jobs/first/job.toml"}
    assert names == {*shop, "README.txt"}
    command = said.partition(f"Edit them, then in {folder}: strapwright ")[2].split()
    monkeypatch.chdir(folder)
    drafted = run("draft", "jobs/first/job.toml")
    assert "caution" not in drafted.output
    run(*command, "--steps", "3")
    assert list((folder / "jobs" / "first" / "out").glob("*.dxf"))
    for line in (folder / "README.txt").read_text("utf-8").splitlines():
        words = line.split()
        if words[:1] == ["strapwright"] and words[1] in ("draft", "hides"):
            run(*words[1:])


def test_the_shop_s_house_and_catalogue_hold_for_its_jobs_and_a_job_s_own_win_key_by_key(tmp_path):
    run("start", tmp_path / "shop")
    job = tmp_path / "shop" / "jobs" / "first" / "job.toml"
    house = tmp_path / "shop" / "house.toml"
    text = house.read_text("utf-8").replace('strap_clearance = "2 mm"', 'strap_clearance = "3 mm"')
    house.write_text(
        text + '\n[price]\nhourly_rate = 31\ncurrency = "FR"\nminutes = { hole = 2, edge = 9 }\n'
    )
    read = api.read_job(job)
    assert (read.house.strap_clearance, read.house.fold_play) == (3.0, 0.25)
    assert (read.price.hourly_rate, read.price.minutes) == (31, {"hole": 2, "edge": 9})
    own = "\n[house]\nfold_play = 1\n[price]\ncurrency = 'EUR'\nminutes = { edge = 4 }\n"
    job.write_text(job.read_text("utf-8") + own)
    read = api.read_job(job)
    assert (read.house.strap_clearance, read.house.fold_play) == (3.0, 1.0)
    assert (read.price.hourly_rate, read.price.currency) == (31, "EUR")
    assert read.price.minutes == {"hole": 2, "edge": 4}
    assert read.belts[0].buckle.opening == 45
    assert api.draft(read).belts[0].figures.width == 42
    nearer = "[buckle.house-45]\nopening = 47\nbar_diameter = 5\nframe_depth = 40\nprong_width = 4.5\n"
    job.with_name("catalogue.toml").write_text(nearer)
    read = api.read_job(job)
    assert read.belts[0].buckle.opening == 47
    assert "house-double-50" in read.catalogue.buckles  # the shop's others are still there


def test_orders_in_a_shop_s_csv_go_by_its_house_too(tmp_path):
    run("start", tmp_path / "shop")
    orders = tmp_path / "shop" / "jobs" / "spring" / "orders.csv"
    orders.parent.mkdir()
    orders.write_text(
        "id,size.girth,buckle,leather.thickness,leather.tannage\nwren,900 mm,house-45,3.6 mm,vegetable\n"
    )
    house = tmp_path / "shop" / "house.toml"
    house.write_text(house.read_text("utf-8").replace('strap_clearance = "2 mm"', 'strap_clearance = "4 mm"'))
    assert api.draft(api.read_job(orders)).belts[0].figures.width == 41


def test_a_mistake_in_the_shop_s_house_is_told_of_that_file(tmp_path):
    run("start", tmp_path / "shop")
    house = tmp_path / "shop" / "house.toml"
    house.write_text("[house]\nfold_play = 9\n[prise]\n")
    said = run("draft", tmp_path / "shop" / "jobs" / "first" / "job.toml", status=1).stderr
    assert f"error: {house}: house.fold_play: found 9" in said
    assert f"error: {house}: prise: unknown key" in said
    assert "job.toml" not in said


def test_a_job_in_a_bare_folder_looks_no_further_than_that(tmp_path):
    run("start", tmp_path / "shop")
    (tmp_path / "catalogue.toml").write_text("this is not read\n")
    bare = tmp_path / "bare"
    bare.mkdir()
    (bare / "job.toml").write_bytes((tmp_path / "shop" / "jobs" / "first" / "job.toml").read_bytes())
    assert "buckle" in run("draft", bare / "job.toml", status=1).stderr  # house-45 is the shop's
    (bare / "catalogue.toml").write_bytes((tmp_path / "shop" / "catalogue.toml").read_bytes())
    assert api.draft(api.read_job(bare / "job.toml")).belts[0].figures.width == 43


def test_a_job_is_read_alike_from_any_folder_one_stands_in(tmp_path, monkeypatch):
    run("start", tmp_path / "shop")
    seen = []
    for there, name in (
        ("shop", "jobs/first/job.toml"),
        ("shop/jobs/first", "job.toml"),
        ("shop/hides", None),
    ):
        monkeypatch.chdir(tmp_path / there)
        seen.append(run("draft", name or "../jobs/first/job.toml", "--json").stdout)
    assert len(set(seen)) == 1


def test_a_record_in_a_shop_goes_by_the_settings_of_its_day(tmp_path, monkeypatch):
    run("start", tmp_path / "shop")
    monkeypatch.chdir(tmp_path / "shop")
    before = run("draft", "jobs/first/job.toml", "--json").stdout
    run("card", "jobs/first/job.toml", "--record", "records")
    house = tmp_path / "shop" / "house.toml"
    house.write_text(house.read_text("utf-8").replace('strap_clearance = "2 mm"', 'strap_clearance = "5 mm"'))
    assert run("draft", "jobs/first/job.toml", "--json").stdout != before
    (record,) = (tmp_path / "shop" / "records").glob("*/*/job.toml")
    assert run("draft", record, "--json").stdout == before


def test_a_folder_with_a_job_of_ones_own_is_left_alone(tmp_path):
    (tmp_path / "house.toml").write_text("# mine\n")
    result = run("start", tmp_path, status=1)
    assert "house.toml: already exists and strapwright did not write it" in result.output
    assert "choose another folder" in result.output
    assert "--force" not in result.output  # which this command does not have
    assert [path.name for path in tmp_path.iterdir()] == ["house.toml"]
    assert (tmp_path / "house.toml").read_text() == "# mine\n"
