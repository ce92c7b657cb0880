"""Whose capacity a study's runs are held against: tabulated over the sea's temperature once, for the boat as she is."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from heatsim.equipment.capacity import Conditions, operate
from heatsim.equipment.catalogue import Unit, read_catalogue
from heatsim.equipment.layouts import ABOARD
from heatsim.equipment.selection import DIRECT, SAME_FREQUENCY
from heatsim.errors import Fault, HeatsimError
from heatsim.physics.moist_air import humidity_ratio
from heatsim.scenario.resolved import Resolved
from heatsim.study.design import NOTHING_LOST, UNIT_LOST, Design

if TYPE_CHECKING:
    from heatsim.equipment.layouts import Layout
    from heatsim.equipment.plan import Plan

Array = npt.NDArray[np.float64]

SEAS = np.arange(-2.0, 42.1, 1.0)
"""[°C] At which capacities are tabulated; straight between them, so that a trip takes a degree."""
ON_DESIGN_DAYS = "climate.weather_file=null", "climate.reader=null"
"""Changes with which a boat of a weather year is planned for: units are chosen on design days."""
ROOM = 24.0, 0.55
"""Air a unit meets where no plan says: temperature [°C] and relative humidity (assumed)."""


@dataclass(frozen=True)
class Aboard:
    """Over `SEAS`: capacity of all units (sea,) and sensible of each room (sea, room), with each unit lost by name, and
    the electrical power for each watt of cooling (sea,); capacities None where the runs are held against nothing.
    """

    about: str
    power_per_cooling: Array
    total: dict[str, Array]
    sensible: dict[str, Array]

    def capacity(self, sea: float, lost: str = NOTHING_LOST) -> float:
        """Of all units left, in a sea. [W]"""
        return float(np.interp(sea, SEAS, self.total[lost]))

    def limits(self, sea: float, lost: str = NOTHING_LOST) -> Array:
        """Sensible capacity of each room, (room,). [W]"""
        return np.array([np.interp(sea, SEAS, column) for column in self.sensible[lost].T])

    def electric(self, cooling: Array, sea: Array) -> Array:
        """Electrical power for cooling (..., hour) in a sea (hour,), in the unit of `cooling`."""
        return np.asarray(cooling * np.interp(sea, SEAS, self.power_per_cooling))


Units = dict[tuple[str, ...], Aboard]
"""By what a run changes of the equipment (`Design.fitted`)."""


def units_of(design: Design) -> Units:
    """Units of a study's boat as she is, for every change of her equipment; an axis of units lost must know them.

    Raises
    ------
    HeatsimError
    """
    whose = design.study.units
    by_days = ON_DESIGN_DAYS if design.days == ("year",) and whose != "none" else ()
    found = {
        changes: aboard(design.case_of((*changes, *by_days)), design.rooms, whose) for changes in design.fittings()
    }
    for axis in design.axes:
        for value in map(str, axis.values if axis.name == UNIT_LOST else ()):
            for units in found.values():
                if value not in units.total:
                    known = f"Known: {', '.join(units.total)}" if units.total else "Give units: installed or planned"
                    rule, path = "is none of the units the runs are held against", f"axes.{UNIT_LOST}"
                    raise HeatsimError(Fault(rule, path=path, value=value, remedy=known))
    return found


def aboard(boat: Resolved, rooms: tuple[str, ...], whose: Literal["none", "installed", "planned"]) -> Aboard:
    """Units of a boat over the sea's temperature.

    Raises
    ------
    HeatsimError
        Where nothing is installed, or no layout can be built.
    """
    if whose == "none":
        unit = _middling(boat)
        about = f"electricity by a middling unit of the catalogue, {unit.model}"
        return Aboard(about, _per_cooling(*_over_seas(unit, boat)), {}, {})
    from heatsim.equipment.plan import against_sea, plan, power_against_sea

    made = plan(boat)
    layout = _layout(made, whose)
    served, chilled, power = _plant(made, layout)
    losses: dict[str, int | None] = {NOTHING_LOST: None}
    losses |= {" + ".join(offer.covered): i for i, offer in enumerate(layout.offers)}
    total = {name: np.zeros(len(SEAS)) if chilled is None else chilled for name in losses}
    sensible = {name: np.zeros((len(SEAS), len(rooms))) for name in losses}
    for i, offer in enumerate(layout.offers):
        if chilled is None:
            done = [against_sea(made, duty, SEAS) for duty in offer.duties]
            power = power + power_against_sea(made, offer, SEAS)
        else:
            done = [(chilled, duty.sensible * served) for duty in offer.duties]
            power = power + offer.count * offer.unit.fan_power
        for name, gone in losses.items():
            left = (offer.count - (gone == i)) / offer.count
            if chilled is None:
                total[name] = total[name] + left * done[0][0]
            for duty, (_, cold) in zip(offer.duties, done, strict=True):
                for zone in duty.zones:
                    sensible[name][:, rooms.index(zone)] += left * cold * duty.share(zone)
    about = f"{layout.name}: " + ", ".join(f"{offer.count} × {offer.unit.model}" for offer in layout.offers)
    return Aboard(about, _per_cooling(power, total[NOTHING_LOST]), total, sensible)


def _layout(made: Plan, whose: str) -> Layout:
    installed = next((one for one in made.layouts if one.name == ABOARD), None)
    chosen = installed if whose == "installed" else made.chosen
    if chosen is None or not chosen.offers:
        rule = "nothing is installed" if whose == "installed" else "no layout can be built for the boat as she is"
        raise HeatsimError(
            Fault(rule, path="units", value=whose, remedy="Give equipment.existing, or see heatsim plan for the limits")
        )
    return chosen


def _plant(made: Plan, layout: Layout) -> tuple[Array, Array | None, Array]:
    """Share of the air handlers' capacity that chillers serve, their own capacity (None: no chillers), and power."""
    if layout.plant is None:
        return np.ones(len(SEAS)), None, np.zeros(len(SEAS))
    from heatsim.equipment.plan import plant_against_sea

    total = plant_against_sea(made, layout.plant, SEAS)
    by_capacity = layout.plant.power / layout.plant.capacity
    return np.minimum(1.0, total / layout.plant.demand), total, by_capacity * total


def _over_seas(unit: Unit, boat: Resolved) -> tuple[Array, Array]:
    """Electrical power and total cooling of one unit over `SEAS`; none where it trips. [W]"""
    terms = boat.terms
    met = Conditions(
        ROOM[0], float(humidity_ratio(*ROOM)), SEAS, water_flow=terms.water_flow, fouled=terms.fouling,
        speed=terms.frequency / unit.frequency,
    )  # fmt: skip
    done = operate(unit, met)
    runs = np.where(done.tripped, 0.0, 1.0)
    return (done.compressor_power + done.fan_power) * runs, done.total * runs


def _per_cooling(power: Array, total: Array) -> Array:
    return np.where(total > 0.0, power / np.maximum(total, 1.0), np.nan)


def _middling(boat: Resolved) -> Unit:
    """The unit of middle capacity among those that cool air by themselves at the frequency aboard."""
    catalogue = None if boat.catalogue is None else Path(boat.catalogue)
    units = [unit for unit in read_catalogue(catalogue, boat.terms.accept_unrated) if unit.kind in DIRECT]
    fitting = [unit for unit in units if abs(unit.frequency - boat.terms.frequency) <= SAME_FREQUENCY] or units
    if not fitting:
        raise HeatsimError(Fault("the catalogue has no unit that cools air by itself", path="equipment.catalogue"))
    return sorted(fitting, key=lambda unit: unit.gross)[len(fitting) // 2]
