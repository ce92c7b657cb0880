"""The standard test cells built as heatsim scenarios: ANSI/ASHRAE 140 envelope cases, 2001 to 2017 editions.

Everything that changes between cases stands in tests/data/cells.csv, a row a case; what is here holds for all of them.
Definition: ANSI/ASHRAE 140-2014 clause 5.2, recalled from memory; its loss coefficients come out of it (test_cells.py).

Films: the standard gives combined coefficients and lets a program that works films out disregard them. `cell` has the
engine's own films by wind and direction, its radiant nodes and its sky, as every boat has. `given_films` has the
standard's: inside their convective part and the radiant node, outside all of it to the air, the sky within it.
`combined` has all of it to the air on both sides, for the loss coefficient alone.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, fields, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import heatsim
from heatsim.network.airflow import MOIST_HEAT
from heatsim.physics.moist_air import dry_air_density, humidity_ratio_from_dew_point, standard_pressure
from heatsim.scenario.resolved import Resolved

if TYPE_CHECKING:
    import xarray as xr

TABLE = Path(__file__).resolve().parents[1] / "data" / "cells.csv"

LENGTH, DEPTH, SUN_SPACE_DEPTH, HEIGHT, OPENING = 8.0, 6.0, 2.0, 2.7, 12.0
"""[m], [m²] Inside, east-west, north-south of room and of sun space, up; area of the two windows together."""
BEARINGS = {"north": 0, "east": 90, "south": 180, "west": 270}
ALTITUDE = 1609.0
"""[m]"""

INSIDE, OUTSIDE, OUTSIDE_GLASS = 8.29, 29.3, 21.0
"""[W m⁻² K⁻¹] Combined coefficients."""
EMISSIVITY, GLASS_EMISSIVITY = 0.9, 0.84
"""[-] For which the combined coefficients hold."""
LONG_WAVE_INSIDE, LONG_WAVE_OUTSIDE = 4.0 * 5.670374e-8 * 293.15**3, 4.0 * 5.670374e-8 * 283.15**3
"""[W m⁻² K⁻¹] Of black surfaces at 20 and at 10 °C, where the standard splits its coefficients."""
VOLUME_HEAT = 18.440 / (0.5 * LENGTH * DEPTH * HEIGHT / 3600.0)
"""[J m⁻³ K⁻¹] Of the air in the standard's loss coefficient of infiltration, 18.440 W/K at 0.5 air changes."""

Layers = list[tuple[str, float, float, float, float]]
PLASTER, QUILT, SIDING = (0.160, 950.0, 840.0), (0.040, 12.0, 840.0), (0.140, 530.0, 900.0)
BLOCK, FOAM, INSULATION = (0.510, 1400.0, 1000.0), (0.040, 10.0, 1400.0), (0.040, 0.0, 0.0)
TIMBER, SLAB = (0.140, 650.0, 1200.0), (1.130, 1400.0, 1000.0)
"""Conductivity W/(m·K), density kg/m³, specific heat J/(kg·K)."""
PANES = 2.0 * 3.175e-3 / 1.06 + 1.0 / 6.297
"""[m²·K/W] Two panes of 3.175 mm and the gap."""
LAY_UPS: dict[str, Layers] = {
    "light wall": [("plasterboard", 0.012, *PLASTER), ("quilt", 0.066, *QUILT), ("siding", 0.009, *SIDING)],
    "light floor": [("timber", 0.025, *TIMBER), ("insulation", 1.003, *INSULATION)],
    "roof": [("plasterboard", 0.010, *PLASTER), ("quilt", 0.1118, *QUILT), ("deck", 0.019, *SIDING)],
    "heavy wall": [("block", 0.100, *BLOCK), ("foam", 0.0615, *FOAM), ("siding", 0.009, *SIDING)],
    "heavy floor": [("slab", 0.080, *SLAB), ("insulation", 1.007, *INSULATION)],
    "common wall": [("block", 0.200, *BLOCK)],
    "panel": [("panel", PANES, 1.0, 0.0, 0.0)],
}
"""From inside to outside, thickness in m. The panel of the 200 and 400 series conducts like the window."""

