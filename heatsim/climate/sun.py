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

CIRCUMSOLAR_FLOOR = float(np.cos(np.radians(85.0)))
"""[-] Least cosine of the zenith in Perez's circumsolar term."""
OPTICS_STEPS = 512
"""Even steps of the cosine of incidence on which glass is tabulated; straight between them."""


@dataclass(frozen=True)
class SunOnBoat:
    """Sun per area of each face's own plane, W/m², (heading, 2, step, face): at each step's start and end.

    Zero for faces that are not outdoors; the last three of the faces' arrays zero for all but glass.
    """

    incident: Array
    """Reaching the outside skin, after awning, shade and obstructions."""
    transmitted: Array
    """Past the glazing, before any blind."""
    outer_absorbed: Array
    inner_absorbed: Array
    awning_absorbed: Array
    """(heading, 2, step, awning) per area of awning while it is set, from its upper side."""


class _Light(NamedTuple):
    """Light at the ends of the daylight steps, each (2, lit), in W/m²; `rows` are the steps.

    `point` (2, lit) says which of the distinct moments, whose sun stands at `bearing` (true) and `elevation`, each end
    is. `sky`, `horizon` and `circumsolar` are Perez's; `glint` is the strength of the mirrored sun.
    """

    rows: Integers
    point: Integers
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
    """At each point: cosines of incidence of sun and mirrored sun, (point, view), those cosines times the share of the
    light that gets there, and whether the beam reaches the boat at all, (point,)."""

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
    incident, transmitted, outer, inner = (np.zeros((*shape, len(resolved.faces))) for _ in range(4))
    on_awnings = np.zeros((*shape, len(resolved.awnings)))
    views = boat_views(resolved)
    light = _light(weather)
    if len(light.rows) == 0 or len(views.sky) == 0:
        return SunOnBoat(incident, transmitted, outer, inner, on_awnings)
    awnings_on, cover = _awnings(resolved, views, weather, light.rows)
    glasses = [_glass(glazing, of, views) for glazing, of in views.glazings]
    for h, bow in enumerate(bows):
        geometry = _geometry(resolved, views, light, float(bow))
        through = [_by_angle(glass, geometry) for glass in glasses]
        for end in (0, 1):
            even = _even(views, light, geometry.open, cover, end)
            total = even + _directed(light, geometry.direct, geometry.glint, cover, end)
            _place(incident[h, end], light.rows, views.face, total[:, views.view])
            on_awnings[h, end, light.rows] = awnings_on * total[:, len(views.sky) - len(resolved.awnings) :]
            for glass, (direct, glint) in zip(glasses, through, strict=True):
                covered = None if cover is None else cover[:, glass.views]
                for k, target in enumerate((transmitted, outer, inner)):
                    passed = _directed(light, direct[k], glint[k], covered, end)
                    passed += even[:, glass.views] * glass.diffuse[k]
                    _place(target[h, end], light.rows, glass.faces, passed[:, glass.column])
    return SunOnBoat(incident, transmitted, outer, inner, on_awnings)


