"""Random valid boats of at most six zones, with what breaks solvers: doors, rings of air, awnings, limits, setpoints.

The properties are the data set's own contract (identities to 1e-9 of the peak) and plain sense (no NaN, a held zone
lies in its band, the order of zones in a file means nothing). A boat that fails is kept as a scenario file.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

import heatsim
from heatsim.climate.days import design_weather
from heatsim.errors import HeatsimError
from heatsim.loads.line import Line, Stretch, bands, make_line, solve_days
from heatsim.scenario.reading import read_text
from heatsim.solve.base import Mode
from heatsim.solve.readout import mean_rows, read_off

Boat = dict[str, Any]
STEP = 900.0
"""[s] Coarse, so that an example takes less than a second; the properties do not depend on it."""
CLOSED = 1e-9
HELD = 1e-6
"""[K] Ten times the solver's own tolerance on what a thermostat reads."""
FLOATING = 0.5
"""[K] A floating zone begins and ends its step within its band; a room without joinery dips by tenths in between."""
DRY = 1e-3 / 2.501e6
"""[kg/s] One milliwatt of latent heat: a zone that gains less sees the round-off of what passes its door both ways."""
SAME = 1e-6
"""[of the peak] Round-off of sums in another order, carried through some days until periodic."""
ROUTINES = ["always", "night", "daylight", {"06:00-12:00": 1}]

settings.register_profile("ci", derandomize=True)
settings.register_profile("here", derandomize=False)
settings.load_profile("ci" if os.environ.get("CI") else "here")


def _some(*values: Any) -> st.SearchStrategy[Any]:
    return st.sampled_from(values)


def _number(low: float, high: float, unit: str) -> st.SearchStrategy[str]:
    return st.floats(low, high).map(lambda value: f"{value:.3g} {unit}")


QUICK = st.fixed_dictionaries(
    {"deck": _some("lower", "main", "upper"), "length": _number(1, 8, "m"), "beam": _number(1, 5, "m"),
     "height": _number(1.8, 2.4, "m")},
    optional={"glass_share": _number(0.01, 0.6, ""), "sides": _some(["port"], ["bow", "port", "starboard"], []),
              "awning": st.just("tent")},
).map(lambda quick: {k: float(v) if k == "glass_share" else v for k, v in quick.items()})  # fmt: skip
SIDE = _some("bow", "starboard", "stern", "port")
FACES = st.lists(
    st.one_of(
        st.fixed_dictionaries({"kind": _some("house", "hull"), "side": SIDE, "area": _number(0.5, 20, "m2")},
                              optional={"colour": _some("black", "white", "bare aluminium")}),
        st.fixed_dictionaries({"kind": st.just("deck"), "area": _number(0.5, 40, "m2")},
                              optional={"awning": st.just("tent"), "lay_up": st.just("teak on cored deck")}),
        st.fixed_dictionaries(
            {"kind": st.just("glass"), "side": SIDE, "area": _number(0.1, 8, "m2")},
            optional={"tilt": _number(20, 120, "deg"), "glazing": _some("dark privacy 10 mm", "double clear 6-12-6"),
                      "blind": st.just({"kind": "light roller", "closed": "daylight"})},
        ),
        st.fixed_dictionaries({"kind": st.just("bottom"), "area": _number(0.5, 20, "m2")}),
        st.fixed_dictionaries({"kind": st.just("sole"), "area": _number(0.5, 20, "m2"),
                               "beyond": _some("adiabatic", "engine space")}),
    ),
    min_size=1, max_size=6,
)  # fmt: skip
FITTINGS = st.fixed_dictionaries(
    {},
    optional={
        "use": _some("cabin", "saloon", "galley", "wheelhouse", "head"),
        "setpoint": _some("24 degC", "20 degC", {"00:00-08:00": "22 degC", "08:00-24:00": "26 degC"}),
        "heating_setpoint": _some("15 degC", "19.5 degC"),
        "controlled": _some("air", "operative"),
        "cooling_limit": _number(50, 3000, "W"),
        "heating_limit": _number(50, 3000, "W"),
        "humidity_limit": _some("none", "50 %", "65 %"),
        "dehumidifying_limit": _number(10, 500, "W"),
        "cooling": _some(*ROUTINES),
        "fan": _some(*ROUTINES),
        "fresh_air": _number(0, 200, "m3/h"),
        "infiltration": _number(0, 3, "1/h"),
        "conditioned": _some(True, False),
        "furnishing_capacity": _some("0 kJ/(K m2)", "60 kJ/(K m2)"),
    },
)


