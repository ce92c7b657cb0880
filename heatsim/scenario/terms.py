"""What a choice of equipment must respect, resolved: the power aboard, margins, groups, sizes, noise.

Powers in W or VA, capacities as shares, temperatures in °C.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING, Literal

from heatsim.scenario.electrics import HOUSEHOLD_FACTOR, PUMP_FACTOR, carries, resolve_power

if TYPE_CHECKING:
    from heatsim.scenario.model import Scenario

LARGEST_DRIFT = 2.0
"""[K] That a zone without a thermostat may drift from its setpoint (assumed; the trade lives with 4 K)."""

CERTAINTIES = {"p50": 0.5, "p90": 0.9, "p99": 0.99}


@dataclass(frozen=True)
class Installed:
    """A unit already aboard: its name, the zones it serves, its plate capacity [W] and its model, if that is known.

    `air_flow` is the air it moves as found over its rated flow.
    """

    name: str
    zones: tuple[str, ...]
    capacity: float
    model: str | None
    air_flow: float = 1.0


@dataclass(frozen=True)
class Spot:
    """Readings taken together at one installed unit, None where not taken.

    Temperatures in °C, flows in m³/s, current in A, voltage in V, frequency in Hz, the others shares.
    """

    unit: str
    entering_air: float
    sea_in: float
    entering_wet_bulb: float | None = None
    entering_humidity: float | None = None
    leaving_air: float | None = None
    leaving_wet_bulb: float | None = None
    sea_out: float | None = None
    water_flow: float | None = None
    air_flow: float | None = None
    current: float | None = None
    voltage: float | None = None
    frequency: float | None = None
    run_share: float | None = None
    setpoint: float | None = None
    at: str | None = None


@dataclass(frozen=True)
class DayAndNight:
    """Rooms that one unit serves by day and by night, and the hours of the clock at which night begins and ends."""

    day: tuple[str, ...]
    night: tuple[str, ...]
    night_begins: int
    night_ends: int


@dataclass(frozen=True)
class Terms:
    """What a plan must respect.

    `margins` are added up; `shore` and `generator` are the apparent and real power that is left for the units once what
    runs beside them (other load or household, sea water pumps of known power) has its part; `apart` and `together` list
    zone names; `largest` the longest, second side and height of the largest unit that fits [m].
    """

    objective: Literal["cost", "weight", "power"] = "cost"
    margins: tuple[tuple[str, float], ...] = ()
    shore: float = inf
    generator: float = inf
    frequency: float = 50.0
    apart: tuple[tuple[str, ...], ...] = ()
    together: tuple[tuple[str, ...], ...] = ()
    group_size: int = 5
    largest: tuple[float, float, float] = (inf, inf, inf)
    largest_oversize: float = inf
    largest_drift: float = LARGEST_DRIFT
    cabin_noise: float = inf
    fouling: float = 0.1
    water_flow: float = 1.0
    duct_gain: float = 0.05
    cabin_one_lost: float = inf
    damp_hours: float = inf
    fan: Literal["continuous", "cycling"] = "continuous"
    sea_pump: float = 0.0
    day_and_night: tuple[DayAndNight, ...] = ()
    accept_unrated: float | None = None
    installed: tuple[Installed, ...] = ()
    spots: tuple[Spot, ...] = ()
    certainty: float | None = None
    """Share of draws whose peaks stay below the loads planned for; None for the declared margins alone."""

    @property
    def margin(self) -> float:
        """All margins together, as a factor on the load."""
        return 1.0 + sum(share for _, share in self.margins)


NO_TERMS = Terms()
"""What a boat built without a scenario file has to respect."""


def resolve_terms(scenario: Scenario, household: float) -> Terms:
    """Terms of a scenario; what it does not say is no limit.

    `household` is what lights and equipment of the rooms take on the mean of the day [W]: that keeps its part of the
    power aboard where the file names no other load.
    """
    supply, given = scenario.supply, scenario.equipment
    shore, generator = supply.shore, supply.generator
    other = household if supply.other_load is None else supply.other_load
    pump, socket = given.sea_pump or 0.0, resolve_power(scenario).shore
    beside = other / HOUSEHOLD_FACTOR + pump / PUMP_FACTOR
    frequency = shore.frequency if shore is not None else generator.frequency if generator is not None else 50.0
    size = given.largest_size
    return Terms(
        objective=given.objective,
        margins=tuple((name, getattr(given.margins, name)) for name in type(given.margins).model_fields),
        shore=inf if socket is None else max(carries(socket) - beside, 0.0),
        generator=inf if generator is None else max(generator.power - other - pump, 0.0),
        frequency=frequency,
        apart=tuple(tuple(zones) for zones in given.apart),
        together=tuple(tuple(zones) for zones in given.together),
        group_size=given.group_size,
        largest=(inf, inf, inf) if size is None else (size.length, size.width, size.height),
        largest_oversize=given.largest_oversize or inf,
        largest_drift=given.largest_drift or LARGEST_DRIFT,
        cabin_noise=inf if given.cabin_noise is None else given.cabin_noise,
        fouling=given.fouling,
        water_flow=given.water_flow,
        duct_gain=given.duct_gain,
        cabin_one_lost=inf if given.cabin_one_unit_lost is None else given.cabin_one_unit_lost,
        damp_hours=inf if given.most_damp_hours is None else given.most_damp_hours,
        fan=given.fan,
        sea_pump=given.sea_pump or 0.0,
        day_and_night=tuple(
            DayAndNight(tuple(one.day), tuple(one.night), one.night_begins, one.night_ends)
            for one in given.day_and_night
        ),
        accept_unrated=given.accept_unrated,
        installed=tuple(Installed(u.name, tuple(u.zones), u.capacity, u.model, u.air_flow) for u in given.existing),
        certainty=CERTAINTIES.get(given.margin),
        spots=tuple(Spot(**{name: getattr(r, name) for name in type(r).model_fields}) for r in given.readings),
    )
