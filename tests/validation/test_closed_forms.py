"""Textbook solutions of heat flow, through heatsim's own network, cells and steps.

Numbers are the formulas' own, evaluated here or by a general library; where a textbook prints them they are as printed.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from boxes import ALWAYS, plain_day
from scipy.optimize import brentq
from scipy.special import erfc
from validation.rigs import TIGHT, Course, Rig, boat, face, massless, room
from validation.sheet import Sheet

import heatsim
from heatsim.physics import layers
from heatsim.scenario import resolved as r

FAMILY = "closed forms"
LUMPED = "Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., eq. 5.6"
PLANE = "Incropera et al., 6th ed., eqs. 5.39 and 5.40, four terms and more"
THICK = "Incropera et al., 6th ed., eq. 5.60"
SIX_DIGITS = "worked to six digits"
EXACT = "round-off: the steps are exact for courses that are straight within them"
CELLS = "cells of a wall: a hundredth of the whole step"
LAMP = r.Gain("lamp", "equipment", 0.0, 0.0, 0.0, ALWAYS)


def _air_factor(capacity: float) -> float:
    """What makes the air of a room of 24 m³ hold that much heat [J/K]."""
    rig = Rig(boat([room(air_factor=1.0)], [face("wall", 1.0, 1.0, 1.0)], {"wall": [massless(1.0)]}))
    return capacity / float(rig.line.heat.capacity[rig.line.heat.nodes.index("room air")])


def _conducts(conductance: float) -> list[tuple[float, float, float, float]]:
    """A massless wall that conducts so much in all, with films of 20 on both sides, on 10 m²."""
    return [massless(10.0 / conductance - 0.1)]


@pytest.mark.parametrize(("seconds", "celsius"), [(3600, 28.02324), (10000, 31.32121), (36000, 34.72676)])
def test_one_node_follows_a_step(seconds: int, celsius: float, sheet: Sheet) -> None:
    """UA 50 W/K, C 500 kJ/K, 25 to 35 °C."""
    wall = face("wall", 10.0, 20.0, 20.0)
    rig = Rig(boat([room(air_factor=_air_factor(500e3))], [wall], {"wall": _conducts(50.0)}))
    ours = 25.0 + rig.run(seconds / 4.0, 4, 10.0).temperature("room air")[-1]
    sheet.value(
        f"one node, step, after {seconds} s", celsius, ours, within=1e-5, because="worked to five decimals",
        source=LUMPED, unit="degC", confidence="formula",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("tau", "gain", "lag"),
    [(3600.0, 0.967397, 0.97805), (10e3, 0.808756, 2.40169), (36e3, 0.356827, 4.60630), (86400.0, 0.157177, 5.39713)],
)
def test_one_node_follows_a_sine(tau: float, gain: float, lag: float, sheet: Sheet) -> None:
    """Period 24 h: gain 1/√(1 + (ωτ)²), lag arctan(ωτ)/ω."""
    wall = face("wall", 10.0, 20.0, 20.0)
    rig = Rig(boat([room(air_factor=_air_factor(50.0 * tau))], [wall], {"wall": _conducts(50.0)}))
    amplitude, later = _last_day(rig, 300.0, days=3 + int(16 * tau / 86400.0)).values()
    because = "sampled every 5 min and joined by straight lines: 4e-5 of the amplitude"
    told = {"source": "first-order system, sinusoidal response", "confidence": "formula", "because": because}
    sheet.value(f"one node, sine, gain, time constant {tau:g} s", gain, amplitude, within=1e-4, unit="1", **told)
    sheet.value(f"one node, sine, lag, time constant {tau:g} s", lag, later, within=1e-3, unit="h", **told)


def _last_day(rig: Rig, step: float, days: int) -> dict[str, float]:
    """Amplitude and lag [h] of the room's air on the last day under a sine of 1 K outdoors."""
    steps = round(86400.0 / step)
    turn = 2.0 * np.pi * np.arange(days * steps + 1) / steps
    air = rig.run(step, days * steps, np.sin(turn)).temperature("room air")[-steps:]
    phasor = 2.0 / steps * np.sum(air * np.exp(-1j * turn[1 : steps + 1])) * 1j
    return {"amplitude": abs(phasor), "lag": -np.angle(phasor) / (2.0 * np.pi) * 24.0}


def _two_nodes() -> Rig:
    """Air 60 kJ/K and a mass of 600 kJ/K: air to mass 100, air to outdoors 20, mass to outdoors 40 W/K."""
    plate = (0.01, 1e9, 6e6, 1.0)
    mass = [massless(10.0 / 100.0 - 0.05), plate, massless(10.0 / 40.0 - 0.05)]
    faces = [face("mass", 10.0, 20.0, 20.0), face("light", 10.0, 20.0, 20.0)]
    zones = [room(air_factor=_air_factor(60e3), gains=(LAMP,))]
    return Rig(boat(zones, faces, {"mass": mass, "light": _conducts(20.0)}))


