"""Air exchanged through doors, hatches and stairs by buoyancy, and through openings to outdoors by wind as well.

Sources: Brown and Solvason 1962 (vertical openings); Epstein 1988 (horizontal openings); BS 5925:1991
(single-sided ventilation by wind).
"""

from __future__ import annotations

from typing import Any

import numpy as np

GRAVITY = 9.80665
DISCHARGE = 0.6
"""[-] Discharge coefficient of a sharp-edged doorway (textbook, from memory)."""
SINGLE_SIDED_WIND = 0.025
"""[-] BS 5925:1991 table 8, single-sided ventilation: Q = 0.025 A v (from memory)."""

Scalars = Any


def door_exchange(width: Scalars, height: Scalars, difference: Scalars, mean: Scalars = 300.0) -> Scalars:
    """Volume flow each way through an open doorway.

    Parameters
    ----------
    width, height : float or array
        Of the opening. [m]
    difference : float or array
        Temperature difference across it, sign ignored. [K]
    mean : float or array
        Mean absolute temperature. [K]

    Returns
    -------
    float or array
        C_d/3 · w · h · √(g h ΔT/T). [m³/s]

    References
    ----------
    .. [1] Brown and Solvason, Natural convection through rectangular openings in partitions, Int. J. Heat Mass
       Transfer 5, 1962, eq. for vertical partitions.
    """
    return DISCHARGE / 3.0 * width * height * np.sqrt(GRAVITY * height * np.abs(difference) / mean)


def hatch_exchange(width: Scalars, length: Scalars, difference: Scalars, mean: Scalars = 300.0) -> Scalars:
    """Volume flow each way through a horizontal opening with the cooler air above.

    Parameters
    ----------
    width, length : float or array
        Of the opening. [m]
    difference : float or array
        Temperature difference across it, sign ignored. [K]
    mean : float or array
        Mean absolute temperature. [K]

    Returns
    -------
    float or array
        0.055 √(g D⁵ ΔT/T), D the side of the equal square. [m³/s]

    References
    ----------
    .. [1] Epstein, Buoyancy-driven exchange flow through small openings in horizontal partitions, J. Heat Transfer
       110, 1988. (from memory)
    """
    side = np.sqrt(width * length)
    return 0.055 * np.sqrt(GRAVITY * side**5 * np.abs(difference) / mean)


def wind_exchange(area: Scalars, wind: Scalars, coefficient: Scalars = SINGLE_SIDED_WIND) -> Scalars:
    """Volume flow through an opening to outdoors by wind alone, single-sided. [m³/s]

    References
    ----------
    .. [1] BS 5925:1991, table 8. (from memory)
    """
    return coefficient * area * wind
