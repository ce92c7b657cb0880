"""Shade by geometry: overhangs and fins on one opening, and what stands around the boat.

Directions are unit vectors in the boat's frame: first component to the bow, second to starboard, third up.
Closed forms are of an overhang much wider, and fins much taller, than the opening.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.scenario.resolved import Obstruction, Shade

Array = npt.NDArray[np.float64]

GRAZING = 1e-6
"""[-] Least cosine of incidence; anything lower gets no sun worth shading."""
AZIMUTH_PATCHES, ELEVATION_PATCHES = 180, 90
"""Patches of the sky, 2° by 1°, over which its hidden share is summed."""


class Axes(NamedTuple):
    """Unit vectors of planes, each (plane, 3): outward normal, up the slope, and to the right seen from outside."""

    normal: Array
    up: Array
    right: Array


class ShadeGeometry(NamedTuple):
    """Dimensions of several shades, each (plane,) in m."""

    height: Array
    width: Array
    overhang: Array
    overhang_gap: Array
    fin_left: Array
    fin_right: Array
    fin_gap: Array


def plane_axes(bearing: Array, tilt: Array) -> Axes:
    """Unit vectors of planes that face a bearing on the boat at a tilt. [°]"""
    a, t = np.radians(bearing), np.radians(tilt)
    zero = np.zeros_like(a)
    normal = np.stack([np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.cos(t)], axis=-1)
    up = np.stack([-np.cos(t) * np.cos(a), -np.cos(t) * np.sin(a), np.sin(t)], axis=-1)
    right = np.stack([np.sin(a), -np.cos(a), zero], axis=-1)
    return Axes(normal, up, right)


def direction(bearing: Array, elevation: Array) -> Array:
    """Unit vectors (point, 3) towards bearings on the boat and elevations. [°]"""
    b, e = np.radians(bearing), np.radians(elevation)
    return np.stack([np.cos(e) * np.cos(b), np.cos(e) * np.sin(b), np.sin(e)], axis=-1)


def shade_geometry(shades: Sequence[Shade]) -> ShadeGeometry:
    """The dimensions of shades as arrays."""
    return ShadeGeometry(*(np.array([getattr(shade, name) for shade in shades]) for name in ShadeGeometry._fields))


def sunlit_share(geometry: ShadeGeometry, axes: Axes, towards: Array) -> Array:
    """Share of each opening that the beam from a direction reaches past its overhang and fins.

    Parameters
    ----------
    geometry : ShadeGeometry
        (plane,)
    axes : Axes
        (plane, 3)
    towards : (point, 3) array
        Unit vectors to the sun, or to its mirror image, which only fins can shade.

    Returns
    -------
    (point, plane) array
        0 to 1; meaningless where the sun is behind the plane.

    References
    ----------
    .. [1] ASHRAE Fundamentals, fenestration chapter: shadow height = depth × tan of the profile angle, shadow width =
       depth × tan of the surface-solar azimuth (from memory).
    """
    facing = np.maximum(towards @ axes.normal.T, GRAZING)
    rise = towards @ axes.up.T / facing
    side = towards @ axes.right.T / facing
    down = np.maximum(geometry.overhang * rise - geometry.overhang_gap * (geometry.overhang > 0.0), 0.0)
    fin = np.where(side > 0.0, geometry.fin_right, geometry.fin_left)
    across = np.maximum(fin * np.abs(side) - geometry.fin_gap, 0.0)
    tall = np.maximum(1.0 - down / geometry.height, 0.0)
    wide = np.maximum(1.0 - across / geometry.width, 0.0)
    return np.asarray(tall * wide)


def visible_above(geometry: ShadeGeometry) -> Array:
    """Share of an even sky that an opening still sees under its overhang, (plane,).

    A point at depth d below an overhang of projection P sees the sky up to the profile angle arctan(d/P), of which the
    view is sin of that angle; the mean over the opening has a closed form. Exact for vertical openings.
    """
    return _mean_sine(geometry.overhang, geometry.overhang_gap, geometry.height)


def visible_between(geometry: ShadeGeometry) -> Array:
    """Share of even surroundings that an opening still sees between its fins, (plane,)."""
    left = _mean_sine(geometry.fin_left, geometry.fin_gap, geometry.width)
    right = _mean_sine(geometry.fin_right, geometry.fin_gap, geometry.width)
    return np.asarray(0.5 * (left + right))


def blocked(obstructions: Sequence[Obstruction], bearing: Array, elevation: Array) -> npt.NDArray[np.bool_]:
    """Whether something stands between the boat and points of the sky at bearings on the boat and elevations. [°]"""
    hidden = np.zeros(np.broadcast(bearing, elevation).shape, dtype=bool)
    for one in obstructions:
        width = one.last_bearing - one.first_bearing
        width = 360.0 if width >= 360.0 else width % 360.0
        hidden |= ((np.asarray(bearing) - one.first_bearing) % 360.0 <= width) & (elevation < one.elevation)
    return hidden


def visible_sky(obstructions: Sequence[Obstruction], axes: Axes) -> Array:
    """Share of an even sky that each plane still sees past what stands around the boat, (plane,)."""
    if not obstructions:
        return np.ones(len(axes.normal))
    b = (np.arange(AZIMUTH_PATCHES) + 0.5) * 360.0 / AZIMUTH_PATCHES
    e = (np.arange(ELEVATION_PATCHES) + 0.5) * 90.0 / ELEVATION_PATCHES
    bearing, elevation = (grid.ravel() for grid in np.meshgrid(b, e))
    seen = np.maximum(direction(bearing, elevation) @ axes.normal.T, 0.0) * np.cos(np.radians(elevation))[:, None]
    free = seen[~blocked(obstructions, bearing, elevation)].sum(axis=0)
    return np.asarray(np.divide(free, seen.sum(axis=0), out=np.ones(len(free)), where=seen.sum(axis=0) > 0.0))


def _mean_sine(depth: Array, gap: Array, span: Array) -> Array:
    """Mean over `span`, beginning `gap` from the edge, of x / √(x² + depth²)."""
    return np.asarray((np.hypot(gap + span, depth) - np.hypot(gap, depth)) / span)