@pytest.mark.parametrize(
    ("seconds", "stepped", "heated"),
    [
        (600, (0.131639, 0.044468), (2.957515, 0.166733)),
        (3600, (0.358439, 0.264085), (5.424263, 1.768357)),
        (21600, (0.868507, 0.849155), (9.296250, 6.208217)),
        (86400, (0.999562, 0.999498), (10.290797, 7.349132)),
    ],
)
def test_two_nodes(
    seconds: int, stepped: tuple[float, float], heated: tuple[float, float], sheet: Sheet
) -> None:  # fmt: skip
    """Eigen-solution of the two coupled equations: one kelvin outdoors, and 500 W into the air."""
    rig = _two_nodes()
    for what, published, run in (
        ("step outdoors", stepped, rig.run(seconds / 2.0, 2, 1.0)),
        ("500 W into the air", heated, rig.run(seconds / 2.0, 2, 0.0, {0: 500.0})),
    ):
        for node, name, value in (("room air", "air", published[0]), ("mass layer 1", "mass", published[1])):
            sheet.value(
                f"two nodes, {what}, {name} after {seconds} s", value, run.temperature(node)[-1], within=1e-6,
                because=SIX_DIGITS, source="two coupled linear equations, solved by eigenvectors", unit="K",
                confidence="formula",
            )  # fmt: skip


def test_coupled_zones(sheet: Sheet) -> None:
    """UA 30 and 50 W/K to 35 °C, 20 W/K between the zones, 800 and 400 W, nothing held: through `simulate`."""
    zones = [
        room(name, 1.0, gains=(replace(LAMP, power=power),), control=None)
        for name, power in (("first", 800.0), ("second", 400.0))
    ]
    between = replace(face("between", 10.0, 20.0, 20.0, zone="first", beyond="second"), kind="bulkhead", tilt=90.0)
    faces = [face("one", 10.0, 20.0, 20.0, zone="first"), face("two", 10.0, 20.0, 20.0, zone="second"), between]
    walls = {"one": _conducts(30.0), "two": _conducts(50.0), "between": [massless(10.0 / 20.0 - 2.0 / 20.0)]}
    day = plain_day(dry_bulb_max=35.0, daily_range=0.0, dew_point=10.0)
    loads = heatsim.simulate(boat(zones, faces, walls, day=day), causes=False)
    for zone, published in (("first", 55.645161), ("second", 46.612903)):
        ours = float(loads["air_temperature"].sel(zone=zone).mean())
        sheet.value(
            f"two coupled zones, steady, {zone}", published, ours, within=0.01,
            because="a day counts as periodic within 0.01 K", source="heat balance of two zones by Cramer's rule",
            unit="degC", confidence="formula",
        )  # fmt: skip


@pytest.mark.parametrize(("sea", "published"), [(14.0, -400.0), (31.0, 280.0)])
def test_a_room_over_the_sea(sea: float, published: float, sheet: Sheet) -> None:
    """UA 40 W/K to the sea and nothing else, air held at 24 °C: heating or cooling of 40 W a kelvin, each hour."""
    bottom = replace(face("bottom", 10.0, 20.0, 20.0, beyond=r.SEA), kind="bottom", tilt=180.0)
    control = replace(room().control, heating_setpoint=r.Routine("24", (0,), (24.0,)))
    day = plain_day(dry_bulb_max=24.0, daily_range=0.0, dew_point=5.0, sea=sea)
    zones = [room(air_factor=1.0, control=control)]
    loads = heatsim.simulate(boat(zones, [bottom], {"bottom": _conducts(40.0)}, day=day), causes=False)
    sheet.value(
        f"room at 24 degC over a sea of {sea:.0f} degC, UA 40 W/K", published,
        float((loads["sensible_cooling"] - loads["heating"]).mean()), within=0.1,
        because="what a day periodic within 0.01 K leaves", source="UA times the difference", unit="W",
        confidence="formula",
    )  # fmt: skip


def _slab(biot: float, thickness: float = 0.1) -> tuple[Rig, float]:
    """Half a wall from its insulated middle (the room's massless air) to its film outdoors; and its L²/a [s]."""
    k, rho, c = 1.13, 1400.0, 1000.0
    skin = face("slab", 10.0, 10.0, biot * k / thickness)
    return Rig(boat([room()], [skin], {"slab": [(thickness, k, rho, c)]})), thickness**2 * rho * c / k


