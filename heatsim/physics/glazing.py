"""Glass: sun by angle of incidence through one or two panes, from what a data sheet gives.

A data sheet gives U and the solar factor g at normal incidence. Panes are taken as uncoated, equal and absorbing:
Fresnel reflectance at each surface and Bouguer's law inside, both polarisations followed through all reflections
between surfaces and averaged at the end. The one unknown, absorption per pane, is fitted so that the g of EN 410
comes out. Sources: Duffie and Beckman, Solar Engineering of Thermal Processes, 4th ed., ch. 5 (from memory);
EN 410:2011 (secondary heat to the inside); EN 673:2011 (standard films).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError

Array = npt.NDArray[np.float64]

REFRACTIVE_INDEX = 1.526
"""[-] Soda-lime glass over the solar spectrum (Duffie and Beckman, ch. 5, from memory)."""
OUTSIDE_FILM, INSIDE_FILM = 25.0, 7.7
"""[W m⁻² K⁻¹] Standard films of EN 673:2011."""
LEAST_RESISTANCE = 0.001
"""[m² K/W] One millimetre of glass: a U above the two films' own is taken as this."""
DARKEST = 0.05
"""[-] Transmittance at normal incidence below which a set is taken to reflect instead of absorbing still more."""
GRAZING = 1e-6
"""[-] Least cosine of incidence, where reflectance is 1 to six figures and its series still sums."""
ANGLES = tuple(float(a) for a in range(0, 91, 10))

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(40)
_COSINES = 0.5 * (_NODES + 1.0)
_HEMISPHERE = _WEIGHTS * _COSINES  # ∫ f(c) 2 c dc over 0–1


class AngularTable(NamedTuple):
    """Solar properties at `angles`, named as the fields of a resolved glazing; resistance surface to surface."""

    resistance: float
    angles: tuple[float, ...]
    transmittance: tuple[float, ...]
    outer_absorptance: tuple[float, ...]
    inner_absorptance: tuple[float, ...]
    diffuse_transmittance: float
    diffuse_outer_absorptance: float
    diffuse_inner_absorptance: float
    back_reflectance: float


class Optics(NamedTuple):
    """Shares of the incident sun, arrays over angle; with the reflectance they sum to 1."""

    transmittance: Array
    outer_absorptance: Array
    inner_absorptance: Array


def fresnel_reflectance(cosine: Array, index: float) -> tuple[Array, Array]:
    """Reflectance of a plane surface between air and a clear medium.

    Parameters
    ----------
    cosine : array
        Cosine of the angle of incidence, 0 to 1.
    index : float
        Refractive index of the medium against air.

    Returns
    -------
    perpendicular, parallel : arrays
        Reflectance of each polarisation, shape of `cosine`. [-]

    References
    ----------
    .. [1] Born and Wolf, Principles of Optics, 7th ed., §1.5.2 (from memory).
    """
    cosine = np.asarray(cosine, dtype=float)
    inside = index * np.sqrt(1.0 - (1.0 - cosine**2) / index**2)
    perpendicular = ((cosine - inside) / (cosine + inside)) ** 2
    parallel = ((index**2 * cosine - inside) / (index**2 * cosine + inside)) ** 2
    return perpendicular, parallel


def pane(cosine: Array, absorption: float) -> tuple[Array, Array]:
    """One pane in air: transmittance and reflectance of both polarisations.

    Parameters
    ----------
    cosine : (angle,) array
        Cosine of the angle of incidence.
    absorption : float
        Extinction coefficient times thickness, K L. [-]

    Returns
    -------
    transmittance, reflectance : (2, angle) arrays
        First axis: perpendicular, parallel. [-]

    References
    ----------
    .. [1] Duffie and Beckman, Solar Engineering of Thermal Processes, 4th ed., eqs. 5.3.1–5.3.3 (from memory).
    """
    cosine = np.maximum(cosine, GRAZING)
    r = np.stack(fresnel_reflectance(cosine, REFRACTIVE_INDEX))
    path = np.sqrt(1.0 - (1.0 - cosine**2) / REFRACTIVE_INDEX**2)
    a = np.exp(-absorption / path)
    transmittance = a * (1.0 - r) ** 2 / (1.0 - (r * a) ** 2)
    return transmittance, r * (1.0 + a * transmittance)


