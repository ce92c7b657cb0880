"""`heatsim study` in this process: its size first, tables, files, a second run that goes on, and what it refuses."""

from __future__ import annotations

import csv
import json
import shutil
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from terminal import BOX, Run, snapshot

STUDY = """\
format: 1
study: Wagtail about
boat: wagtail.yaml
days: [hot, typical]
axes:
  region: [CYC, BVI]
  month: [7, 8]
  heading: [0 deg, 90 deg, 180 deg]
remedies:
  - {name: white decks, change: white decks, price: 500}
"""
ANSWERS = ("axes", "boat", "by_place", "caution", "remedies", "runs", "title")

pytestmark = pytest.mark.usefixtures("sketched")


@pytest.fixture
def study(box: Path) -> Path:
    """A study of the small boat beside her file."""
    file = box.parent / "study.yaml"
    file.write_text(STUDY, encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A folder with the study, her boat and a finished run in `out`, and what was printed; not to be changed."""
    from click.testing import CliRunner

    from heatsim.cli import main

    folder = tmp_path_factory.mktemp("finished")
    (folder / "wagtail.yaml").write_text(BOX, encoding="utf-8")
    (folder / "study.yaml").write_text(STUDY, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("heatsim.report.pictures.Drawing.png", lambda self: self.file.encode())
        result = CliRunner().invoke(main, ["study", str(folder / "study.yaml"), "--out", str(folder / "out")])
    assert result.exit_code == 0, result.output
    return folder, result.stdout


@pytest.fixture
def copied(finished: tuple[Path, str], tmp_path: Path) -> Path:
    """A finished study that may be changed."""
    return Path(shutil.copytree(finished[0], tmp_path / "copied"))


def test_the_size_is_printed_first(finished: tuple[Path, str]) -> None:
    first = " ".join(finished[1].split("Peak of the")[0].split())
    assert "2 remedy × 2 region × 2 month × 3 heading = 24 runs of hot, typical" in first
    assert "about" in first
    assert "MB on disk" in first


def test_tables_by_place_and_remedy(finished: tuple[Path, str]) -> None:
    words = " ".join(finished[1].split())
    for text in ("Peak of the block, kW", "Electricity for cooling on a typical day, kWh", "What each remedy brings"):
        assert text in words
    rows = [line.split() for line in finished[1].splitlines() if line.split()[:1] in (["CYC"], ["BVI"])]
    assert len(rows) == 4  # two regions in each of two tables
    assert all(len(row) == 3 for row in rows)


def test_cautions_stand_beside_what_they_are_about(finished: tuple[Path, str]) -> None:
    words = " ".join(finished[1].split())
    assert "white decks: White decks dazzle" in words
    assert "support and do not replace a qualified" in words
    assert "carbon monoxide alarm" in words


def test_files_and_pictures(finished: tuple[Path, str]) -> None:
    out = finished[0] / "out"
    assert sorted(path.name for path in out.iterdir()) == [
        "duration.png", "headings.png", "heatsim.json", "manifest.jsonl", "regions.png", "results.csv", "run.log",
        "study.json", "study.zarr", "waterfall.png",
    ]  # fmt: skip
    with open(out / "results.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 24 * 2 * 3  # runs, days, two rooms and the block
    assert {row["room"] for row in rows} == {"saloon", "cabin", "block"}
    assert all(float(row["peak"]) > 0.0 for row in rows)
    assert all((row["cooling_energy"] == "") == (row["day"] == "hot") for row in rows)  # energy of typical days only
    answer = json.loads((out / "study.json").read_text(encoding="utf-8"))
    assert tuple(sorted(answer)) == ANSWERS


def test_the_same_command_goes_on_and_changes_nothing(copied: Path, run: Run) -> None:
    before = snapshot(copied / "out")
    assert run("study", copied / "study.yaml", "--out", copied / "out", "--quiet").exit_code == 0
    after = snapshot(copied / "out")
    log, old = after.pop("run.log").decode(), before.pop("run.log").decode()
    assert "0 to do" in log.removeprefix(old)
    assert after == before


def test_what_is_missing_is_run_again_alike(copied: Path, run: Run) -> None:
    out = copied / "out"
    before = snapshot(out)
    lines = (out / "manifest.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)
    (out / "manifest.jsonl").write_text("".join(lines[:-1]), encoding="utf-8")  # as if stopped before the last line
    assert run("study", copied / "study.yaml", "--out", out, "--quiet").exit_code == 0
    after = snapshot(out)
    assert "1 to do" in after.pop("run.log").decode().removeprefix(before.pop("run.log").decode())
    assert after == before


def test_a_changed_study_is_refused_with_the_difference(copied: Path, run: Run) -> None:
    before = snapshot(copied / "out")
    (copied / "study.yaml").write_text(STUDY.replace("[7, 8]", "[7, 9]"), encoding="utf-8")
    result = run("study", copied / "study.yaml", "--out", copied / "out")
    assert result.exit_code == 2
    assert "made of something else" in result.stderr
    assert "month[1] was 8, is 9" in " ".join(result.stderr.split())
    assert snapshot(copied / "out") == before


def test_a_folder_with_a_strangers_file_of_ours_is_refused(study: Path, run: Run) -> None:
    out = study.parent / "out"
    out.mkdir()
    (out / "results.csv").write_text("mine", encoding="utf-8")
    result = run("study", study, "--out", out)
    assert result.exit_code == 2
    assert "results.csv" in result.stderr
    assert snapshot(out) == {"results.csv": b"mine"}


def test_json_is_one_object_of_finite_numbers(study: Path, run: Run) -> None:
    def never(name: str) -> Any:
        raise AssertionError(f"{name} in JSON")

    result = run("study", study, "--out", study.parent / "out", "--json", "--no-pictures")
    assert result.exit_code == 0
    answer = json.loads(result.stdout, parse_constant=never)
    assert tuple(sorted(answer)) == ANSWERS
    assert answer["runs"] == 24
    assert answer["axes"]["region"] == ["CYC", "BVI"]
    assert [row["remedy"] for row in answer["remedies"]] == ["white decks"]
    assert len(answer["by_place"]) == 4
    assert not list((study.parent / "out").glob("*.png"))


def test_units_of_the_table(study: Path, run: Run) -> None:
    result = run("study", study, "--out", study.parent / "out", "--units", "us", "--no-pictures")
    assert "Peak of the block, Btu/h" in result.stdout


@pytest.mark.skipif(find_spec("pyarrow") is None, reason="needs pyarrow (extra parquet), which is not installed here")
def test_parquet_holds_what_the_csv_holds(study: Path, run: Run) -> None:
    import pandas as pd

    out = study.parent / "out"
    assert run("study", study, "--out", out, "--parquet", "--no-pictures", "--quiet").exit_code == 0
    parquet, text = pd.read_parquet(out / "results.parquet"), pd.read_csv(out / "results.csv")
    assert list(parquet.columns) == list(text.columns)
    # The CSV keeps six digits.
    assert np.allclose(parquet["peak"], text["peak"], rtol=1e-5)


@pytest.mark.skipif(find_spec("pyarrow") is not None, reason="pyarrow is installed here")
def test_parquet_without_its_package_is_refused_before_the_run(study: Path, run: Run) -> None:
    result = run("study", study, "--out", study.parent / "out", "--parquet")
    assert result.exit_code == 2
    assert "heatsim[parquet]" in result.stderr
    assert not (study.parent / "out").exists()


BAD = {
    "no format": (STUDY.replace("format: 1\n", ""), "format"),
    "a later format": (STUDY.replace("format: 1", "format: 2"), "format"),
    "no boat": (STUDY.replace("boat: wagtail.yaml\n", ""), "boat"),
    "a boat that is not there": (STUDY.replace("wagtail", "plover"), "does not exist"),
    "an unknown key": (STUDY.replace("days:", "dayz:"), 'mean "days"'),
    "an unknown kind of day": (STUDY.replace("[hot, typical]", "[warm]"), "days"),
    "no day at all": (STUDY.replace("[hot, typical]", "[]"), "days"),
    "an unknown region": (STUDY.replace("BVI", "BVX"), "axes.region"),
    "a month too late": (STUDY.replace("[7, 8]", "[7, 13]"), "axes.month"),
    "a value twice": (STUDY.replace("[7, 8]", "[7, 7]"), "stands twice"),
    "an axis without values": (STUDY.replace("[7, 8]", "[]"), "at least one value"),
    "an axis of one number": (STUDY.replace("[7, 8]", "7"), "from, to and step"),
    "a list in an axis": (STUDY.replace("[7, 8]", "[[7], 8]"), "one number or text"),
    "all of what has no end": (STUDY.replace("month: [7, 8]", "persons: all"), "know all their values"),
    "a range backwards": (STUDY.replace("[7, 8]", "{from: 8, to: 7, step: 1}"), "goes up"),
    "a range without its step": (STUDY.replace("[7, 8]", "{from: 7, to: 8}"), "from, to and step"),
    "a range with two kinds": (
        STUDY.replace("[0 deg, 90 deg, 180 deg]", "{from: 0 deg, to: 90 deg, step: 1 m}"), "heading"
    ),
    "a heading without its unit": (STUDY.replace("[0 deg, 90 deg, 180 deg]", "[0, 90]"), "heading"),
    "an axis over nothing": (STUDY.replace("month: [7, 8]", "zones.attic.setpoint: [22 degC, 24 degC]"), "attic"),
    "an axis with the wrong unit": (STUDY.replace("month: [7, 8]", "zones.saloon.setpoint: [22 m, 24 m]"), "setpoint"),
    "one axis by two names": (STUDY.replace("month: [7, 8]", "place.region: [CYC]"), "place.region"),
    "a remedy of nothing": (STUDY.replace("change: white decks, ", ""), "changes nothing"),
    "an unknown ready change": (STUDY.replace("change: white decks", "change: pink decks"), "not a ready change"),
    "two remedies of one name": (STUDY + "  - {name: white decks, change: light blinds closed}\n", "one name"),
    "a price below zero": (STUDY.replace("price: 500", "price: -5"), "price"),
    "a remedy of a wrong value": (
        STUDY.replace("change: white decks", "set: {yacht.deck_colour: plaid}"), "deck_colour"
    ),
    "left out where nothing is": (STUDY + "leave_out: [climate.hot]\n", "nothing there"),
    "a step of a second": (STUDY + "step: 1 s\n", "step"),
    "units nobody knows": (STUDY + "units: borrowed\n", "units"),
    "a key that looks like one": (STUDY + "axes_: 1\n", "axes_"),
    "units where none are installed": (STUDY + "units: installed\n", "nothing is installed"),
    "one draw": (STUDY + "draws: {count: 1, defaults: true}\n", "count"),
    "draws of nothing": (STUDY + "draws: {count: 8}\n", "nothing to draw"),
    "a spread nobody knows": (STUDY + "draws: {count: 8, of: {yacht.persons: {zipf: [1, 2]}}}\n", "yacht.persons"),
    "a spread that falls": (STUDY + "draws: {count: 8, of: {yacht.persons: {uniform: [3, 2]}}}\n", "rising"),
    "a choice that is none": (STUDY + "draws: {count: 8, of: {yacht.glazing: {among: [ice, snow]}}}\n", "glazing"),
    "draws where nothing is": (
        STUDY + "draws: {count: 8, of: {zones.attic.setpoint: {uniform: [22 degC, 24 degC]}}}\n", "attic"
    ),
    "set where nothing is": (STUDY + "set: {zones.attic.setpoint: 22 degC}\n", "attic"),
    "two documents": (STUDY + "---\n" + STUDY, "document"),
    "a key twice": (STUDY + "study: again\n", "study"),
    "not YAML": ("axes: [", ""),
    "nothing": ("", ""),
}  # fmt: skip


@pytest.mark.parametrize("kind", BAD)
def test_bad_studies_are_refused_in_words_and_nothing_is_written(kind: str, study: Path, run: Run) -> None:
    content, named = BAD[kind]
    study.write_text(content, encoding="utf-8")
    before = snapshot(study.parent)
    result = run("study", study, "--out", study.parent / "out")
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert named in " ".join(result.stderr.split()), result.stderr
    assert snapshot(study.parent) == before
    assert not (study.parent / "out").exists()


def test_a_unit_lost_that_nobody_has_is_refused_before_anything_is_stored(study: Path, run: Run) -> None:
    study.write_text(STUDY.replace("month: [7, 8]", "unit lost: [none, attic]"), encoding="utf-8")
    result = run("study", study, "--out", study.parent / "out")
    assert result.exit_code == 2
    assert "is none of the units" in result.stderr
    assert not snapshot(study.parent / "out")


def test_every_fault_is_told_at_once(study: Path, run: Run) -> None:
    study.write_text(STUDY.replace("[7, 8]", "[0, 13]").replace("white decks", "pink decks"), encoding="utf-8")
    result = run("study", study, "--out", study.parent / "out")
    assert result.exit_code == 2
    faults = [line for line in result.stderr.splitlines() if "axes.month" in line or "remedies.pink decks" in line]
    assert len(faults) == 3


def test_a_study_is_no_boat(study: Path, run: Run) -> None:
    result = run("check", study)
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    assert "is a study, not a boat" in result.stderr
    assert "heatsim study" in result.stderr


def test_interrupted_it_says_what_is_kept(
    study: Path, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*given: object, **named: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("heatsim.report.studying.run_design", interrupted)
    result = run("study", study, "--out", tmp_path / "out")
    assert result.exit_code == 130
    assert "finished chunks are kept" in result.stderr
    assert "nothing was written" not in result.stderr
