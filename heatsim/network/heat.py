"""The heat network of a boat: zone air, radiant nodes, furnishings, the cells of every wall, panes, blinds, awnings.

Inner skins exchange convection with the zone's air and long-wave radiation with its radiant node; outer skins stand in
wind and long-wave exchange linearised at their regime's film. Models and sources: physics/films.py, physics/layers.py.

Each link that is linearised or binned carries its law. The number beside it is: of the face for outside films, gaps
under awnings and blinds; 2 × face + side for skins inside; of the awning for its top; the temperature in °C at which
long-wave exchange was linearised; of the stream in `air_links` for doors and outdoor air.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.network.airflow import DRY_AIR_DENSITY, MOIST_HEAT, AirLink, air_links
from heatsim.network.base import FIXED, HEAT_PATHS, Builder, Driver, Network
from heatsim.network.regimes import Regimes, blinded
from heatsim.physics import films, layers
from heatsim.scenario.resolved import ADIABATIC, GLASS_EMISSIVITY, OUTDOORS, SEA, Face, LayUp, Resolved, Zone

Array = npt.NDArray[np.float64]

ROOM_TEMPERATURE = 24.0
"""[°C] Of a room, where only the direction of a flow or a film to a scheduled space hangs on it."""
SKIN_SHARE = 0.5
"""[-] How far inner skins stand between room and outdoors, where their long-wave exchange is linearised; 5 K away
changes it by 5 %. On the hot days of three boats they stood 0.2 to 0.6 of the way in the mean."""
SUNLIT_EXCESS = 30.0
"""[K] By how much skins of a room all of glass are warmer when the sun is in: 300 W/m² by a film of 10 W/(m²·K)
(common practice, no source). It only moves where long-wave exchange is linearised, by the glass share of the room."""
SUNLIT_DAY = 6.0
"""[K] Of decks and sides above the air in the mean of a day (common practice, no source): whether they lie warmer than
a room decides only the direction of natural convection."""
BLIND_EMISSIVITY = 0.9
BLIND_TEMPERATURE = 30
"""[°C] The same between a pane and its blind."""
BLIND_AWAY = 1e-3
"""[W m⁻² K⁻¹] Keeps the node of an open blind at the room's air, where it takes part in nothing."""
CLOSED_GAP_CONVECTION = 2.0
"""[W m⁻² K⁻¹] Convective part of a closed air gap heated from above, 25–50 mm: ISO 6946 table 8 resistance 0.19–0.21
less the radiative part (from memory)."""
SEEN_FROM_BEYOND = {"deck": "sole", "sole": "deck"}
SUN_CAUSE = {"deck": "sun_on_deck", "glass": "sun_through_glass"}


@dataclass(frozen=True)
class Nominal:
    """Mean outdoor air and sea temperatures of the weathers, where outside exchange is linearised [°C].

    Over a year (`all_seasons`) heat flows both ways through weather decks, and natural convection takes neither side.
    Boats that share a network (`shared`) take conditioned rooms at one temperature, whatever their setpoints.
    """

    outdoor: float
    sea: float
    all_seasons: bool = False
    shared: bool = False


@dataclass
class _Surfaces:
    """Inner skins of one zone while it is assembled: node, area, emissivity, share of time shown (regime,), sun."""

    node: list[int]
    area: list[float]
    emissivity: list[float]
    shown: list[Array]
    sun_share: list[float]
    absorptance: list[float]
    glass: list[bool]

    def add(
        self, node: int, area: float, emissivity: float, shown: Array, sun_share: float = 0.0, absorptance: float = 0.0,
        glass: bool = False,
    ) -> None:  # fmt: skip
        """One more skin."""
        self.node.append(node)
        self.area.append(area)
        self.emissivity.append(emissivity)
        self.shown.append(shown)
        self.sun_share.append(sun_share)
        self.absorptance.append(absorptance)
        self.glass.append(glass)


def heat_network(resolved: Resolved, regimes: Regimes, nominal: Nominal) -> Network:
    """Assemble the heat network.

    Parameters
    ----------
    resolved : Resolved
    regimes : Regimes
    nominal : Nominal

    Returns
    -------
    Network
        `notes` holds `outer_skin` (face,) node of each outside skin, −1 where none; `radiant` (zone,) nodes;
        `outside_film` (regime, face) and `sky_film` (regime, face): the film to outdoor air and the share of long-wave
        of it [W/(m²·K)], which the drivers scale by.
    """
    return _Assembly(resolved, regimes, nominal).build()