@st.composite
def boats(draw: Callable[[st.SearchStrategy[Any]], Any]) -> Boat:
    """Content of a sound scenario file."""
    names = [f"zone {i + 1}" for i in range(draw(st.integers(1, 6)))]
    zones: Boat = {}
    for i, name in enumerate(names):
        zone = draw(FITTINGS)
        if draw(st.booleans()):
            zone["quick"] = draw(QUICK)
        else:
            zone |= {"floor_area": draw(_number(1, 30, "m2")), "height": "2 m", "faces": draw(FACES)}
            if i and draw(st.booleans()):
                zone["faces"] += [{"kind": "bulkhead", "area": draw(_number(1, 15, "m2")), "beyond": names[i - 1]}]
        zones[name] = zone
    ends = st.lists(st.sampled_from([*names, "outdoors"]), min_size=2, max_size=2, unique=True)
    pairs = draw(st.lists(ends, max_size=3))
    flows = [
        {"name": f"flow {i}", "source": a, "target": b, "rate": draw(_number(1, 300, "m3/h"))}
        for i, (a, b) in enumerate(pairs)
    ]
    doors = [
        {"kind": "door", "name": f"door {i}", "first": a, "second": b, "width": "0.6 m", "height": "1.9 m",
         "open": draw(_some(0.05, 1.0, {"08:00-20:00": 0.5}))}
        for i, (a, b) in enumerate([pair for pair in draw(st.lists(ends, max_size=2, unique_by=frozenset))])
    ]  # fmt: skip
    return {
        "format": 1,
        "yacht": {"name": "Random", "length": "15 m", "persons": draw(st.integers(0, 12)),
                  "material": draw(_some("cored GRP", "solid GRP", "timber"))},
        "place": {"region": draw(_some("CYC", "ANU", "DXB")), "month": draw(st.integers(1, 12)),
                  "berth": draw(_some("alongside", "anchor")), "heading": draw(_number(0, 359, "deg"))},
        "climate": {"days": [draw(_some("hot", "humid", "typical"))]},
        "awnings": {"tent": {"fabric": draw(_some("white canvas", "mesh")), "gap": draw(_some("open", "closed")),
                             "set": {"09:00-18:00": 1}}},
        "zones": zones,
        "spaces": {"engine space": {"use": "engine space", "temperature": "45 degC"}},
        "flows": flows,
        "openings": doors,
    }  # fmt: skip


def _file(boat: Boat) -> str:
    """JSON is YAML."""
    return json.dumps(boat, indent=1)


def _run(boat: Boat, causes: bool = True) -> xr.Dataset:
    return heatsim.simulate(heatsim.resolve(read_text(_file(boat))), step=STEP, causes=causes)


def _kept(boat: Boat, folder: Path, judge: Callable[[Boat], None]) -> None:
    """Judge a boat; one that fails is written to `failed-boats` and named in the message."""
    try:
        judge(boat)
    except Exception as error:
        if isinstance(error, HeatsimError) and "must have a way for heat to leave" in str(error):
            reject()  # such a boat has no periodic day; it is refused by name, as it should be
        text = _file(boat)
        file = folder / "failed-boats" / f"{hashlib.sha256(text.encode()).hexdigest()[:12]}.yaml"
        file.parent.mkdir(exist_ok=True)
        file.write_text(text, encoding="utf-8")
        raise AssertionError(f"{error}\nthe boat is kept as {file}") from error


def _judge(boat: Boat) -> None:
    loads = _run(boat)
    _no_nan(loads)
    _closed(loads)
    _in_band(boat)
    order = list(reversed(boat["zones"]))
    _same(loads, _run(boat | {"zones": {name: boat["zones"][name] for name in order}}, causes=False))


def _no_nan(loads: xr.Dataset) -> None:
    for name in loads.data_vars:
        if name != "face_temperature":  # faces that nothing simulated stands on have none
            assert bool(np.isfinite(loads[name]).all()), f"{name} is not finite"


def _closed(loads: xr.Dataset) -> None:
    assert float(loads["energy_residual"].max()) < CLOSED
    load = loads["sensible_cooling"] - loads["heating"]
    peak = np.maximum(np.abs(loads["heat_gain"]).max(("day", "heading", "time", "path")), 1e-3)
    assert float((np.abs(loads["heat_gain"].sum("path") - load) / peak).max()) < CLOSED
    if float(loads["at_limit"].max()) == 0.0:
        cooled = loads["conditioned"].values
        off = np.abs(loads["load_by_cause"].sum("cause") - load) / peak
        assert float(off.values[..., cooled].max(initial=0.0)) < CLOSED
    wet = np.abs(loads["moisture_gain"].sum("source") - loads["moisture_removed"])
    most = np.maximum(np.abs(loads["moisture_gain"]).max(("day", "heading", "time", "source")), DRY)
    assert float((wet / most).max()) < CLOSED


