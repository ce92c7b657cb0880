"""The steady ship-standard basis: ISO 7547:2002, its states, coefficients, fixed differences and solar excess.

A second, independent answer for the same description of the boat, for whoever must show it to a yard or a class
surveyor. Nothing of the hour-by-hour engine is used. The tables of the 2022 edition were not seen; most of those of
2002 are from memory (tables/ship_standard_2002.csv says which). What the standard leaves open for a yacht is assumed in
one place each, marked "assumed" here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from heatsim.climate.weather import routine_values
from heatsim.physics import moist_air
from heatsim.physics.moist_air import EVAPORATION
from heatsim.scenario.resolved import (
    ADIABATIC,
    OUTDOORS,
    SEA,
    SHIP_STANDARD_BY_LAYERS,
    Face,
    Layer,
    Resolved,
    Zone,
)
from heatsim.tables.loader import by_name

if TYPE_CHECKING:
    import pandas as pd

DARK = 0.5
"""[-] Solar absorptance from which a surface counts as dark (assumed; the standard says light or dark only)."""
SINGLE_FROM = 4.5
"""[W m⁻² K⁻¹] U-value from which glass counts as single (assumed: between single 5.7 and double 2.7 to 3.3)."""
AT_WORK = 200.0
"""[W] Heat of a person from which the activity counts as work (assumed: between 120 seated and 240 at work)."""
METAL = 10.0
"""[W m⁻¹ K⁻¹] Conductivity of a layer from which a lay-up counts as steel structure (assumed)."""
AIR_DENSITY, AIR_HEAT = 1.2, 1005.0
"""[kg m⁻³], [J kg⁻¹ K⁻¹] Of supply air (from memory)."""
AREA_PER_PERSON = {"saloon": 2.0, "dining": 1.5, "crew mess": 1.5, "sky lounge": 5.0}
"""[m²] ISO 7547:2002, 4.5 (first row seen); a sky lounge as a recreation room."""
PERSONS = {"gym": 4.0, "office": 2.0}
"""ISO 7547:2002, 4.5 (from memory)."""
LIGHTS = {"saloon": "lights dining room", "dining": "lights dining room", "crew mess": "lights dining room",
          "sky lounge": "lights dining room", "gym": "lights gymnasium"}  # fmt: skip
"""Row of the table for spaces without daylight; all others as cabins."""
NEIGHBOURS = {"engine space": "engine room", "galley": "engine room", "corridor": "alleyway"}
"""Table 1's row for a space that nobody cools, by its use; all others as an unheated tank or cargo space."""


@dataclass(frozen=True)
class Space:
    """One conditioned space: summer gains [W], winter loss [W], supply and outdoor air [m³/s], persons.

    `outdoor_air_sensible` and `outdoor_air_latent` fall on the plant, not on the room.
    """

    sides_and_decks: float
    glass: float
    neighbours: float
    sun_on_surfaces: float
    sun_through_glass: float
    persons_sensible: float
    persons_latent: float
    lights: float
    equipment_sensible: float
    equipment_latent: float
    room_sensible: float
    room_latent: float
    outdoor_air_sensible: float
    outdoor_air_latent: float
    total: float
    winter_loss: float
    supply_air: float
    outdoor_air: float
    persons: float
    sun_from: float


def ship_standard(resolved: Resolved) -> pd.DataFrame:
    """Gains and losses of every conditioned space by ISO 7547:2002.

    Parameters
    ----------
    resolved : Resolved
        Its `basis` chooses between the coefficients of the standard's table 2 and its formula for layers (5.2.4).

    Returns
    -------
    DataFrame
        A row for each conditioned zone, and their sum "boat"; columns as in `Space`. `sun_from` is the bearing on the
        boat from which the sun does most. Room gains and plant load are design values without a margin.

    References
    ----------
    .. [1] ISO 7547:2002, Ships and marine technology: air-conditioning and ventilation of accommodation spaces, 4 to 6.
    """
    import pandas as pd

    spaces = {zone.name: space(resolved, zone) for zone in resolved.zones if zone.control is not None}
    frame = pd.DataFrame(
        [[getattr(one, f.name) for f in fields(Space)] for one in spaces.values()],
        index=pd.Index(list(spaces), name="zone"), columns=[f.name for f in fields(Space)],
    )  # fmt: skip
    frame.loc["boat"] = frame.sum()
    frame.loc["boat", "sun_from"] = np.nan
    return frame


def value(item: str, season: str = "summer") -> float:
    """One number of the standard, in the unit its row names."""
    return float(by_name("ship_standard_2002")[item][season])


