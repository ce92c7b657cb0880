"""`equipment.margin`: loads raised to a certainty that draws compute, in place of declared margins."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from terminal import Run

from heatsim.study import certainty

pytestmark = pytest.mark.usefixtures("unproved")


@pytest.fixture(autouse=True)
def few_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(certainty, "DRAWS", 12)


def test_a_plan_carries_the_peaks_that_draws_stay_below(run: Run, box: Path) -> None:
    plain = json.loads(run("plan", box, "--json").stdout)
    sure = json.loads(run("plan", box, "--json", "--set", "equipment.margin=p90").stdout)
    factors = sure["certainty"]["factors"]
    assert sure["certainty"]["draws"] == 12
    assert factors["block"] > 1.0
    for zone, needed in plain["needs"]["zones"].items():
        raised = sure["needs"]["zones"][zone]["peak_W"]
        assert np.isclose(raised, needed["peak_W"] * factors[zone], rtol=1e-9), zone  # one product


@pytest.mark.slow
def test_more_certainty_never_asks_for_less(run: Run, box: Path) -> None:
    blocks = [
        json.loads(run("plan", box, "--json", "--set", f"equipment.margin={level}").stdout)["certainty"]["factors"]
        for level in ("p50", "p90", "p99")
    ]
    printed = run("plan", box, "--set", "equipment.margin=p99").stdout
    assert "margin computed: peaks that 99 of 100 stay below, 12 draws" in printed
    for room in blocks[0]:
        assert blocks[0][room] <= blocks[1][room] <= blocks[2][room]


def test_weather_and_load_do_not_count_twice(run: Run, box: Path) -> None:
    changes = ("--set", "equipment.margin=p90", "--set", "equipment.margins={load: 5 %}")
    result = run("plan", box, *changes)
    assert result.exit_code == 2
    assert "would count twice" in result.stderr
    assert "Leave out margins.load" in result.stderr


def test_services_are_those_of_the_same_plan(run: Run, box: Path) -> None:
    plain, sure = (
        json.loads(run("services", box, "--layout", "one a zone", "--json", *more).stdout)["schedules"]["air"]
        for more in ((), ("--set", "equipment.margin=p90"))
    )
    load = next(i for i, head in enumerate(plain["columns"]) if "sensible" in head)
    for before, after in zip(plain["rows"], sure["rows"], strict=True):
        if before[load] is not None:
            assert after[load] > before[load]
