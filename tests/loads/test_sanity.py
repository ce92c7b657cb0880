"""Physics a person can check by hand, on plain boxes (invented), through `simulate`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from boxes import ALWAYS, plain_box, plain_day, plain_face, plain_place, plain_zone

from heatsim.loads.line import make_line, solve_days
from heatsim.loads.simulate import simulate
from heatsim.scenario import resolved as r

INSIDE, OUTSIDE = 8.0, 20.0
"""[W/(m²·K)] Films of the hand cases."""
SANDWICH = 0.003 / 0.3 + 0.025 / 0.035 + 0.004 / 0.3
"""[m²·K/W] The box's lay-up."""
U = 1.0 / (1.0 / INSIDE + SANDWICH + 1.0 / OUTSIDE)
STILL = plain_day(dry_bulb_max=35.0, daily_range=0.0, dew_point=10.0)
"""A day without daily range: everything but the sun is constant."""


def _dark(name: str, kind: str, bearing: float, tilt: float, area: float, **changes: object) -> r.Face:
    """A face that neither sun nor sky can touch, with the films of the hand cases."""
    plain = {
        "absorptance": 0.0, "emissivity": 0.0, "inside_emissivity": 0.0, "inside_film": INSIDE, "outside_film": OUTSIDE,
    }  # fmt: skip
    return plain_face(name, kind, bearing, tilt, area, **(plain | changes))


def _dark_box(**changes: object) -> r.Resolved:
    faces = [
        _dark("deck", "deck", 0.0, 0.0, 12.0),
        _dark("side", "house", 90.0, 90.0, 28.0),
        _dark("sole", "sole", 0.0, 180.0, 12.0, beyond=r.ADIABATIC),
    ]
    return plain_box(faces, **({"day": STILL} | changes))


def _sensible(box: r.Resolved) -> np.ndarray:
    loads = simulate(box, causes=False)
    return (loads["sensible_cooling"] - loads["heating"]).values


def test_steady_state_by_hand() -> None:
    load = _sensible(_dark_box())
    # Exact: constant drivers, periodic to well below 1e-6 of the load.
    np.testing.assert_allclose(load, (12.0 + 28.0) * U * (35.0 - 24.0), rtol=1e-6)


def test_a_room_that_nobody_holds_breathes_thin_air_on_a_mountain_lake() -> None:
    """By hand: 400 W warm the outdoor air that passes, whose density at 2000 m is a fifth below that at sea.

    Density by psychrolib, specific heat by ASHRAE Fundamentals 2017, ch. 1, eq. 30.
    """
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    faces = [replace(f, beyond=r.ADIABATIC) for f in _dark_box().faces]
    lamp = r.Gain("lamp", "equipment", 400.0, 0.0, 0.0, ALWAYS)
    flow = r.Flow("leak", "infiltration", r.OUTDOORS, "room", 0.02, ALWAYS)
    box = plain_box(
        faces, day=STILL, place=plain_place(altitude=2000.0), flows=(flow,),
        zones=(plain_zone(control=None, gains=(lamp,)),),
    )  # fmt: skip
    loads = simulate(box, causes=False)
    ratio = psychrolib.GetHumRatioFromTDewPoint(10.0, psychrolib.GetStandardAtmPressure(2000.0))
    density = 1.0 / psychrolib.GetMoistAirVolume(35.0, ratio, psychrolib.GetStandardAtmPressure(2000.0))
    warmer = 400.0 / (0.02 * density * (1006.0 + 1860.0 * ratio))
    # Ours takes one specific heat for all air, at 12 g/kg: 0.3 % above that of 9.7 g/kg here, with 0.1 % to spare.
    assert float(loads["air_temperature"].mean()) - 35.0 == pytest.approx(warmer, rel=0.005)


def test_no_sun_no_gains_equal_temperatures_no_load() -> None:
    load = _sensible(_dark_box(day=replace(STILL, dry_bulb_max=24.0, sea=24.0)))
    assert np.abs(load).max() < 1e-9