def _series(biot: float, fourier: float, place: float) -> float:
    """The plane wall's series, as many terms as are above round-off."""
    total = 0.0
    for n in range(60):
        zeta = brentq(lambda z: z * np.sin(z) - biot * np.cos(z), n * np.pi, n * np.pi + np.pi / 2.0)
        first = 4.0 * np.sin(zeta) / (2.0 * zeta + np.sin(2.0 * zeta))
        total += first * np.exp(-(zeta**2) * fourier) * np.cos(zeta * place)
    return total


@pytest.mark.parametrize(
    ("biot", "middle", "skin"),
    [(0.1, 0.9224, 0.8781), (0.5, 0.6984, 0.5546), (1, 0.5339, 0.3482), (2, 0.3696, 0.1752), (10, 0.1638, 0.0232)],
)  # fmt: skip
def test_slab_in_a_bath(biot: float, middle: float, skin: float, sheet: Sheet) -> None:
    """Temperatures left at Fourier number 1, middle and skin, and in the middle at 0.2."""
    rig, time = _slab(biot)
    run = rig.run(time / 50.0, 50, 1.0)
    for fourier, node, published in ((1.0, "room air", middle), (1.0, "slab outside", skin), (0.2, "room air", None)):
        exact = _series(biot, fourier, 1.0 if node == "slab outside" else 0.0)
        assert published is None or exact == pytest.approx(published, abs=6e-5)  # as worked to four digits
        ours = 1.0 - run.temperature(node)[round(50 * fourier) - 1]
        place = "middle" if node == "room air" else "skin"
        sheet.value(
            f"slab, Biot {biot:g}, {place} at Fourier {fourier:g}", exact, ours, within=0.01, because=CELLS,
            source=PLANE, unit="1", confidence="formula",
        )  # fmt: skip


@pytest.mark.parametrize(("fourier", "flux"), [(0.1, 0.2929), (0.2, 0.72292), (0.3, 0.89647), (0.5, 0.98562)])
def test_slab_between_two_baths(fourier: float, flux: float, sheet: Sheet) -> None:
    """One face stepped, the other held: the flux out of it over the steady flux, 1 + 2 Σ (−1)ᵏ exp(−k²π²Fo)."""
    thickness, k, rho, c = 0.2, 1.13, 1400.0, 1000.0
    rig = Rig(boat([room(air_factor=1.0)], [face("slab", 10.0, TIGHT, TIGHT)], {"slab": [(thickness, k, rho, c)]}))
    time = thickness**2 * rho * c / k
    heat = rig.run(time / 100.0, 100, 1.0, hold=True).heat()[:, 0]
    ours = -heat[round(100 * fourier) - 1] / (10.0 * k / thickness)
    sheet.value(
        f"slab between two baths, far flux at Fourier {fourier:g}", flux, ours, within=0.01, because=CELLS,
        source="Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., 3.3",
        unit="1", confidence="formula",
    )  # fmt: skip


def test_thick_wall_in_a_warm_wind(sheet: Sheet) -> None:
    """Semi-infinite concrete, film 8.29: skin after 1 h and after 6 h."""
    k, rho, c, h = 1.13, 1400.0, 1000.0, 8.29
    rig = Rig(boat([room()], [face("slab", 1.0, 1.0, h)], {"slab": [(1.2, k, rho, c)]}))
    skin = rig.run(300.0, 72, 1.0).temperature("slab outside")
    for hours in (1, 6):
        root = h * np.sqrt(hours * 3600.0 / (k * rho * c))
        exact = 1.0 - float(np.exp(root**2) * erfc(root))
        sheet.value(
            f"thick wall in a warm wind, skin after {hours} h", exact, skin[12 * hours - 1], within=0.01, because=CELLS,
            source=THICK, unit="1", confidence="formula",
        )  # fmt: skip


def test_steady_wall(sheet: Sheet) -> None:
    """40 m² of a sandwich, 35 °C outdoors and 24 °C inside, through `simulate`: U A ΔT."""
    sandwich = [(0.003, 0.3, 1600.0, 1100.0), (0.025, 0.035, 60.0, 1470.0), (0.004, 0.3, 1600.0, 1100.0)]
    day = plain_day(dry_bulb_max=35.0, daily_range=0.0, dew_point=10.0)
    box = boat([room(air_factor=1.0)], [face("wall", 40.0, 8.0, 20.0)], {"wall": sandwich}, day=day)
    load = heatsim.simulate(box, causes=False)["sensible_cooling"]
    exact = 40.0 * 11.0 / (1.0 / 8.0 + 0.003 / 0.3 + 0.025 / 0.035 + 0.004 / 0.3 + 1.0 / 20.0)
    sheet.value(
        "steady wall, load of 40 m2", exact, float(load.mean()), within=1e-6 * exact,
        because="round-off and what is left of the start", source="Incropera et al., 6th ed., eq. 3.12", unit="W",
        confidence="formula",
    )  # fmt: skip


