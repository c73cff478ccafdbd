"""`start`: a folder that works as it stands, and is never written over."""

from __future__ import annotations

from tests.cli.runner import run


def test_the_starter_folder_goes_all_the_way_to_cut_files(tmp_path):
    folder = tmp_path / "my-belts"
    said = run("start", folder).output
    names = {path.name for path in folder.iterdir()}
    assert {"job.toml", "hide.toml", "catalogue.toml", "machine.toml"} <= names
    assert f"strapwright cut {folder / 'job.toml'}" in said
    drafted = run("draft", folder / "job.toml")
    assert "caution" not in drafted.output
    made = run(
        *("cut", folder / "job.toml", "--hide", folder / "hide.toml"),
        *("--machine", folder / "machine.toml", "--out", folder / "out", "--steps", "3"),
    )
    assert "greatest read-back deviation" in made.output
    assert list((folder / "out").glob("*.dxf"))


def test_a_folder_with_a_job_of_ones_own_is_left_alone(tmp_path):
    (tmp_path / "job.toml").write_text("# mine\n")
    result = run("start", tmp_path, status=1)
    assert "job.toml: is there already and strapwright did not write it" in result.output
    assert "choose another folder" in result.output
    assert "--force" not in result.output  # which this command does not have
    assert [path.name for path in tmp_path.iterdir()] == ["job.toml"]
    assert (tmp_path / "job.toml").read_text() == "# mine\n"
