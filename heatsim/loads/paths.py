"""From solved steps to hours: states, heats, and what crosses each zone's boundary by path.

Every hourly value is the exact mean over the hour. Storage comes from the change of the states of the zone's own nodes,
never as a remainder, so that the balance of an hour is a check.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.loads.line import Line, Stretch, bands, thermostat_readings
from heatsim.network.base import MOISTURE_SOURCES, Network, crossings
from heatsim.network.drivers import EVAPORATION
from heatsim.physics.moist_air import relative_humidity
from heatsim.solve.base import Advanced, Mode
from heatsim.solve.stepping import Operators, recover

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

BEYOND = 0.01
"""[K] A step that begins farther than this beyond its setpoint recovers it."""
FLOOR = 1e-6
"""[W] or [kg/s ÷ latent heat] Below this peak a residual is counted against the floor."""


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
    per_hour = round(3600.0 / stretch.weather.step)

    def mean(values: Array) -> Array:
        runs, steps = values.shape[:2]
        return np.asarray(values.reshape(runs, steps // per_hour, per_hour, *values.shape[2:]).mean(axis=2))

    nodes, gain = _gains(line.heat, line.heat_operators, stretch.heat, stretch.heat_u, stretch.number)
    wet_nodes, wet_gain = _gains(
        line.moisture, line.moisture_operators, stretch.moisture, stretch.moisture_u, stretch.number
    )
    runs = nodes.shape[0]
    air = mean(nodes[..., line.heat.supplied])
    radiant = mean(nodes[..., line.heat.notes["radiant"].astype(int)])
    q, vapour = stretch.heat.heat, np.broadcast_to(stretch.moisture.heat, (runs, *stretch.moisture.heat.shape[1:]))
    humidity = np.broadcast_to(mean(wet_nodes) + stretch.moisture_origin, air.shape)
    gain, wet_gain = mean(gain), np.broadcast_to(mean(wet_gain), (runs, *mean(wet_gain).shape[1:]))
    cooling, heating = mean(np.maximum(-q, 0.0)), mean(np.maximum(q, 0.0))
    removed = mean(np.maximum(-vapour, 0.0))
    mode = stretch.heat.mode
    skins = line.heat.notes["outer_skin"].astype(int)
    faces = np.where(skins >= 0, mean(nodes[..., skins]), np.nan)
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
        entering=mean(_recovering(line, stretch).astype(float)),
        face_temperature=faces,
        energy_residual=residual(gain, cooling - heating),
        moisture_residual=residual(wet_gain * EVAPORATION, removed * EVAPORATION),
    )


def residual(gain: Array, removed: Array) -> Array:
    """Largest hourly imbalance of each zone relative to its peak, (zone,).

    Parameters
    ----------
    gain : (heading, hour, zone, path) array
    removed : (heading, hour, zone) array
    """
    imbalance = np.abs(gain.sum(axis=-1) - removed)
    peak = np.maximum(np.abs(removed), np.abs(gain).max(axis=-1)).max(axis=(0, 1))
    return np.asarray(imbalance.max(axis=(0, 1)) / np.maximum(peak, FLOOR))


def _recovering(line: Line, stretch: Stretch) -> npt.NDArray[np.bool_]:
    """Steps that begin beyond their setpoint, after it was dropped or the plant was off (run, step, zone).

    A zone that floats up to its setpoint enters it too, but from the other side: that is no recovery.
    """
    u_start = np.broadcast_to(stretch.heat_u[0], (len(stretch.heat.heat), *stretch.heat_u.shape[2:]))
    direct = np.empty_like(stretch.heat.heat)
    for r in np.unique(stretch.number):
        here = stretch.number == r
        direct[:, here] = u_start[:, here] @ line.heat_operators.regimes[r].condensed.D.T
    reading = thermostat_readings(line.heat_operators, stretch.heat, direct, stretch.number)
    band, _ = bands(line, stretch.weather)
    mode = stretch.heat.mode
    above = (mode == Mode.HOLD_COOL) & (reading > band.cool + BEYOND)
    below = (mode == Mode.HOLD_HEAT) & (reading < band.heat - BEYOND)
    return np.asarray(stretch.heat.entering & (above | below), dtype=bool)


def _gains(
    network: Network, operators: Operators, advanced: Advanced, u: Array, number: Indices
) -> tuple[Array, Array]:
    """Step means of all nodes, and the flow into each zone by path with storage last, (run, step, zone, path)."""
    u_start, u_end = (np.broadcast_to(edge, (advanced.heat.shape[0], *edge.shape[1:])) for edge in u)
    states = recover(operators, advanced, u_start, u_end, number)
    zones, paths = len(network.zones), len(network.paths)
    forms = crossings(network)
    runs, steps = states.mean.shape[:2]
    flow = np.empty((runs, steps, zones * paths))
    middle = (u_start + u_end) / 2.0
    # Differences only: the forms' rows sum to zero over temperatures, so a common origin keeps digits. Moisture comes
    # counted from outdoors already, and what is as humid as outdoors must stay exactly zero.
    origin = 0.0 if network.paths == MOISTURE_SOURCES else float(states.mean.mean())
    nodes = states.mean - origin
    middle[..., [not driver.weights for driver in network.drivers]] -= origin
    for r in np.unique(number):
        here = number == r
        flow[:, here] = nodes[:, here] @ forms.from_nodes[r].T + middle[:, here] @ forms.from_drivers[r].T
    gain = flow.reshape(runs, steps, zones, paths)
    massive = np.flatnonzero(network.capacity > 0.0)
    for zone in range(zones):
        own = network.zone_of[massive] == zone
        change = states.change[..., own] @ network.capacity[massive[own]]
        gain[..., zone, paths - 1] = -change / operators.step
    return states.mean, gain
