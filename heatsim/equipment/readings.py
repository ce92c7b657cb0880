"""Spot readings of a fitted unit: what each should be now, how far off it is, and which of six causes fits best.

The unit's own model (`capacity.operate`) says what a sound unit would read at the air and sea water that enter it.
Each cause is then put into that model with one strength, found by least squares; the causes are ranked by what is left,
and the reading still to be taken on which the first two disagree most is named. Errors of instruments and of what is
assumed to be sound (data sheet, flows, mains) are common practice, no source; those that move several readings at once
are carried to all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.equipment.capacity import SEA_HEAT, Conditions, Scalars, air_stream, operate, rated
from heatsim.equipment.catalogue import Unit
from heatsim.equipment.plan import Plan
from heatsim.equipment.shortfall import fitted
from heatsim.errors import Fault, HeatsimError
from heatsim.physics import moist_air
from heatsim.physics.moist_air import DRY_AIR_HEAT, VAPOUR_HEAT
from heatsim.scenario.terms import Spot, Terms

Array = npt.NDArray[np.float64]

LEAVING, WET, RISE, WATER, AIR, CURRENT, VOLTAGE, FREQUENCY, RUN, WARM = (
    "air drop", "leaving wet bulb", "sea water rise", "sea water flow", "air flow", "current", "voltage", "frequency",
    "run share", "room above setpoint",
)  # fmt: skip
SCATTER: dict[str, tuple[float, float]] = {
    LEAVING: (0.7, 0.0), WET: (0.5, 0.0), RISE: (0.4, 0.0), WATER: (0.0, 0.05), AIR: (0.0, 0.10), CURRENT: (0.1, 0.06),
    VOLTAGE: (0.0, 0.01), FREQUENCY: (0.3, 0.0), RUN: (0.05, 0.0), WARM: (2.0, 0.0),
}  # fmt: skip
"""Standard deviation of each reading, absolute (K, A, Hz, shares) and as a share of it: two air probes of 0.5 K, two
probes on hoses of 0.3 K, bucket and watch 5 %, vane at all grilles 10 %, clamp 3 % beside a data sheet's 5 %, meter 1 %
(common practice, no source); a room by 2 K, its dead band and the day's load together (assumed)."""
SOUND: dict[str, float] = {
    "temperature": 0.3, "humidity": 0.03, "sea": 0.2, "airflow": 0.07, "water": 0.05, "charged": 0.04, "volts": 0.03,
}  # fmt: skip
"""Standard deviation of what goes into the model: K, shares of saturation, K, and shares of what is rated (common
practice, no source)."""
RELATIVE = ("airflow", "water", "volts")
GRID = (31, 13, 13)
"""Points of the search for a strength: each about the best of the one before, down to a thousandth of the span."""
ASSUMED_HUMIDITY, UNKNOWN = 0.55, 0.10
"""[-] Of entering air where neither wet bulb nor humidity is read, and how far that may be out (assumed)."""
WARMER = 20.0
"""[K] By which a room settles warmer for all of its unit's capacity lost: 1 K for 5 % (assumed)."""
CALLING = 1.0
"""[K] Above its setpoint from which a room's thermostat calls for cooling without a pause (assumed)."""
SLIP = 0.03
"""[-] Of a loaded motor at its rated voltage; it grows with the inverse square of the voltage (from memory)."""
HANDICAP = 2.0
"""By which refrigerant must fit better than another cause to stand before it: it is the rarest, and looked for last
(order: common practice, no source; size assumed)."""
SURE = 0.05
"""[-] Chance below which a sound unit is taken not to read like that (common practice, no source)."""
LICENSED = (
    "Only a licensed technician opens the refrigerant circuit, and only after water, air and power are ruled out."
)


class State(NamedTuple):
    """What the model is fed with; a cause changes some of it. Floats or arrays that broadcast together."""

    temperature: Scalars
    humidity: Scalars
    sea: Scalars
    airflow: Scalars
    water: Scalars
    fouled: Scalars
    speed: Scalars
    """Frequency of the mains over the unit's own."""
    slowed: Scalars
    """What more slip leaves of the motor's speed."""
    charged: Scalars
    volts: Scalars
    on: Scalars
    """Share of the time its compressor turns while it is being read."""
    called: Scalars
    """Share of the time its thermostat calls."""
    extra: Scalars
    """Load beyond its capacity, over that."""


class Cause(NamedTuple):
    """One way in which a unit or its room can be wrong: its cause, how it shows in words, the most it can be."""

    cause: str
    words: str
    most: float
    change: Callable[[State, Array], State]
    advice: str


def _low_voltage(state: State, s: Array) -> State:
    return state._replace(volts=state.volts * (1.0 - s), slowed=1.0 - SLIP * ((1.0 - s) ** -2.0 - 1.0))


