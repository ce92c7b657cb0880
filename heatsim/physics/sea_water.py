"""Sea water: density, specific heat, freezing point and viscosity by temperature and salinity, at the surface.

Density, specific heat and freezing point by the international equation of state of 1980 (UNESCO technical papers in
marine science 44, 1983); viscosity by Sharqawy, Lienhard and Zubair, Desalination and Water Treatment 16 (2010),
equations 22 and 23. Valid from the freezing point to 40 °C and for 0 to 42 g/kg.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Scalars = Any  # float or array, broadcast together

OCEAN = 35.0
"""[g/kg] Salinity of oceans."""


def density(temperature: Scalars, salinity: Scalars = OCEAN) -> Array:
    """Density at atmospheric pressure.

    Parameters
    ----------
    temperature : float or array
        [°C]
    salinity : float or array
        Practical salinity. [g/kg]

    Returns
    -------
    array
        [kg m⁻³]
    """
    t, S = np.asarray(temperature, dtype=float), np.asarray(salinity, dtype=float)
    fresh = np.polynomial.polynomial.polyval(
        t, [999.842594, 6.793952e-2, -9.095290e-3, 1.001685e-4, -1.120083e-6, 6.536332e-9]
    )
    A = np.polynomial.polynomial.polyval(t, [8.24493e-1, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9])
    B = np.polynomial.polynomial.polyval(t, [-5.72466e-3, 1.0227e-4, -1.6546e-6])
    return np.asarray(fresh + A * S + B * S**1.5 + 4.8314e-4 * S**2)


def specific_heat(temperature: Scalars, salinity: Scalars = OCEAN) -> Array:
    """Specific heat at constant, atmospheric pressure; same parameters. [J kg⁻¹ K⁻¹]"""
    t, S = np.asarray(temperature, dtype=float), np.asarray(salinity, dtype=float)
    fresh = np.polynomial.polynomial.polyval(t, [4217.4, -3.720283, 0.1412855, -2.654387e-3, 2.093236e-5])
    A = np.polynomial.polynomial.polyval(t, [-7.643575, 0.1072763, -1.38385e-3])
    B = np.polynomial.polynomial.polyval(t, [0.1770383, -4.07718e-3, 5.148e-5])
    return np.asarray(fresh + A * S + B * S**1.5)


def viscosity(temperature: Scalars, salinity: Scalars = OCEAN) -> Array:
    """Dynamic viscosity; same parameters. [Pa s]"""
    t, s = np.asarray(temperature, dtype=float), np.asarray(salinity, dtype=float) / 1000.0
    fresh = 4.2844e-5 + 1.0 / (0.157 * (t + 64.993) ** 2 - 91.296)
    A = 1.541 + 1.998e-2 * t - 9.52e-5 * t**2
    B = 7.974 - 7.561e-2 * t + 4.724e-4 * t**2
    return np.asarray(fresh * (1.0 + A * s + B * s**2))


def freezing_point(salinity: Scalars = OCEAN) -> Array:
    """Temperature at which it freezes at the surface. [°C]"""
    S = np.asarray(salinity, dtype=float)
    return np.asarray(-0.0575 * S + 1.710523e-3 * S**1.5 - 2.154996e-4 * S**2)
