"""Sol-air temperature of a level deck, and what the faces above it receive from it.

The temperature at which air alone would give a skin the heat that sun, sky and air give it together (handbook
fundamentals, nonresidential loads chapter, from memory), with the hour's own films; what flows on into the boat is left
out (a deck's U is a twentieth of its outer films).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.physics.films import outside_convection, radiative_coefficient

Array = npt.NDArray[np.float64]
Scalars = Any  # float or array, broadcast together

DECK_EMISSIVITY = 0.9
"""[-] Paint, gelcoat, teak (handbook 0.85–0.95, from memory)."""
FIRST_RADIATION = 6.0
"""[W m⁻² K⁻¹] Black long-wave film near 25 °C (ISO 6946 annex C: 5.7 at 20, 6.3 at 30 °C; from memory), for the first
guess of a skin's temperature only."""


def deck_radiation(sun: Scalars, absorptance: float, air: Scalars, sky: Scalars, wind: Scalars) -> tuple[Array, Array]:
    """How far from the air a level deck radiates: the black-body temperature of its own and its mirrored radiation.

    Parameters
    ----------
    sun : float or array
        On the deck. [W m⁻²]
    absorptance : float
        Of the deck for sun. [-]
    air, sky : float or array
        Temperatures of the air and of a black sky. [°C]
    wind : float or array
        [m/s]

    Returns
    -------
    by_sun, by_sky : arrays
        The two parts of its distance from the air; linear in the sun apart from the long-wave coefficient. [K]
    """
    absorbed, convection, below = absorptance * sun, outside_convection(wind), sky - air
    to_sky: Scalars = FIRST_RADIATION * DECK_EMISSIVITY
    for _ in range(2):
        guess = air + (absorbed + to_sky * below) / (convection + to_sky)
        to_sky = radiative_coefficient(guess, sky, DECK_EMISSIVITY)
    film = convection + to_sky
    mirrored = (1.0 - DECK_EMISSIVITY) * below
    return (
        np.asarray(DECK_EMISSIVITY * absorbed / film),
        np.asarray(DECK_EMISSIVITY * to_sky * below / film + mirrored),
    )
