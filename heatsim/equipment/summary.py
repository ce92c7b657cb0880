"""What a proof says: per zone, per unit and for the boat, as one data set, and the cautions that belong to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from heatsim.equipment.baked import DesignDays, controls
from heatsim.equipment.chilled import PIPE_GAIN
from heatsim.equipment.holding import HEAT_STRESS, HEAT_STRESS_AT_ONCE
from heatsim.equipment.layouts import NO_THERMOSTAT, TOO_COARSE, TOO_SMALL
from heatsim.equipment.record import BAKED, COAST, FULL, SETTLED, Record, Run
from heatsim.equipment.running import Fleet
from heatsim.equipment.thermostat import Thermostat
from heatsim.errors import Finding
from heatsim.physics.moist_air import relative_humidity

if TYPE_CHECKING:
    import xarray as xr

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

FUEL = 0.3
"""[L/kWh] Of a generator (common practice, no source: 0.27–0.4)."""
DAMP = (0.60, 0.65, 0.70)
"""[-] Relative humidity above which hours are counted."""
MOULD = 0.80
"""[-] At an inside skin, above which mould may grow if it lasts: EN ISO 13788:2012, 5.3 (from memory)."""
WARM = 27.0
"""[°C] Operative temperature that a coasting zone may reach: EN 16798-1, people at rest in summer, category III (from
memory)."""
HOLDS = 1.5
"""[K] Above its setpoint on the mean of an hour up to which a zone counts as held: ISO 7730:2005, table A.5, category
B, people at rest in summer (from memory)."""
WHY = {
    TOO_SMALL: "its units run at full through whole hours and do not bring it down: too little capacity",
    TOO_COARSE: "its unit has capacity left but starts and stops too coarsely: a smaller or variable one holds closer",
    NO_THERMOSTAT: "no thermostat hangs there: it gets its share of what another zone asks for",
}
NO_SOURCE = "common practice, no source"
DANGEROUS = f"{HEAT_STRESS:.0f} °C for an hour, {HEAT_STRESS_AT_ONCE:.0f} °C at all"
OFF = {
    BAKED: "shut and off until the afternoon these rooms are dangerously hot, first for children, the old and the "
    "sick: nobody should stay there before they are pulled down",
    COAST: "with everything switched off in the evening these rooms become dangerously hot by the next day, first for "
    "children, the old and the sick: nobody should stay there then",
}
"""What is said of rooms that are hot because she is off, by the start of the run."""
WHOLE = 0.95
"""[-] Mean stage of an hour from which a unit counts as running through it."""
KWH = 3.6e6
"""[J/kWh]"""

VARIABLES: dict[str, tuple[tuple[str, ...], str, str]] = {
    "air_temperature": (("run", "time", "zone"), "degC", "air"),
    "operative_temperature": (("run", "time", "zone"), "degC", "mean of air and radiant temperature"),
    "relative_humidity": (("run", "time", "zone"), "1", "of the air, 1 where it is a fog"),
    "power": (("run", "time"), "W", "compressors, fans, chillers, and sea water pumps where their power is given"),
    "current": (("run", "time"), "A", "of all units"),
    "stage": (("unit", "time"), "1", "of full capacity that the unit runs at"),
    "highest_air": (("run", "zone"), "degC", "highest air temperature"),
    "highest_operative": (("run", "zone"), "degC", "highest operative temperature, mean over an hour"),
    "above_setpoint": (("run", "zone"), "K", "farthest above its setpoint, mean over an hour while switched on"),
    "too_small": (("run", "zone"), "K", "the same in hours through which all its units run at full"),
    "degree_hours": (("run", "zone"), "K h", "above setpoint while switched on"),
    "hours_above_60": (("run", "zone"), "h", "of relative humidity above 60 %"),
    "hours_above_65": (("run", "zone"), "h", "of relative humidity above 65 %"),
    "hours_above_70": (("run", "zone"), "h", "of relative humidity above 70 %"),
    "hours_skin_above_80": (("run", "zone"), "h", "of relative humidity above 80 % at the coldest inside skin"),
    "float_temperature": (("run", "zone"), "degC", "highest hourly air temperature on full capacity"),
    "pull_down": (("run", "zone"), "h", "until the setpoint is reached, half a dead band above it at most"),
    "pull_down_humidity": (("run", "zone"), "h", "until it has been reached and relative humidity is down to 60 %"),
    "coast_down": (("run", "zone"), "h", "after everything is switched off until 27 °C operative"),
    "sensible_removed": (("run", "zone"), "kWh", "sensible heat that equipment takes from the zone, fan and ducts off"),
    "vapour_removed": (("run", "zone"), "kg", "vapour that equipment takes from the zone"),
    "cycles": (("run", "zone"), "1/h", "starts of the zone's unit, the most of several"),
    "run_fraction": (("run", "zone"), "1", "of the day that the zone's unit runs, mean of several"),
    "unit_cycles": (("unit",), "1/h", "starts"),
    "unit_run_fraction": (("unit",), "1", "of the day that it runs"),
    "latent_ratio": (("unit",), "1", "drying over what comes onto the coil: what re-evaporation leaves of it"),
    "halts": (("unit",), "1", "stops by high pressure or by ice"),
    "energy": (("run",), "kWh", "electrical, of the day"),
    "fuel": (("run",), "L", "of a generator for it"),
    "peak_current": (("run",), "A", "largest of all units running"),
    "peak_start_current": (("run",), "A", "largest with one unit starting on top"),
    "condensate": (("run",), "L", "drained"),
    "plant_cycles": (("run",), "1/h", "starts of chillers"),
    "loop_swing": (("run",), "K", "farthest that the chilled water leaves the middle of its swing"),
    "heat_to_sea": (("run",), "kWh", "given to the sea water"),
    "energy_residual": (("run",), "1", "of the heat to the sea, what its parts do not explain"),
    "moisture_residual": (("run",), "1", "of the vapour removed, what was neither drained nor held"),
}
"""Every variable: dimensions, unit and meaning."""


def summary(
    days: DesignDays, runs: list[Run], units: Fleet, record: Record, which: Indices, step: float, thermostat: Thermostat
) -> xr.Dataset:
    """One data set of a proof; only zones with equipment of their own are in it, those with a thermostat.

    Returns
    -------
    Dataset
        `VARIABLES`, over each run's day that counts.
    """
    import xarray as xr

    zones = {zone.name: zone for zone in days.resolved.zones}
    kept = [i for i, name in enumerate(days.line.zones) if zones[name].control is not None]
    names = [days.line.zones[i] for i in kept]
    values = {
        **_by_zone(days, runs, record, kept, step, thermostat),
        **_by_unit(units, record, step),
        **_by_boat(runs, units, record),
        "sensible_removed": -record.heat[:, kept] / KWH,
        "vapour_removed": -record.vapour[:, kept],
    }
    values |= _of_zones(units, values, kept)
    variables = {
        name: (dims, values[name], {"units": unit, "long_name": meaning})
        for name, (dims, unit, meaning) in VARIABLES.items()
    }
    coordinates: dict[str, Any] = {
        "layout": ("run", [run.layout for run in runs]),
        "day": ("run", [run.day for run in runs]),
        "start": ("run", [run.start for run in runs]),
        "start_minute": ("run", [(run.first + run.counted) % days.steps * step / 60.0 for run in runs]),
        "time": ("time", np.arange(days.steps) * step / 60.0, {"units": "min"}),
        "zone": ("zone", names),
        "occupied": ("zone", [any(people.count > 0.0 for people in zones[name].people) for name in names]),
        "unit_run": ("unit", units.run),
        "model": ("unit", [units.kinds[kind].unit.model for kind in units.kind]),
        "group": ("unit", list(units.groups)),
        "sensor": ("unit", [days.line.zones[zone] for zone in units.sensor]),
    }
    return xr.Dataset(variables, coordinates, {"step": step, "dead_band": thermostat.dead_band})


def _by_zone(
    days: DesignDays, runs: list[Run], record: Record, kept: list[int], step: float, thermostat: Thermostat
) -> dict[str, Array]:
    air, operative, read = record.air[..., kept], record.operative[..., kept], record.reading[..., kept]
    humidity = relative_humidity(air, record.humidity_ratio[..., kept], days.weathers[0].pressure)
    at_skin = relative_humidity(
        record.coldest_skin[..., kept], record.humidity_ratio[..., kept], days.weathers[0].pressure
    )
    setpoint, allowed = controls(days)
    clock = (np.array([run.first + run.counted for run in runs])[:, None] + np.arange(days.steps)) % days.steps
    goal, on = setpoint[clock][..., kept], allowed[clock][..., kept]
    full = np.array([run.start == FULL for run in runs])[:, None]
    coasts = np.array([run.start == COAST for run in runs])[:, None]
    on = on & ~coasts[:, None]
    over = np.where(on, read - goal, 0.0)
    hours = {
        f"hours_above_{round(100 * limit)}": (humidity > limit).sum(axis=1) * step / 3600.0 for limit in DAMP
    }  # fmt: skip
    cool, dry = on & (over <= 0.5 * thermostat.dead_band), humidity <= DAMP[0]
    pulled = np.array([run.start == BAKED for run in runs])[:, None]
    return {
        "air_temperature": air,
        "operative_temperature": operative,
        "relative_humidity": np.minimum(humidity, 1.0),
        "highest_air": air.max(axis=1),
        "highest_operative": _hourly(operative, step).max(axis=1),
        "hourly_over": _hourly(over, step),
        "above_setpoint": np.maximum(_hourly(over, step).max(axis=1), 0.0),
        "degree_hours": np.maximum(over, 0.0).sum(axis=1) * step / 3600.0,
        "float_temperature": np.where(full, _hourly(air, step).max(axis=1), np.nan),
        "pull_down": np.where(pulled, _first(cool, step), np.nan),
        "pull_down_humidity": np.where(pulled, _first(np.logical_or.accumulate(cool, 1) & dry, step), np.nan),
        "coast_down": np.where(coasts, _first(operative >= WARM, step), np.nan),
        "hours_skin_above_80": (at_skin > MOULD).sum(axis=1) * step / 3600.0,
        **hours,
    }


def _hourly(values: Array, step: float) -> Array:
    """Means of whole hours of (run, step, zone)."""
    runs, steps, zones = values.shape
    return np.asarray(values.reshape(runs, -1, round(3600.0 / step), zones).mean(axis=2)) if steps else values


def _first(reached: npt.NDArray[np.bool_], step: float) -> Array:
    """Hours until something is first so, NaN where it never is, (run, zone)."""
    return np.where(reached.any(axis=1), reached.argmax(axis=1) * step / 3600.0, np.nan)


def _by_unit(units: Fleet, record: Record, step: float) -> dict[str, Array]:
    s, day = record.units, record.stage.shape[1] * step
    starts, halts = s["started"] / step, s["stopped_by_itself"] / step
    return {
        "stage": record.stage,
        "unit_cycles": starts / day * 3600.0,
        "unit_run_fraction": s["running"] / day,
        "latent_ratio": s["moisture"] / np.where(s["condensed"] > 0.0, s["condensed"], np.nan),
        "halts": halts,
    }


def _by_boat(runs: list[Run], units: Fleet, record: Record) -> dict[str, Array]:
    s, count = record.units, len(runs)

    def boat(values: Array) -> Array:
        return np.asarray(np.bincount(units.run, values, count), dtype=float)

    fresh, coils = record.fresh, boat(s["coil"]) + record.fresh["coil"]
    chilled = np.isfinite(units.plant)
    to_sea = np.where(chilled, record.plant[1], coils) + boat(s["compressor"]) + record.plant[0] + record.sea_pump
    plant = np.where(chilled, PIPE_GAIN * coils - (record.loop[1] - record.loop[0]), 0.0) + record.plant[0]
    held = record.stored[1] - record.stored[0]
    removed, drained = -record.vapour.sum(axis=1), boat(s["drained"]) + fresh["drained"]
    rooms = -record.heat.sum(axis=1) + boat(s["vapour_heat"]) + fresh["vapour_heat"]
    fans, gone = boat(s["fan"]) + fresh["fan"], boat(s["drained_heat"] + held[1]) + fresh["drained_heat"]
    parts = rooms + fans + boat(s["duct"] + s["compressor"]) - gone + plant + record.sea_pump
    energy = (boat(s["compressor"]) + fans + record.plant[0] + record.sea_pump) / KWH
    return {
        "power": record.power,
        "current": record.current,
        "energy": energy,
        "fuel": FUEL * energy,
        "peak_current": record.current.max(axis=1),
        "peak_start_current": record.start_current.max(axis=1),
        "condensate": drained,
        "plant_cycles": np.where(chilled, record.plant_starts / 24.0, np.nan),
        "loop_swing": np.where(chilled, record.warmest, np.nan),
        "heat_to_sea": to_sea / KWH,
        "energy_residual": np.abs(to_sea - parts) / np.maximum(to_sea, 1.0),
        "moisture_residual": np.abs(removed - drained - boat(held[0])) / np.maximum(drained + np.abs(removed), 1e-9),
    }


def _of_zones(units: Fleet, values: dict[str, Array], kept: list[int]) -> dict[str, Array]:
    """Zones by the units that serve them (run, zone): cycles and run fraction, NaN for none; lack of capacity."""
    over = values["hourly_over"]
    runs, hours, _ = over.shape
    cycles = np.full((runs, max(kept) + 1), np.nan)
    running, served = np.zeros(cycles.shape), np.zeros(cycles.shape)
    least = np.ones((*cycles.shape, hours))
    stage = values["stage"].reshape(len(units.run), hours, -1).mean(axis=2)
    row, member = np.nonzero(units.shares > 0.0)
    place = units.run[row], units.zones[row, member]
    np.fmax.at(cycles, place, values["unit_cycles"][row])
    np.add.at(running, place, values["unit_run_fraction"][row])
    np.add.at(served, place, 1.0)
    np.minimum.at(least, place, stage[row])
    mean = np.where(served > 0.0, running / np.maximum(served, 1.0), np.nan)
    whole = least[:, kept].transpose(0, 2, 1) >= WHOLE
    return {
        "cycles": cycles[:, kept],
        "run_fraction": mean[:, kept],
        "too_small": np.maximum(np.where(whole, over, 0.0).max(axis=1), 0.0),
    }


def cautions(data: xr.Dataset) -> tuple[Finding, ...]:
    """Zones that do not hold and why, heat stress where people stay, what running a closed boat unattended asks for.

    Source of 32 °C for an hour and 35 °C at all: common practice, no source.
    """
    return (*_not_held(data), *_heat_stress(data), *_unattended(data))


def _where(data: xr.Dataset, run: int, zone: int) -> str:
    layout, day, start = (data[name].values[run] for name in ("layout", "day", "start"))
    return f"{layout}, {day} day, {start}: {data['zone'].values[zone]}"


def why_not_held(data: xr.Dataset, run: int, zone: int) -> str:
    """Which of `WHY` keeps a zone above its setpoint in a run."""
    if data["too_small"].values[run, zone] > HOLDS:
        return TOO_SMALL
    own = (data["unit_run"].values == run) & (data["sensor"].values == data["zone"].values[zone])
    return TOO_COARSE if own.any() else NO_THERMOSTAT


def _not_held(data: xr.Dataset) -> list[Finding]:
    above = data["above_setpoint"].values
    settled = data["start"].values == SETTLED
    return [
        Finding(
            "not-held", _where(data, run, zone), WHY[why_not_held(data, run, zone)],
            f"{above[run, zone]:.1f} K above setpoint", f"{HOLDS:g} K",
        )
        for run, zone in zip(*np.nonzero((above > HOLDS) & settled[:, None]), strict=True)
    ]  # fmt: skip


def _heat_stress(data: xr.Dataset) -> list[Finding]:
    highest, hourly = data["operative_temperature"].values.max(axis=1), data["highest_operative"].values
    hot = ((hourly >= HEAT_STRESS) | (highest >= HEAT_STRESS_AT_ONCE)) & data["occupied"].values
    starts, zones = data["start"].values, data["zone"].values
    found = [
        Finding(
            "heat-stress", _where(data, run, zone),
            "dangerously hot, first for children, the old and the sick: nobody should stay there then",
            f"{highest[run, zone]:.1f} °C operative", DANGEROUS, NO_SOURCE,
        )
        for run, zone in zip(*np.nonzero(hot & ~np.isin(starts, tuple(OFF))[:, None]), strict=True)
    ]  # fmt: skip
    for layout in dict.fromkeys(map(str, data["layout"].values)):
        for start, words in OFF.items():
            runs = np.flatnonzero((data["layout"].values == layout) & (starts == start))
            rooms = np.flatnonzero(hot[runs].any(axis=0))
            if len(rooms):
                worst = highest[runs].max(axis=0)
                ranked = ", ".join(f"{zones[z]} {worst[z]:.1f} °C" for z in rooms[np.argsort(-worst[rooms])])
                found.append(Finding(
                    "heat-stress-shut", f"{layout}, {start}", f"{words}: {ranked}",
                    f"up to {worst[rooms].max():.1f} °C operative", DANGEROUS, NO_SOURCE,
                ))  # fmt: skip
    return found


def _unattended(data: xr.Dataset) -> list[Finding]:
    if not (data["start"].values == BAKED).any():
        return []
    return [
        Finding(
            "unattended", "start: baked",
            "running a closed boat with nobody aboard: sea water flows through an open seacock and can flood her "
            "when a hose fails; a shore plug that is loose or overloaded burns; never start a generator from afar, "
            "its exhaust kills whoever is aboard or beside her",
            source="common practice, no source",
        )
    ]  # fmt: skip
