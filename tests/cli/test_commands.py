"""Every command in this process: what it prints, where, and its exit code."""

from __future__ import annotations

import json
import re
from pathlib import Path

import jsonschema
import pytest
import yaml
from terminal import BOX, Run

from heatsim.scenario.listing import LISTS
from heatsim.scenario.starters import DEMOS

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


def test_loads_prints_the_zone_table(run: Run, box: Path) -> None:
    result = run("loads", box)
    assert result.exit_code == 0
    assert result.stderr == ""
    for word in ("saloon", "cabin", "block", "diversity", "kW", "at that hour:", "carbon monoxide alarm"):
        assert word in result.stdout


@pytest.mark.parametrize(("system", "there", "not_there"), [("us", "Btu/h", "kW"), ("both", "Btu/h", "°F only")])
def test_units(run: Run, box: Path, system: str, there: str, not_there: str) -> None:
    for command in (("loads",), ("check", "--no-leverage")):
        printed = run(*command, box, "--units", system).stdout
        assert there in printed
        assert not_there not in printed
        assert (" kW" in printed) == (system == "both")


def test_us_and_si_are_the_same_load(run: Run, box: Path) -> None:
    """One Btu(IT)/h is 0.29307107 W (NIST SP 811, appendix B.8)."""
    printed = run("loads", box, "--units", "both").stdout
    si, us = re.search(r"block load ([\d.]+) kW \(([\d,]+) Btu/h\)", printed).groups()  # type: ignore[union-attr]
    # 10 W and 100 Btu/h are the steps of print.
    assert float(si) * 1e3 == pytest.approx(float(us.replace(",", "")) * 0.29307107, abs=5.0 + 50.0 * 0.293)


def test_json_is_one_object_and_agrees_with_the_table(run: Run, box: Path) -> None:
    result = run("loads", box, "--json", "--set", "zones.saloon.setpoint=22 degC")
    summary = json.loads(result.stdout, parse_constant=_no_constant)
    assert result.stderr == ""
    zones = summary["days"]["hot"]["zones"]
    assert set(zones) == {"saloon", "cabin", "block"}
    assert json.loads(summary["run"]["overrides"]) == ["zones.saloon.setpoint=22 degC"]
    warmer = json.loads(run("loads", box, "--json").stdout)["days"]["hot"]["zones"]
    assert zones["saloon"]["total"] > warmer["saloon"]["total"]


@pytest.mark.parametrize("words", [("check", "{}", "--no-leverage"), ("compare", "{}", "{}")])
def test_json_of_the_others(run: Run, box: Path, words: tuple[str, ...]) -> None:
    found = json.loads(run(*(w.format(box) for w in words), "--json").stdout, parse_constant=_no_constant)
    assert isinstance(found, dict)


def _no_constant(word: str) -> float:
    raise AssertionError(f"{word} is not JSON")


def test_json_on_bad_input_prints_nothing_on_standard_output(run: Run, tmp_path: Path) -> None:
    for command in ("loads", "check"):
        result = run(command, tmp_path / "none.yaml", "--json")
        assert result.exit_code == 2
        assert result.stdout == ""
        assert "no such file" in result.stderr


def test_quiet_prints_nothing(run: Run, box: Path) -> None:
    assert run("loads", box, "--quiet").output == ""


def test_check_lists_defaults_findings_leverage_and_rules(run: Run, box: Path) -> None:
    printed = run("check", box).stdout
    for words in ("defaults were used", "What to find out next", "volume rule", "common practice, no source"):
        assert words in printed
    assert "quick.glass_share" in printed
    # What needs an answer stands before the long list of what does not.
    heads = ("No findings; ", "What to find out next", "rules of thumb beside", "Defaults used")
    places = [printed.index(words) for words in heads]
    assert places == sorted(places)


def test_fail_on(run: Run, box: Path) -> None:
    damp = ("--set", "climate.hot={dry_bulb_max: 40 degC, dew_point: 34 degC}", "--no-leverage")
    assert run("check", box, "--no-leverage", "--fail-on", "any").exit_code == 0
    assert run("check", box, *damp).exit_code == 0
    assert run("check", box, *damp, "--fail-on", "dew-point-high").exit_code == 1
    assert run("check", box, *damp, "--fail-on", "any").exit_code == 1
    assert run("check", box, *damp, "--fail-on", "net-extract").exit_code == 0
    misspelt = run("check", box, *damp, "--fail-on", "dew-point-hihg")
    assert misspelt.exit_code == 2
    assert 'Did you mean "dew-point-high"?' in misspelt.stderr
    assert json.loads(run("check", box, *damp, "--json").stdout)["findings"][0]["code"] == "dew-point-high"