def space(resolved: Resolved, zone: Zone) -> Space:
    """One conditioned space; see `Space`."""
    faces = _seen_from(resolved, zone)
    shell = _Shell(resolved, faces)
    sides, glass, beside = shell.transmission("summer")
    surfaces, through, bearing = shell.sun()
    persons, sensible, latent = _people(zone)
    lights = 0.0 if any(f.glazing for f, _ in faces) else value(LIGHTS.get(zone.use, "lights cabin")) * zone.floor_area
    equipment = [(g.power * max(g.routine.values), g.latent_share) for g in zone.gains if g.kind == "equipment"]
    equipment_latent = sum(power * share for power, share in equipment)
    equipment_sensible = sum(power for power, _ in equipment) - equipment_latent
    room = sides + glass + beside + surfaces + through + sensible + lights + equipment_sensible
    supply = room / (AIR_DENSITY * AIR_HEAT * value("supply air difference"))
    outdoor = max(persons * value("outdoor air per person"), value("outdoor share of supply air") / 100.0 * supply)
    air_sensible, air_latent = outdoor_air_heat(outdoor)
    supply = max(supply, outdoor)
    loss = -sum(shell.transmission("winter"))
    return Space(
        sides, glass, beside, surfaces, through, sensible, latent, lights, equipment_sensible, equipment_latent, room,
        latent + equipment_latent, air_sensible, air_latent,
        room + latent + equipment_latent + air_sensible + air_latent, loss, supply, outdoor, persons, bearing,
    )  # fmt: skip


def outdoor_air_heat(volume: float) -> tuple[float, float]:
    """Sensible and latent heat of outdoor air brought to the indoor state of summer. [W]

    Parameters
    ----------
    volume : float
        At the outdoor state. [m³/s]
    """
    out, room = value("outdoor dry bulb"), value("indoor dry bulb")
    pressure = moist_air.STANDARD_PRESSURE
    wet = moist_air.humidity_ratio(out, value("outdoor relative humidity") / 100.0, pressure)
    dry = moist_air.humidity_ratio(room, value("indoor relative humidity") / 100.0, pressure)
    mass = volume * moist_air.dry_air_density(out, wet, pressure)
    whole = moist_air.enthalpy(out, wet) - moist_air.enthalpy(room, dry)
    latent = EVAPORATION * (wet - dry)
    return float(mass * (whole - latent)), float(mass * latent)


def layered_coefficient(
    layers: Sequence[Layer], films: Sequence[float], correction: float, gaps: float = 0.0, contacts: float = 0.0
) -> float:
    """Coefficient k of a layered wall. [W m⁻² K⁻¹]

    Parameters
    ----------
    layers : sequence of Layer
    films : sequence of float
        Film coefficient of each side. [W m⁻² K⁻¹]
    correction : float
        μ for steel structure; 1 for none. [-]
    gaps, contacts : float
        Resistances M_L of air gaps and M_b between layers. [m² K W⁻¹]

    References
    ----------
    .. [1] ISO 7547:2002, 5.2.4 (from memory).
    """
    resistance = sum(1.0 / film for film in films) + sum(layer.thickness / layer.conductivity for layer in layers)
    return correction / (resistance + gaps + contacts)


def _seen_from(resolved: Resolved, zone: Zone) -> list[tuple[Face, str]]:
    """The zone's faces and what lies beyond each, also of those that the neighbour owns."""
    own = [(face, face.beyond) for face in resolved.faces if face.zone == zone.name]
    return own + [(face, face.zone) for face in resolved.faces if face.beyond == zone.name]


def _people(zone: Zone) -> tuple[float, float, float]:
    """Persons of the space, and their sensible and latent heat [W]: the standard's number, else the scenario's most."""
    minutes = np.array(sorted({minute for people in zone.people for minute in people.routine.minutes}), dtype=np.int64)
    present = np.array([people.count * routine_values(people.routine, minutes) for people in zone.people])
    most = present[:, present.sum(axis=0).argmax()] if len(zone.people) else np.zeros(0)
    working = np.array([people.total >= AT_WORK for people in zone.people], dtype=bool)
    if zone.use in AREA_PER_PERSON:
        persons = zone.floor_area / AREA_PER_PERSON[zone.use]
    else:
        persons = PERSONS.get(zone.use, float(most.sum()))
    busy = min(float(most[working].sum()), persons)
    sensible, latent = (
        busy * value(f"person at work {what}") + (persons - busy) * value(f"person seated {what}")
        for what in ("sensible", "latent")
    )
    return persons, sensible, latent


