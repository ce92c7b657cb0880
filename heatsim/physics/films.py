"""Surface films: convection outside by wind, inside by direction or by fan, and long-wave exchange.

Sources: ISO 6946:2017 annex C (internal and external convective coefficients); Fisher and Pedersen 1997 (forced
convection under ceiling supply); Carroll 1980 (mean-radiant-temperature network of an enclosure).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Scalars = Any  # float or array, broadcast together

STEFAN_BOLTZMANN = 5.670374419e-8
"""[W m⁻² K⁻⁴] CODATA 2018, exact by definition of k, h, c."""
ZERO_CELSIUS = 273.15

NATURAL_UP, NATURAL_HORIZONTAL, NATURAL_DOWN = 5.0, 2.5, 0.7
"""[W m⁻² K⁻¹] ISO 6946:2017 annex C, internal convective coefficient by direction of the heat flow."""

FAN_AIR_CHANGES = 30.0
"""[1/h] Recirculation of a cabin whose air handler runs (common practice, no source)."""

SEA_FILM = 300.0
"""[W m⁻² K⁻¹] Hull to still sea water, free convection; textbook range 100–1000 (from memory). Films of this size are
small against any lay-up: halving it lowers the U of bare 10 mm GRP by about 3 %."""


def outside_convection(wind: Scalars) -> Scalars:
    """Outside convective coefficient by wind speed.

    Parameters
    ----------
    wind : float or array
        Wind speed at the surface. [m/s]

    Returns
    -------
    float or array
        Coefficient. [W m⁻² K⁻¹]

    References
    ----------
    .. [1] ISO 6946:2017, annex C: h_ce = 4 + 4 v. (from memory)
    """
    return 4.0 + 4.0 * wind


def forced_inside_convection(air_changes: Scalars, tilt: Scalars) -> Scalars:
    """Inside convective coefficient with the fan running.

    Parameters
    ----------
    air_changes : float or array
        Supply air changes of the room. [1/h]
    tilt : float or array
        Tilt of the face's outward normal: below 45° an overhead, above 135° a sole. [°]

    Returns
    -------
    float or array
        Coefficient, never below 2.5 for overheads and sides and 0.7 for soles. [W m⁻² K⁻¹]

    References
    ----------
    .. [1] Fisher and Pedersen, Convective heat transfer in building energy and thermal load calculations,
       ASHRAE Transactions 103(2), 1997: walls 0.19 n^0.8, floors 0.13 n^0.8, ceilings 0.49 n^0.8, 3–100 1/h.
       (from memory)
    """
    tilt = np.asarray(tilt, dtype=float)
    factor = np.where(tilt < 45.0, 0.49, np.where(tilt > 135.0, 0.13, 0.19))
    floor = np.where(tilt > 135.0, NATURAL_DOWN, NATURAL_HORIZONTAL)
    return np.maximum(factor * np.power(air_changes, 0.8), floor)


def natural_inside_convection(tilt: Scalars, warmer_beyond: Scalars) -> Scalars:
    """Inside convective coefficient with the fan off, by direction of the heat flow.

    Parameters
    ----------
    tilt : float or array
        Tilt of the face's outward normal. [°]
    warmer_beyond : bool or array
        Whether the face is warmer than the room air.

    Returns
    -------
    float or array
        5.0 for heat flowing up, 2.5 sideways, 0.7 down. [W m⁻² K⁻¹]

    References
    ----------
    .. [1] ISO 6946:2017, annex C. (from memory)
    """
    tilt, warmer = np.asarray(tilt, dtype=float), np.asarray(warmer_beyond)
    overhead = np.where(warmer, NATURAL_DOWN, NATURAL_UP)
    sole = np.where(warmer, NATURAL_UP, NATURAL_DOWN)
    return np.where(tilt < 45.0, overhead, np.where(tilt > 135.0, sole, NATURAL_HORIZONTAL))


def radiative_coefficient(first: Scalars, second: Scalars, emissivity: Scalars) -> Scalars:
    """Long-wave coefficient between a grey surface and large surroundings, exact for the pair of temperatures.

    Parameters
    ----------
    first, second : float or array
        Temperatures of surface and surroundings. [°C]
    emissivity : float or array
        Long-wave emissivity of the surface. [-]

    Returns
    -------
    float or array
        Coefficient h such that h (T₁ − T₂) = ε σ (T₁⁴ − T₂⁴). [W m⁻² K⁻¹]

    References
    ----------
    .. [1] Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., 2007, eq. 1.9.
    """
    T1, T2 = first + ZERO_CELSIUS, second + ZERO_CELSIUS
    return emissivity * STEFAN_BOLTZMANN * (T1 + T2) * (T1 * T1 + T2 * T2)


def enclosure_view_factors(area: Array) -> Array:
    """Factors that let every surface of an enclosure exchange with one radiant node and still not with itself.

    Parameters
    ----------
    area : (surface,) array
        Areas. [m²]

    Returns
    -------
    (surface,) array
        F with 1/F = 1 − A F / Σ A F; 1.2 for each face of a cube. Surfaces of more than 45 % of the area are
        treated as if they had 45 % (a plane cannot see itself, a lumped face can).

    References
    ----------
    .. [1] Carroll, An 'MRT method' of computing radiant energy exchange in rooms, Proc. 2nd Systems Simulation and
       Economic Analysis Conference, San Diego, 1980.
    """
    factors = np.ones_like(area)
    for _ in range(60):
        share = np.minimum(area * factors / np.sum(area * factors), 0.45)
        factors = 1.0 / (1.0 - share)
    return factors


def enclosure_exchange(area: Array, emissivity: Array, temperature: float) -> Array:
    """Conductance of each surface of an enclosure to its radiant node.

    Parameters
    ----------
    area, emissivity : (surface,) array
        Areas [m²] and long-wave emissivities [-]; emissivity 0 gives 0.
    temperature : float
        Temperature about which T⁴ is linearised. [°C]

    Returns
    -------
    (surface,) array
        4 σ T³ A / (1/F + (1 − ε)/ε). [W/K]
    """
    black = 4.0 * STEFAN_BOLTZMANN * (temperature + ZERO_CELSIUS) ** 3
    shown = np.maximum(emissivity, 1e-12)
    conductance = black * area / (1.0 / enclosure_view_factors(area) + (1.0 - shown) / shown)
    return np.where(emissivity > 0.0, conductance, 0.0)
