"""Sun on every face of the boat, and through its glass, at each heading.

Beam, sky light after Perez (Perez et al., Modeling daylight availability and irradiance components from direct and
global irradiance, Solar Energy 44, 1990, by pvlib), and light from below the horizon: the sun mirrored in the sea, sky
light from the sea, and sun thrown back by deck and quay. The circumsolar part of the sky goes with the beam: through
glass by angle, and behind the same shadows. What hides the sky counts as dark.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.climate import position, shade
from heatsim.climate.views import Views, boat_views
from heatsim.climate.weather import Weather, routine_values
from heatsim.physics import sea_surface
from heatsim.scenario.resolved import Glazing, Resolved

Array = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]
Selection = slice | Integers

CIRCUMSOLAR_FLOOR = float(np.cos(np.radians(85.0)))
"""[-] Least cosine of the zenith in Perez's circumsolar term."""
POINTS_AT_ONCE = 1024
"""Moments times headings that are worked together: a design day at all headings, a year heading by heading, whose
courses then stay in a core's cache (measured)."""
OPTICS_STEPS = 512
"""Even steps of the cosine of incidence on which glass is tabulated; straight between them."""


@dataclass(frozen=True)
class SunOnBoat:
    """Sun per area of each face's own plane, W/m², (heading, 2, step, face): at each step's start and end.

    Zero for faces that are not outdoors; transmitted and absorbed sun zero for all but glass. In memory the
    course of one face at one heading is contiguous.
    """

    incident: Array
    """Reaching the outside skin, after awning, shade and obstructions."""
    transmitted: Array
    """Past the glazing, before any blind."""
    outer_absorbed: Array
    inner_absorbed: Array
    awning_absorbed: Array
    """(heading, 2, step, awning) per area of awning while it is set, from its upper side."""
    on_deck: Array
    """(heading, 2, step, outlook) on the boat's own deck, per area of deck, for each direction in which faces look over
    some; it lies in the boat's shadow while the sun stands behind the face."""
    outlook: Integers
    """(face,) which of those, −1 where a face sees no deck."""


class _Light(NamedTuple):
    """Light at the ends of the daylight steps, each (2, lit), in W/m²; `rows` are the steps.

    `point` says which of the distinct moments, whose sun stands at `bearing` (true) and `elevation`, the starts and the
    ends are. `sky`, `horizon` and `circumsolar` are Perez's; `glint` is the strength of the mirrored sun.
    """

    rows: Selection
    point: tuple[Selection, Selection]
    bearing: Array
    elevation: Array
    beam: Array
    circumsolar: Array
    sky: Array
    horizon: Array
    diffuse: Array
    beam_flat: Array
    glint: Array


class _Geometry(NamedTuple):
    """At each point: cosines of incidence of sun and mirrored sun, (view, heading, point), those cosines times the
    share of the light that gets there, and whether the beam reaches the boat at all, (heading, point)."""

    cosine: Array
    mirrored: Array
    direct: Array
    glint: Array
    open: Array


class _Glass(NamedTuple):
    """One glazing: its views, its faces and the place of each face's view among them, and its tables over the cosine.

    `levels` and `slopes` are (property, step of cosine), `diffuse` (property,): transmittance, outer absorptance, inner
    absorptance.
    """

    views: Integers
    faces: Integers
    column: Integers
    levels: Array
    slopes: Array
    diffuse: Array


