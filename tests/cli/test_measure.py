from __future__ import annotations

from typing import TYPE_CHECKING

from click.testing import CliRunner, Result
from tests.cli.runner import run

from strapwright.cli.main import command
from strapwright.job.catalogue.file import read_catalogue

if TYPE_CHECKING:
    from pathlib import Path

SINGLE = ["", "54", "", "5 mm", "", "44 mm", "", "4.5 mm", "", ""]
"""Answers for one prong: opening, round bar at the heel; default thickness, no seat."""


def measured(path: Path, typed: list[str], *options: str, status: int = 0) -> Result:
    arguments = ["measure", "buckle", "--catalogue", str(path), *options]
    result = CliRunner().invoke(command, arguments, input="".join(f"{line}\n" for line in typed))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code == status, result.output
    return result


def test_a_buckle_is_measured_and_appended(tmp_path):
    path = tmp_path / "catalogue.toml"
    own = "# mine\n[buckle.old]\nfor_strap = 30\nbar_diameter = 3\nframe_depth = 25  # as sold\n"
    path.write_text(own)
    result = measured(path, [*SINGLE, "brass-54", "yes"])
    assert result.output.endswith(f'appended to {path}; call it in a job with buckle = "brass-54"\n')
    assert "It takes a strap 52 mm (2 1/16 in) wide: 54 mm less the usual clearance of 2 mm." in result.output
    assert "opening, 6 mm to 150 mm: " in result.output
    assert "prong_width, 1 mm to 15 mm [4 mm]: " in result.output
    assert path.read_text().startswith(own + "\n[buckle.brass-54]\n")
    buckle = read_catalogue(path).buckles["brass-54"]
    assert (buckle.opening, buckle.prong_width, buckle.prong_thickness) == (54.0, 4.5, 3.5)


def test_the_new_buckle_serves_a_job_beside_it(tmp_path):
    measured(tmp_path / "catalogue.toml", [*SINGLE, ""], "--name", "brass-54")
    job = tmp_path / "job.toml"
    job.write_text(
        '[leather]\nthickness = "3.6 mm"\ntannage = "vegetable"\n'
        '[[belt]]\nid = "ines"\nsize = { girth = "960 mm" }\nbuckle = "brass-54"\n'
    )
    assert '"strap_width_mm": 52.0' in run("draft", job, "--json").stdout


def test_a_mistake_is_one_line_and_the_question_comes_again_without_its_drawing(tmp_path):
    path = tmp_path / "catalogue.toml"
    typed = [*SINGLE[:1], "wide", "", "2 1/8 in", *SINGLE[2:], "", ""]
    output = measured(path, typed).output
    assert (
        '\nfound "wide", expected a length such as "44 mm" or "1 3/4 in"\nopening, 6 mm to 150 mm: ' in output
    )
    assert "\nfound nothing, expected 6 mm to 150 mm\nopening, 6 mm to 150 mm: " in output
    assert output.count("2. How wide is it inside, along the bar?") == 1
    assert 'opening = "2 1/8 in"' in path.read_text()


def test_back_asks_again_and_offers_what_was_answered(tmp_path):
    path = tmp_path / "catalogue.toml"
    typed = ["back", "opening", "54", "BACK", "back", "for", "50", "", "5", "back", "", *SINGLE[4:], "", ""]
    output = measured(path, typed).output
    assert "this is the first question; type quit to stop" in output
    assert "opening, 6 mm to 150 mm [54 mm]: " in output
    assert "bar_diameter, 1 mm to 25 mm [5 mm]: " in output
    buckle = read_catalogue(path).buckles["my-single-50"]
    assert (buckle.opening, buckle.for_strap, buckle.bar_diameter) == (None, 50.0, 5.0)


def test_back_from_the_last_question_changes_the_name(tmp_path):
    path = tmp_path / "catalogue.toml"
    measured(path, [*SINGLE, "wrong", "back", "right", "yes"])
    assert set(read_catalogue(path).buckles) == {"right"}


def test_prongs_that_do_not_fit_can_be_mended_by_going_back(tmp_path):
    path = tmp_path / "catalogue.toml"
    typed = [*SINGLE[:6], "2", "4 mm", "", "52 mm", "back", "back", "back", "2", "", "", "22 mm", "", "", ""]
    output = measured(path, typed).output
    assert "found prong_spacing 52 mm with prongs of 4 mm in 54 mm, expected 4.5 mm to 49 mm\n" in output
    assert read_catalogue(path).buckles["my-double-54"].prong_spacing == 22.0


def test_quit_no_and_the_end_of_the_answers_write_nothing(tmp_path):
    path = tmp_path / "catalogue.toml"
    for typed in (
        ["quit"],
        [*SINGLE[:5], "Quit"],
        [*SINGLE, "x", "quit"],
        [*SINGLE, "x", "no"],
        SINGLE[:4],
        [],
    ):
        result = measured(path, typed, status=1)
        assert result.stderr.endswith("stopped; nothing was written\n")
        assert "Traceback" not in result.output
    assert list(tmp_path.iterdir()) == []


def test_a_name_that_is_taken_is_refused_before_anything_is_asked(tmp_path):
    path = tmp_path / "catalogue.toml"
    measured(path, [*SINGLE, ""], "--name", "brass-54")
    before = path.read_bytes()
    result = measured(path, [], "--name", "brass-54", status=1)
    assert result.output == (
        'error: --name: found "brass-54", which the catalogue has already; expected another name\n'
    )
    result = measured(path, [*SINGLE, "brass-54", "quit"], status=1)
    assert 'found "brass-54", which the catalogue has already; expected another name\n' in result.output
    assert path.read_bytes() == before


def test_a_shipped_name_may_be_used_and_that_is_said(tmp_path):
    path = tmp_path / "catalogue.toml"
    output = measured(path, [*SINGLE, "single-40", ""]).output
    assert "It takes the place of the shipped buckle of that name." in output
    assert read_catalogue(path).buckles["single-40"].opening == 54.0


def test_a_broken_catalogue_is_told_before_anything_is_asked(tmp_path):
    path = tmp_path / "catalogue.toml"
    path.write_text("[buckle.a]\nopening = 40\n")
    result = measured(path, [], status=1)
    assert result.output.startswith(f"error: {path}: buckle.a.frame_depth: missing, expected ")
    assert "Measuring" not in result.output


def test_without_a_name_for_the_file_it_is_the_catalogue_of_this_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    typed = "".join(f"{line}\n" for line in [*SINGLE, "", ""])
    result = CliRunner().invoke(command, ["measure", "buckle"], input=typed)
    assert result.exit_code == 0, result.output
    assert set(read_catalogue(tmp_path / "catalogue.toml").buckles) == {"my-single-54"}


def test_the_subcommand_has_help_with_an_example():
    text = run("measure", "buckle", "--help").output
    assert "Example: strapwright measure buckle --name brass-46" in text


def test_in_a_shop_a_buckle_goes_into_the_shop_s_catalogue_wherever_one_stands(tmp_path, monkeypatch):
    job = tmp_path / "jobs" / "first"
    job.mkdir(parents=True)
    (tmp_path / "house.toml").write_text("")
    monkeypatch.chdir(job)
    typed = "".join(f"{line}\n" for line in [*SINGLE, "brass-54", "yes"])
    result = CliRunner().invoke(command, ["measure", "buckle"], input=typed)
    assert result.exit_code == 0, result.output
    assert "brass-54" in read_catalogue(tmp_path / "catalogue.toml").buckles
    assert not (job / "catalogue.toml").exists()
