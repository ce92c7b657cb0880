"""The variables of the data set, in one table: name, dimensions, unit, meaning. Writer, documents and tests read it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Variable:
    """One variable of the data set (its dimensions follow `day` and `heading`)."""

    name: str
    dims: tuple[str, ...]
    units: str
    long_name: str


VARIABLES: tuple[Variable, ...] = (
    Variable("air_temperature", ("time", "zone"), "degC", "air temperature, hourly mean"),
    Variable("radiant_temperature", ("time", "zone"), "degC", "mean radiant temperature, hourly mean"),
    Variable("operative_temperature", ("time", "zone"), "degC", "mean of air and radiant temperature"),
    Variable("humidity_ratio", ("time", "zone"), "kg/kg", "humidity ratio of the air, hourly mean"),
    Variable("relative_humidity", ("time", "zone"), "1", "relative humidity of the hourly mean state"),
    Variable("sensible_cooling", ("time", "zone"), "W", "sensible heat removed by the equipment"),
    Variable("latent_cooling", ("time", "zone"), "W", "latent heat removed: moisture removed times 2501 kJ/kg"),
    Variable("heating", ("time", "zone"), "W", "heat added by the equipment"),
    Variable("heat_gain", ("time", "zone", "path"), "W", "heat crossing the zone's boundary, by path"),
    Variable("load_by_cause", ("time", "zone", "cause"), "W", "sensible load with unlimited plant, by driver"),
    Variable(
        "excess_by_cause", ("time", "zone", "cause"), "K", "temperature above setpoint where limits are set, by driver"
    ),
    Variable("moisture_removed", ("time", "zone"), "kg/s", "vapour removed by the equipment"),
    Variable("moisture_gain", ("time", "zone", "source"), "kg/s", "vapour entering the zone, by source"),
    Variable("mode", ("time", "zone"), "1", "share of the hour in which the equipment acts"),
    Variable("at_limit", ("time", "zone"), "1", "share of the hour at the equipment's limit"),
    Variable("entering", ("time", "zone"), "1", "share of the hour spent reaching a changed setpoint"),
    Variable("energy_residual", ("zone",), "1", "largest hourly heat imbalance relative to the zone's peak"),
    Variable("moisture_residual", ("zone",), "1", "largest hourly moisture imbalance relative to the zone's peak"),
    Variable("face_temperature", ("time", "face"), "degC", "outside surface temperature, hourly mean"),
)
