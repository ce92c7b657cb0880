"""From solved steps to hours: states, heats, and what crosses each zone's boundary by path.

Every hourly value is the exact mean over the hour. Storage comes from the change of the states of the zone's own nodes,
never as a remainder, so that the balance of an hour is a check.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.loads.line import Line, Stretch
from heatsim.network.base import MOISTURE_SOURCES, Crossings, Network, crossings
from heatsim.physics.moist_air import EVAPORATION, relative_humidity
from heatsim.solve.base import Advanced, Mode
from heatsim.solve.operators import Operators
from heatsim.solve.readout import Readout, change_rows, mean_rows, read_off
from heatsim.solve.threads import each

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

BEYOND = 0.01
"""[K] A step that begins farther than this beyond its setpoint recovers it."""
FLOOR, VAPOUR_FLOOR = 1e-6, 1e-3
"""[W] Below this peak a residual is counted against the floor. Vapour: an open door moves 0.3 kg/s of air, whose
humidity at round-off (1e-18 kg/kg) is 1e-12 W; a person breathes out 50 W."""


@dataclass(frozen=True)
class Hours:
    """Hourly means of one stretch, (heading, hour, zone[, path or source]); faces (heading, hour, face)."""

    air_temperature: Array
    radiant_temperature: Array
    operative_temperature: Array
    humidity_ratio: Array
    relative_humidity: Array
    sensible_cooling: Array
    latent_cooling: Array
    heating: Array
    heat_gain: Array
    moisture_gain: Array
    moisture_removed: Array
    mode: Array
    at_limit: Array
    entering: Array
    face_temperature: Array
    energy_residual: Array
    moisture_residual: Array


def hours(line: Line, stretch: Stretch) -> Hours:
    """Reduce a stretch to hours.

    Returns
    -------
    Hours
    """
    per_hour = _hour(line.heat_operators)

    def mean(values: Array) -> Array:
        runs, steps = values.shape[:2]
        return np.asarray(values.reshape(runs, steps // per_hour, per_hour, *values.shape[2:]).mean(axis=2))

    gain = _gains(line.heat, line.heat_operators, stretch.heat, stretch.heat_u, stretch.number)
    wet_gain = _gains(line.moisture, line.moisture_operators, stretch.moisture, stretch.moisture_u, stretch.number)
    states = _states(line, stretch)
    runs, zones = states.shape[0], len(line.zones)
    air, radiant = states[..., :zones], states[..., zones : 2 * zones]
    q, vapour = stretch.heat.heat, np.broadcast_to(stretch.moisture.heat, (runs, *stretch.moisture.heat.shape[1:]))
    humidity = np.broadcast_to(_humidity(line, stretch) + stretch.moisture_origin, air.shape)
    wet_gain = np.broadcast_to(wet_gain, (runs, *wet_gain.shape[1:]))
    cooling, heating = mean(np.maximum(-q, 0.0)), mean(np.maximum(q, 0.0))
    removed = mean(np.maximum(-vapour, 0.0))
    mode = stretch.heat.mode
    faces = np.where(line.heat.notes["outer_skin"] >= 0, states[..., 2 * zones :], np.nan)
    return Hours(
        air_temperature=air,
        radiant_temperature=radiant,
        operative_temperature=(air + radiant) / 2.0,
        humidity_ratio=humidity,
        relative_humidity=relative_humidity(air, humidity, stretch.weather.pressure),
        sensible_cooling=cooling,
        latent_cooling=removed * EVAPORATION,
        heating=heating,
        heat_gain=gain,
        moisture_gain=wet_gain,
        moisture_removed=removed,
        mode=mean((mode != Mode.FLOAT).astype(float)),
        at_limit=mean(((mode == Mode.LIMIT_COOL) | (mode == Mode.LIMIT_HEAT)).astype(float)),
        entering=mean(recovering_steps(stretch).astype(float)),
        face_temperature=faces,
        energy_residual=residual(gain, cooling - heating),
        moisture_residual=residual(wet_gain * EVAPORATION, removed * EVAPORATION, VAPOUR_FLOOR),
    )


def temperatures(line: Line, stretch: Stretch) -> tuple[Array, Array]:
    """Hourly means of air and operative temperature alone, both (heading, hour, zone). [°C]"""
    states = _states(line, stretch, skins=False)
    zones = len(line.zones)
    air = states[..., :zones]
    return air, (air + states[..., zones:]) / 2.0


class RoomHours(NamedTuple):
    """Hourly means of rooms alone, each (heading, hour, zone): what a study keeps of a run."""

    sensible_cooling: Array
    latent_cooling: Array
    heating: Array
    air_temperature: Array
    operative_temperature: Array
    relative_humidity: Array
    entering: Array


def room_hours(line: Line, stretch: Stretch) -> RoomHours:
    """Loads and states of rooms, without the paths of the heat: a third of the time of `hours`.

    A stretch may hold several boats, whose runs come behind each other.
    """
    per_hour = _hour(line.heat_operators)

    def mean(values: Array) -> Array:
        runs, steps = values.shape[:2]
        return np.asarray(values.reshape(runs, steps // per_hour, per_hour, -1).mean(axis=2))

    air, operative = temperatures(line, stretch)
    humidity, removed = (
        np.repeat(part, len(air) // len(part), axis=0)
        for part in (
            _humidity(line, stretch) + stretch.moisture_origin, mean(np.maximum(-stretch.moisture.heat, 0.0))
        )
    )  # fmt: skip
    return RoomHours(
        mean(np.maximum(-stretch.heat.heat, 0.0)),
        removed * EVAPORATION,
        mean(np.maximum(stretch.heat.heat, 0.0)),
        air,
        operative,
        relative_humidity(air, humidity, stretch.weather.pressure),
        mean(recovering_steps(stretch).astype(float)),
    )


def _humidity(line: Line, stretch: Stretch) -> Array:
    """Hourly means of every zone's humidity ratio above the origin (run, hour, zone)."""
    operators, zones = line.moisture_operators, len(line.zones)
    if "states" not in operators.readouts:
        nothing = np.zeros((zones, len(line.moisture.drivers)))
        operators.readouts["states"] = tuple(mean_rows(op, np.eye(zones), nothing) for op in operators.regimes)
    u, rows = stretch.moisture_u, operators.readouts["states"]
    return read_off(
        operators, rows, stretch.moisture, u[0], u[1], stretch.number, together=_hour(operators),
        own=stretch.moisture_own,
    )  # fmt: skip


