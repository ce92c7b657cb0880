"""The drivers u of both networks: weather, sun, people, lights, equipment, as values at each step's start and end.

Within a regime the matrix is fixed, so whatever the hour's own film, air density or door flow differs from the
regime's is carried here: an outer skin gets the sol-air temperature of its own film, air from outdoors the difference
of its own mass flow taken at the zone's expected temperature.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.climate.sun import SunOnBoat
from heatsim.climate.weather import Weather, routine_values
from heatsim.network.airflow import DRY_AIR_DENSITY, MOIST_HEAT, AirLink, exchange, thinness
from heatsim.network.base import Network
from heatsim.network.regimes import Regimes, blinded
from heatsim.physics import films
from heatsim.physics.moist_air import EVAPORATION
from heatsim.physics.sol_air import FIRST_RADIATION, deck_radiation
from heatsim.scenario.resolved import Gain, Moisture, People, Resolved, Routine

Array = npt.NDArray[np.float64]
VALUES_AT_ONCE = 20_000
"""Of one quantity that are worked together: a handful of such arrays stays in a core's cache (measured)."""
Excess = tuple[Array, Array]
EXPECTED = "air_correction", "people", "vapour_correction", "people_vapour"
"""Kinds of driver that depend on expected temperatures and humidities."""
STEADY = "people", "gain", "scheduled", "people_vapour", "gain_vapour", "moisture"
"""Kinds that do not change within a step."""
INSIDE = (*STEADY, "air_correction", "vapour_correction")
"""Kinds that hang on what is in the zones and on air, and on nothing that the sun or the outside does."""


@dataclass(frozen=True)
class Site:
    """Everything the drivers of one weather need: `expected` °C and `expected_vapour` kg/kg, (run or 1, step, zone).

    `links` are the streams of air of the network, the same for all its weathers.
    """

    resolved: Resolved
    regimes: Regimes
    number: npt.NDArray[np.int64]
    weather: Weather
    expected: Array
    expected_vapour: Array
    links: tuple[AirLink, ...]


def heat_drivers(network: Network, site: Site, sun: SunOnBoat) -> Array:
    """Drivers of the heat network.

    Returns
    -------
    (2, run, step, driver) array
        At the start and end of each step; temperatures in °C, sources in W. One run for each heading of `sun`.
    """
    resolved, weather = site.resolved, site.weather
    runs, steps = sun.incident.shape[0], len(weather.time)
    u = np.zeros((2, runs, steps, len(network.drivers)))
    skins = _outer_skins(network, site, sun, deck_excesses(resolved, weather, sun))
    indoor = _transmitted(site, sun)
    inside = columns_of(network, INSIDE)
    for column, driver in enumerate(network.drivers):
        value: Array
        match driver.kind, driver.of:
            case "air", _:
                value = weather.air[:, None, :]
            case "sea", _:
                value = weather.sea[:, None, :]
            case (("outer_sun" | "long_wave"), (face,)):
                value = skins[face][driver.kind == "long_wave"]
            case "inner_sun", (face,):
                value = _edges_first(sun.inner_absorbed[..., face]) * resolved.faces[face].area
            case "room_sun", (zone,):
                value = indoor.room[..., zone]
            case "blind_sun", (face,):
                value = indoor.blind[..., face]
            case "awning_sun", (awning,):
                value = _edges_first(sun.awning_absorbed[..., awning])
            case "awning_long_wave", (awning,):
                sky = films.radiative_coefficient(weather.sky, weather.air, resolved.awnings[awning].emissivity) * (
                    weather.sky - weather.air
                )
                value = sky[:, None, :]
            case _:
                assert column in inside, driver.kind
                continue
        u[..., column] = value
    u[..., inside] = inside_drivers(network, site, inside)
    return u


def moisture_drivers(network: Network, site: Site) -> Array:
    """Drivers of the moisture network, (2, run or 1, step, driver): humidity ratio in kg/kg, sources in kg/s."""
    inside = columns_of(network, INSIDE)
    u = np.empty((2, *site.expected.shape[:2], len(network.drivers)))
    for column, driver in enumerate(network.drivers):
        if column not in inside:
            assert driver.kind == "humidity", driver.kind
            u[..., column] = site.weather.humidity_ratio[:, None]
    u[..., inside] = inside_drivers(network, site, inside)
    return u


def columns_of(network: Network, kinds: tuple[str, ...]) -> list[int]:
    """Numbers of the drivers of some kinds."""
    return [i for i, driver in enumerate(network.drivers) if driver.kind in kinds]


def filled_by(network: Network, resolved: Resolved, links: tuple[AirLink, ...], column: int) -> object:
    """What in the boat fills a driver of `INSIDE`: boats that are alike in it differ in what is expected alone."""
    driver = network.drivers[column]
    match driver.kind, driver.of:
        case (("people" | "people_vapour"), (zone, item)):
            return resolved.zones[zone].people[item]
        case (("gain" | "gain_vapour"), (zone, item)):
            return resolved.zones[zone].gains[item]
        case "moisture", (zone, item):
            return resolved.zones[zone].moisture[item]
        case "scheduled", (zone,):
            return resolved.zones[zone].temperature
        case _, (number,):
            link = links[number]
            return link.volume.tobytes(), None if link.opening < 0 else resolved.openings[link.opening]
    raise AssertionError(driver.kind)


