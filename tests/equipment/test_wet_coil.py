"""Water on coils: conservation, the published part-load curve, thermostats' stages."""

from __future__ import annotations

import numpy as np
import pytest
from part_load_curve import cycle, evaporated, latent_ratio

from heatsim.equipment.thermostat import ON_OFF, STAGED, VARIABLE, Thermostat, Thermostats
from heatsim.equipment.wet_coil import PartLoad, come_up, dried, wetted

ONE = np.ones(1)
RATE = 1e-3
"""[kg/s] Steady condensate of the unit below; any would do."""


def _cycled(run: float, pause: float, model: PartLoad, step: float, cycles: int = 12) -> float:
    """Vapour removed over condensate, by the coil model in steps, when its cycle repeats itself."""
    most = model.holding * RATE * ONE
    water, heat = most.copy(), 0.0 * ONE
    ratio = np.nan
    for _ in range(cycles):
        on = evaporated_kg = 0.0
        for k in range(round(run / step)):
            condensed = come_up(k * step * ONE, step, model.start) * RATE * step
            water, heat, _, _ = wetted(water, heat, most, condensed, 0.0 * ONE)
            on += float(condensed[0])
        for _ in range(round(pause / step)):
            water, heat, gone, _ = dried(water, heat, most, model.evaporating * RATE * ONE, step)
            evaporated_kg += float(gone[0])
        ratio = (on - evaporated_kg) / on
    return ratio


# The paper's curve counts what drains from t_0 on at the steady rate; capacity is then within e^(−t_0/τ) of it. Where
# t_0 is a few τ the two differ by less than 0.02 in the ratio; at high run fractions (short pauses, t_0 ≈ τ) by 0.05,
# half the scatter of the paper's measurements about its curve (about ±0.1, from memory).
@pytest.mark.parametrize("most", [2.0, 3.0, 4.0])
@pytest.mark.parametrize("fraction", [0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9])
def test_part_load_curve_henderson_rengarajan_1996(fraction: float, most: float) -> None:
    model = PartLoad()
    run, pause = (round(seconds / 5.0) * 5.0 for seconds in cycle(fraction, most))
    published = latent_ratio(run, pause, model.holding, model.evaporating, model.start)
    assert _cycled(run, pause, model, 5.0) == pytest.approx(published, abs=0.05)


def test_the_curve_would_see_another_rate() -> None:
    """The check above rejects a coil that evaporates a third slower."""
    run, pause = cycle(0.6, 3.0)
    slower = PartLoad(evaporating=1.0)
    published = latent_ratio(run, pause, 720.0, 1.5, 60.0)
    assert abs(_cycled(round(run), round(pause), slower, 5.0) - published) > 0.05


def test_minutes_are_fine_enough() -> None:
    """Evaporation is exact over a step, the start's mean too: one minute gives what one second gives."""
    assert _cycled(600.0, 600.0, PartLoad(), 60.0) == pytest.approx(_cycled(600.0, 600.0, PartLoad(), 1.0), abs=1e-9)


@pytest.mark.parametrize("pause", [60.0, 300.0, 700.0, 959.0, 961.0, 5000.0])
def test_a_pause_evaporates_what_the_paper_says(pause: float) -> None:
    """From a full coil the evaporation falls straight with time and ends at 2 t_wet / γ = 960 s, from memory."""
    most = 720.0 * RATE * ONE
    gone = dried(most, 0.0 * ONE, most, 1.5 * RATE * ONE, pause).evaporated
    assert float(gone[0]) == pytest.approx(evaporated(pause, 720.0, 1.5) * RATE, rel=1e-12)


def test_water_and_its_heat_are_kept() -> None:
    rng = np.random.default_rng(5)
    most = rng.uniform(0.1, 0.5, 40)
    water, heat = most * rng.uniform(0.0, 1.0, 40), rng.uniform(0.0, 1e4, 40)
    for _ in range(50):
        condensed, brought = rng.uniform(0.0, 0.1, 40), rng.uniform(0.0, 4e3, 40)
        wet = wetted(water, heat, most, condensed, brought)
        np.testing.assert_allclose(wet.water + wet.drained, water + condensed, rtol=1e-12)
        np.testing.assert_allclose(wet.heat + wet.drained_heat, heat + brought, rtol=1e-12)
        dry = dried(wet.water, wet.heat, most, rng.uniform(0.0, 1e-3, 40), 60.0)
        np.testing.assert_allclose(dry.water + dry.evaporated, wet.water, rtol=1e-12)
        np.testing.assert_allclose(dry.heat + dry.evaporated_heat, wet.heat, rtol=1e-12)
        assert np.all((dry.water >= 0.0) & (wet.water <= most * (1.0 + 1e-12)))
        water, heat = dry.water, dry.heat