def test_a_boat_turned_round_swaps_port_and_starboard() -> None:
    starboard = plain_box(windows=(90.0,), place=plain_place(headings=(0.0,)))
    port = plain_box(windows=(270.0,), place=plain_place(headings=(180.0,)))
    one, other = (simulate(box, causes=False) for box in (starboard, port))
    np.testing.assert_allclose(other["sensible_cooling"].values, one["sensible_cooling"].values, rtol=1e-9)
    turned = simulate(plain_box(windows=(90.0,), place=plain_place(headings=(180.0,))), causes=False)
    assert np.abs(turned["sensible_cooling"].values - one["sensible_cooling"].values).max() > 50.0


def test_mirror_latitude_half_a_year_later() -> None:
    """The sun's path mirrors at the equinoxes; what is left is the distance to the sun, which is divided out."""
    import pandas as pd
    import pvlib

    gains = []
    for latitude, date, heading in ((35.0, "2025-03-20", 0.0), (-35.0, "2025-09-22", 180.0)):
        day = plain_day(date=date, month=int(date[5:7]), turbidity=3.0)
        place = plain_place(latitude=latitude, longitude=0.0, timezone="UTC", headings=(heading,))
        loads = simulate(plain_box(windows=(180.0,), place=place, day=day), causes=False)
        beyond = float(pvlib.irradiance.get_extra_radiation(pd.Timestamp(date)))
        gains.append(loads["heat_gain"].sel(path="sun").sum().item() / beyond)
    # Declination differs by 0.1° between these days and the turbidity model sees another air mass at noon by 0.2 %.
    assert gains[1] == pytest.approx(gains[0], rel=0.01)


def test_two_identical_cabins_exchange_nothing() -> None:
    one = _dark_box()
    twin = [replace(face, name=f"twin {face.name}", zone="twin") for face in one.faces]
    shared = _dark("between", "bulkhead", 0.0, 90.0, 6.0, beyond="twin", outside_film=None)
    both = replace(one, zones=(plain_zone(), plain_zone("twin")), faces=(*one.faces, *twin, shared))
    gain = simulate(both)["heat_gain"].sel(path="bulkhead").values
    assert np.abs(gain).max() < 1e-9
    apart = replace(both, zones=(plain_zone(), _set_to(plain_zone("twin"), 20.0)))
    across = simulate(apart)["heat_gain"].sel(path="bulkhead", zone="twin").values
    assert across.min() > 10.0


def _set_to(zone: r.Zone, setpoint: float) -> r.Zone:
    assert zone.control is not None
    course = r.Routine(f"{setpoint:g}", (0,), (setpoint,))
    return replace(zone, control=replace(zone.control, cooling_setpoint=course))


def test_sun_into_a_room_of_nothing_but_glass_leaves_it_again() -> None:
    """No opaque face to land on: what stays is what the glass itself absorbs, less than all that comes through."""
    panes = [plain_face(f"pane {b:g}", "glass", b, 90.0, 6.0) for b in (0.0, 90.0, 180.0, 270.0)]
    loads = simulate(plain_box(panes), step=900.0)
    assert bool(np.isfinite(loads["sensible_cooling"]).all())
    walled = simulate(plain_box([*panes, plain_face("sole", "sole", 0.0, 180.0, 12.0, beyond=r.ADIABATIC)]), step=900.0)
    assert 0.0 < float(loads["sensible_cooling"].sum()) < float(walled["sensible_cooling"].sum())


def test_a_closed_cabin_cools_by_its_time_constants() -> None:
    """Two nodes by hand: air and furnishings, walls without mass; eigenvalues of the 2 × 2 matrix."""
    massless = r.LayUp("massless", (r.Layer("foam", 0.025, 0.035, 0.0, 0.0),))
    faces = [replace(f, lay_up="massless") for f in _dark_box().faces]
    box = _dark_box(day=replace(STILL, dry_bulb_max=24.0), zones=(plain_zone(control=None),))
    box = replace(box, lay_ups=(*box.lay_ups, massless), faces=tuple(faces))
    from heatsim.climate.days import design_weather
    from heatsim.network.airflow import DRY_AIR_DENSITY, MOIST_HEAT
    from heatsim.physics.films import FAN_AIR_CHANGES, forced_inside_convection
    from heatsim.solve.base import Band
    from heatsim.solve.forcing import force
    from heatsim.solve.stepping import advance

    line = make_line(box, (design_weather(box, box.days[0], 900.0),))
    stretch = solve_days(line, np.zeros(1))[0]
    u, number = stretch.heat_u, stretch.number
    forcing = force(line.heat_operators, u[0], u[1], number)
    nothing = Band(*(np.zeros((1, 96, 1)) for _ in range(4)))
    done = advance(line.heat_operators, np.full((1, 2), 34.0), forcing, number, nothing)
    ua = 40.0 / (1.0 / INSIDE + 0.025 / 0.035 + 1.0 / OUTSIDE)
    air, goods = 24.0 * DRY_AIR_DENSITY * MOIST_HEAT, 600e3
    between = 24.0 * float(forced_inside_convection(FAN_AIR_CHANGES, 90.0))
    rates, vectors = np.linalg.eig(
        np.array([[-(ua + between) / air, between / air], [between / goods, -between / goods]])
    )
    expected = 24.0 + vectors @ (np.exp(rates * 86400.0) * np.linalg.solve(vectors, [10.0, 10.0]))
    np.testing.assert_allclose(done.end[0], expected, atol=1e-9)


