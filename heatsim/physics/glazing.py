"""Glass: sun by angle of incidence through panes, films on them and panes in front of them, from their data sheets.

A data sheet gives U and the solar factor g at normal incidence. Panes are taken as uncoated, equal and absorbing:
Fresnel reflectance at each surface and Bouguer's law inside, both polarisations followed through all reflections
between surfaces and averaged at the end. The one unknown, absorption per pane, is fitted so that the g of EN 410
comes out. A film lies on the inner surface and takes the place of that surface. Sources: Duffie and Beckman, Solar
Engineering of Thermal Processes, 4th ed., ch. 5 (from memory); EN 410:2011 (secondary heat to the inside);
EN 673:2011 (standard films of air).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
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
CLEAR_6_MM = 0.1676
"""[-] K L of 6 mm of clear float, g 0.82 (EN 410 typical, from memory): what film data sheets are measured on."""
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


class Film(NamedTuple):
    """A sun film where it bounds the glass to the air: shares of the light that meets it, the same from both sides."""

    transmittance: float
    reflectance: float


class Sheet(NamedTuple):
    """Shares of the light that meets one glazing, (2, angle) by polarisation.

    From outside: `transmittance`, `front` reflectance, what the `outer` and the `inner` surface node absorb; from
    inside: the same transmittance and `back` reflectance.
    """

    transmittance: Array
    front: Array
    back: Array
    outer: Array
    inner: Array


def filmed_pane(cosine: Array, absorption: float, film: Film) -> Sheet:
    """One pane with a film on its inner surface; the pane's own heat by halves to its surfaces, the film's inside.

    Closed sums over all reflections between the outer surface (Fresnel) and the film, which within glass sees light
    within 41° of its normal only and is taken as the same for all of it.

    Parameters
    ----------
    cosine : (angle,) array
        Cosine of the angle of incidence.
    absorption : float
        K L of the pane. [-]
    film : Film
    """
    cosine = np.maximum(cosine, GRAZING)
    r = np.stack(fresnel_reflectance(cosine, REFRACTIVE_INDEX))
    a = np.exp(-absorption / np.sqrt(1.0 - (1.0 - cosine**2) / REFRACTIVE_INDEX**2))
    entering = (1.0 - r) / (1.0 - r * a**2 * film.reflectance)
    transmittance = entering * a * film.transmittance
    glass = 0.5 * entering * (1.0 - a) * (1.0 + a * film.reflectance)
    on_film = entering * a * (1.0 - film.transmittance - film.reflectance)
    front = r + entering * (1.0 - r) * a**2 * film.reflectance
    back = film.reflectance + film.transmittance**2 * a**2 * r / (1.0 - r * a**2 * film.reflectance)
    return Sheet(transmittance, front, back, glass, glass + on_film)


def film_of_sheet(transmittance: float, reflectance: float) -> Film:
    """The film itself, from what its data sheet gives on 6 mm of clear glass at normal incidence, glass outside.

    Raises
    ------
    HeatsimError
        Where no film on that glass can do so.
    """
    r = float(fresnel_reflectance(_NORMAL, REFRACTIVE_INDEX)[0][0])
    a = float(np.exp(-CLEAR_6_MM))
    bounced = (reflectance - r) / (a**2 * ((1.0 - r) ** 2 + r * (reflectance - r)))
    film = Film(transmittance * (1.0 - r * a**2 * bounced) / ((1.0 - r) * a), bounced)
    if min(film) < 0.0 or sum(film) > 1.0:
        raise HeatsimError(
            Fault(
                "no film on 6 mm of clear glass lets through and throws back so much",
                value=f"transmittance {transmittance:g}, reflectance {reflectance:g}",
                remedy="The data sheet's solar (not visible) values are meant",
            )
        )
    return film


def sheet(cosine: Array, absorption: float, panes: int, film: Film | None = None) -> Sheet:
    """One pane or two equal panes, by polarisation; a film lies on the innermost surface.

    Half of what a single pane absorbs goes to each of its surfaces; of two panes each takes its own.

    Parameters
    ----------
    cosine : (angle,) array
        Cosine of the angle of incidence.
    absorption : float
        K L of each pane. [-]
    panes : int
        1 or 2.
    film : Film, optional
    """
    t, r = pane(cosine, absorption)
    half = 0.5 * (1.0 - t - r)
    plain = Sheet(t, r, r, half, half)
    last = plain if film is None else filmed_pane(cosine, absorption, film)
    if panes == 1:
        return last
    between = 1.0 / (1.0 - r * last.front)
    outer = (1.0 - t - r) * (1.0 + t * last.front * between)
    inner = (last.outer + last.inner) * t * between
    back = last.back + last.transmittance**2 * r * between
    return Sheet(t * last.transmittance * between, 1.0 - t * last.transmittance * between - outer - inner, back,
                 outer, inner)  # fmt: skip


def pane_set(cosine: Array, absorption: float, panes: int) -> Optics:
    """A `sheet` without a film in unpolarised light: transmittance, and absorptance to outer and inner surface node."""
    found = sheet(cosine, absorption, panes)
    return Optics(found.transmittance.mean(axis=0), found.outer.mean(axis=0), found.inner.mean(axis=0))


class Glass(NamedTuple):
    """One glazing by what was fitted to its data sheet.

    `absorption` of each pane, the share `admitted` past a mirror that no absorption explains, `resistance` surface to
    surface [m² K/W].
    """

    absorption: float
    panes: int
    admitted: float
    resistance: float
    film: Film | None = None

    def sheet(self, cosine: Array) -> Sheet:
        """Shares by polarisation."""
        own = sheet(cosine, self.absorption, self.panes, self.film)
        kept = self.admitted
        return Sheet(
            kept * own.transmittance, 1.0 - kept * (1.0 - own.front), 1.0 - kept * (1.0 - own.back),
            kept * own.outer, kept * own.inner,
        )  # fmt: skip


def glass_behind(front: Glass, behind: Glass, gap: float, cosine: Array) -> Sheet:
    """A glazing with another in front of it, parallel, and still air between.

    What is absorbed within the set is split between its outer and its inner surface as it flows off through the
    resistances on both sides.

    Parameters
    ----------
    front, behind : Glass
        The outer and the inner glazing.
    gap : float
        Resistance of the air between. [m² K/W]
    cosine : (angle,) array
        Cosine of the angle of incidence.
    """
    first, second = front.sheet(cosine), behind.sheet(cosine)
    between = 1.0 / (1.0 - first.back * second.front)
    passed = first.transmittance * between
    thrown_back = 0.5 * passed * second.front * (1.0 - first.transmittance - first.back)
    whole = front.resistance + gap + behind.resistance
    near, far = front.resistance / whole, (front.resistance + gap) / whole
    inside_front, outside_behind = first.inner + thrown_back, passed * second.outer
    outer = first.outer + thrown_back + (1.0 - near) * inside_front + (1.0 - far) * outside_behind
    inner = near * inside_front + far * outside_behind + passed * second.inner
    transmittance = passed * second.transmittance
    back = second.back + second.transmittance**2 * first.back * between
    return Sheet(transmittance, 1.0 - transmittance - outer - inner, back, outer, inner)


def inward_shares(u_value: float, resistance: float) -> tuple[float, float]:
    """Shares of the heat absorbed at the outer and at the inner surface that end inside, with the standard films.

    References
    ----------
    .. [1] EN 410:2011, secondary heat transfer factor (from memory), with the films of EN 673.
    """
    resistance_out = 1.0 / OUTSIDE_FILM
    return u_value * resistance_out, u_value * (resistance_out + resistance)


@lru_cache(maxsize=256)
def fit_glass(u_value: float, g_value: float, panes: int, *, resistance: float | None = None) -> Glass:
    """A glazing from U, solar factor at normal incidence and number of panes.

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

    Raises
    ------
    HeatsimError
        Where no clear glass passes so much sun.
    """
    if resistance is None:
        resistance = max(1.0 / u_value - 1.0 / OUTSIDE_FILM - 1.0 / INSIDE_FILM, LEAST_RESISTANCE)
    shares = inward_shares(_u_value(resistance), resistance)
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
    return Glass(absorption, panes, min(1.0, g_value / _solar_factor(absorption, panes, shares)), resistance)


def tabulated(glass: Glass, front: Glass | None = None, gap: float = 0.0) -> AngularTable:
    """Solar properties by angle of a glazing, or of one with another in front of it (see `glass_behind`)."""

    def shares(cosine: Array) -> tuple[Array, ...]:
        found = glass.sheet(cosine) if front is None else glass_behind(front, glass, gap, cosine)
        return tuple(part.mean(axis=0) for part in (found.transmittance, found.outer, found.inner, found.back))

    beam = [tuple(map(float, part)) for part in shares(np.cos(np.radians(ANGLES)))]
    passed, outer, inner, back = (float(np.sum(_HEMISPHERE * part)) for part in shares(_COSINES))
    resistance = glass.resistance if front is None else front.resistance + gap + glass.resistance
    return AngularTable(resistance, ANGLES, beam[0], beam[1], beam[2], passed, outer, inner, back)


def angular_table(u_value: float, g_value: float, panes: int, *, resistance: float | None = None) -> AngularTable:
    """Solar properties of a glazing by angle from its data sheet: `fit_glass`, tabulated."""
    return tabulated(fit_glass(u_value, g_value, panes, resistance=resistance))


def solar_factor(table: AngularTable) -> float:
    """Solar factor at normal incidence after EN 410, with the standard films."""
    shares = inward_shares(_u_value(table.resistance), table.resistance)
    return table.transmittance[0] + shares[0] * table.outer_absorptance[0] + shares[1] * table.inner_absorptance[0]


def _u_value(resistance: float) -> float:
    return 1.0 / (1.0 / OUTSIDE_FILM + resistance + 1.0 / INSIDE_FILM)


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
