"""Units at work: one step of every unit of every run at once, from the rooms' air to what each room gets.

A unit mixes the air of its zones by their air shares and sends all of them supply air of one state, so that each gets
sensible cooling and drying by its share and by how much warmer and damper than the mixture it is. Water held on coils
is accounted with its enthalpy; heat to the sea closes against what the rooms gave (`Flows`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.equipment.capacity import ICING
from heatsim.equipment.chilled import PIPE_GAIN, Plant
from heatsim.equipment.chillers import Chilled, Chillers
from heatsim.equipment.layouts import Layout
from heatsim.equipment.surface import Kind, Surfaces
from heatsim.equipment.thermostat import Flags, Thermostat, Thermostats
from heatsim.equipment.wet_coil import PartLoad, come_up, dried, wetted
from heatsim.physics.coil import WATER_HEAT
from heatsim.physics.moist_air import DRY_AIR_HEAT, EVAPORATION, VAPOUR_HEAT

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

APART = 0.25
"""[K] Between the setpoints of units side by side in one group, so that they start one after the other (assumed)."""
RETURN_LAG = 60.0
"""[s] Time constant with which a unit's return air follows the rooms (assumed: grille, duct, a room's mixing)."""


@dataclass(frozen=True)
class Fleet:
    """Every unit of every run, flat: `run`, `kind`, `sensor` (unit,), `zones` and `shares` (unit, member), `shift` its
    setpoint's [K]. Fewer members than the widest group have share 0. `plants` (run,) are the chillers of each, or
    None, `plant` (run,) their capacity, infinite where there are none."""

    run: Indices
    kind: Indices
    kinds: tuple[Kind, ...]
    sensor: Indices
    zones: Indices
    shares: Array
    shift: Array
    plants: tuple[Plant | None, ...]
    plant: Array
    groups: tuple[str, ...]

    @property
    def regulation(self) -> npt.NDArray[np.str_]:
        """How each unit follows the load, (unit,)."""
        return np.array([self.kinds[i].unit.regulation for i in self.kind])

    def of_kinds(self, values: Sequence[float]) -> Array:
        """A value of every kind as one of every unit, (unit,)."""
        return np.array(values, dtype=float)[self.kind]


def fleet(layouts: Sequence[Layout], seas: Sequence[float], zones: Sequence[str]) -> Fleet:
    """Line up all units: one run for each layout and the sea at which it runs.

    Parameters
    ----------
    layouts, seas : of each run
    zones : simulated air spaces in the network's order

    Notes
    -----
    The sensor of a group hangs in the zone that gets most of the air, as `drift.drift` has it.
    """
    number = {name: i for i, name in enumerate(zones)}
    kinds: dict[Kind, int] = {}
    rows: list[tuple[int, int, list[int], Array, float, str]] = []
    for run, (layout, sea) in enumerate(zip(layouts, seas, strict=True)):
        for offer in layout.duties:
            met = sea if offer.unit.compressor_power > 0.0 else offer.unit.rating.water  # a water coil meets no sea
            kind = kinds.setdefault(Kind(offer.unit, met), len(kinds))
            served = [number[name] for name in offer.zones]
            for i in range(offer.count):
                shift = APART * (i - 0.5 * (offer.count - 1))
                rows.append((run, kind, served, np.asarray(offer.demand.shares), shift, " + ".join(offer.zones)))
    widest = max((len(row[2]) for row in rows), default=1)
    members, shares = np.zeros((len(rows), widest), dtype=np.int64), np.zeros((len(rows), widest))
    for i, row in enumerate(rows):
        members[i, : len(row[2])], shares[i, : len(row[2])] = row[2], row[3]
    plants = [layout.plant for layout in layouts]
    return Fleet(
        run=np.array([row[0] for row in rows], dtype=np.int64),
        kind=np.array([row[1] for row in rows], dtype=np.int64),
        kinds=tuple(kinds),
        sensor=members[np.arange(len(rows)), shares.argmax(axis=1)],
        zones=members,
        shares=shares,
        shift=np.array([row[4] for row in rows]),
        plants=tuple(plants),
        plant=np.array([np.inf if plant is None else plant.capacity for plant in plants]),
        groups=tuple(row[5] for row in rows),
    )


class Flows(NamedTuple):
    """Means of one step, (unit,): heat in W, water in kg/s.

    `coil` = `sensible` + `vapour_heat` + `fan` + `duct` − `drained_heat` − rise of the heat in the coil's water.
    `condensed` is what comes onto the coil, `moisture` that less what evaporates from it again.
    """

    sensible: Array
    moisture: Array
    vapour_heat: Array
    coil: Array
    compressor: Array
    fan: Array
    duct: Array
    drained: Array
    drained_heat: Array
    condensed: Array
    running: Array
    started: Array
    stopped_by_itself: Array
    current: Array


class Working:
    """All units of a fleet with their thermostats and the water on their coils.

    Parameters
    ----------
    fleet : Fleet
    surfaces : Surfaces
        Of `fleet.kinds`.
    thermostat : Thermostat
    part_load : PartLoad
    duct_gain : float
        Share of the sensible cooling that ducts take up. [-]
    always : bool
        Whether fans run on while the compressor pauses.
    step : float
        [s]
    """

    def __init__(
        self, fleet: Fleet, surfaces: Surfaces, thermostat: Thermostat, part_load: PartLoad, duct_gain: float,
        always: bool, step: float,
    ) -> None:  # fmt: skip
        self.fleet, self.surfaces, self.part_load = fleet, surfaces, part_load
        self.duct_gain, self.always, self.step_length = duct_gain, always, step
        self.thermostats = Thermostats(thermostat, fleet.regulation, surfaces.smallest[fleet.kind], step)
        self.most = part_load.holding * surfaces.rated_condensate[fleet.kind]
        self.rate = part_load.evaporating * surfaces.rated_condensate[fleet.kind] / surfaces.rated_thirst[fleet.kind]
        self.water, self.water_heat = np.zeros(len(fleet.kind)), np.zeros(len(fleet.kind))
        rated = [kind.unit.compressor_power + kind.unit.fan_power for kind in fleet.kinds]
        self.amps = fleet.of_kinds([k.unit.running_current for k in fleet.kinds]) / fleet.of_kinds(rated)
        self.chillers = Chillers(fleet.plants, step)
        self._row = fleet.run[:, None]
        self._returned: tuple[Array, Array] | None = None
        self._quick = 1.0 - np.exp(-step / RETURN_LAG)

    def step(self, air: Array, ratio: Array, reading: Array, setpoint: Array, allowed: Flags, beside: Array) -> Flows:
        """Run all units over one step with what rooms are like as it begins, all (run, zone).

        Parameters
        ----------
        air, ratio : temperature [°C] and humidity ratio [kg/kg]
        reading : what thermostats read. [°C]
        setpoint : [°C]
        allowed : whether cooling is switched on, and with it fans that run on
        beside : (run,) array
            What other coils take from the plant. [W]
        """
        self._beside, self._wanted = beside, allowed.any(axis=1) | (beside > 0.0)
        f, h, t = self.fleet, self.step_length, self.thermostats
        rooms = air[self._row, f.zones], ratio[self._row, f.zones]
        last = rooms if self._returned is None else self._returned
        self._returned = last[0] + self._quick * (rooms[0] - last[0]), last[1] + self._quick * (rooms[1] - last[1])
        self._air, self._ratio = self._returned
        T, w = (self._air * f.shares).sum(axis=1), (self._ratio * f.shares).sum(axis=1)
        sensed = f.run, f.sensor
        started = t.decide(reading[sensed], setpoint[sensed] + f.shift, allowed[sensed])
        o = self.surfaces.look_up(f.kind, t.stage, T, w)
        on = t.on & ~o.tripped
        up = np.where(on, come_up(np.minimum(t.since, 1e6), h, self.part_load.start), 0.0)
        vapour = EVAPORATION + VAPOUR_HEAT * o.leaving
        up = up * self._served(up * (o.sensible + o.condensate * (vapour - WATER_HEAT * o.surface)))
        condensed = up * o.condensate
        blowing = on | allowed[sensed] if self.always else on
        wet = wetted(self.water, self.water_heat, self.most, h * condensed, h * condensed * WATER_HEAT * o.surface)
        dry = dried(wet.water, wet.heat, self.most, np.where(blowing & ~on, self.rate * o.thirst, 0.0), h)
        self.water, self.water_heat = dry.water, dry.heat
        evaporated = dry.evaporated / h
        from_air = evaporated * (EVAPORATION + VAPOUR_HEAT * T)
        fan = np.where(blowing, o.fan, 0.0)
        at_coil = up * o.sensible + from_air - dry.evaporated_heat / h - fan
        duct = self.duct_gain * np.maximum(at_coil, 0.0)
        sensible, moisture = at_coil - duct, condensed - evaporated
        compressor = np.where(on, o.power, 0.0)
        self._flow = np.where(blowing, o.flow, 0.0)
        self._sensible, self._moisture, self._mixed = sensible, moisture, (T, w)
        halted = t.on & (o.tripped | (o.surface < ICING))
        t.passed()
        t.stop(halted)
        return Flows(
            sensible, moisture, condensed * vapour - from_air,
            up * o.sensible + condensed * (vapour - WATER_HEAT * o.surface), compressor, fan, duct, wet.drained / h,
            wet.drained_heat / h, condensed, on.astype(float), started.astype(float),
            halted.astype(float), self.amps * (compressor + fan),
        )  # fmt: skip

    def _served(self, wanted: Array) -> Array:
        """Share of the coil heat wanted (unit,) that the chillers of each unit's run have left for it."""
        plant = self.fleet.plant
        by_run = np.bincount(self.fleet.run, wanted, len(plant)) * (1.0 + PIPE_GAIN)
        left = np.maximum(plant - self._beside * (1.0 + PIPE_GAIN), 0.0)
        return np.asarray(np.minimum(1.0, left / np.maximum(by_run, 1.0))[self.fleet.run])

    def chill(self, coil: Array) -> Chilled:
        """What each run's chillers do in this step for the heat of all coils, pipes included."""
        by_run = np.bincount(self.fleet.run, coil, len(self.fleet.plant)) + self._beside
        return self.chillers.step(by_run * (1.0 + PIPE_GAIN), self._wanted)

    def to_zones(self, zones: int) -> tuple[Array, Array]:
        """Heat [W] and vapour [kg/s] that the last step's flows bring to rooms, negative, both (run, zone)."""
        f, (T, w) = self.fleet, self._mixed
        runs = len(f.plant)
        stream = self._flow[:, None]
        heat = f.shares * (self._sensible[:, None] + stream * (DRY_AIR_HEAT + VAPOUR_HEAT * w[:, None]) * (
            self._air - T[:, None]))  # fmt: skip
        vapour = f.shares * (self._moisture[:, None] + stream * (self._ratio - w[:, None]))
        place = (self._row * zones + f.zones).ravel()
        given = (np.bincount(place, part.ravel(), runs * zones).reshape(runs, zones) for part in (heat, vapour))
        by_heat, by_vapour = (-np.asarray(part, dtype=float) for part in given)
        return by_heat, by_vapour