CAUSES = (
    Cause("water", "less sea water", 0.9, lambda x, s: x._replace(water=x.water * (1.0 - s)),
          "Strainer, seacock and inlet, air lock, pump, in that order. Close the seacock before anything is opened."),
    Cause("water", "fouled condenser", 0.95, lambda x, s: x._replace(fouled=1.0 - (1.0 - x.fouled) * (1.0 - s)),
          "Growth or scale: descale the condenser, with gloves, goggles and air; close the seacock before hoses come "
          "off."),
    Cause("air", "less air", 0.85, lambda x, s: x._replace(airflow=x.airflow * (1.0 - s)),
          "Return filter and grille, ice on the coil, a duct fallen off or crushed, fan speed. Breaker off first."),
    Cause("load", "more load than the unit can carry", 1.0, lambda x, s: x._replace(extra=x.extra + s),
          "Hatches and doors open, more people, sun: the unit does what it can; see the remedies of the plan."),
    Cause("control", "switched off too soon", 1.0, lambda x, s: x._replace(called=x.called * (1.0 - s)),
          "Thermostat or sensor in cold supply air or on a cold bulkhead, its setting, its delay."),
    Cause("control", "compressor stands or turns at times", 1.0, lambda x, s: x._replace(on=x.on * (1.0 - s)),
          "Thermostat, relay, safety switch, start delay. A switch that opens again and again is not bridged: it "
          "tells of something else."),
    Cause("refrigerant", "the circuit moves less than it should", 0.9,
          lambda x, s: x._replace(charged=x.charged * (1.0 - s)), LICENSED),
    Cause("power", "low voltage", 0.3, _low_voltage,
          "Cord, plug, dock, wiring: a drop under load heats connections. Leave it off; an electrician looks for it."),
    Cause("power", "low frequency", 0.25, lambda x, s: x._replace(speed=x.speed * (1.0 - s)),
          "A generator governed too low, or mains of another frequency: an electrician measures it."),
)  # fmt: skip
"""Every way of being wrong that is tried; each cause stands with the one of its ways that fits best."""
ORDER = ("water", "air", "load", "control", "power", "refrigerant")
"""Of causes that fit alike."""


@dataclass(frozen=True)
class Compared:
    """One reading: what a sound unit would show, its standard deviation, what was read (None: not), and how far off.

    K, m³/s, A, V, Hz or shares; `departure` in standard deviations.
    """

    name: str
    expected: float
    deviation: float
    measured: float | None
    departure: float | None


@dataclass(frozen=True)
class Candidate:
    """A cause at its best strength [-]: `misfit` is the sum of squares left, `chance` its part among all causes."""

    cause: str
    words: str
    strength: float
    misfit: float
    chance: float
    readings: dict[str, float]
    advice: str


@dataclass(frozen=True)
class Diagnosis:
    """What the readings of one unit say.

    `sound` where a sound unit reads like that, or worse, in more than one case of twenty, whatever its room does;
    `likely` is that chance. `next` is the
    reading not yet taken on which the first two causes differ most, by `separation` of its standard deviations; None
    where everything was read.
    """

    spot: Spot
    model: str
    zones: tuple[str, ...]
    readings: tuple[Compared, ...]
    candidates: tuple[Candidate, ...]
    sound: bool
    likely: float
    next: str | None
    separation: float


def diagnoses(made: Plan) -> tuple[Diagnosis, ...]:
    """Every set of spot readings of a plan's boat against the unit it was taken at.

    Raises
    ------
    HeatsimError
        Where a unit has no compressor of its own, or serves no cooled zone.
    """
    if not made.resolved.terms.spots:
        return ()
    n, terms = made.needs, made.resolved.terms
    served = [one for one in terms.installed if any(zone in n.zones for zone in one.zones)]
    offers = {one.name: offer for one, offer in zip(served, fitted(made).offers, strict=True)}
    found = []
    for i, spot in enumerate(terms.spots):
        offer = offers.get(spot.unit)
        if offer is None or offer.unit.compressor_power <= 0.0 or offer.unit.kind == "chiller":
            rule = "spot readings are weighed for fitted units with a compressor that cool a zone"
            raise HeatsimError(Fault(rule, path=f"equipment.readings[{i}].unit", value=spot.unit))
        setpoint = float(n.temperature[n.of(offer.zones)].mean())
        unit = replace(offer.unit, air_share=1.0)
        found.append(diagnose(unit, spot, terms, setpoint, offer.zones))
    return tuple(found)