ANGLE_TABLE = {
    "angles": [f"{angle} deg" for angle in (0, 10, 20, 30, 40, 50, 60, 70, 80, 85, 90)],
    "transmittance": [0.7466, 0.7459, 0.7437, 0.7388, 0.7283, 0.7047, 0.6474, 0.5072, 0.2422, 0.0946, 0.0],
    "outer_absorptance": [0.0643, 0.0647, 0.0659, 0.0679, 0.0708, 0.0746, 0.0796, 0.0868, 0.0940, 0.0896, 0.0],
    "inner_absorptance": [0.0521, 0.0525, 0.0534, 0.0548, 0.0566, 0.0582, 0.0585, 0.0544, 0.0414, 0.0295, 0.0],
    "diffuse_transmittance": 0.6588,
    "diffuse_outer_absorptance": 0.0745,
    "diffuse_inner_absorptance": 0.0549,
    "back_reflectance": 0.2118,
}
"""Two clear panes: Fresnel and Bouguer with the standard's index 1.526 and extinction 0.0196 per mm."""


@dataclass(frozen=True)
class Generation:
    """What all cases of editions share: weather file, its reader, and the window by a table or by U and g."""

    weather: str
    reader: str
    window: dict[str, Any]


CLEAR_WINDOW = {"resistance": f"{PANES} m2 K/W", "table": ANGLE_TABLE}
GENERATIONS = {
    "2001-2017": Generation("USA_CO_Denver-Stapleton.724690_TMY.epw", "epw", CLEAR_WINDOW),
    # U 2.10 W/(m²·K) with the combined coefficients, solar factor 0.769: from memory, uncertain
    "2020-2023": Generation(
        "725650TYA.CSV", "tmy3",
        {"resistance": f"{1 / 2.10 - 1 / OUTSIDE_GLASS - 1 / INSIDE} m2 K/W", "g_value": 0.769, "panes": 2},
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Case:
    """A row of the table."""

    case: str
    zones: int
    mass: str
    windows: str
    opening: str
    overhang_m: float
    fins_m: float
    heating_celsius: float
    heating_night_celsius: float
    cooling_celsius: float
    plant: str
    night_air_m3_per_h: float
    infiltration_per_h: float
    gain_watt: float
    emissivity_in: float
    emissivity_out: float
    absorptance_in: float
    absorptance_out: float


@cache
def cases() -> dict[str, Case]:
    """All rows by their number."""
    kinds = {"str": str, "int": int, "float": float}
    with TABLE.open(encoding="utf-8") as file:
        rows = [{f.name: kinds[str(f.type)](row[f.name]) for f in fields(Case)} for row in csv.DictReader(file)]
    return {row["case"]: Case(**row) for row in rows}  # type: ignore[arg-type]


def cell(case: Case, folder: Path | None, generation: str = "2001-2017") -> Resolved:
    """A case over the weather year of its generation, or, without a folder, over a still 10 °C where no sun rises."""
    weather = GENERATIONS[generation]
    place = {
        "name": "the cell", "latitude": "39.8 deg", "longitude": "-104.9 deg", "altitude": f"{ALTITUDE} m",
        "timezone": "Etc/GMT+7", "berth": "yard", "heading": "0 deg", "ground_reflectance": 0.2,
    }  # fmt: skip
    climate: dict[str, Any] = {"shelter": 1.0, "sea_by_month": ["10 degC"] * 12, "reader": weather.reader}
    if folder is None:
        place |= {"latitude": "88 deg", "month": 12}
        climate = {"days": ["hot"], "hot": {"dry_bulb_max": "10 degC", "daily_range": "0 K", "dew_point": "-20 degC"}}
    else:
        climate["weather_file"] = str(folder / weather.weather)
    emissivities = {"outside_emissivity": GLASS_EMISSIVITY, "inside_emissivity": GLASS_EMISSIVITY}
    text = {
        "format": 1,
        "yacht": {"name": f"test cell {case.case}", "length": "8 m", "persons": 0},
        "place": place,
        "climate": climate,
        "lay_ups": {name: {"layers": [_layer(*one) for one in layers]} for name, layers in LAY_UPS.items()},
        "glazings": {"window": {**weather.window, **emissivities}},
        "zones": _zones(case),
        "flows": _night_air(case),
    }
    resolved = heatsim.resolve(heatsim.Scenario.model_validate(text))
    lit = tuple(replace(face, sun_share=float(face.tilt == 180.0)) for face in resolved.faces)
    return replace(resolved, faces=lit)  # all sun meets the floor first, as the standard has it


def given_films(resolved: Resolved, case: Case) -> Resolved:
    """The standard's combined coefficients outside, the sky within them, and their convective part inside."""
    faces = []
    for face in resolved.faces:
        glass = face.kind == "glass"
        inside = INSIDE - (GLASS_EMISSIVITY if glass else EMISSIVITY) * LONG_WAVE_INSIDE
        opaque = OUTSIDE + (case.emissivity_out - EMISSIVITY) * LONG_WAVE_OUTSIDE
        outside = None if face.beyond != "outdoors" else OUTSIDE_GLASS if glass else opaque
        faces.append(replace(face, inside_film=inside, outside_film=outside, emissivity=0.0))
    return replace(resolved, faces=tuple(faces))


def combined(resolved: Resolved) -> Resolved:
    """Combined coefficients to the air on both sides, no long-wave exchange, the standard's air: for one check only."""
    pressure = float(standard_pressure(ALTITUDE))
    thin = float(dry_air_density(10.0, humidity_ratio_from_dew_point(-20.0, pressure), pressure)) * MOIST_HEAT
    faces = tuple(
        replace(
            face, inside_film=INSIDE, outside_film=OUTSIDE_GLASS if face.kind == "glass" else OUTSIDE,
            emissivity=0.0, inside_emissivity=0.0,
        )
        for face in resolved.faces
    )  # fmt: skip
    glazings = tuple(replace(g, outside_emissivity=0.0, inside_emissivity=0.0) for g in resolved.glazings)
    flows = tuple(replace(flow, rate=flow.rate * VOLUME_HEAT / thin) for flow in resolved.flows)
    return replace(resolved, faces=faces, glazings=glazings, flows=flows)


@cache
def year(number: str, folder: Path, generation: str = "2001-2017", given: bool = False) -> xr.Dataset:
    """Loads of a case over its year, with the engine's own films or the standard's."""
    case = cases()[number]
    resolved = cell(case, folder, generation)
    return heatsim.simulate(given_films(resolved, case) if given else resolved).isel(heading=0)


def figures(loads: xr.Dataset) -> dict[tuple[str, str], float]:
    """What the standard reports, by zone and quantity: MWh, kW and °C."""
    out = {}
    for zone in loads["zone"].values.tolist():
        one = loads.sel(zone=zone)
        heating, cooling, air = (one[v].values for v in ("heating", "sensible_cooling", "air_temperature"))
        numbers = (heating.sum() / 1e6, cooling.sum() / 1e6, heating.max() / 1e3, cooling.max() / 1e3,
                   air.max(), air.min(), air.mean())  # fmt: skip
        out |= {(zone, quantity): float(number) for quantity, number in zip(QUANTITIES, numbers, strict=True)}
    return out


QUANTITIES = {
    "heating": "MWh", "cooling": "MWh", "peak heating": "kW", "peak cooling": "kW",
    "highest temperature": "°C", "lowest temperature": "°C", "mean temperature": "°C",
}  # fmt: skip
"""Quantities and their units."""


def _layer(material: str, thickness: float, conductivity: float, density: float, heat: float) -> dict[str, str]:
    if not density:
        return {"resistance": f"{thickness / conductivity} m2 K/W"}
    return {
        "material": material, "thickness": f"{thickness} m", "conductivity": f"{conductivity} W/(m K)",
        "density": f"{density} kg/m3", "specific_heat": f"{heat} J/(kg K)",
    }  # fmt: skip


def _zones(case: Case) -> dict[str, Any]:
    if case.zones == 1:
        return {"room": {**_room(case, DEPTH), **_plant(case), "faces": _box(case, DEPTH, tuple(BEARINGS))}}
    sun = replace(case, mass="heavy", gain_watt=0.0)
    common = {
        "kind": "bulkhead", "name": "common wall", "beyond": "room", "area": f"{LENGTH * HEIGHT} m2",
        "lay_up": "common wall", **_inside(case),
    }  # fmt: skip
    back = _box(replace(case, windows="none"), DEPTH, ("north", "east", "west"))
    front = [*_box(sun, SUN_SPACE_DEPTH, ("east", "south", "west")), common]
    return {
        "room": {**_room(case, DEPTH), **_plant(case), "faces": back},
        "sun space": {**_room(sun, SUN_SPACE_DEPTH), "conditioned": False, "faces": front},
    }


def _room(case: Case, depth: float) -> dict[str, Any]:
    return {
        "use": "cabin", "deck": "main", "floor_area": f"{LENGTH * depth} m2", "height": f"{HEIGHT} m",
        "infiltration": f"{case.infiltration_per_h} 1/h", "fresh_air": "0 m3/h", "furnishing_capacity": "0 kJ/(m2 K)",
        "humidity_limit": "none", "people": [], "lights": {"power": "0 W"}, "fan": 0,
        "equipment": [{"name": "gain", "power": f"{case.gain_watt} W", "radiant_share": 0.6, "latent_share": 0}],
    }  # fmt: skip


def _plant(case: Case) -> dict[str, Any]:
    if case.plant == "free":
        return {"conditioned": False}
    night, day = f"{case.heating_night_celsius} degC", f"{case.heating_celsius} degC"
    by_day = case.plant == "cooled by day"
    return {
        "setpoint": f"{case.cooling_celsius} degC", "controlled": "air",
        "heating_setpoint": {"23:00-07:00": night, "07:00-23:00": day},
        "cooling": {"07:00-18:00": 1} if by_day else 1, "heating": 0 if by_day else 1,
    }  # fmt: skip


def _night_air(case: Case) -> list[dict[str, Any]]:
    if not case.night_air_m3_per_h:
        return []
    rate, when = f"{case.night_air_m3_per_h} m3/h", {"18:00-07:00": 1}
    return [{"name": "night air", "source": "outdoors", "target": "room", "rate": rate, "routine": when}]


def _box(case: Case, depth: float, sides: tuple[str, ...]) -> list[dict[str, Any]]:
    """Roof, floor and the walls of a box, with what fills the openings."""
    flat, shell = f"{LENGTH * depth} m2", {**_inside(case), **_outside(case)}
    floor = {"kind": "hull", "name": "floor", "area": flat, "tilt": "180 deg", "side": "bow", **shell}
    faces: list[dict[str, Any]] = [
        {"kind": "deck", "name": "roof", "area": flat, "tilt": "0 deg", "lay_up": "roof", **shell},
        {**floor, "lay_up": f"{case.mass} floor", "absorptance": 0.0},
    ]
    open_sides = [side for side in sides if side in case.windows]
    for side in sides:
        gross = (LENGTH if side in ("north", "south") else depth) * HEIGHT
        hole = OPENING / len(open_sides) if side in open_sides and case.opening != "wall" else 0.0
        wall: dict[str, Any] = {"kind": "house", "bearing": f"{BEARINGS[side]} deg", **shell}
        if case.overhang_m and not case.fins_m and side == "south":
            wall["shade"] = {"height": f"{HEIGHT} m", "width": f"{LENGTH} m", "overhang": f"{case.overhang_m} m"}
        faces.append({**wall, "name": side, "area": f"{gross - hole} m2", "lay_up": f"{case.mass} wall"})
        if hole and case.opening == "panel":
            faces.append({**wall, "name": f"{side} panel", "area": f"{hole} m2", "lay_up": "panel"})
        elif hole:
            faces.append(_window(case, side, hole))
    return faces


def _window(case: Case, side: str, area: float) -> dict[str, Any]:
    """Both windows of a side as one face; shaded like each of them, 3 m wide, 2 m high, 0.5 m below the roof."""
    glass: dict[str, Any] = {
        "kind": "glass", "name": f"{side} window", "bearing": f"{BEARINGS[side]} deg", "area": f"{area} m2",
        "glazing": "window", "foreground": {"quay": 1.0}, "emissivity": GLASS_EMISSIVITY,
    }  # fmt: skip
    if case.overhang_m or case.fins_m:
        glass["shade"] = {
            "height": "2 m", "width": "3 m", "overhang": f"{case.overhang_m} m", "overhang_gap": "0.5 m",
            "fin_left": f"{case.fins_m} m", "fin_right": f"{case.fins_m} m",
        }  # fmt: skip
    return glass


def _inside(case: Case) -> dict[str, Any]:
    return {"inside_emissivity": case.emissivity_in, "inside_absorptance": case.absorptance_in}


def _outside(case: Case) -> dict[str, Any]:
    return {"absorptance": case.absorptance_out, "emissivity": case.emissivity_out, "foreground": {"quay": 1.0}}
