"""The scenario with every default written out is the same boat, and says what was given and what was not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml

from heatsim.handover.annotated import to_text
from heatsim.handover.explicit import explicit, same_numbers
from heatsim.loads.simulate import simulate
from heatsim.scenario.model import Scenario
from heatsim.scenario.reading import read, read_text
from heatsim.scenario.resolve import resolve

DEMO = Path(__file__).resolve().parents[2] / "scenarios"
BOATS = ("dunlin-11", "tern-24", "skua-38")
SAME = 1e-12
"""Relative: the numbers are the very same, so that anything beyond round-off is a value lost on the way."""


@pytest.fixture(scope="module", params=BOATS)
def boat(request: pytest.FixtureRequest) -> tuple[Scenario, str]:
    """A demo boat, and her file with every default in it."""
    scenario = read(DEMO / f"{request.param}.yaml")
    return scenario, to_text(explicit(scenario), "test")


def test_it_is_the_same_boat(boat: tuple[Scenario, str]) -> None:
    scenario, text = boat
    assert same_numbers(resolve(scenario), resolve(read_text(text)))


def test_nothing_is_left_to_defaults(boat: tuple[Scenario, str]) -> None:
    assert resolve(read_text(boat[1])).defaults == ()


def test_every_default_bears_its_source(boat: tuple[Scenario, str]) -> None:
    """Those of a quick zone's box stand at the zone; the rest each on a line of its own."""
    scenario, text = boat
    remarks = "\n".join(line.partition("  # ")[2] for line in text.splitlines())
    missing = [one for one in resolve(scenario).defaults if one.source not in remarks]
    assert missing == []


def test_another_reader_of_yaml_agrees(boat: tuple[Scenario, str]) -> None:
    """PyYAML, a general library, finds the same zones and the same first face."""
    scenario, text = boat
    found = yaml.safe_load(text)
    assert list(found["zones"]) == list(scenario.zones)
    assert all("quick" not in zone for zone in found["zones"].values())


def test_a_changed_boat_is_not_the_same(boat: tuple[Scenario, str]) -> None:
    resolved = resolve(boat[0])
    zones = (replace(resolved.zones[0], volume=resolved.zones[0].volume * (1.0 + 1e-12)), *resolved.zones[1:])
    assert not same_numbers(resolved, replace(resolved, zones=zones))


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=() if name == "dunlin-11" else pytest.mark.slow) for name in BOATS]
)
def test_it_gives_the_same_loads(name: str) -> None:
    scenario = read(DEMO / f"{name}.yaml")
    first = simulate(resolve(scenario))
    again = simulate(resolve(read_text(to_text(explicit(scenario), "test"))))
    for variable in first.data_vars:
        if first[variable].dtype.kind == "f" and "residual" not in str(variable):
            values = first[variable].values
            scale = float(np.nanmax(np.abs(values))) if values.size else 0.0
            np.testing.assert_allclose(
                again[variable].values, values, rtol=0.0, atol=SAME * scale, err_msg=str(variable)
            )


SHORT = """\
format: 1
yacht: {name: NAME, length: 8 m, persons: 2}
place: {region: CYC, month: 8, berth: alongside, heading: 90 deg}
zones:
  saloon: {quick: {deck: main, length: 3 m, beam: 2.5 m, height: 2 m}}
"""


@pytest.mark.parametrize(
    "name",
    ["plain", "a: b", "# no remark", "'quoted\" twice", "- list", "{a: 1}", "[1]", "on", "12", "1e3", "null", "~", "",
     "two\nlines", "x\u2028y\u0085z", "\ufeffmark", "tail ", " lead", "@at", "`tick`", "%per", "&and", "*star", "!tag",
     "| bar", "> more", "a\\b", "\u202eturned", "\U0001f426", "=1+1", "é, ö"],
)  # fmt: skip
def test_any_text_reads_back(name: str) -> None:
    """What YAML 1.2 gives a meaning to, its line breaks among them, goes through quoted."""
    scenario = read_text(SHORT)
    named = scenario.model_copy(update={"yacht": scenario.yacht.model_copy(update={"name": name})})
    again = read_text(to_text(explicit(named), "test"))
    assert again.yacht.name == name


def test_zones_without_furnishings_keep_their_sun() -> None:
    """The usual shares of sun put some on furnishings; a room that has none must not gain them by being explicit."""
    scenario = read_text(SHORT.replace("{quick:", "{furnishing_capacity: 0 kJ/(K m2), quick:"))
    resolved = resolve(scenario)
    assert resolved.zones[0].furnishing_sun_share == 0.0
    assert same_numbers(resolved, resolve(explicit(scenario).scenario))


def test_a_catalogue_leads_from_the_new_folder(tmp_path: Path) -> None:
    (tmp_path / "boat").mkdir()
    catalogue = tmp_path / "boat" / "units.csv"
    catalogue.write_bytes(b"model\n")
    file = tmp_path / "boat" / "boat.yaml"
    file.write_text(SHORT + "equipment: {catalogue: units.csv}\n", encoding="utf-8")
    scenario, out = read(file), tmp_path / "out"
    out.mkdir()
    (out / "resolved.yaml").write_text(to_text(explicit(scenario, out), "test"), encoding="utf-8")
    written = yaml.safe_load((out / "resolved.yaml").read_text(encoding="utf-8"))
    assert written["equipment"]["catalogue"] == "../boat/units.csv"
    assert resolve(read(out / "resolved.yaml")).catalogue == str(catalogue.resolve())
