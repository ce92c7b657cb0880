"""Banks: Peukert's law with its hours, claims of the trade, energy that closes, stops that keep the reserve."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from dunlin import planned, powered, proved

from heatsim import HeatsimError
from heatsim.scenario.electrics import PowerAboard, Storage
from heatsim.scenario.reading import read_text
from heatsim.scenario.starters import demo
from heatsim.services.battery import (
    Bank,
    Inverter,
    Night,
    bank_of,
    inverter_of,
    lasting,
    lasting_energy,
    night,
    peukert_exponent,
    peukert_hours,
    recharge_hours,
)
from heatsim.services.silent_night import battery, battery_hours, nights

HOUR = 3600.0
MINUTE = 60.0


def test_hours_of_the_rating_are_asked_for() -> None:
    """Without them 250 Ah at 20 A and 1.3 would last 5.1 h; by its 20 h rating it lasts 10.9 h (battery manual)."""
    with pytest.raises(HeatsimError, match="without its hours"):
        peukert_hours(250.0, 20.0, 1.3, None)
    # 0.01 h: the manual's own rounding of 10.86.
    assert peukert_hours(250.0, 20.0, 1.3, 20.0) == pytest.approx(10.86, abs=0.01)


def test_a_lead_bank_without_hours_is_refused_in_the_file() -> None:
    text = demo("dunlin-11").replace("hours: 20, ", "", 1)
    assert text != demo("dunlin-11")
    with pytest.raises(HeatsimError, match=r"supply\.battery.*hours: 20"):
        read_text(text)


def test_exponent_of_two_tests_goes_round() -> None:
    times = tuple(peukert_hours(100.0, current, 1.27, 20.0) for current in (5.0, 25.0))
    assert peukert_exponent((5.0, 25.0), (times[0], times[1])) == pytest.approx(1.27, rel=1e-12)  # round-off


def test_a_bank_gives_no_more_than_its_rating_at_small_currents() -> None:
    bank = Bank(100.0, 20.0, 1.3, 12.0)
    assert bank.delivers(5.0) == 1.0
    assert bank.delivers(1.0) == 1.0
    assert bank.lasts(1.0) == pytest.approx(100.0, rel=1e-12)  # round-off
    assert bank.lasts(10.0, 0.5) == pytest.approx(0.5 * peukert_hours(100.0, 10.0, 1.3, 20.0), rel=1e-12)


def test_two_claims_of_the_trade_for_a_small_cabin_unit() -> None:
    """About 4 h on two group-31 batteries, about 8.5 h on three group-27: what each needs (common practice, no source).

    Group sizes by their usual 20 h capacities, 105 and 92 Ah (common practice, no source), exponent 1.25.
    """
    first, second = (Bank(capacity, 20.0, 1.25, 12.0) for capacity in (2 * 105.0, 3 * 92.0))
    draw = first.rated_current * (20.0 / 4.0) ** (1.0 / 1.25)  # Peukert's law solved for the current
    assert first.lasts(draw) == pytest.approx(4.0, rel=1e-12)  # round-off
    assert draw == pytest.approx(38.0, abs=0.5)  # A, the draw the claim needs: 457 W, rounded to a half
    assert second.lasts(draw) == pytest.approx(5.6, abs=0.05)  # h: not 8.5; the last figure of "about 5.6"
    fraction = second.lasts(draw) / 8.5
    assert fraction == pytest.approx(0.66, abs=0.005)  # of the time, for the second claim; two figures
    steady = second.rated_current * (20.0 / 8.5) ** (1.0 / 1.25)
    assert steady / draw == pytest.approx(0.72, abs=0.005)  # where the bank only feels the mean current
    assert [first.lasts(draw, 0.5), second.lasts(draw, 0.5)] == pytest.approx([2.0, 2.8], abs=0.05)  # at 50 % depth


def test_a_run_fraction_stretches_a_night() -> None:
    """On for two thirds of every half hour, the bank lasts longer by just that: each minute takes by its own rate."""
    bank = Bank(276.0, 20.0, 1.25, 12.0)
    load = np.tile(np.r_[np.full(20, 457.0), np.zeros(10)], 30)
    inverter = Inverter(1000.0, 1.0, 0.0)
    # half a cycle: where in a cycle the bank ends
    assert lasting(bank, inverter, load, MINUTE) == pytest.approx(1.5 * bank.lasts(457.0 / 12.0), abs=0.25)


def _night(bank: Bank, solar: float) -> Night:
    rng = np.random.default_rng(5)
    load = rng.uniform(0.0, 900.0, 600)
    sun = np.clip(np.linspace(-1.0, 1.0, 600), 0.0, None) * solar
    return night(bank, Inverter(1500.0, 0.9, 20.0), load, MINUTE, solar=sun)


@pytest.mark.parametrize(("kind", "exponent", "usable"), [("lead", 1.25, 0.5), ("lithium", 1.03, 0.8)])
@pytest.mark.parametrize("solar", [0.0, 2500.0])
def test_energy_closes(kind: str, exponent: float, usable: float, solar: float) -> None:
    """Stored, lost in the bank, lost in the inverter, served and from the sun, whether the night ends early or not."""
    for capacity in (150.0, 900.0):
        bank = Bank(capacity, 20.0, exponent, 12.0, usable, kind)
        n = _night(bank, solar)
        whole = max(n.stored_drop, n.served)
        drop = n.stored_drop - n.delivered - n.bank_loss
        bus = n.delivered + n.solar_used - n.served - n.inverter_loss - n.idle
        assert abs(drop) < 1e-9 * whole  # sums of 600 doubles
        assert abs(bus) < 1e-9 * whole
        assert n.bank_loss >= 0.0
        assert n.charge.min() >= 1.0 - usable - 1e-12
        assert n.charge.max() <= 1.0 + 1e-12


def test_a_night_stops_at_the_reserve_and_not_before() -> None:
    bank = Bank(100.0, 20.0, 1.25, 12.0, 0.5)
    inverter, load = Inverter(1000.0, 0.9, 0.0), np.full(600, 540.0)
    n = night(bank, inverter, load, MINUTE)
    assert n.stopped == pytest.approx(bank.lasts(540.0 / 0.9 / 12.0, 0.5), rel=1e-9)  # within a minute it runs straight
    assert n.charge[-1] == pytest.approx(0.5, abs=1e-12)
    assert n.served == pytest.approx(540.0 * n.stopped * HOUR, rel=1e-9)
    assert n.load[-1] == 0.0


def test_a_bank_that_lasts_is_just_large_enough() -> None:
    bank, inverter, load = Bank(100.0, 20.0, 1.25, 12.0, 0.5), Inverter(1000.0, 0.9, 20.0), np.full(480, 600.0)
    sun = np.zeros(480)
    wanted = lasting_energy(bank, inverter, load, MINUTE, sun) / bank.energy * bank.capacity
    assert night(replace(bank, capacity=wanted), inverter, load, MINUTE).stopped is None
    assert night(replace(bank, capacity=0.98 * wanted), inverter, load, MINUTE).stopped is not None  # found to 1 %
    # Peukert's law solved for the capacity at that steady current, half of it usable: C = I (2 t Hⁿ⁻¹)^(1/n).
    current = (600.0 / 0.9 + 20.0) / 12.0
    by_hand = current * (2.0 * 8.0 * 20.0**0.25) ** (1.0 / 1.25)
    assert wanted == pytest.approx(by_hand, rel=0.011)  # found to 1 %


def test_inverter_of_the_trade() -> None:
    """11 A at 120 V through a 90 % inverter: 120 A at 12 V, and 400 usable Ah last 3.3 h (common practice, no source).

    2 %: the trade's own rounding of 122 A, at no Peukert loss as it counts.
    """
    current = 11.0 * 120.0 / 0.9 / 12.0
    assert current == pytest.approx(120.0, rel=0.02)
    bank = Bank(400.0, 20.0, 1.0, 12.0)
    n = night(bank, Inverter(3000.0, 0.9, 0.0), np.full(480, 1320.0), MINUTE)
    assert n.stopped == pytest.approx(3.3, rel=0.02)
    assert n.drawn[0] / 12.0 == pytest.approx(current, rel=1e-12)


def test_recharge_of_a_lead_bank_tapers() -> None:
    """A closed form by hand: bulk to 80 %, then the rate falls with what is missing, to 98 %."""
    lead, lithium = Bank(200.0, 20.0, 1.25, 12.0, kind="lead"), Bank(200.0, 5.0, 1.03, 12.0, kind="lithium")
    rate = 0.85 * 20.0 / 200.0
    assert recharge_hours(lead, 0.5, 240.0) == pytest.approx(0.3 / rate + 0.2 / rate * np.log(10.0), rel=1e-12)
    assert recharge_hours(lithium, 0.5, 480.0) == pytest.approx(0.5 * 200.0 / (40.0 * 0.97), rel=1e-12)
    assert recharge_hours(lead, 0.0, 240.0) == 0.0
    assert recharge_hours(lead, 0.5, 0.0) == np.inf


def test_what_is_not_said_of_a_bank_is_listed() -> None:
    bank, assumed = bank_of(Storage("lead", capacity=400.0 * HOUR, hours=20.0, temperature=5.0))
    assert (bank.capacity, bank.usable, bank.warmth) == pytest.approx((400.0, 0.5, 0.84), rel=1e-12)
    assert {one.what for one in assumed} == {
        "voltage of the bank", "Peukert's exponent, lead", "depth that spares a lead bank",
        "capacity of a cold lead bank",
    }  # fmt: skip
    inverter, more = inverter_of(Storage(inverter=3000.0, efficiency=0.92), np.array([1200.0]))
    assert (inverter.rating, inverter.efficiency, inverter.idle) == (3000.0, 0.92, 30.0)
    assert len(more) == 1
    whole, said = bank_of(
        Storage("lithium", energy=3.6e6 * 12.0, voltage=48.0, hours=1.0, peukert=1.02, depth=0.9, temperature=25.0)
    )
    assert whole.capacity == pytest.approx(250.0, rel=1e-12)
    assert whole.usable == pytest.approx(0.7)  # its reserve of 30 % is more than its depth asks for
    assert said == ()


def test_the_night_of_a_plan_takes_what_the_proof_runs() -> None:
    storage = Storage(energy=3.6e6 * 30.0, reserve=0.2, inverter=4000.0, night_begins=22, night_ends=7)
    plan = powered(PowerAboard(battery=storage, night_load=100.0))
    found = nights(plan, proved())
    assert found is not None
    _, inverter, each, _ = found
    hot = each[0]
    data = proved().data
    run = int(np.flatnonzero((data["start"] == "settled") & (data["day"] == "hot"))[0])
    minute = (np.arange(1440) + float(data["start_minute"].values[run])) % 1440
    dark = (minute >= 22 * 60) | (minute < 7 * 60)
    proof_energy = float(data["power"].values[run][dark].sum() * 60.0)
    assert hot.night.hours == 9.0
    rest = 9.0 * HOUR * 100.0
    pumps = hot.night.served - proof_energy - rest
    assert 0.0 < pumps < 0.1 * proof_energy  # pumps of three small units: some tens of watts beside 2 kW
    schedule = battery(plan, proved())
    assert schedule is not None
    assert schedule.column("outcome")[0] == f"lasts the night, {hot.night.charge[-1]:.0%} left"
    by_hour = battery_hours(plan, proved())
    assert by_hour is not None
    hours = [row for row in by_hour.rows if row[0] == "hot"]
    assert [row[1] for row in hours[:3]] == ["22:00", "23:00", "00:00"]
    assert sum(float(row[2] or 0.0) for row in hours) * HOUR == pytest.approx(hot.night.served, rel=1e-9)
    assert inverter.rating == 4000.0


def test_a_small_bank_stops_and_says_so() -> None:
    plan = powered(PowerAboard(battery=Storage(energy=3.6e6 * 5.0), solar=(600.0, None)))
    schedule = battery(plan, proved())
    assert schedule is not None
    assert {finding.code for finding in schedule.findings} >= {"battery-short"}
    assert all("reserve kept" in str(text) for text in schedule.column("outcome"))
    # A flat 600 W panel at 75 % under a clear tropical sky of 6 to 7.5 kWh/m² (common practice, no source).
    for energy in schedule.column("sun by day"):
        assert 0.6 * 0.75 * 5.5 < float(energy or 0.0) / 3.6e6 < 0.6 * 0.75 * 8.0
    assert battery(planned(), proved()) is None


def test_panels_lengthen_a_night_that_ends_in_the_sun() -> None:
    storage = Storage(energy=3.6e6 * 30.0, night_begins=5, night_ends=16)
    dark, lit = (nights(powered(PowerAboard(battery=storage, solar=s)), proved()) for s in (None, (2000.0, 0.8)))
    assert dark is not None
    assert lit is not None
    assert lit[2][0].night.charge[-1] > dark[2][0].night.charge[-1]
    assert lit[2][0].night.solar_used > 0.0
