"""Regimes: what multiplies is named when it is too much; wind is binned; drivers carry what a bin loses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from boxes import plain_box, plain_day

from heatsim.climate.days import design_weather
from heatsim.errors import HeatsimError
from heatsim.loads.simulate import simulate
from heatsim.network.regimes import regimes
from heatsim.scenario import resolved as r


def _hours(name: str, *values: float) -> r.Routine:
    step = 1440 // len(values)
    return r.Routine(name, tuple(i * step for i in range(len(values))), values)


def test_constant_boats_have_one_regime() -> None:
    box = plain_box()
    weather = design_weather(box, box.days[0], 900.0)
    assert len(regimes(box, [weather]).wind) == 1


def test_too_many_states_are_refused_naming_the_routines() -> None:
    rng = np.random.default_rng(1)
    flows = tuple(
        r.Flow(
            f"fan {i}", "fresh_air", r.OUTDOORS, "room", 0.01, _hours(f"course {i}", *rng.permutation(96).astype(float))
        )
        for i in range(2)
    )
    box = plain_box(flows=flows)
    with pytest.raises(HeatsimError, match=r"96 states from fan 0 \(96 values\), fan 1 \(96 values\)"):
        regimes(box, [design_weather(box, box.days[0], 900.0)])


def test_days_of_nearly_the_same_wind_share_a_regime_and_keep_their_load() -> None:
    calm, breeze = plain_day(wind=2.0), plain_day(kind="typical", wind=2.6)
    both = simulate(plain_box(days=(calm, breeze)), causes=False)
    assert both.attrs["regimes"] == 1
    alone = simulate(plain_box(days=(breeze,)), causes=False)
    shared, own = (d["sensible_cooling"].sel(day="typical").values for d in (both, alone))
    # The regime's film is 20 % off, the drivers carry it: what is left is the skin's own swing about sol-air.
    assert np.abs(shared - own).max() < 0.01 * own.max()


def test_routines_jump_on_the_clock() -> None:
    flow = r.Flow("noon fan", "fresh_air", r.OUTDOORS, "room", 0.05, r.Routine("noon", (0, 720, 780), (0.0, 1.0, 0.0)))
    loads = simulate(plain_box(flows=(flow,), windows=()), causes=False)
    gain = loads["heat_gain"].sel(path="fresh_air").isel(day=0, heading=0, zone=0)
    local = loads["local_time"].dt.hour.values
    assert np.abs(gain.values[local != 12]).max() == 0.0
    assert gain.values[local == 12][0] > 100.0


def test_transfer_is_charged_once() -> None:
    """Air drawn through the room into a head: outdoor air heats the room only; the head gets the room's air."""
    from boxes import plain_face, plain_zone

    head = plain_face("head deck", "deck", 0.0, 0.0, 2.0, zone="head")
    flows = (
        r.Flow("supply", "fresh_air", r.OUTDOORS, "room", 0.02, _hours("always", 1.0)),
        r.Flow("to head", "transfer", "room", "head", 0.02, _hours("always", 1.0)),
        r.Flow("extract", "extract", "head", r.OUTDOORS, 0.02, _hours("always", 1.0)),
    )
    box = plain_box(flows=flows, windows=())
    box = replace(box, zones=(*box.zones, plain_zone("head", volume=4.0, floor_area=2.0)), faces=(*box.faces, head))
    loads = simulate(box, causes=False).isel(day=0, heading=0)
    assert float(loads["heat_gain"].sel(zone="room", path="fresh_air").max()) > 100.0
    assert float(np.abs(loads["heat_gain"].sel(zone="head", path=["fresh_air", "infiltration"])).max()) == 0.0
    # Both are held at the same temperature: the transfer itself carries nothing.
    assert float(np.abs(loads["heat_gain"].sel(zone="head", path="transfer")).max()) < 1e-9


def test_extract_without_supply_draws_outdoor_air() -> None:
    flow = r.Flow("extract", "extract", "room", r.OUTDOORS, 0.02, _hours("always", 1.0))
    loads = simulate(plain_box(flows=(flow,), windows=()), causes=False)
    assert float(loads["heat_gain"].sel(path="infiltration").max()) > 100.0