def test_every_finding_has_a_listed_code() -> None:
    """The codes in the source, read by its syntax, against the list that --fail-on accepts."""
    import ast

    import heatsim
    from heatsim.loads.check import CODES

    used = set()
    for file in Path(heatsim.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Finding" and node.args:
                assert isinstance(node.args[0], ast.Constant), f"{file}:{node.lineno}"
                used.add(node.args[0].value)
    assert used == set(CODES)


def test_compare(run: Run, box: Path, tmp_path: Path) -> None:
    other = tmp_path / "cooler.yaml"
    other.write_text(BOX.replace("24 degC", "22 degC"), encoding="utf-8")
    result = json.loads(run("compare", box, other, "--json").stdout)
    assert [i["path"].split(".")[:2] for i in result["inputs"]] == [["zones", "saloon"]]
    change = {c["zone"]: c["second"] - c["first"] for c in result["changes"]}
    assert change["saloon"] > 20.0
    assert change["cabin"] == pytest.approx(0.0, abs=1e-6)  # no partition between the two: nothing can pass
    assert change["block"] > 20.0
    printed = run("compare", box, other).stdout
    assert "zones.saloon" in printed


def test_compare_in_words(run: Run, box: Path, tmp_path: Path) -> None:
    """Values as people say them, nothing of the form in which they are kept, and no zero with a minus."""
    other = tmp_path / "shaded.yaml"
    text = BOX.replace("setpoint: 24 degC", 'setpoint: {"08:00-20:00": 24 degC, "20:00-08:00": 26 degC}')
    text = text.replace("zones:", "awnings: {tent: {fabric: white canvas, gap: open}}\nzones:")
    other.write_text(text.replace("height: 2 m}\n  cabin", "height: 2 m, awning: tent}\n  cabin"), encoding="utf-8")
    result = json.loads(run("compare", box, other, "--json").stdout)
    inputs = {i["path"]: (i["first"], i["second"]) for i in result["inputs"]}
    assert inputs["awnings.tent"] == ("absent", "present")
    assert inputs["zones.saloon.control.cooling_setpoint"] == (
        "24 °C all day", "26 °C from 00:00, 24 °C from 08:00, 26 °C from 20:00",
    )  # fmt: skip
    printed = run("compare", box, other).stdout
    assert not re.search(r"-0\.0*\b(?![\d.])|[{}\[\]]|\bnull\b|\btrue\b", printed)


def test_compare_changes_both_sides(run: Run, box: Path, tmp_path: Path) -> None:
    other = tmp_path / "cooler.yaml"
    other.write_text(BOX.replace("24 degC", "22 degC"), encoding="utf-8")
    change = ("--set", "zones.saloon.setpoint=25 degC", "--json")
    assert json.loads(run("compare", box, other, *change).stdout)["inputs"] == []
    run("loads", box, "--out", tmp_path / "OUT", "--no-pictures")
    refused = run("compare", tmp_path / "OUT", other, *change)
    assert refused.exit_code == 2
    assert "this is a result" in refused.stderr


def test_compare_takes_folders(run: Run, box: Path, tmp_path: Path) -> None:
    run("loads", box, "--out", tmp_path / "OUT", "--no-pictures")
    result = json.loads(run("compare", tmp_path / "OUT", box, "--json").stdout)
    assert result["inputs"] == []
    assert all(abs(c["second"] - c["first"]) < 1e-6 for c in result["changes"])


@pytest.mark.parametrize("what", LISTS)
def test_list(run: Run, what: str) -> None:
    everything = run("list", what)
    assert everything.exit_code == 0
    assert len(everything.stdout.splitlines()) > 6
    nothing = run("list", what, "no such word")
    assert nothing.exit_code == 0
    assert len(nothing.stdout) < len(everything.stdout)


def test_list_offers_whatever_can_be_listed() -> None:
    from heatsim import cli

    assert sorted(cli.LISTS) == sorted(LISTS)


def test_list_takes_the_word_as_it_stands(run: Run) -> None:
    assert run("list", "regions", "(").exit_code == 0
    assert "Cyclades" in run("list", "regions", "cyc").stdout


def test_list_says_when_nothing_holds_the_word(run: Run) -> None:
    assert 'nothing among the regions contains "baltic"' in run("list", "regions", "baltic").stdout


def test_list_of_something_else(run: Run) -> None:
    result = run("list", "boats")
    assert result.exit_code == 2
    assert "lay-ups" in result.stderr
    assert all(name in run("list", "--help").stdout.replace("\n", " ") for name in LISTS)


def test_compare_names_causes_in_the_units_asked_for(run: Run, box: Path, tmp_path: Path) -> None:
    darker = tmp_path / "darker.yaml"
    darker.write_text(
        box.read_text(encoding="utf-8").replace("persons: 2", "persons: 2, house_colour: black, hull_colour: black")
    )
    printed = run("compare", box, darker, "--units", "us").stdout
    assert re.search(r"sun on hull and house \+[\d,]+ Btu/h", printed)
    assert "kW" not in printed


def test_schema_accepts_the_demos_and_refuses_a_misspelt_key(run: Run) -> None:
    """Judged by jsonschema, a general library."""
    schema = json.loads(run("schema").stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    judge = jsonschema.Draft202012Validator(schema)
    for name in DEMOS:  # beside them lie studies
        boat = yaml.safe_load((SCENARIOS / f"{name}.yaml").read_bytes())
        assert judge.is_valid(boat)
        assert not judge.is_valid(boat | {"zoness": {}})


@pytest.mark.parametrize("kind", ["motor", "sail", "multihull"])
def test_new_writes_a_sound_starter(run: Run, tmp_path: Path, kind: str) -> None:
    file = tmp_path / "boat.yaml"
    assert run("new", file, "--kind", kind, "--length", "40 ft").exit_code == 0
    assert run("check", file, "--no-leverage").exit_code == 0


def test_new_refuses_to_overwrite(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text("mine", encoding="utf-8")
    result = run("new", file)
    assert result.exit_code == 2
    assert "exists already" in result.stderr
    assert file.read_text(encoding="utf-8") == "mine"
    assert run("new", file, "--force").exit_code == 0
    assert "format: 1" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize("demo", ["tern-24", "dunlin-11", "skua-38"])
def test_new_demo_is_the_shipped_file(run: Run, tmp_path: Path, demo: str) -> None:
    assert run("new", tmp_path / "demo.yaml", "--demo", demo).exit_code == 0
    assert (tmp_path / "demo.yaml").read_bytes() == (SCENARIOS / f"{demo}.yaml").read_bytes()


@pytest.mark.parametrize(
    "words",
    [
        ("new", "{}/no/such/folder/boat.yaml"),
        ("new", "{}/boat.yaml", "--length", "long"),
        ("new", "{}/boat.yaml", "--length", "-7 m"),
        ("new", "{}/boat.yaml", "--length", "900 m"),
        ("new", "{}", "--force"),
        ("new", "{}/boat.yaml", "--demo", "../../etc/passwd"),
        ("new", "{}/boat.yaml", "--kind", "submarine"),
        ("loads",),
        ("loads", "{}"),
        ("loads", ""),
        ("compare", "{}", "{}"),
        ("compare", "{}/none", "{}/none"),
        ("nothing",),
    ],
)
def test_words_that_make_no_sense(run: Run, tmp_path: Path, words: tuple[str, ...]) -> None:
    result = run(*(word.format(tmp_path) for word in words))
    assert result.exit_code == 2
    assert result.stderr
    assert list(tmp_path.iterdir()) == []


def test_compare_with_data_that_is_not_ours(run: Run, box: Path, tmp_path: Path) -> None:
    import xarray as xr

    (tmp_path / "text.nc").write_text("not a data set" * 99, encoding="utf-8")
    (tmp_path / "empty.nc").write_bytes(b"")
    xr.Dataset({"a": ("t", [1.0])}).to_netcdf(tmp_path / "other.nc", engine="scipy")
    for name in ("text.nc", "empty.nc", "other.nc"):
        result = run("compare", tmp_path / name, box)
        assert result.exit_code == 2
        assert "must be a data set that" in result.stderr


def test_names_are_printed_as_they_stand(run: Run, tmp_path: Path) -> None:
    """Nothing in a boat's name is markup, a formula or a path."""
    file = tmp_path / "odd.yaml"
    name = r"[/red] :boat: $\frac{ ../../x"
    file.write_text(BOX.replace("Wagtail", f"'{name}'"), encoding="utf-8")
    assert run("loads", file, "--out", tmp_path / "OUT[b]").exit_code == 0
    assert name in run("check", file, "--no-leverage").stdout
    assert sorted(p.name for p in tmp_path.iterdir()) == ["OUT[b]", "odd.yaml"]


def test_interrupt(run: Run, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("heatsim.report.running.write_netcdf", interrupted)
    result = run("loads", box, "--out", tmp_path / "deep" / "OUT")
    assert result.exit_code == 130
    assert "nothing was written" in result.stderr
    assert not (tmp_path / "deep").exists()