def diagnose(unit: Unit, spot: Spot, terms: Terms, setpoint: float, zones: Sequence[str] = ()) -> Diagnosis:
    """Weigh the readings of one unit.

    Parameters
    ----------
    unit : Unit
        As it should be.
    spot : Spot
    terms : Terms
        Fouling, water flow and frequency aboard.
    setpoint : float
        Of its thermostat where `spot` does not say. [°C]
    """
    from scipy.special import chdtrc

    state, unsure = _state(unit, spot, terms)
    measured = _measured(spot, spot.setpoint if spot.setpoint is not None else setpoint)
    names = list(measured)
    sound = predicted(unit, state)
    covariance = _covariance(unit, state, unsure)
    place = {name: i for i, name in enumerate(sound)}
    taken = [place[name] for name in names]
    weights = np.linalg.inv(covariance[np.ix_(taken, taken)])
    seen = np.array([measured[name] for name in names])

    def misfit(state: State) -> Array:
        """Sum of squares in standard deviations, of the shape of the state's strengths."""
        shown = predicted(unit, state)
        room = np.minimum(measured.get(WARM, 0.0), shown[WARM])  # what a lack of capacity may explain
        values = [room if name == WARM else shown[name] for name in names]
        apart = np.stack(np.broadcast_arrays(*(a - b for a, b in zip(seen, values, strict=True))), axis=-1)
        return np.asarray(np.einsum("...i,ij,...j->...", apart, weights, apart))

    deviations = np.sqrt(np.diag(covariance))
    candidates = _ranked(_fitted(unit, state, misfit))
    own = [i for i, name in enumerate(names) if name != WARM]
    gone = seen[own] - np.array([float(sound[names[i]]) for i in own])
    left = float(gone @ np.linalg.inv(covariance[np.ix_([taken[i] for i in own], [taken[i] for i in own])]) @ gone)
    likely = float(chdtrc(len(own), left)) if own else 1.0
    following, apart = _next(candidates, dict(zip(place, deviations, strict=True)), names)
    compared = []
    for name, i in place.items():
        value = measured.get(name)
        off = None if value is None else (value - float(sound[name])) / float(deviations[i])
        compared.append(Compared(name, float(sound[name]), float(deviations[i]), value, off))
    return Diagnosis(
        spot, unit.model, tuple(zones), tuple(compared), candidates, likely > SURE, likely, following, apart
    )


def predicted(unit: Unit, state: State) -> dict[str, Array]:
    """What a unit reads in a state, by name of the reading.

    The room may be as much warmer than its setpoint as what is lost of the capacity, or asked beyond it, explains.
    """
    x = state
    ratio = moist_air.humidity_ratio(x.temperature, x.humidity)
    met = Conditions(x.temperature, ratio, x.sea, x.airflow, x.water, x.fouled, x.speed * x.slowed, charged=x.charged)
    done = operate(unit, met)
    stream = air_stream(unit, x.temperature, ratio, x.airflow, met.pressure)
    carried = stream * (DRY_AIR_HEAT + VAPOUR_HEAT * ratio)
    drop = (x.on * (done.sensible + done.fan_power) - done.fan_power) / carried
    behind = ratio - x.on * done.condensate / stream
    leaving = np.asarray(x.temperature - drop)
    full = operate(unit, replace(met, airflow=1.0, water_flow=1.0, speed=1.0, charged=1.0)).total
    kept = np.minimum(x.on, x.called) * done.total / np.maximum(full, 1.0)
    rated_power = unit.compressor_power + unit.fan_power
    drawn = (x.on * done.compressor_power + done.fan_power) / rated_power
    out = {
        LEAVING: drop,
        WET: moist_air.wet_bulb(leaving, np.minimum(behind, moist_air.humidity_ratio(leaving, 1.0))),
        RISE: x.on * done.rejected / (rated(unit).water_rate * x.water),
        WATER: rated(unit).water_rate / SEA_HEAT * x.water,
        AIR: unit.airflow * x.airflow,
        CURRENT: unit.running_current * drawn * unit.voltage / np.maximum(x.volts, 1.0),
        VOLTAGE: x.volts,
        FREQUENCY: unit.frequency * x.speed,
        RUN: np.minimum(x.on, x.called),
        WARM: WARMER * (np.maximum(1.0 - kept, 0.0) + x.extra),
    }
    return {name: np.asarray(value, dtype=float) for name, value in out.items()}


def _state(unit: Unit, spot: Spot, terms: Terms) -> tuple[State, dict[str, float]]:
    """What the model is fed with where all is sound, and how unsure each part of it is."""
    humidity, unsure = ASSUMED_HUMIDITY, dict(SOUND)
    if spot.entering_wet_bulb is not None:
        ratio = moist_air.humidity_ratio_from_wet_bulb(spot.entering_air, spot.entering_wet_bulb)
        humidity = float(moist_air.relative_humidity(spot.entering_air, ratio))
    elif spot.entering_humidity is not None:
        humidity = spot.entering_humidity
    else:
        unsure["humidity"] = UNKNOWN
    state = State(
        spot.entering_air, humidity, spot.sea_in, 1.0, terms.water_flow, terms.fouling,
        terms.frequency / unit.frequency, 1.0, 1.0, unit.voltage, 1.0, 1.0, 0.0,
    )  # fmt: skip
    return state, unsure