@pytest.mark.parametrize("thicker", [0.03, 0.05, 0.1])
def test_insulation_never_raises_the_load_of_a_room_colder_than_all_around(thicker: float) -> None:
    sandwich = plain_box().lay_ups[0]
    thick = replace(
        sandwich, layers=(sandwich.layers[0], replace(sandwich.layers[1], thickness=thicker), sandwich.layers[2])
    )
    thin_box = plain_box(day=plain_day(sea=29.0, dry_bulb_max=36.0, daily_range=6.0))
    thin, thick_load = _sensible(thin_box), _sensible(replace(thin_box, lay_ups=(thick,)))
    assert np.all(thick_load.sum(axis=2) <= thin.sum(axis=2) + 1e-9) or thick_load.max() <= thin.max()
    assert thick_load.max() < thin.max()


def test_insulation_raises_the_load_over_water_colder_than_the_room() -> None:
    bottom = _dark("bottom", "bottom", 0.0, 180.0, 12.0, beyond=r.SEA)
    bare = r.LayUp("bare", (r.Layer("laminate", 0.01, 0.3, 0.0, 0.0),))
    loads = []
    for lay_up in ("bare", "foam sandwich"):
        faces = [*_dark_box().faces[:2], replace(bottom, lay_up=lay_up)]
        box = plain_box(faces, day=replace(STILL, sea=15.0))
        loads.append(_sensible(replace(box, lay_ups=(*box.lay_ups, bare))).max())
    assert loads[1] > loads[0] + 50.0


def _three_faces(sea: float, adiabatic: bool) -> float:
    beyond = {"beyond": r.ADIABATIC} if adiabatic else {}
    zone = plain_zone("bilge", is_space=True, control=None, use="bilge", furnishing_capacity=0.0, furnishing_area=0.0)
    faces = [
        _dark("side", "house", 90.0, 90.0, 28.0, **beyond),
        _dark("sole", "sole", 0.0, 180.0, 12.0, beyond="bilge"),
        _dark("bottom", "bottom", 0.0, 180.0, 15.0, zone="bilge", beyond=r.SEA),
        _dark("bilge side", "hull", 90.0, 90.0, 4.0, zone="bilge", **beyond),
    ]
    box = plain_box(faces, zones=(plain_zone(), zone), day=replace(STILL, sea=sea))
    return float(_sensible(box)[..., 0].mean())


def test_a_warmer_sea_moves_the_load_by_the_steady_sensitivity() -> None:
    """One kelvin in the sea: the sole's share of the divider sea–bilge–room, by hand; U·A only when nothing else leaks.

    A film given for a sole's far side holds towards the bilge as it would outdoors.
    """
    sole = 12.0 / (1.0 / INSIDE + SANDWICH + 1.0 / OUTSIDE)
    bottom = 15.0 / (1.0 / INSIDE + SANDWICH + 1.0 / OUTSIDE)
    side = 4.0 / (1.0 / INSIDE + SANDWICH + 1.0 / OUTSIDE)
    moved = _three_faces(28.0, adiabatic=False) - _three_faces(27.0, adiabatic=False)
    assert moved == pytest.approx(sole * bottom / (sole + bottom + side), rel=1e-6)
    alone = _three_faces(28.0, adiabatic=True) - _three_faces(27.0, adiabatic=True)
    assert alone == pytest.approx(1.0 / (1.0 / sole + 1.0 / bottom), rel=1e-6)
