"""What the sea throws back of the sun: a mirrored sun, dulled by waves, and a dim diffuse rest.

The beam is reflected as if a second sun stood as far below the horizon as the sun stands above. Its strength is the
Fresnel reflectance averaged over the slopes of the waves, which depend on the wind. Sources: Cox and Munk, Measurement
of the roughness of the sea surface from photographs of the sun's glitter, J. Opt. Soc. Am. 44, 1954, 838–850; Payne,
Albedo of the sea surface, J. Atmos. Sci. 29, 1972, 959–970. Validity: winds of 0–20 m/s, no breaking crests or foam.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from heatsim.physics.glazing import fresnel_reflectance

Array = npt.NDArray[np.float64]

REFRACTIVE_INDEX = 1.34
"""[-] Sea water in sunlight (common practice, no source)."""
DIFFUSE_REFLECTANCE = 0.06
"""[-] For sky light (Payne 1972)."""
VOLUME_REFLECTANCE = 0.006
"""[-] Sunlight scattered back from below the surface (Jin et al., A new parameterization of spectral and broadband
ocean surface albedo, Optics Express 19, 2011, 26429–26443; from memory)."""

LEAST_ELEVATION = 0.05
"""[°] Stands in for the sun on the horizon, whose beam meets only facets turned towards it."""
SLOPE_NODES = (32, 6)
"""Points of the quadrature over slopes towards the sun, where facets turn away, and across, where nothing does."""

_ELEVATIONS = np.concatenate([np.arange(0.0, 20.0, 1.0), np.arange(20.0, 91.0, 2.5)])
_WINDS = np.array([0.0, 1.0, 2.0, 4.0, 6.0, 9.0, 12.0, 16.0, 20.0])


def mean_square_slope(wind: Array) -> Array:
    """Mean square slope of the waves, both directions together.

    References
    ----------
    .. [1] Cox and Munk 1954, clean surface: σ² = 0.003 + 0.00512 W, W at 12.5 m in m/s.
    """
    return np.asarray(0.003 + 0.00512 * np.asarray(wind, dtype=float))


def rough_reflectance(elevation: Array, wind: Array) -> Array:
    """Share of the sun's beam that a wavy sea reflects, by quadrature over the slopes.

    Every facet takes beam by its projected area; facets turned away from the sun take none. Light that meets a second
    wave is not followed, which matters below about 5° of elevation.

    Parameters
    ----------
    elevation, wind : arrays
        Of the sun [°] and near the surface [m/s], broadcast together.
    """
    elevation, wind = np.broadcast_arrays(np.asarray(elevation, dtype=float), np.asarray(wind, dtype=float))
    slope = np.sqrt(mean_square_slope(wind))[..., None, None]  # σ²/2 each way, times √2 of the quadrature
    (along, chance_along), (across, chance_across) = (np.polynomial.hermite.hermgauss(n) for n in SLOPE_NODES)
    chance = np.outer(chance_along, chance_across)
    along, across = slope * along[:, None], slope * across[None, :]
    height = np.radians(np.maximum(elevation, LEAST_ELEVATION))[..., None, None]
    projected = np.maximum(np.sin(height) + along * np.cos(height), 0.0)
    cosine = np.minimum(projected / np.sqrt(1.0 + along**2 + across**2), 1.0)
    perpendicular, parallel = fresnel_reflectance(cosine, REFRACTIVE_INDEX)
    met = chance * projected
    reflected = met * 0.5 * (perpendicular + parallel)
    return np.asarray(reflected.sum(axis=(-2, -1)) / met.sum(axis=(-2, -1)))


def beam_reflectance(elevation: Array, wind: Array) -> Array:
    """Share of the sun's beam that a wavy sea reflects, interpolated in a table of `rough_reflectance`.

    Parameters
    ----------
    elevation, wind : arrays
        Of the sun [°] and near the surface [m/s], broadcast together; both are held to the table's range, 0–90 and
        0–20.
    """
    table = _table()
    i, u = _bracket(_ELEVATIONS, elevation)
    j, v = _bracket(_WINDS, wind)
    low = table[i, j] * (1.0 - v) + table[i, j + 1] * v
    high = table[i + 1, j] * (1.0 - v) + table[i + 1, j + 1] * v
    return np.asarray(low * (1.0 - u) + high * u)


@lru_cache(maxsize=1)
def _table() -> Array:
    return rough_reflectance(_ELEVATIONS[:, None], _WINDS[None, :])


def _bracket(grid: Array, value: Array) -> tuple[npt.NDArray[np.int64], Array]:
    held = np.clip(value, grid[0], grid[-1])
    index = np.clip(np.searchsorted(grid, held, side="right") - 1, 0, len(grid) - 2)
    return index, (held - grid[index]) / (grid[index + 1] - grid[index])
