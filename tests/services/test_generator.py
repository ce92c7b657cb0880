"""The generator's window: by hand, and the trade's rule beside it."""

from __future__ import annotations

from math import hypot

import pytest
from dunlin import planned, powered, proved

from heatsim.scenario.electrics import GeneratorSet, PowerAboard
from heatsim.services.draws import draws, reactive_part
from heatsim.services.generator import generator, night_load, rule_of_thumb, window

KBTU = 293.07107  # W, NIST SP 811


def test_rule_of_the_trade() -> None:
    """16 kBtu/h over 6000: 2.7 kW, and 4 kW with other loads (common practice, no source); its own two figures."""
    alone, other = rule_of_thumb(16.0 * KBTU)
    assert alone == pytest.approx(2700.0, abs=50.0)
    assert other == pytest.approx(4000.0, abs=50.0)


def test_window_by_hand() -> None:
    found = list(draws(planned()))
    w = window(found, 500.0, 900.0, 6000.0, derating=0.1, starting=2.5, least_share=0.3)
    assert w.running == pytest.approx((sum(d.active for d in found) + 500.0) / 0.9, rel=1e-12)
    assert w.most == pytest.approx(3000.0, rel=1e-12)
    others = found[1:]
    start = complex(*found[0].starting)
    last = complex(500.0 + sum(d.active for d in others),
                   reactive_part(500.0, 0.95) + sum(d.reactive for d in others)) + start  # fmt: skip
    assert w.by_start["largest unit last"] == pytest.approx(abs(last) / 2.5 * 0.8, rel=1e-12)
    assert w.by_start["in the best order"] <= w.by_start["largest unit last"]
    assert w.by_start["best order, soft starters"] < w.by_start["in the best order"]
    assert hypot(*found[0].starting) == pytest.approx(found[0].start * 230.0, rel=1e-12)


def test_findings_of_a_set() -> None:
    small, large = (
        generator(powered(PowerAboard(generator=GeneratorSet(power), other_load=300.0)), proved()).findings
        for power in (1500.0, 30000.0)
    )
    assert [finding.code for finding in small] == ["generator-small"]
    assert "something must wait" in small[0].message, "1.5 kW is less than what runs: no soft starter helps"
    assert [finding.code for finding in large] == ["generator-large"]


def test_a_window_that_is_empty_is_said() -> None:
    """A set that may not go below 80 % of its rating at night cannot carry the day as well."""
    plan = powered(PowerAboard(generator=GeneratorSet(4000.0, 0.8), other_load=2000.0, night_load=0.0))
    schedule = generator(plan, proved())
    assert "generator-window" in {finding.code for finding in schedule.findings}
    assert any("No set does both" in note for note in schedule.notes)


def test_the_sheet_of_the_set_is_used() -> None:
    """Twice the motor-starting kVA halves what the start asks for."""
    rows = [
        dict(
            row[:2]
            for row in generator(powered(PowerAboard(generator=GeneratorSet(4000.0, starting=kva))), proved()).rows
        )
        for kva in (10000.0, 20000.0)
    ]
    name = "least by start: largest unit last"
    assert float(rows[0][name]) == pytest.approx(2.0 * float(rows[1][name]), rel=1e-12)  # type: ignore[arg-type]
    assert any("trade's rule" in note for note in generator(planned(), proved()).notes)


def test_night_load_counts_pumps_and_household() -> None:
    without, with_it = (night_load(powered(PowerAboard(night_load=w)), proved()) for w in (0.0, 250.0))
    assert with_it - without == pytest.approx(250.0, rel=1e-9)  # means of the same minutes
    assert without > 0.0