def sun_on_boat(resolved: Resolved, weather: Weather, headings: npt.ArrayLike) -> SunOnBoat:
    """Sun on and through every face.

    Parameters
    ----------
    resolved : Resolved
        The boat and what stands around it.
    weather : Weather
        Light and the sun's place.
    headings : (heading,) array
        True bearings of the bow. [°]

    Returns
    -------
    SunOnBoat
    """
    bows = np.atleast_1d(np.asarray(headings, dtype=float))
    shape = (len(bows), 2, len(weather.time))
    incident, transmitted, outer, inner = (np.zeros((len(resolved.faces), *shape)) for _ in range(4))
    on_awnings = np.zeros((len(resolved.awnings), *shape))
    views = boat_views(resolved)
    on_deck = np.zeros((len(views.own_deck), *shape))
    outlook = np.full(len(resolved.faces), -1)
    outlook[views.face] = views.outlook
    result = SunOnBoat(
        _last(incident), _last(transmitted), _last(outer), _last(inner), _last(on_awnings), _last(on_deck), outlook
    )
    light = _light(weather)
    if light.beam.size == 0 or len(views.sky) == 0:
        return result
    awnings_on, cover = _awnings(resolved, views, weather, light.rows)
    glasses = [_glass(glazing, of, views) for glazing, of in views.glazings]
    together = max(1, POINTS_AT_ONCE // light.bearing.size)
    for some in (slice(h, h + together) for h in range(0, len(bows), together)):
        geometry = _geometry(resolved, views, light, bows[some])
        through = [_by_angle(glass, geometry) for glass in glasses]
        for end in (0, 1):
            even = _even(views, light, geometry, cover, end)
            total = even + _directed(light, geometry.direct, geometry.glint, cover, end)
            on_deck[:, some, end, light.rows] = _on_deck(views, light, geometry, end)
            _place(incident[:, some, end], views.face, light.rows, total[views.view])
            on_awnings[:, some, end, light.rows] = awnings_on[:, None] * total[len(views.sky) - len(resolved.awnings) :]
            for glass, (direct, glint) in zip(glasses, through, strict=True):
                covered = None if cover is None else cover[glass.views]
                for k, target in enumerate((transmitted, outer, inner)):
                    passed = _directed(light, direct[k], glint[k], covered, end)
                    passed += even[glass.views] * glass.diffuse[k]
                    _place(target[:, some, end], glass.faces, light.rows, passed[glass.column])
    return result


def _last(values: Array) -> Array:
    """The first axis, of faces, as the last; a view."""
    return np.moveaxis(values, 0, -1)


def _light(weather: Weather) -> _Light:
    """Light of the daylight steps, with the sky split after Perez."""
    rows = np.flatnonzero(np.any((weather.ghi > 0.0) | (weather.dni > 0.0), axis=0))
    zenith, azimuth = weather.sun_zenith[:, rows], weather.sun_azimuth[:, rows]
    run = np.cumsum(np.diff(rows, prepend=-2) != 1) - 1  # unbroken daylight, whose steps share their ends
    start = np.arange(len(rows)) + run
    last = np.flatnonzero(np.diff(run, append=-1) != 0)
    angles = np.empty((2, len(rows) + len(last)))
    angles[:, start] = azimuth[0], zenith[0]
    angles[:, start[last] + 1] = azimuth[1, last], zenith[1, last]
    beam, diffuse = weather.dni[:, rows], weather.dhi[:, rows]
    sky, circumsolar, horizon = _perez(beam, diffuse, zenith, azimuth, weather.time[rows])
    height = np.cos(np.radians(zenith))
    reflectance = sea_surface.beam_reflectance(90.0 - zenith, weather.wind[rows])
    return _Light(
        rows=_span(rows),
        point=(_span(start), _span(start + 1)),
        bearing=angles[0],
        elevation=90.0 - angles[1],
        beam=beam,
        circumsolar=circumsolar,
        sky=sky,
        horizon=horizon,
        diffuse=diffuse,
        beam_flat=beam * np.maximum(height, 0.0),
        glint=beam * reflectance,
    )


def _perez(
    beam: Array, diffuse: Array, zenith: Array, azimuth: Array, times: npt.NDArray[np.datetime64]
) -> tuple[Array, Array, Array]:
    """Even sky, circumsolar part (normal to the sun) and horizon band, each (2, lit).

    One call of pvlib for a plane facing up, which shows all but the horizon band, and one facing the sun's bearing,
    which shows that band; every other plane is a sum of these three with its own geometry.
    """
    from pvlib.atmosphere import get_relative_airmass
    from pvlib.irradiance import perez

    tilt = np.array([0.0, 90.0])[:, None, None]
    parts = perez(
        tilt, azimuth, diffuse, beam, position.extraterrestrial(times), zenith, azimuth, get_relative_airmass(zenith),
        model="allsitescomposite1990", return_components=True,
    )  # fmt: skip
    even = np.asarray(parts["poa_isotropic"][0], dtype=float)
    seen = np.where(zenith < 90.0, diffuse, 0.0)
    height = np.maximum(np.cos(np.radians(zenith)), CIRCUMSOLAR_FLOOR)
    return even, np.maximum(seen - even, 0.0) / height, np.asarray(parts["poa_horizon"][1], dtype=float)


def _geometry(resolved: Resolved, views: Views, light: _Light, bows: Array) -> _Geometry:
    """How sun and mirrored sun meet each view, the bow at true bearings (heading,)."""
    bearing = light.bearing - bows[:, None]
    elevation = np.broadcast_to(light.elevation, bearing.shape)
    towards = shade.direction(bearing.ravel(), elevation.ravel())
    below = towards * [1.0, 1.0, -1.0]
    shape = (len(views.sky), *bearing.shape)
    cosine = np.maximum(views.axes.normal @ towards.T, 0.0)
    mirrored = np.maximum(views.axes.normal @ below.T, 0.0)
    direct, glint = cosine.copy(), mirrored * views.glint[:, None]
    if len(views.shaded):
        axes = shade.Axes(*(vectors[views.shaded] for vectors in views.axes))
        direct[views.shaded] *= shade.sunlit_share(views.shades, axes, towards).T
        glint[views.shaded] *= shade.sunlit_share(views.shades, axes, below).T
    clear = np.ones(bearing.shape)
    if resolved.place.obstructions:
        clear[shade.blocked(resolved.place.obstructions, bearing, elevation)] = 0.0
        direct *= clear.ravel()
        glint *= clear.ravel()
    return _Geometry(cosine.reshape(shape), mirrored.reshape(shape), direct.reshape(shape), glint.reshape(shape), clear)


def _on_deck(views: Views, light: _Light, geometry: _Geometry, end: int) -> Array:
    """Sun on the boat's own deck for each direction in which faces look over some, (outlook, heading, lit)."""
    at = light.point[end]
    lit = geometry.cosine[views.own_deck][..., at] > 0.0
    return np.asarray(light.diffuse[end] + lit * (light.beam_flat[end] * geometry.open[:, at]))


def _even(views: Views, light: _Light, geometry: _Geometry, cover: Array | None, end: int) -> Array:
    """Light from no one direction: sky, horizon band and foreground, (view, heading, lit)."""
    sky = np.outer(views.sky, light.sky[end]) + np.outer(views.horizon, light.horizon[end])
    np.maximum(sky, 0.0, out=sky)
    if cover is not None:
        sky *= cover
    sky += np.outer(views.lower_sky, light.diffuse[end])
    at = light.point[end]
    flat = light.beam_flat[end] * geometry.open[:, at]
    even = sky[:, None] + views.lower_beam[:, None, None] * flat
    if np.any(views.deck_beam > 0.0):
        even += views.deck_beam[:, None, None] * flat * (geometry.cosine[..., at] > 0.0)
    return np.asarray(even)


def _directed(light: _Light, direct: Array, glint: Array, cover: Array | None, end: int) -> Array:
    """Light from the sun and from its mirror image, (view, heading, lit)."""
    at = light.point[end]
    from_sun = direct[..., at] * (light.beam[end] + light.circumsolar[end])
    if cover is not None:
        from_sun *= cover[:, None]
    from_sun += glint[..., at] * light.glint[end]
    return np.asarray(from_sun)


def _awnings(resolved: Resolved, views: Views, weather: Weather, rows: Selection) -> tuple[Array, Array | None]:
    """What set awnings absorb, (awning, lit), and what they let through to each view, (view, lit); None for all."""
    minute = weather.local_minute[rows]
    if not resolved.awnings:
        return np.zeros((0, len(minute))), None
    on = np.stack([routine_values(awning.routine, minute) for awning in resolved.awnings])
    absorbed = on * np.array([awning.absorptance for awning in resolved.awnings])[:, None]
    if not np.any(on) or np.all(views.awning < 0):
        return absorbed, None
    passed = 1.0 - on * np.array([1.0 - awning.transmittance for awning in resolved.awnings])[:, None]
    return absorbed, np.where(views.awning[:, None] >= 0, passed[views.awning], 1.0)


def _glass(glazing: Glazing, of: Integers, views: Views) -> _Glass:
    """A glazing's properties on even steps of the cosine of incidence."""
    given = np.cos(np.radians(glazing.angles))[::-1]
    even = np.linspace(0.0, 1.0, OPTICS_STEPS + 1)
    columns = (glazing.transmittance, glazing.outer_absorptance, glazing.inner_absorptance)
    tables = np.stack([np.interp(even, given, column[::-1]) for column in columns])
    diffuse = (
        glazing.diffuse_transmittance, glazing.diffuse_outer_absorptance, glazing.diffuse_inner_absorptance
    )  # fmt: skip
    mine = np.isin(views.view, of)
    column = np.searchsorted(of, views.view[mine])
    slopes = np.diff(tables, append=tables[:, -1:])
    return _Glass(of, views.face[mine], column, tables, slopes, np.array(diffuse))


def _by_angle(glass: _Glass, geometry: _Geometry) -> tuple[list[Array], list[Array]]:
    """Sun and mirrored sun on a glazing times each of its properties at that incidence, (view, heading, point) each."""
    both = []
    for cosine, reach in ((geometry.cosine, geometry.direct), (geometry.mirrored, geometry.glint)):
        steps = cosine[glass.views] * OPTICS_STEPS
        whole = np.minimum(steps.astype(np.intp), OPTICS_STEPS)
        steps -= whole
        arriving = reach[glass.views]
        both.append([(level[whole] + slope[whole] * steps) * arriving
                     for level, slope in zip(glass.levels, glass.slopes, strict=True)])  # fmt: skip
    return both[0], both[1]


def _span(ascending: Integers) -> Selection:
    """The same numbers as a slice, if they are unbroken: then arrays are cut instead of copied."""
    if len(ascending) and ascending[-1] - ascending[0] == len(ascending) - 1:
        return slice(int(ascending[0]), int(ascending[-1]) + 1)
    return ascending


def _place(target: Array, faces: Integers, rows: Selection, values: Array) -> None:
    """Write (outdoor face, heading, lit) values into (face, heading, step)."""
    if isinstance(rows, slice):
        target[faces, :, rows] = values
    else:
        target[faces[:, None, None], np.arange(target.shape[1])[None, :, None], rows] = values
