"""The laws behind the heat network's links, evaluated at the temperatures and the hour instead of at a regime's bin.

The functions are those of physics/ that network/heat.py linearises; loads/unlinearised.py carries a boat through them.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.network.airflow import DRY_AIR_DENSITY, MOIST_HEAT, air_links, exchange, thinness
from heatsim.network.base import LAWS, Network
from heatsim.network.heat import BLIND_AWAY, CLOSED_GAP_CONVECTION
from heatsim.network.regimes import Regimes, blinded
from heatsim.physics import films
from heatsim.scenario.resolved import Resolved

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Moment:
    """The regime and the weather at one moment; temperatures in °C, wind in m/s, density in kg dry air/m³.

    `deck` (face,) is the temperature with which own deck radiates before each face.
    """

    regime: int
    wind: float
    sky: float
    air: float
    sea: float
    density: float
    deck: Array


class LawGroup(ABC):
    """Links of one law. A call gives their conductance, and heat beyond it, from temperatures of source and target."""

    def __init__(self, links: Indices, network: Network, resolved: Resolved, regimes: Regimes) -> None:
        self.links, self.items = links, network.item[links]
        self.resolved, self.regimes = resolved, regimes
        self.base = network.conductance[:, links]
        self.prepare(network)

    def prepare(self, network: Network) -> None:  # noqa: B027  a law may need nothing
        """Look up what the law needs."""

    @abstractmethod
    def __call__(self, now: Moment, source: Array, target: Array) -> tuple[Array, Array | float]:
        """Conductance (link,) W/K and further heat (link,) W."""


class _OutsideFilm(LawGroup):
    """Convection to air, and T⁴ to the sky, the sea, own deck and what else lies below the horizon."""

    def prepare(self, network: Network) -> None:
        faces = [self.resolved.faces[i] for i in self.items]
        self.area = np.array([face.area for face in faces])
        self.emissivity = np.array([face.emissivity for face in faces])
        self.sky = (1.0 + np.cos(np.radians([face.tilt for face in faces]))) / 2.0
        self.sea = np.array([face.foreground.sea for face in faces])
        self.deck = np.array([face.foreground.deck for face in faces])
        self.given = np.array([np.nan if face.outside_film is None else face.outside_film for face in faces])
        self.covered = _covered(self.resolved, self.regimes.awning, self.items)
        self.closed = _closed(self.resolved, self.items)

    def __call__(self, now: Moment, source: Array, target: Array) -> tuple[Array, Array | float]:
        covered = self.covered[now.regime]
        convection = np.where(np.isnan(self.given), films.outside_convection(now.wind), self.given)
        convection = convection * (1.0 - covered * self.closed)
        sky = films.radiative_coefficient(target, now.sky, self.emissivity) * self.sky * (1.0 - covered)
        ground = 1.0 - self.sky
        low = films.radiative_coefficient(target, now.air, self.emissivity) * ground * (1.0 - self.sea - self.deck)
        sea = films.radiative_coefficient(target, now.sea, self.emissivity) * ground * self.sea
        own_deck = now.deck[self.items]
        deck = films.radiative_coefficient(target, own_deck, self.emissivity) * ground * self.deck
        film = convection + sky + low + sea + deck
        apart = sky * (now.sky - source) + sea * (now.sea - source) + deck * (own_deck - source)
        return self.area * film, self.area * apart


class _AwningGap(LawGroup):
    """T⁴ between a face and the awning above it, and convection where the gap is closed."""

    def prepare(self, network: Network) -> None:
        faces = [self.resolved.faces[i] for i in self.items]
        self.area = np.array([face.area for face in faces])
        self.emissivity = np.array([face.emissivity for face in faces])
        self.sky = (1.0 + np.cos(np.radians([face.tilt for face in faces]))) / 2.0
        self.covered = _covered(self.resolved, self.regimes.awning, self.items)
        self.closed = _closed(self.resolved, self.items)

    def __call__(self, now: Moment, source: Array, target: Array) -> tuple[Array, Array | float]:
        radiation = films.radiative_coefficient(source, target, self.emissivity) * self.sky
        return self.area * (radiation + CLOSED_GAP_CONVECTION * self.closed) * self.covered[now.regime], 0.0


class _AwningTop(LawGroup):
    """Convection of an awning, on both sides where its gap is open, and T⁴ from its top to the sky."""

    def prepare(self, network: Network) -> None:
        awnings = [self.resolved.awnings[a] for a in self.items]
        areas = [sum(face.area for face in self.resolved.faces if face.awning == a.name) for a in awnings]
        self.area = np.maximum(areas, 1e-6)
        self.emissivity = np.array([a.emissivity for a in awnings])
        self.sides = np.array([2.0 if a.open_gap else 1.0 for a in awnings])

    def __call__(self, now: Moment, source: Array, target: Array) -> tuple[Array, Array | float]:
        sky = films.radiative_coefficient(target, now.sky, self.emissivity)
        film = films.outside_convection(now.wind) * self.sides + sky
        return self.area * film, self.area * sky * (now.sky - source)


class _InsideConvection(LawGroup):
    """Convection at inner skins: forced while the fan runs, else natural by the actual direction of the heat flow."""

    def prepare(self, network: Network) -> None:
        faces = [self.resolved.faces[i // 2] for i in self.items]
        side = self.items % 2
        self.area = np.array([face.area for face in faces])
        self.tilt = np.array([face.tilt for face in faces])
        self.tilt = np.where(side == 0, self.tilt, 180.0 - self.tilt)
        given = [face.inside_film if s == 0 else face.outside_film for face, s in zip(faces, side, strict=True)]
        self.given = np.array([np.nan if film is None else film for film in given])
        number = {zone.name: i for i, zone in enumerate(self.resolved.zones)}
        zones = [number[face.zone if s == 0 else face.beyond] for face, s in zip(faces, side, strict=True)]
        self.fan = self.regimes.fan[:, zones]
        self.forced = films.forced_inside_convection(films.FAN_AIR_CHANGES, self.tilt)
        self.to_air = np.isin(network.target[self.links], network.supplied)

    def film(self, now: Moment, source: Array, target: Array) -> Array:
        """Convective coefficient."""
        warmer = np.where(self.to_air, source > target, target > source)
        natural = films.natural_inside_convection(self.tilt, warmer)
        fan = self.fan[now.regime]
        return np.where(np.isnan(self.given), fan * self.forced + (1.0 - fan) * natural, self.given)

    def __call__(self, now: Moment, source: Array, target: Array) -> tuple[Array, Array | float]:
        return self.area * self.film(now, source, target), 0.0


class _BlindConvection(_InsideConvection):
    """The same on both sides of a closed blind."""

    def prepare(self, network: Network) -> None:
        faces, self.items = self.items, 2 * self.items
        super().prepare(network)
        order = blinded(self.resolved)
        self.closed = self.regimes.blind[:, [order.index(i) for i in faces]]

    def __call__(self, now: Moment, source: Array, target: Array) -> tuple[Array, Array | float]:
        closed = self.closed[now.regime]
        film = 2.0 * self.film(now, source, target) * closed + BLIND_AWAY * (1.0 - closed)
        return self.area * film, 0.0


class _ScheduledFilm(_InsideConvection):
    """Convection and T⁴ to a space of scheduled temperature."""

    def prepare(self, network: Network) -> None:
        super().prepare(network)
        self.to_air[:] = False
        self.emissivity = np.array([self.resolved.faces[i // 2].inside_emissivity for i in self.items])

    def __call__(self, now: Moment, source: Array, target: Array) -> tuple[Array, Array | float]:
        radiation = films.radiative_coefficient(source, target, self.emissivity)
        return self.area * (self.film(now, source, target) + radiation), 0.0


class _LongWave(LawGroup):
    """T⁴ where the network has it linearised about one temperature, with the same enclosure factors."""

    def prepare(self, network: Network) -> None:
        about = self.items.astype(float)
        self.factor = self.base / films.radiative_coefficient(about, about, 1.0)

    def __call__(self, now: Moment, source: Array, target: Array) -> tuple[Array, Array | float]:
        return self.factor[now.regime] * films.radiative_coefficient(source, target, 1.0), 0.0


class _Door(LawGroup):
    """Air through doors and stairs between zones by the actual temperature difference."""

    def prepare(self, network: Network) -> None:
        index = {name: i for i, name in enumerate(network.zones)}
        streams = air_links(self.resolved, self.regimes, index)
        self.streams = [streams[i] for i in self.items]

    def __call__(self, now: Moment, source: Array, target: Array) -> tuple[Array, Array | float]:
        volume = np.array([self.volume(i, now, source, target) for i in range(len(self.items))])
        return volume * DRY_AIR_DENSITY * MOIST_HEAT, 0.0

    def volume(self, i: int, now: Moment, source: Array, target: Array) -> float:
        """Flow of the group's i-th stream. [m³/s of reference air]"""
        stream = self.streams[i]
        if stream.opening < 0:
            return float(stream.volume[now.regime])
        share = thinness(self.regimes) * self.regimes.opening[now.regime, stream.opening]
        wind = now.wind if stream.source < 0 else 0.0
        opening = self.resolved.openings[stream.opening]
        return float(share * exchange(opening, float(source[i] - target[i]), wind))