class _Assembly:
    def __init__(self, resolved: Resolved, regimes: Regimes, nominal: Nominal) -> None:
        self.resolved, self.regimes, self.nominal = resolved, regimes, nominal
        self.zones = [zone for zone in resolved.zones if zone.temperature is None]
        self.index = {zone.name: i for i, zone in enumerate(self.zones)}
        self.number = {zone.name: i for i, zone in enumerate(resolved.zones)}
        self.build_with = Builder(len(regimes.wind), [zone.name for zone in self.zones], HEAT_PATHS)
        self.ones = np.ones(len(regimes.wind))
        self.outer_skin = np.full(len(resolved.faces), -1)
        self.film = np.zeros((len(regimes.wind), len(resolved.faces)))
        self.sky_film = np.zeros_like(self.film)
        self.surfaces = [_Surfaces([], [], [], [], [], [], []) for _ in self.zones]

    def build(self) -> Network:
        b = self.build_with
        self.skin_air = b.driver(Driver("air", cause="outdoor_temperature"))
        self.vent_air = b.driver(Driver("air", cause="outdoor_air"))
        self.sea = b.driver(Driver("sea", cause="sea"))
        self.scheduled = {
            zone.name: b.driver(Driver("scheduled", (i,), _space_cause(zone)))
            for i, zone in enumerate(self.resolved.zones)
            if zone.temperature is not None
        }
        self.air = [b.node(f"{zone.name} air", self._air_capacity(zone), i) for i, zone in enumerate(self.zones)]
        self.awnings = [self._awning(i) for i in range(len(self.resolved.awnings))]
        for i, face in enumerate(self.resolved.faces):
            self._face(i, face)
        radiant = [self._room(i, zone) for i, zone in enumerate(self.zones)]
        links = air_links(self.resolved, self.regimes, self.index)
        for number, link in enumerate(links):
            self._air(number, link)
        for i, zone in enumerate(self.zones):
            self._gains(i, zone, radiant[i])
        controlled = np.zeros((len(self.zones), len(b.names)))
        for i, zone in enumerate(self.zones):
            operative = zone.control is not None and zone.control.controlled == "operative"
            operative = operative and radiant[i] != self.air[i]
            controlled[i, self.air[i]] = 0.5 if operative else 1.0
            if operative:
                controlled[i, radiant[i]] = 0.5
        return b.network(
            self.air,
            [zone.control is not None for zone in self.zones],
            controlled,
            outer_skin=self.outer_skin.astype(float),
            radiant=np.array(radiant, dtype=float),
            outside_film=self.film,
            sky_film=self.sky_film,
            black_film=np.array([films.radiative_coefficient(self.nominal.outdoor + 5.0, self.nominal.outdoor, 1.0)]),
        )

    def _air_capacity(self, zone: Zone) -> float:
        return zone.air_capacity_factor * zone.volume * DRY_AIR_DENSITY * MOIST_HEAT

    # Faces ------------------------------------------------------------------------------------------------------

    def _face(self, i: int, face: Face) -> None:
        ends = (face.zone, face.beyond)
        if not any(end in self.index for end in ends):
            return
        b, bulk = self.build_with, self._chain(face)
        skins = []
        for side, end in enumerate(ends):
            zone = self.index.get(end, -1)
            skins.append(b.node(f"{face.name} {'inside' if side == 0 else 'outside'}", 0.0, zone))
        path = face.kind
        back = SEEN_FROM_BEYOND.get(path, path)
        resistances, capacities = bulk
        previous = skins[0]
        for cell, capacity in enumerate(capacities):
            node = b.node(f"{face.name} layer {cell + 1}", capacity * face.area)
            b.joined(previous, node, face.area / max(resistances[cell], 1e-6), path)
            previous = node
        b.joined(previous, skins[1], face.area / max(resistances[-1], 1e-6), path, back)
        if face.lay_up is not None and self._lay_up(face.lay_up).bridge > 0.0:
            b.joined(skins[0], skins[1], face.area * self._lay_up(face.lay_up).bridge, path, back)
        self._end(i, face, skins[0], face.zone, 0)
        self._end(i, face, skins[1], face.beyond, 1)
        self.outer_skin[i] = skins[1]

    def _lay_up(self, name: str) -> LayUp:
        return next(lay_up for lay_up in self.resolved.lay_ups if lay_up.name == name)

    def _chain(self, face: Face) -> tuple[Array, Array]:
        if face.glazing is not None:
            glazing = next(g for g in self.resolved.glazings if g.name == face.glazing)
            return np.array([glazing.resistance]), np.array([])
        assert face.lay_up is not None
        lay_up = self._lay_up(face.lay_up)
        return layers.cells([(x.thickness, x.conductivity, x.density, x.specific_heat) for x in lay_up.layers])

    def _end(self, i: int, face: Face, skin: int, end: str, side: int) -> None:
        """Join one skin of a face to what it stands in."""
        b = self.build_with
        if end in self.index:
            self._inner_skin(i, skin, self.index[end], side)
        elif end in self.scheduled:
            h = self._inside_convection(face, side, self.number[end])
            h = h + films.radiative_coefficient(ROOM_TEMPERATURE, ROOM_TEMPERATURE, face.inside_emissivity)
            b.fed(skin, self.scheduled[end], face.area * h, face.kind, law=("scheduled_film", 2 * i + side))
        elif end == SEA:
            film = films.SEA_FILM if face.outside_film is None else face.outside_film
            b.fed(skin, self.sea, face.area * film, face.kind)
        elif end == OUTDOORS:
            self._outer_skin(i, face, skin)
        elif end != ADIABATIC:
            raise AssertionError(f"face {face.name}: unknown neighbour {end}")

    def _outer_skin(self, i: int, face: Face, skin: int) -> None:
        b, outdoor = self.build_with, self.nominal.outdoor
        if face.outside_film is None:
            convection = films.outside_convection(self.regimes.wind)
        else:
            convection = face.outside_film * self.ones
        black = float(films.radiative_coefficient(outdoor + 5.0, outdoor, face.emissivity))
        sky = (1.0 + np.cos(np.radians(face.tilt))) / 2.0
        covered, closed = np.zeros_like(self.ones), False
        if face.awning is not None:
            a = next(k for k, awning in enumerate(self.resolved.awnings) if awning.name == face.awning)
            covered, closed = self.regimes.awning[:, a], not self.resolved.awnings[a].open_gap
            gap = black * sky + (CLOSED_GAP_CONVECTION if closed else 0.0)
            b.joined(skin, self.awnings[a], face.area * gap * covered, face.kind, law=("awning_gap", i))
        film = convection * (1.0 - covered * closed) + black * ((1.0 - sky) + sky * (1.0 - covered))
        b.fed(skin, self.skin_air, face.area * film, face.kind, law=("outside_film", i))
        self.film[:, i], self.sky_film[:, i] = film, black * sky * (1.0 - covered)
        zone = self.index.get(face.zone, -1)
        cause = SUN_CAUSE.get(face.kind, "sun_on_hull_and_house")
        b.driver(Driver("long_wave", (i,), "sky", face.kind, ((skin, 1.0),)))
        b.driver(Driver("outer_sun", (i,), cause, face.kind, ((skin, 1.0),)))
        if face.glazing is not None and zone >= 0:
            inner = b.names.index(f"{face.name} inside")
            b.driver(Driver("inner_sun", (i,), cause, "glass", ((inner, 1.0),)))

    def _awning(self, a: int) -> int:
        b, awning = self.build_with, self.resolved.awnings[a]
        area = sum(face.area for face in self.resolved.faces if face.awning == awning.name)
        node = b.node(f"{awning.name} awning")
        convection = films.outside_convection(self.regimes.wind) * (2.0 if awning.open_gap else 1.0)
        outdoor = self.nominal.outdoor
        black = float(films.radiative_coefficient(outdoor + 5.0, outdoor, awning.emissivity))
        b.fed(node, self.skin_air, max(area, 1e-6) * (convection + black), "deck", law=("awning_top", a))
        b.driver(Driver("awning_sun", (a,), "sun_on_deck", "deck", ((node, area),)))
        b.driver(Driver("awning_long_wave", (a,), "sky", "deck", ((node, area),)))
        return node

    # Rooms ------------------------------------------------------------------------------------------------------

    def _inside_convection(self, face: Face, side: int, zone_number: int) -> Array:
        """Convective film of a face's skin inside a zone (regime,); `side` 1 sees the face from beyond."""
        given = face.inside_film if side == 0 else face.outside_film
        if given is not None:
            return given * self.ones
        tilt = face.tilt if side == 0 else 180.0 - face.tilt
        fan = self.regimes.fan[:, zone_number]
        forced = films.forced_inside_convection(films.FAN_AIR_CHANGES, tilt)
        natural = films.natural_inside_convection(tilt, self._warmer(face) if side == 0 else not self._warmer(face))
        if face.beyond == OUTDOORS and self.nominal.all_seasons:
            natural = films.NATURAL_HORIZONTAL
        return np.asarray(fan * forced + (1.0 - fan) * natural, dtype=float)

    def _warmer(self, face: Face) -> bool:
        """Whether what lies beyond is warmer than the face's zone, for the direction of natural convection."""
        if face.beyond == SEA or (face.beyond in self.number and self._use(face.beyond) == "bilge"):
            return self.nominal.sea > ROOM_TEMPERATURE
        if face.beyond == OUTDOORS:
            return self.nominal.outdoor + SUNLIT_DAY > ROOM_TEMPERATURE
        return face.beyond not in self.index or self.zones[self.index[face.beyond]].is_space

    def _use(self, name: str) -> str:
        return self.resolved.zones[self.number[name]].use

    def _inner_skin(self, i: int, skin: int, zone: int, side: int) -> None:
        face = self.resolved.faces[i]
        convection = self._inside_convection(face, side, self.number[self.zones[zone].name])
        law = ("inside_convection", 2 * i + side)
        self.build_with.joined(self.air[zone], skin, face.area * convection, face.kind, law=law)
        glass = face.glazing is not None and face.beyond == OUTDOORS
        self.surfaces[zone].add(
            skin,
            face.area,
            face.inside_emissivity if face.glazing is None else self._inside_emissivity(face),
            1.0 - self._blind_share(face) if glass else self.ones,
            face.sun_share if side == 0 and not glass else 0.0,
            self._returned(face) if glass else face.inside_absorptance,
            glass,
        )
        if glass and face.blind is not None:
            self._blind(i, skin, zone, convection)

    def _inside_emissivity(self, face: Face) -> float:
        return next(g.inside_emissivity for g in self.resolved.glazings if g.name == face.glazing)

    def _returned(self, face: Face) -> float:
        return 1.0 - next(g.back_reflectance for g in self.resolved.glazings if g.name == face.glazing)

    def _blind_share(self, face: Face) -> Array:
        if face.blind is None:
            return 0.0 * self.ones
        number = self.resolved.faces.index(face)
        return self.regimes.blind[:, blinded(self.resolved).index(number)]

    def _blind(self, i: int, skin: int, zone: int, convection: Array) -> None:
        """An inside blind: a node that hides the pane from the room while it is closed."""
        face = self.resolved.faces[i]
        b, closed = self.build_with, self._blind_share(face)
        node = b.node(f"{face.name} blind", 0.0, zone)
        black = films.radiative_coefficient(BLIND_TEMPERATURE, BLIND_TEMPERATURE, 1.0)
        to_pane = black / (1.0 / BLIND_EMISSIVITY + 1.0 / GLASS_EMISSIVITY - 1.0)
        film = 2.0 * convection * closed + BLIND_AWAY * (1.0 - closed)
        b.joined(self.air[zone], node, face.area * film, "glass", law=("blind_convection", i))
        b.joined(skin, node, face.area * to_pane * closed, "glass", law=("long_wave", BLIND_TEMPERATURE))
        self.surfaces[zone].add(node, face.area, BLIND_EMISSIVITY, closed)
        b.driver(Driver("blind_sun", (i,), "sun_through_glass", "sun", ((node, 1.0),)))

    def _room(self, i: int, zone: Zone) -> int:
        """Furnishings, radiant node, sun falling in; returns the radiant node (the air's where nothing radiates)."""
        b, here = self.build_with, self.surfaces[i]
        if zone.furnishing_capacity > 0.0:
            node = b.node(f"{zone.name} furnishings", zone.furnishing_capacity, i)
            fan = self.regimes.fan[:, self.number[zone.name]]
            convection = fan * float(films.forced_inside_convection(films.FAN_AIR_CHANGES, 90.0)) + (1.0 - fan) * 2.5
            b.joined(self.air[i], node, zone.furnishing_area * convection, "bulkhead")
            here.add(node, zone.furnishing_area, 0.9, self.ones, zone.furnishing_sun_share, 0.6)
        area, emissivity = np.array(here.area), np.array(here.emissivity)
        radiant = self.air[i]
        if len(area) and np.any(emissivity > 0.0):
            radiant = b.node(f"{zone.name} radiant", 0.0, i)
            lit = float(np.sum(area, where=np.array(here.glass))) / float(np.sum(area))
            about = round(self._skin_temperature(zone) + SUNLIT_EXCESS * lit)
            exchange = films.enclosure_exchange(area, emissivity, about)
            for node, conductance, shown in zip(here.node, exchange, here.shown, strict=True):
                b.joined(radiant, node, conductance * shown, "bulkhead", law=("long_wave", about))
        weights = self._sun_weights(here)
        if weights:
            b.driver(Driver("room_sun", (self.number[zone.name],), "sun_through_glass", "sun", weights))
        return radiant

    def _skin_temperature(self, zone: Zone) -> float:
        """About which a zone's long-wave exchange is linearised, sun apart. [°C]"""
        outdoor = self.nominal.outdoor
        if zone.control is None:
            return outdoor
        warm, cool = (
            float(np.mean(course.values)) for course in (zone.control.heating_setpoint, zone.control.cooling_setpoint)
        )
        room = ROOM_TEMPERATURE if self.nominal.shared else min(max(outdoor, warm), cool)
        return room + SKIN_SHARE * (outdoor - room)

    @staticmethod
    def _sun_weights(here: _Surfaces) -> tuple[tuple[int, float], ...]:
        """Share of the transmitted sun each inner skin absorbs; what is reflected spreads over all, and some leaves.

        First hit by the stated shares; the reflected rest is diffuse and meets every surface by area until it is
        absorbed or goes out through the glass.
        """
        if not any(here.glass) or all(here.glass):  # nothing comes in, or all of it goes out again
            return ()
        area, absorbed, glass = np.array(here.area), np.array(here.absorptance), np.array(here.glass)
        share = np.array(here.sun_share)
        share = share if np.sum(share) > 0.0 else np.where(glass, 0.0, area)
        share = share / np.sum(share)
        reflected = float(np.sum(share * (1.0 - absorbed)))
        spread = area * absorbed / np.sum(area * absorbed)
        weights = np.where(glass, 0.0, share * absorbed + reflected * spread)
        return tuple((node, float(w)) for node, w in zip(here.node, weights, strict=True) if w > 0.0)

    def _air(self, number: int, link: AirLink) -> None:
        b, conductance = self.build_with, link.volume * DRY_AIR_DENSITY * MOIST_HEAT
        target = self.air[link.target]
        if link.source >= 0:
            law = ("door", number) if link.opening >= 0 else FIXED
            b.moved(target, self.air[link.source], conductance, link.path, law=law)
            return
        b.fed(target, self.vent_air, conductance, link.path, law=("outdoor_air", number))
        b.driver(Driver("air_correction", (number,), "outdoor_air", link.path, ((target, 1.0),)))

    def _gains(self, i: int, zone: Zone, radiant: int) -> None:
        b, number = self.build_with, self.number[zone.name]
        engine = _space_cause(zone) if zone.is_space else ""
        for item, people in enumerate(zone.people):
            weights = ((self.air[i], 1.0 - people.radiant_share), (radiant, people.radiant_share))
            b.driver(Driver("people", (number, item), "people", "people", weights))
        for item, gain in enumerate(zone.gains):
            sensible = 1.0 - gain.latent_share
            weights = ((self.air[i], sensible - gain.radiant_share), (radiant, gain.radiant_share))
            b.driver(Driver("gain", (number, item), engine or gain.kind, gain.kind, weights))


def _space_cause(zone: Zone) -> str:
    return "engine_space" if zone.use.startswith("engine") else "adjoining"