def _measured(spot: Spot, setpoint: float) -> dict[str, float]:
    """Readings by name; how long it ran tells something only while its room is warm."""
    warm = spot.entering_air - setpoint
    found: dict[str, float | None] = {
        LEAVING: None if spot.leaving_air is None else spot.entering_air - spot.leaving_air,
        WET: spot.leaving_wet_bulb,
        RISE: None if spot.sea_out is None else spot.sea_out - spot.sea_in,
        WATER: spot.water_flow,
        AIR: spot.air_flow,
        CURRENT: spot.current,
        VOLTAGE: spot.voltage,
        FREQUENCY: spot.frequency,
        RUN: spot.run_share if warm > CALLING else None,
        WARM: max(warm, 0.0),
    }
    return {name: value for name, value in found.items() if value is not None}


def _covariance(unit: Unit, state: State, unsure: dict[str, float]) -> Array:
    """Of all readings about a sound unit's: instruments, and what is not known of the conditions."""
    sound = predicted(unit, state)
    own = [SCATTER[name][0] ** 2 + (SCATTER[name][1] * float(value)) ** 2 for name, value in sound.items()]
    out = np.diag(own)
    moved = []
    for name, deviation in unsure.items():
        value = getattr(state, name)
        step = deviation * value if name in RELATIVE else deviation
        low, high = value - step, value + step
        moved += [state._replace(**{name: end if name != "humidity" else min(end, 1.0)}) for end in (low, high)]
    shown = predicted(unit, _stacked(moved))
    for name, value in shown.items():
        shown[name] = 0.0 * value if name == WARM else np.broadcast_to(value, (len(moved),))
    by = 0.5 * (np.stack(list(shown.values()))[:, 1::2] - np.stack(list(shown.values()))[:, ::2])
    return np.asarray(out + by @ by.T)


def _fitted(unit: Unit, state: State, misfit: Callable[[State], Array]) -> list[Candidate]:
    """Every cause at the strength that leaves least, searched on a grid and twice more about its best point."""
    low, high = np.zeros(len(CAUSES)), np.array([cause.most for cause in CAUSES])
    rows = np.arange(len(CAUSES))
    for points in GRID:
        strength = np.linspace(low, high, points, axis=1)
        left = misfit(_stacked([cause.change(state, s) for cause, s in zip(CAUSES, strength, strict=True)]))
        best = left.argmin(axis=1)
        low, high = (strength[rows, np.clip(best + by, 0, points - 1)] for by in (-1, 1))
    found, least = strength[rows, best], left[rows, best]
    shown = predicted(unit, _stacked([cause.change(state, s) for cause, s in zip(CAUSES, found, strict=True)]))
    readings = [{name: float(np.broadcast_to(v, rows.shape)[k]) for name, v in shown.items()} for k in rows]
    return [
        Candidate(cause.cause, cause.words, float(s), float(x), 0.0, read, cause.advice)
        for cause, s, x, read in zip(CAUSES, found, least, readings, strict=True)
    ]


def _stacked(states: Sequence[State]) -> State:
    """Several states as one, so that the unit is solved once for all of them."""
    shape = np.broadcast_shapes(*(np.shape(value) for one in states for value in one))
    return State(
        *(np.stack([np.broadcast_to(value, shape) for value in values]) for values in zip(*states, strict=True))
    )


def _ranked(found: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """The best way of each cause, that which leaves least first; ties in the order a fitter looks."""

    def weighed(one: Candidate) -> float:
        return one.misfit + (HANDICAP if one.cause == "refrigerant" else 0.0)

    best = [min((one for one in found if one.cause == cause), key=lambda one: one.misfit) for cause in ORDER]
    least = min(weighed(one) for one in best)
    weights = np.exp([-0.5 * (weighed(one) - least) for one in best])
    told = [replace(one, chance=float(w / weights.sum())) for one, w in zip(best, weights, strict=True)]
    return tuple(sorted(told, key=lambda one: (round(weighed(one), 2), ORDER.index(one.cause))))


def _next(
    candidates: Sequence[Candidate], deviations: dict[str, float], taken: Sequence[str]
) -> tuple[str | None, float]:
    """The reading not taken yet on which the first two causes differ most, and by how many standard deviations."""
    first, second = candidates[0].readings, candidates[1].readings
    apart = {
        name: abs(first[name] - second[name]) / deviations[name]
        for name in deviations
        if name not in taken and name != WARM
    }
    if not apart:
        return None, 0.0
    name = max(apart, key=apart.__getitem__)
    return name, apart[name]
