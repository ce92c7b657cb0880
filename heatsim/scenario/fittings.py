"""Zones and spaces resolved: what is in them, what may be held, and the outside air they take."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from heatsim.scenario.clock import Clock
from heatsim.scenario.courses import CourseText, constant
from heatsim.scenario.fields import NO_HUMIDITY_LIMIT
from heatsim.scenario.ledger import ASSUMED, COMMON, Ledger
from heatsim.scenario.occupancy import peak_count
from heatsim.scenario.quantities import as_written
from heatsim.scenario.resolved import Control, Gain, Moisture, People, Routine, Zone
from heatsim.scenario.rooms import LightsText, MoistureText, SpaceText, ZoneText, guessed_deck
from heatsim.tables.loader import by_name

FRESH_AIR_PER_PERSON = 25.0 / 3600.0
"""[m³/s] 25 m³/h a person: flag code for large yachts (ventilation), ISO 7547 8 L/s = 28.8 m³/h."""
LIGHTS_RADIANT, EQUIPMENT_RADIANT = 0.5, 0.3
"""Radiant shares: lamps recessed in a headliner about half; equipment 0.1 with fan to 0.8 (handbook, from memory)."""
NEUTRAL = 1.0
"""[K] Least gap that a default heating setpoint keeps below the lowest cooling setpoint, so that they never fight;
common practice, no source."""
FURNISHING_AREA = 2.0
"""[m² a m² of sole] Surface of joinery and upholstery, assumed (1 to 3)."""


@dataclass(frozen=True)
class Size:
    """Deck, sole, height and volume of a room."""

    deck: str
    floor_area: float
    height: float
    volume: float


def size_of(given: ZoneText | SpaceText, path: str, ledger: Ledger) -> Size:
    """Size of a zone with faces, or of a space (1 m² where a scheduled one says nothing)."""
    guess = guessed_deck(given)
    deck = ledger.take(
        f"{path}.deck", given.deck, guess, guess, ASSUMED + ": main where it has house sides, else lower"
    )
    floor = given.sole_area or 1.0
    height = given.height or (given.volume / floor if given.volume else 1.0)
    return Size(deck, floor, height, given.volume or floor * height)


def use_row(use: str) -> Mapping[str, str]:
    """Row of the uses table."""
    return by_name("uses")[use]


def lived_in(use: str) -> bool:
    """Whether people use rooms of this use: not so engine space, lazarette, bilge, tank and locker."""
    return use_row(use)["is_space"] == "0"


class Fittings:
    """Resolves what stands inside one zone or space; `path` is where its values would be set."""

    def __init__(self, clock: Clock, ledger: Ledger) -> None:
        self.clock = clock
        self.ledger = ledger

    def zone(self, name: str, given: ZoneText, size: Size, people: tuple[People, ...], sun_share: float) -> Zone:
        """A zone to be held."""
        path = f"zones.{name}"
        self.ledger.take(
            f"{path}.use", given.use if "use" in given.model_fields_set else None, given.use, given.use, ASSUMED
        )
        control = self._control(path, given) if given.conditioned else None
        return replace(
            self._room(name, path, given, size, sun_share),
            control=control,
            fan_on=self._fan(path, given),
            people=people,
        )

    def space(self, name: str, given: SpaceText, size: Size, sun_share: float, path: str) -> Zone:
        """A neighbour that nobody holds."""
        held = None if given.temperature is None else self.clock.routine(f"{name} temperature", given.temperature)
        return replace(self._room(name, path, given, size, sun_share), is_space=True, temperature=held)

    def infiltration(self, path: str, given: ZoneText | SpaceText, volume: float) -> float:
        """Outside air that leaks in. [m³/s]"""
        default = float(use_row(given.use)["infiltration_per_h"]) / 3600
        source = f"uses table, {given.use}: " + use_row(given.use)["source"]
        rate = self.ledger.quantity(
            f"{path}.infiltration", given.infiltration, default, "air changes", source, default / 2, default * 2
        )
        return rate * volume

    def fresh_air(self, path: str, given: ZoneText, people: tuple[People, ...]) -> float:
        """Outside air brought in on purpose. [m³/s]"""
        default = FRESH_AIR_PER_PERSON * peak_count(people)
        source = "flag code for large yachts: 25 m3/h a person, at the zone's largest number of persons"
        return self.ledger.quantity(
            f"{path}.fresh_air", given.fresh_air, default, "flow", source, default * 0.5, default * 1.2
        )

    def _room(self, name: str, path: str, given: ZoneText | SpaceText, size: Size, sun_share: float) -> Zone:
        """What zones and spaces have in common; nothing held, fan off, nobody in it."""
        row = use_row(given.use)
        source = f"uses table, {given.use}: " + row["source"]
        stuff = float(row["furnishing_kJ_per_K_m2"]) * 1000
        stuff = self.ledger.quantity(
            f"{path}.furnishing_capacity",
            given.furnishing_capacity,
            stuff,
            "capacity per area",
            source,
            stuff * 0.8,
            stuff * 1.2,
        )
        vapour = float(row["moisture_factor"])
        low, high = f"{max(vapour / 2, 1):g}", f"{1.5 * vapour:g}"
        vapour = self.ledger.take(
            f"{path}.moisture_factor", given.moisture_factor, vapour, f"{vapour:g}", source, low, high
        )
        return Zone(
            name=name,
            is_space=False,
            deck=size.deck,
            use=given.use,
            floor_area=size.floor_area,
            height=size.height,
            volume=size.volume,
            control=None,
            fan_on=constant("never", 0.0),
            furnishing_capacity=stuff * size.floor_area,
            furnishing_area=FURNISHING_AREA * size.floor_area,
            furnishing_sun_share=sun_share,
            moisture_factor=vapour,
            gains=(*self._lights(path, given, size), *self._equipment(path, given, size)),
            moisture=tuple(self._source(f"{path}.moisture[{i}]", item) for i, item in enumerate(given.moisture)),
            air_capacity_factor=given.air_capacity_factor,
        )

    def _source(self, path: str, given: MoistureText) -> Moisture:
        return Moisture(
            given.name, given.rate, self.clock.share(f"{path}.routine", given.routine, "always", self.ledger, COMMON)
        )

    def _fan(self, path: str, given: ZoneText) -> Routine:
        default = "always" if given.conditioned else "never"
        return self.clock.share(
            f"{path}.fan", given.fan, default, self.ledger, ASSUMED + ": loads are sized with the fan on"
        )

    def _control(self, path: str, given: ZoneText) -> Control:
        row = use_row(given.use)
        source = f"uses table, {given.use}: " + row["source"]
        controlled = self.ledger.take(f"{path}.controlled", given.controlled, "air", "air", COMMON)
        cooling = self._setpoint(f"{path}.setpoint", given.setpoint, float(row["setpoint_C"]), source)
        warm = min(float(row["heating_setpoint_C"]), min(cooling.values) - NEUTRAL)
        return Control(
            controlled=controlled,  # type: ignore[arg-type]
            cooling_setpoint=cooling,
            heating_setpoint=self._setpoint(f"{path}.heating_setpoint", given.heating_setpoint, warm, source),
            cooling_on=self.clock.share(f"{path}.cooling", given.cooling, "always", self.ledger, COMMON),
            heating_on=self.clock.share(f"{path}.heating", given.heating, "always", self.ledger, COMMON),
            cooling_limit=math.inf if given.cooling_limit is None else given.cooling_limit,
            heating_limit=math.inf if given.heating_limit is None else given.heating_limit,
            humidity_limit=self._humidity(path, given, float(row["humidity_limit"]), source),
            dehumidifying_limit=math.inf if given.dehumidifying_limit is None else given.dehumidifying_limit,
        )

    def _setpoint(self, path: str, given: CourseText | None, default: float, source: str) -> Routine:
        if given is None:
            value = self.ledger.quantity(path, None, default, "temperature", source, default - 1, default + 2)
            return constant(path, value)
        return self.clock.routine(path, given)

    def _humidity(self, path: str, given: ZoneText, default: float, source: str) -> float:
        if given.humidity_limit is None and default > 1:
            return self.ledger.take(f"{path}.humidity_limit", None, NO_HUMIDITY_LIMIT, "none", source)
        return self.ledger.quantity(f"{path}.humidity_limit", given.humidity_limit, default, "share", source, 0.5, 0.65)

    def _lights(self, path: str, given: ZoneText | SpaceText, size: Size) -> tuple[Gain, ...]:
        row = use_row(given.use)
        lights = given.lights
        density = float(row["lights_W_per_m2"])
        if lights is None:
            if not density:
                return ()
            shown = f"{{power_per_area: {density:g} W/m2, routine: {row['lights_routine']}}}"
            self.ledger.take(f"{path}.lights", None, None, shown, f"uses table, {given.use}: {row['source']}")
            lights = LightsText.model_construct(power_per_area=density)
        routine = lights.routine or CourseText(routine=row["lights_routine"])
        power = lights.power if lights.power is not None else (lights.power_per_area or 0.0) * size.floor_area
        radiant = LIGHTS_RADIANT if lights.radiant_share is None else lights.radiant_share
        return (Gain("lights", "lights", power, radiant, 0.0, self.clock.routine(f"{path}.lights.routine", routine)),)

    def _equipment(self, path: str, given: ZoneText | SpaceText, size: Size) -> tuple[Gain, ...]:
        row = use_row(given.use)
        if given.equipment is None:
            density = float(row["equipment_W_per_m2"])
            if not density:
                return ()
            power, latent = as_written(density * size.floor_area), float(row["equipment_latent_share"])
            when = f"routine: {row['equipment_routine']}, latent_share: {latent:g}"
            shown = f"[{{name: usual, power: {power:.0f} W, {when}}}]"
            self.ledger.take(
                f"{path}.equipment", None, None, shown, f"uses table, {given.use}, {density:g} W/m2: {row['source']}"
            )
            return (
                Gain(
                    "usual", "equipment", power, EQUIPMENT_RADIANT, latent, self.clock.named(row["equipment_routine"])
                ),
            )
        return tuple(
            Gain(
                item.name,
                "equipment",
                item.power,
                EQUIPMENT_RADIANT if item.radiant_share is None else item.radiant_share,
                item.latent_share or 0.0,
                self.clock.share(f"{path}.equipment[{i}].routine", item.routine, "always", self.ledger, COMMON),
            )
            for i, item in enumerate(given.equipment)
        )