def inside_drivers(network: Network, site: Site, columns: Sequence[int]) -> Array:
    """Some drivers of `INSIDE`, of heat or of moisture, (2, run or 1, step, column): W, °C, kg/s."""
    values = np.empty((2, len(columns), *site.expected.shape[:2]))
    for i, column in enumerate(columns):
        values[:, i] = inside_driver(network, site, column)
    return np.moveaxis(values, 1, -1)


def inside_driver(network: Network, site: Site, column: int) -> Array:
    """One of them, (run or 1, step) where its kind is `STEADY`, else (2, run or 1, step)."""
    weather, links = site.weather, site.links
    minute = weather.local_minute
    driver, thing = network.drivers[column], filled_by(network, site.resolved, links, column)
    match driver.kind, thing:
        case "people", People():
            present, sensible = _people(site, driver.of[0], thing)
            return present * sensible
        case "people_vapour", People():
            present, sensible = _people(site, driver.of[0], thing)
            return present * ((thing.total - sensible) / EVAPORATION)
        case "gain", Gain():
            return thing.power * routine_values(thing.routine, minute)[None]
        case "gain_vapour", Gain():
            return thing.power * thing.latent_share / EVAPORATION * routine_values(thing.routine, minute)[None]
        case "moisture", Moisture():
            return thing.rate * routine_values(thing.routine, minute)[None]
        case "scheduled", Routine():
            return routine_values(thing, minute)[None]
        case "air_correction", _:
            link = links[driver.of[0]]
            warmer = weather.air[:, None] - site.expected[..., link.target]
            return _excess_mass_flow(site, link) * MOIST_HEAT * warmer
        case "vapour_correction", _:
            link = links[driver.of[0]]
            damper = weather.humidity_ratio[:, None] - site.expected_vapour[..., link.target]
            return _excess_mass_flow(site, link) * damper
    raise AssertionError(driver.kind)


def _edges_first(values: Array) -> Array:
    """(run, 2, step) → (2, run, step)."""
    return np.moveaxis(values, 1, 0)