class _Shell:
    """The faces of one space with the standard's areas: each window takes its rim from the plane around it."""

    def __init__(self, resolved: Resolved, faces: Sequence[tuple[Face, str]]) -> None:
        self.resolved, self.faces = resolved, faces
        self.zones: Mapping[str, Zone] = {zone.name: zone for zone in resolved.zones}
        self.areas = [face.area for face, _ in faces]
        for i, (face, beyond) in enumerate(faces):
            if face.glazing is not None and beyond == OUTDOORS:
                self._widen(i, face)

    def _widen(self, i: int, face: Face) -> None:
        rim, size = value("glass rim"), np.sqrt(face.area)
        height, width = (face.shade.height, face.shade.width) if face.shade else (size, size)
        wide = (height + rim) * (width + rim)
        around = [
            j for j, (f, beyond) in enumerate(self.faces)
            if f.glazing is None and beyond == OUTDOORS and f.bearing == face.bearing and _flat(f) == _flat(face)
        ]  # fmt: skip
        room = sum(self.areas[j] for j in around)
        taken = min(wide - face.area, room)
        for j in around:
            self.areas[j] *= 1.0 - taken / room
        self.areas[i] = face.area + taken

    def transmission(self, season: str) -> tuple[float, float, float]:
        """Through sides and decks, through glass, and from neighbours. [W], negative in winter"""
        step = value("outdoor dry bulb", season) - value("indoor dry bulb", season)
        sign = 1.0 if season == "summer" else -1.0
        sides = glass = beside = 0.0
        for (face, beyond), area in zip(self.faces, self.areas, strict=True):
            heat = area * self._coefficient(face, beyond)
            if beyond in (OUTDOORS, SEA):  # the wetted hull as the ship's side (assumed)
                if face.glazing is None:
                    sides += heat * step
                else:
                    glass += heat * step
            elif beyond != ADIABATIC and self.zones[beyond].control is None:
                beside += sign * heat * value(f"against {self._neighbour(beyond)}", season)
        return sides, glass, beside

    def sun(self) -> tuple[float, float, float]:
        """Sun's gain through surfaces and through glass [W] from the bearing where they are most, and that bearing."""
        best = (0.0, 0.0, 0.0)
        for bearing in range(0, 360, 5):
            surfaces = glass = 0.0
            for (face, beyond), area in zip(self.faces, self.areas, strict=True):
                turned = (face.bearing - bearing + 180.0) % 360.0 - 180.0
                if beyond != OUTDOORS or not (_flat(face) or abs(turned) < 90.0):
                    continue
                if face.glazing is not None:
                    glass += area * value(f"sun through {'shaded' if face.blind else 'clear'} glass")
                elif face.awning is None:
                    tone, plane = (
                        "dark" if face.absorptance >= DARK else "light",
                        "horizontal" if _flat(face) else "vertical",
                    )
                    surfaces += area * self._coefficient(face, beyond) * value(f"sun on {tone} {plane} surface")
            if surfaces + glass > best[0] + best[1]:
                best = (surfaces, glass, float(bearing))
        return best

    def _coefficient(self, face: Face, beyond: str) -> float:
        weather = beyond in (OUTDOORS, SEA)
        if face.glazing is not None:
            u = next(g.u_value for g in self.resolved.glazings if g.name == face.glazing)
            return value("k single glass" if u >= SINGLE_FROM else "k double glass")
        if self.resolved.basis == SHIP_STANDARD_BY_LAYERS:
            layers = next(lay_up.layers for lay_up in self.resolved.lay_ups if lay_up.name == face.lay_up)
            metal = any(layer.conductivity >= METAL for layer in layers)
            films = (value("film inside"), value("film outside" if weather else "film inside"))
            return layered_coefficient(layers, films, value("correction for steel structure") if metal else 1.0)
        if weather:
            return value("k deck in the sun" if face.kind == "deck" and face.awning is None else "k ship's side")
        if beyond == ADIABATIC or self.zones[beyond].control is not None:
            return 0.0
        thin = self.zones[beyond].use in ("corridor", "head")  # a joinery bulkhead (assumed for heads)
        return value("k alleyway bulkhead" if thin else "k non-conditioned space")

    def _neighbour(self, name: str) -> str:
        """Table 1's row for a space that nobody cools."""
        zone = self.zones[name]
        if zone.use != "head":
            return NEIGHBOURS.get(zone.use, "tank or cargo space")
        beyond = [other for _, other in _seen_from(self.resolved, zone)]
        if any(other in self.zones and self.zones[other].use == "engine space" for other in beyond):
            return "sanitary space at engine"
        return "sanitary space outside" if OUTDOORS in beyond else "sanitary space inside"


def _flat(face: Face) -> bool:
    return face.tilt < 45.0