class _OutdoorAir(_Door):
    """Outdoor air at its own density; through doors and hatches by wind and the actual temperature difference."""

    def __call__(self, now: Moment, source: Array, target: Array) -> tuple[Array, Array | float]:
        volume = np.array([self.volume(i, now, source, target) for i in range(len(self.items))])
        return volume / thinness(self.regimes) * now.density * MOIST_HEAT, 0.0


GROUPS: dict[str, type[LawGroup]] = {
    "outside_film": _OutsideFilm, "awning_gap": _AwningGap, "awning_top": _AwningTop,
    "inside_convection": _InsideConvection, "blind_convection": _BlindConvection, "scheduled_film": _ScheduledFilm,
    "long_wave": _LongWave, "door": _Door, "outdoor_air": _OutdoorAir,
}  # fmt: skip


def _covered(resolved: Resolved, set_: Array, faces: Indices) -> Array:
    """Share of time an awning stands over each face, (regime, face)."""
    names = [awning.name for awning in resolved.awnings]
    covers = [resolved.faces[i].awning for i in faces]
    columns = [np.zeros(len(set_)) if name is None else set_[:, names.index(name)] for name in covers]
    return np.stack(columns, axis=1)


def _closed(resolved: Resolved, faces: Indices) -> Array:
    """1 where the gap under a face's awning is closed, (face,)."""
    closed = {awning.name for awning in resolved.awnings if not awning.open_gap}
    return np.array([float(resolved.faces[i].awning in closed) for i in faces])


def law_groups(network: Network, resolved: Resolved, regimes: Regimes, laws: tuple[str, ...]) -> list[LawGroup]:
    """The links of each of the named laws that the network has."""
    found = ((law, np.flatnonzero(network.law == LAWS.index(law))) for law in LAWS if law in laws and law in GROUPS)
    return [GROUPS[law](links, network, resolved, regimes) for law, links in found if len(links)]