def _outer_skins(
    network: Network, site: Site, sun: SunOnBoat, decks: list[Excess | None]
) -> dict[int, tuple[Array, Array]]:
    """Heat of sun and of long-wave exchange at outer skins, by face (2, run, step) in W, scaled to the regime's film.

    What own deck before a face radiates because the sun has warmed it counts as sun. As many faces at once as stay in
    a core's cache.
    """
    faces = list(dict.fromkeys(d.of[0] for d in network.drivers if d.kind in ("outer_sun", "long_wave")))
    together = max(1, VALUES_AT_ONCE // sun.incident[..., 0].size)
    found: dict[int, tuple[Array, Array]] = {}
    for some in (faces[i : i + together] for i in range(0, len(faces), together)):
        by_sun, by_sky = _some_skins(network, site, sun, some, decks)
        for i, face in enumerate(some):
            found[face] = np.swapaxes(by_sun[i], 0, 1), np.swapaxes(by_sky[i], 0, 1)
    return found


def _some_skins(
    network: Network, site: Site, sun: SunOnBoat, some: list[int], decks: list[Excess | None]
) -> tuple[Array, Array]:
    """The same for a few faces, each (face, run, 2, step)."""
    resolved, weather = site.resolved, site.weather
    faces = [resolved.faces[number] for number in some]

    def column(values: list[float]) -> Array:
        return np.array(values)[:, None, None, None]

    notes = network.notes
    film, sky_film = (notes[name][site.number][:, some].T[:, None, None] for name in ("outside_film", "sky_film"))
    emissivity = column([face.emissivity for face in faces])
    sky = column([(1.0 + np.cos(np.radians(face.tilt))) / 2.0 for face in faces])
    absorbed = np.stack([
        sun.outer_absorbed[..., number] if face.glazing is not None else face.absorptance * sun.incident[..., number]
        for number, face in zip(some, faces, strict=True)
    ])  # fmt: skip
    air, cold = weather.air, weather.sky
    beside = 1.0 - column([face.foreground.deck for face in faces])
    sea = column([face.foreground.sea for face in faces]) / np.maximum(beside, 1e-9)
    low = sea * weather.sea + (1.0 - sea) * air
    law = films.outside_convection(weather.wind)
    given = column([np.nan if face.outside_film is None else face.outside_film for face in faces])
    convection = np.where(np.isnan(given), law, given)
    reference = float(notes["black_film"][0]) * emissivity * sky
    uncovered = np.where(reference > 0.0, sky_film / np.where(reference > 0.0, reference, 1.0), 1.0)
    closed = column([_closed_awning(resolved, face.awning) for face in faces])
    convection = convection * (1.0 - closed * (1.0 - uncovered))
    first_guess = air + absorbed / np.maximum(convection + FIRST_RADIATION * emissivity, 1.0)
    h_sky = films.radiative_coefficient(first_guess, cold, emissivity) * (sky * uncovered)
    h_low = films.radiative_coefficient(first_guess, low, emissivity) * ((1.0 - sky) * beside)
    own, long_wave = convection + h_sky + h_low, h_sky * (cold - air) + h_low * (low - air)
    for i, (number, face) in enumerate(zip(some, faces, strict=True)):
        deck = decks[number]
        if deck is not None:
            by_sun, by_sky = (np.swapaxes(part, 0, 1) for part in deck)
            seen = (1.0 - float(sky[i, 0, 0, 0])) * face.foreground.deck
            h_deck = films.radiative_coefficient(first_guess[i], air + by_sun + by_sky, face.emissivity) * seen
            own[i] += h_deck
            long_wave[i] += h_deck * by_sky
            absorbed[i] += h_deck * by_sun
    scale = column([face.area for face in faces]) * np.where(film > 0.0, film / np.maximum(own, 1e-9), 1.0)
    return scale * absorbed, scale * long_wave


def deck_excesses(resolved: Resolved, weather: Weather, sun: SunOnBoat) -> list[Excess | None]:
    """How far from the air own deck before each face radiates, by sun and by sky (2, run, step) K, None for no deck."""
    found: dict[tuple[int, float], Excess] = {}
    out: list[Excess | None] = []
    for face, outlook in zip(resolved.faces, sun.outlook.tolist(), strict=True):
        key = outlook, face.foreground.deck_reflectance
        if outlook >= 0 and key not in found:
            on_deck, absorptance = _edges_first(sun.on_deck[..., outlook]), 1.0 - face.foreground.deck_reflectance
            found[key] = deck_radiation(on_deck, absorptance, weather.air[:, None], weather.sky[:, None], weather.wind)
        out.append(found[key] if outlook >= 0 else None)
    return out


def _closed_awning(resolved: Resolved, name: str | None) -> float:
    return float(any(awning.name == name and not awning.open_gap for awning in resolved.awnings))


@dataclass(frozen=True)
class _Indoor:
    room: Array
    blind: Array


def _transmitted(site: Site, sun: SunOnBoat) -> _Indoor:
    """Sun on each zone's surfaces, (2, run, step, zone), and on each face's blind, (2, run, step, face), in W."""
    resolved = site.resolved
    shape = _edges_first(sun.transmitted[..., 0]).shape
    room = np.zeros((*shape, len(resolved.zones)))
    blind = np.zeros((*shape, len(resolved.faces)))
    number = {zone.name: i for i, zone in enumerate(resolved.zones)}
    order = blinded(resolved)
    for i, face in enumerate(resolved.faces):
        if face.glazing is None or face.beyond != "outdoors" or face.zone not in number:
            continue
        through = _edges_first(sun.transmitted[..., i]) * face.area
        if face.blind is not None:
            closed = site.regimes.blind[site.number, order.index(i)]
            back = next(g.back_reflectance for g in resolved.glazings if g.name == face.glazing)
            bounce = 1.0 / (1.0 - face.blind.reflectance * back)
            absorptance = 1.0 - face.blind.transmittance - face.blind.reflectance
            blind[..., i] = through * closed * absorptance * bounce
            through = through * (1.0 - closed + closed * face.blind.transmittance * bounce)
        room[..., number[face.zone]] += through
    return _Indoor(room, blind)


def _excess_mass_flow(site: Site, link: AirLink) -> Array:
    """Mass flow of outdoor air at each step's ends less that of the regime, (2, run or 1, step) kg/s of dry air."""
    weather = site.weather
    in_regime = link.volume[site.number]
    volume = in_regime / thinness(site.regimes)
    if link.opening >= 0:
        opening = site.resolved.openings[link.opening]
        share = site.regimes.opening[site.number, link.opening]
        difference = weather.air[:, None] - site.expected[..., link.target]
        volume = share * exchange(opening, difference, weather.wind)
    return np.asarray(weather.density[:, None] * volume - DRY_AIR_DENSITY * in_regime, dtype=float)


def _people(site: Site, zone: int, people: People) -> tuple[Array, Array]:
    """How many of a group are there (step,), and the sensible heat of one at what is expected of the zone (run or 1,
    step). [W]
    """
    resolved = site.resolved
    simulated = [z.name for z in resolved.zones if z.temperature is None]
    present = people.count * routine_values(people.routine, site.weather.local_minute)
    temperature = site.expected[..., simulated.index(resolved.zones[zone].name)]
    sensible = people.sensible - people.sensible_slope * (temperature - 24.0)
    return present, np.clip(sensible, 0.0, people.total)