def _light(weather: Weather) -> _Light:
    """Light of the daylight steps, with the sky split after Perez."""
    rows = np.flatnonzero(np.any((weather.ghi > 0.0) | (weather.dni > 0.0), axis=0))
    zenith, azimuth = weather.sun_zenith[:, rows], weather.sun_azimuth[:, rows]
    last = np.flatnonzero(np.diff(rows, append=-1) != 1)  # steps whose end is not the next one's start
    follows = np.arange(1, len(rows) + 1)
    follows[last] = len(rows) + np.arange(len(last))
    beam, diffuse = weather.dni[:, rows], weather.dhi[:, rows]
    sky, circumsolar, horizon = _perez(beam, diffuse, zenith, azimuth, weather.time[rows])
    height = np.cos(np.radians(zenith))
    reflectance = sea_surface.beam_reflectance(90.0 - zenith, weather.wind[rows])
    return _Light(
        rows=rows,
        point=np.stack([np.arange(len(rows)), follows]),
        bearing=np.concatenate([azimuth[0], azimuth[1, last]]),
        elevation=90.0 - np.concatenate([zenith[0], zenith[1, last]]),
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


def _geometry(resolved: Resolved, views: Views, light: _Light, bow: float) -> _Geometry:
    """How sun and mirrored sun meet each view, the bow at a true bearing."""
    bearing = light.bearing - bow
    towards = shade.direction(bearing, light.elevation)
    cosine = np.maximum(towards @ views.axes.normal.T, 0.0)
    below = towards * [1.0, 1.0, -1.0]
    mirrored = np.maximum(below @ views.axes.normal.T, 0.0)
    direct, glint = cosine.copy(), mirrored * views.glint
    if len(views.shaded):
        axes = shade.Axes(*(vectors[views.shaded] for vectors in views.axes))
        direct[:, views.shaded] *= shade.sunlit_share(views.shades, axes, towards)
        glint[:, views.shaded] *= shade.sunlit_share(views.shades, axes, below)
    clear = np.ones(len(bearing))
    if resolved.place.obstructions:
        clear[shade.blocked(resolved.place.obstructions, bearing, light.elevation)] = 0.0
        direct *= clear[:, None]
        glint *= clear[:, None]
    return _Geometry(cosine, mirrored, direct, glint, clear)


def _even(views: Views, light: _Light, clear: Array, cover: Array | None, end: int) -> Array:
    """Light from no one direction: sky, horizon band and foreground, (lit, view)."""
    sky = np.outer(light.sky[end], views.sky) + np.outer(light.horizon[end], views.horizon)
    np.maximum(sky, 0.0, out=sky)
    if cover is not None:
        sky *= cover
    sky += np.outer(light.diffuse[end], views.lower_sky)
    sky += np.outer(light.beam_flat[end] * clear[light.point[end]], views.lower_beam)
    return sky


def _directed(light: _Light, direct: Array, glint: Array, cover: Array | None, end: int) -> Array:
    """Light from the sun and from its mirror image, (lit, view)."""
    at = light.point[end]
    from_sun = direct[at] * (light.beam[end] + light.circumsolar[end])[:, None]
    if cover is not None:
        from_sun *= cover
    from_sun += glint[at] * light.glint[end][:, None]
    return np.asarray(from_sun)


def _awnings(resolved: Resolved, views: Views, weather: Weather, rows: Integers) -> tuple[Array, Array | None]:
    """What set awnings absorb, (lit, awning), and what they let through to each view, (lit, view); None for all."""
    minute = weather.local_minute[rows]
    on = np.stack([routine_values(a.routine, minute) for a in resolved.awnings], axis=-1) if resolved.awnings else None
    if on is None:
        return np.zeros((len(rows), 0)), None
    absorbed = on * [awning.absorptance for awning in resolved.awnings]
    if not np.any(on) or np.all(views.awning < 0):
        return absorbed, None
    passed = 1.0 - on * [1.0 - awning.transmittance for awning in resolved.awnings]
    return absorbed, np.where(views.awning >= 0, passed[:, views.awning], 1.0)


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
    """Sun and mirrored sun on one glazing times each of its properties at that incidence, (point, view) each."""
    both = []
    for cosine, reach in ((geometry.cosine, geometry.direct), (geometry.mirrored, geometry.glint)):
        steps = cosine[:, glass.views] * OPTICS_STEPS
        whole = steps.astype(np.intp)
        steps -= whole
        arriving = reach[:, glass.views]
        both.append([(level[whole] + slope[whole] * steps) * arriving
                     for level, slope in zip(glass.levels, glass.slopes, strict=True)])  # fmt: skip
    return both[0], both[1]


def _place(target: Array, rows: Integers, faces: Integers, values: Array) -> None:
    """Write (lit, outdoor face) values into (step, face)."""
    target[np.ix_(rows, faces)] = values