def pane_set(cosine: Array, absorption: float, panes: int) -> Optics:
    """One pane or two equal panes: transmittance, and absorptance to the outer and the inner surface node.

    Half of what a single pane absorbs goes to each of its surfaces; of two panes each takes its own.

    Parameters
    ----------
    cosine : (angle,) array
        Cosine of the angle of incidence.
    absorption : float
        K L of each pane. [-]
    panes : int
        1 or 2.
    """
    t, r = pane(cosine, absorption)
    if panes == 1:
        half = 0.5 * (1.0 - t - r).mean(axis=0)
        return Optics(t.mean(axis=0), half, half)
    between = 1.0 / (1.0 - r**2)
    taken = 1.0 - t - r
    outer = taken * (1.0 + t * r * between)
    inner = taken * t * between
    return Optics((t * t * between).mean(axis=0), outer.mean(axis=0), inner.mean(axis=0))


def inward_shares(u_value: float, resistance: float) -> tuple[float, float]:
    """Shares of the heat absorbed at the outer and at the inner surface that end inside, with the standard films.

    References
    ----------
    .. [1] EN 410:2011, secondary heat transfer factor (from memory), with the films of EN 673.
    """
    resistance_out = 1.0 / OUTSIDE_FILM
    return u_value * resistance_out, u_value * (resistance_out + resistance)


def angular_table(u_value: float, g_value: float, panes: int, *, resistance: float | None = None) -> AngularTable:
    """Solar properties of a glazing by angle, from U, solar factor at normal incidence and number of panes.

    Below what absorption alone explains (a set so dark that it would pass under 5 %), the rest is taken as reflected
    evenly over the angles, as a mirror film does.

    Parameters
    ----------
    u_value : float
        With the standard films. [W m⁻² K⁻¹]
    g_value : float
        Solar factor at normal incidence. [-]
    panes : int
        1 or 2; a laminate counts as one pane, a triple set as two.
    resistance : float, optional
        Surface to surface, where known instead of following from `u_value`. [m² K/W]

    Returns
    -------
    AngularTable

    Raises
    ------
    HeatsimError
        Where no clear glass passes so much sun.
    """
    if resistance is None:
        resistance = max(1.0 / u_value - 1.0 / OUTSIDE_FILM - 1.0 / INSIDE_FILM, LEAST_RESISTANCE)
    u_value = 1.0 / (1.0 / OUTSIDE_FILM + resistance + 1.0 / INSIDE_FILM)
    shares = inward_shares(u_value, resistance)
    brightest = _solar_factor(0.0, panes, shares)
    if not 0.0 <= g_value <= brightest:
        raise HeatsimError(
            Fault(
                rule=f"the solar factor of {panes} pane(s) lies between 0 and {brightest:.2f} (perfectly clear)",
                value=f"{g_value:g}",
                remedy="Clear glass of 6 mm has about 0.82 as one pane and 0.70 as two.",
            )
        )
    darkest = _halve(lambda x: float(pane_set(_NORMAL, x, panes).transmittance[0]) - DARKEST, 0.0, 10.0)
    absorption = min(_halve(lambda x: _solar_factor(x, panes, shares) - g_value, 0.0, darkest), darkest)
    admitted = min(1.0, g_value / _solar_factor(absorption, panes, shares))
    beam = [tuple(map(float, admitted * v)) for v in pane_set(np.cos(np.radians(ANGLES)), absorption, panes)]
    hemisphere = pane_set(_COSINES, absorption, panes)
    passed, outer, inner = (float(admitted * np.sum(_HEMISPHERE * v)) for v in hemisphere)
    back = 1.0 - passed - outer - inner  # equal panes: from inside as from outside
    return AngularTable(resistance, ANGLES, beam[0], beam[1], beam[2], passed, outer, inner, back)


_NORMAL = np.ones(1)


def _solar_factor(absorption: float, panes: int, shares: tuple[float, float]) -> float:
    transmittance, outer, inner = pane_set(_NORMAL, absorption, panes)
    return float(transmittance[0] + shares[0] * outer[0] + shares[1] * inner[0])


def _halve(falling: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function crosses zero between `low` and `high`; `high` where it does not."""
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if falling(middle) > 0.0 else (low, middle)
    return 0.5 * (low + high)