def test_vapour_of_a_ventilated_room(sheet: Sheet) -> None:
    """70 g/h into 40 m³ that change every two hours: excess humidity = G ÷ mass flow of dry air (psychrolib)."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    source = r.Moisture("kettle", 0.070 / 3600.0, ALWAYS)
    flow = r.Flow("air", "infiltration", r.OUTDOORS, "room", 20.0 / 3600.0, ALWAYS)
    zone = room("room", 1.0, moisture=(source,), control=None, volume=40.0, moisture_factor=1.0)
    day = plain_day(dry_bulb_max=30.0, daily_range=0.0, dew_point=15.0)
    box = boat([zone], [face("wall", 40.0, 8.0, 20.0)], {"wall": [massless(1.0)]}, day=day, flows=(flow,))
    loads = heatsim.simulate(box, causes=False)
    outside = psychrolib.GetHumRatioFromTDewPoint(15.0, 101325.0)
    density = 1.0 / psychrolib.GetMoistAirVolume(30.0, outside, 101325.0)
    sheet.value(
        "70 g/h into 40 m3 at half an air change, excess humidity", 70.0 / (20.0 * density),
        1e3 * (float(loads["humidity_ratio"].mean()) - outside), within=0.005,
        because="a day counts as periodic within 1e-4 g/kg, and density by two formulas agrees to 2e-5",
        source="mass balance of a ventilated room", unit="g/kg", confidence="formula",
    )  # fmt: skip


@pytest.mark.slow
def test_order_in_time(sheet: Sheet) -> None:
    """A sine joined by straight lines is off by (ωh)²/12: half the step must quarter it."""
    wall = face("wall", 10.0, 20.0, 20.0)
    rig = Rig(boat([room(air_factor=_air_factor(500e3))], [wall], {"wall": _conducts(50.0)}))
    exact = 1.0 / np.sqrt(1.0 + (2.0 * np.pi / 86400.0 * 10e3) ** 2)
    errors = [abs(_last_day(rig, step, 8)["amplitude"] - exact) for step in (7200.0, 3600.0, 1800.0)]
    for coarse, fine, name in ((0, 1, "2 h to 1 h"), (1, 2, "1 h to 1/2 h")):
        sheet.value(
            f"order of convergence in time, steps of {name}", 2.0, np.log2(errors[coarse] / errors[fine]), within=0.1,
            because="the next term of the expansion, (ωh)⁴", source="straight lines between samples of a sine",
            unit="1", confidence="formula",
        )  # fmt: skip


@pytest.mark.slow
def test_order_in_space(monkeypatch: pytest.MonkeyPatch, sheet: Sheet) -> None:
    """Cells half as thick must quarter the error of a wall's periodic transmittance."""
    monkeypatch.setattr(layers, "SHORTEST_RELAXATION", 0.0)
    wall = [(0.2, 1.8, 2400.0, 1000.0)]
    through = layers.periodic_matrix(wall)
    errors, counts = [], []
    for period in (86400.0, 86400.0 / 4.0, 86400.0 / 16.0):
        monkeypatch.setattr(layers, "CELL_PERIOD", period)
        rig = Rig(boat([room()], [face("wall", 1.0, TIGHT, TIGHT)], {"wall": wall}))
        counts.append(len(layers.cells(wall)[1]))
        skin = rig.response(86400.0, 0.0, 1.0)["wall inside"]
        errors.append(abs(TIGHT * skin + 1.0 / through[0, 1]))
    for coarse, fine in ((0, 1), (1, 2)):
        order = np.log(errors[coarse] / errors[fine]) / np.log(counts[fine] / counts[coarse])
        sheet.value(
            f"order of convergence in space, {counts[coarse]} to {counts[fine]} cells", 2.0, order, within=0.2,
            because="the next term of the expansion: the coarsest cell is half a penetration depth thick",
            source="finite volumes with the capacity at the middle", unit="1", confidence="formula",
        )  # fmt: skip


def test_series_and_rig_reject_a_wrong_wall() -> None:
    """The comparison would see a wall of half the thickness."""
    rig, time = _slab(1.0)
    run: Course = rig.run(time / 50.0, 50, 1.0)
    assert abs(1.0 - run.temperature("room air")[-1] - _series(1.0, 4.0, 0.0)) > 0.1