SHARP = Thermostat(dead_band=1.0, shortest_run=120.0, shortest_off=180.0, shortest_cycle=0.0, lag=0.0)


def _asked(settings: Thermostat, regulation: str, smallest: float, readings: list[float]) -> list[float]:
    """Stages of one unit by minute with the setpoint at 24 °C."""
    one = Thermostats(settings, np.array([regulation]), np.array([smallest]), 60.0)
    stages = []
    for reading in readings:
        one.decide(np.array([reading]), np.array([24.0]), np.ones(1, dtype=bool))
        stages.append(float(one.stage[0]))
        one.passed()
    return stages


def test_dead_band_and_shortest_times() -> None:
    """Starts half a band above, runs two minutes at least, pauses three, starts again only above the band."""
    readings = [24.4, 24.5, 23.4, 23.4, 24.6, 24.6, 24.6, 24.4]
    assert _asked(SHARP, ON_OFF, 1.0, readings) == [0.0, 1.0, 1.0, 0.0, 0.0, 0.0, 1.0, 1.0]


def test_a_sensor_that_reads_too_warm_cools_too_far() -> None:
    warm = Thermostat(shortest_cycle=0.0, lag=0.0, offset=0.6)
    assert _asked(warm, ON_OFF, 1.0, [23.95, 23.5, 23.0, 22.9]) == [1.0, 1.0, 1.0, 0.0]


def test_no_more_starts_than_allowed() -> None:
    """Ten minutes from start to start, whatever the room asks for."""
    slow = Thermostat(lag=0.0, shortest_cycle=600.0)
    stages = _asked(slow, ON_OFF, 1.0, [25.0, 23.0, 23.0] + [25.0] * 12)
    assert np.flatnonzero(np.diff([0.0, *stages]) > 0.0).tolist() == [0, 10]


def test_stages() -> None:
    """Smallest first, full a band above, back at the setpoint, off half a band below; far away at full at once."""
    assert _asked(SHARP, STAGED, 0.5, [24.6, 24.9, 25.1, 24.4, 24.0, 23.9, 23.4]) == [0.5, 0.5, 1.0, 1.0, 0.5, 0.5, 0.0]
    assert _asked(SHARP, STAGED, 0.5, [27.0]) == [1.0]


def test_variable_speed_finds_the_speed_that_holds() -> None:
    """A room that settles 10 K below 30 °C at full, half of it in a minute, needs 0.6 to stay at 24 °C."""
    one = Thermostats(Thermostat(), np.array([VARIABLE]), np.array([0.3]), 60.0)
    air, course = np.array([24.5]), []
    for _ in range(600):
        one.decide(air, np.array([24.0]), np.ones(1, dtype=bool))
        one.passed()
        air = air + 0.5 * (30.0 - 10.0 * one.stage - air)
        course.append((float(air[0]), float(one.stage[0])))
    late = np.array(course[300:])
    assert np.all(np.abs(late[:, 0] - 24.0) < 0.1)  # a tenth of the dead band
    assert np.all(np.abs(late[:, 1] - 0.6) < 0.01)


def test_variable_speed_cycles_below_its_smallest_stage() -> None:
    """The same room when it would be 26 °C without cooling: 0.2 on the mean, so it must pause."""
    one = Thermostats(Thermostat(), np.array([VARIABLE]), np.array([0.3]), 60.0)
    air, stages = np.array([24.5]), []
    for _ in range(1200):
        one.decide(air, np.array([24.0]), np.ones(1, dtype=bool))
        one.passed()
        air = air + 0.1 * (26.0 - 10.0 * one.stage - air)
        stages.append(float(one.stage[0]))
    late = np.array(stages[300:])
    assert 0.3 < np.mean(late == 0.0) < 0.6  # a third at 0.3 without a break; somewhat more as it speeds up in between
    assert late[late > 0.0].min() == pytest.approx(0.3)
    assert np.mean(stages[300:]) == pytest.approx(0.2, abs=0.03)  # the mean of a band that is not quite centred