def _hour(operators: Operators) -> int:
    """Steps of an hour."""
    return round(3600.0 / operators.step)


def residual(gain: Array, removed: Array, floor: float = FLOOR) -> Array:
    """Largest hourly imbalance of each zone relative to its peak, (zone,).

    Parameters
    ----------
    gain : (heading, hour, zone, path) array
    removed : (heading, hour, zone) array
    floor : float
        Smallest peak it is counted against.
    """
    imbalance = np.abs(gain.sum(axis=-1) - removed)
    peak = np.maximum(np.abs(removed), np.abs(gain).max(axis=-1)).max(axis=(0, 1))
    return np.asarray(imbalance.max(axis=(0, 1)) / np.maximum(peak, floor))


def recovering_steps(stretch: Stretch) -> npt.NDArray[np.bool_]:
    """Steps that begin beyond their setpoint, after it was dropped or the plant was off (run, step, zone).

    A zone that floats up to its setpoint enters it too, but from the other side: that is no recovery.
    """
    band, mode, reading = stretch.band, stretch.heat.mode, stretch.heat.reading
    above = (mode == Mode.HOLD_COOL) & (reading > band.cool + BEYOND)
    below = (mode == Mode.HOLD_HEAT) & (reading < band.heat - BEYOND)
    return np.asarray(stretch.heat.entering & (above | below), dtype=bool)


def _gains(network: Network, operators: Operators, advanced: Advanced, u: Array, number: Indices) -> Array:
    """Flow into each zone by path with storage last (run, hour, zone, path); all rows map equal temperatures to zero.

    Moisture comes counted from outdoors already, and what is as humid as outdoors must stay exactly zero.
    """
    if "gains" not in operators.readouts:
        forms = crossings(network)
        made = each(lambda r: _gain_rows(network, operators, forms, r), range(network.regimes))
        operators.readouts["gains"] = tuple(made)
    origin = None
    if network.paths != MOISTURE_SOURCES:
        base = float(u[..., [not driver.weights for driver in network.drivers]].mean())
        massive = np.full(int(np.sum(network.capacity > 0.0)), base)
        origin = (massive, np.array([0.0 if driver.weights else base for driver in network.drivers]))
    rows = read_off(operators, operators.readouts["gains"], advanced, u[0], u[1], number, origin, _hour(operators))
    return rows.reshape(*rows.shape[:2], len(network.zones), len(network.paths))


def _gain_rows(network: Network, operators: Operators, forms: Crossings, regime: int) -> Readout:
    """Rows (zone × path) of one regime: crossings of the boundary from means, storage from the change of states."""
    op = operators.regimes[regime]
    crossing = mean_rows(op, forms.from_nodes[regime], forms.from_drivers[regime])
    massive = np.flatnonzero(network.capacity > 0.0)
    stored = np.zeros((len(network.zones) * len(network.paths), len(massive)))
    for zone in range(len(network.zones)):
        own = network.zone_of[massive] == zone
        stored[(zone + 1) * len(network.paths) - 1, own] = -network.capacity[massive[own]] / operators.step
    storage = change_rows(op, stored)
    return Readout(*(getattr(crossing, f.name) + getattr(storage, f.name) for f in fields(Readout)))


def _states(line: Line, stretch: Stretch, skins: bool = True) -> Array:
    """Means of zone air, radiant nodes and outside skins (run, hour, 2 zones + faces), °C."""
    name, network, operators = "states" if skins else "rooms", line.heat, line.heat_operators
    if name not in operators.readouts:
        outer: list[int] = network.notes["outer_skin"].astype(int).tolist() if skins else []
        chosen = [*network.supplied, *network.notes["radiant"].astype(int), *outer]
        of_nodes = np.zeros((len(chosen), len(network.nodes)))
        for row, node in enumerate(chosen):
            if node >= 0:
                of_nodes[row, node] = 1.0
        nothing = np.zeros((len(chosen), len(network.drivers)))
        operators.readouts[name] = tuple(mean_rows(op, of_nodes, nothing) for op in operators.regimes)
    u, rows = stretch.heat_u, operators.readouts[name]
    return read_off(
        operators, rows, stretch.heat, u[0], u[1], stretch.number, together=_hour(operators), own=stretch.heat_own
    )