def _in_band(boat: Boat) -> None:
    """What each thermostat reads, on the mean of every step in which its zone is neither limited nor entering."""
    resolved = heatsim.resolve(read_text(_file(boat)))
    line = make_line(resolved, (design_weather(resolved, resolved.days[0], STEP),))
    stretch = solve_days(line, np.array(resolved.place.headings))[0]
    read = _thermostats(line, stretch)
    band, _ = bands(line, stretch.weather)
    mode = stretch.heat.mode
    free = ~stretch.heat.entering & (mode < Mode.LIMIT_COOL) & (band.cool_limit > 0.0) & (band.heat_limit > 0.0)
    off = np.maximum(read - band.cool, band.heat - read)
    # Sun and lights that jump at a step's edge may put a zone outside its band before it floats back in.
    began = stretch.heat.reading
    free &= (mode != Mode.FLOAT) | ((began <= band.cool + HELD) & (began >= band.heat - HELD))
    for mode_, allowed in ((Mode.HOLD_COOL, HELD), (Mode.HOLD_HEAT, HELD), (Mode.FLOAT, FLOATING)):
        most = float(off[free & (mode == mode_)].max(initial=-1.0))
        assert most <= allowed, f"a zone lies {most:.3g} K outside its band: {mode_.name}"


def _thermostats(line: Line, stretch: Stretch) -> np.ndarray:
    nothing = np.zeros((len(line.zones), len(line.heat.drivers)))
    rows = tuple(mean_rows(op, line.heat.controlled, nothing) for op in line.heat_operators.regimes)
    u = stretch.heat_u
    return read_off(line.heat_operators, rows, stretch.heat, u[0], u[1], stretch.number)


def _same(first: xr.Dataset, second: xr.Dataset) -> None:
    second = second.sel(zone=first["zone"].values)
    for name in ("sensible_cooling", "heating", "latent_cooling", "air_temperature"):
        a, b = first[name].values, second[name].values
        assert np.abs(a - b).max() <= SAME * max(np.abs(a).max(), 1.0), f"{name} depends on the order of zones"


@settings(
    max_examples=int(os.environ.get("HEATSIM_BOATS", "25")),
    deadline=None,
    database=None,
    suppress_health_check=list(HealthCheck),
)
@given(boat=boats())
def test_random_boats(boat: Boat, tmp_path_factory: pytest.TempPathFactory) -> None:
    _kept(boat, tmp_path_factory.getbasetemp(), _judge)


PLAIN: Boat = {
    "format": 1,
    "yacht": {"name": "Random", "length": "9 m"},
    "place": {"region": "CYC", "month": 8},
    "climate": {"days": ["hot"]},
    "zones": {"a": {"quick": {"deck": "main", "length": "3 m", "beam": "2 m", "height": "2 m"}}},
}


def test_a_failing_boat_is_kept(tmp_path: Path) -> None:
    def fails(_: Boat) -> None:
        raise AssertionError("wrong")

    with pytest.raises(AssertionError, match=r"wrong\nthe boat is kept as .*failed-boats"):
        _kept(PLAIN, tmp_path, fails)
    (file,) = (tmp_path / "failed-boats").iterdir()
    assert heatsim.read(file) == read_text(_file(PLAIN))


def test_the_judges_reject(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each property finds a data set that breaks it."""
    loads = _run(PLAIN)
    _no_nan(loads)
    _closed(loads)
    _in_band(PLAIN)
    for judge, wrong in (
        (_no_nan, loads.assign(mode=loads["mode"] * np.nan)),
        (_closed, loads.assign(sensible_cooling=loads["sensible_cooling"] * (1.0 + 1e-8))),
        (_closed, loads.assign(load_by_cause=loads["load_by_cause"] * (1.0 + 1e-8))),
        (lambda data: _same(loads, data), loads.assign(sensible_cooling=loads["sensible_cooling"] * (1.0 + 1e-5))),
    ):
        with pytest.raises(AssertionError):
            judge(wrong)
    warmer = _thermostats
    monkeypatch.setitem(globals(), "_thermostats", lambda *given: warmer(*given) + 1e-3)
    with pytest.raises(AssertionError, match="outside its band"):
        _in_band(PLAIN)
