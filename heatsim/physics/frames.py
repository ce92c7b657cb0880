"""Heat through metal frames: a web welded to the outer plate and its flange, solved as fins, and timber by area.

The plate gathers heat as a fin along both sides of the web, the web conducts it through the insulation, the flange
spreads it as a fin again under whatever covers it, helped by what flows round its edges through the insulation. In
series these give the linear transmittance of a frame, which is the idea of ISO 10211 reduced to fins (its
two-dimensional solution is what the tests compare with). Parallel area is
for timber and foam only: in metal it misses the spreading in plate and flange.
"""

from __future__ import annotations

import math

FILM_OUTSIDE = 25.0
FILM_INSIDE = 7.7
"""[W/(m²·K)] ISO 6946 standard surface resistances 0.04 and 0.13 m²·K/W."""


def spreading_conductance(film: float, conductivity: float, thickness: float, half_width: float) -> float:
    """Conductance per metre of frame of a strip that spreads heat to both sides of its middle.

    Parameters
    ----------
    film : float
        Coefficient from the strip to what it faces. [W/(m²·K)]
    conductivity, thickness, half_width : float
        Of the strip. [W/(m·K)], [m], [m]

    Returns
    -------
    float
        2 √(h k t) tanh(m L), m = √(h/(k t)). [W/(m·K)]

    References
    ----------
    .. [1] Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., 2007, table 3.4, case B.
    """
    decay = math.sqrt(film / (conductivity * thickness))
    return 2.0 * math.sqrt(film * conductivity * thickness) * math.tanh(decay * half_width)


def edge_conductance(conductivity: float, depth: float, inside: float) -> float:
    """Conductance per metre round one edge of a flange, beyond what the clear layers pass.

    Heat from the web's flank reaches the room on quarter-circles of radius y and length π y/2, as long as these are
    shorter than the clear depth d: ∫ λ [1/(π y/2 + λ/U) − 1/(d + λ/U)] dy from 0 to 2 d/π.

    Parameters
    ----------
    conductivity, depth : float
        Of the insulation beside the frame. [W/(m·K)], [m]
    inside : float
        Coefficient from the plane of the flange to the room, U. [W/(m²·K)]

    Returns
    -------
    float
        (2 λ/π) [ln(1 + d U/λ) − d/(d + λ/U)]. [W/(m·K)]
    """
    behind = conductivity / inside
    return 2.0 * conductivity / math.pi * (math.log1p(depth / behind) - depth / (depth + behind))


def frame_transmittance(
    conductivity: float,
    plate: float,
    spacing: float,
    web: float,
    depth: float,
    flange: float,
    flange_thickness: float,
    cover_resistance: float,
    clear_resistance: float,
) -> float:
    """Linear transmittance of a metal frame, air to air with the standard films.

    Parameters
    ----------
    conductivity : float
        Of the frame's metal. [W/(m·K)]
    plate, spacing, web, depth, flange, flange_thickness : float
        Thickness of the plate, distance between frames, thickness and depth of the web, width and thickness of the
        flange (the web's own edge where there is none). [m]
    cover_resistance : float
        Of the layers between flange and room, without film. [m²·K/W]
    clear_resistance : float
        Of all layers, skin to skin; what lies over the frame's depth is its insulation. [m²·K/W]

    Returns
    -------
    float
        ψ = 1 / (R_plate + R_web + 1/(G_flange + 2 G_edge)) less what the clear layers pass under the flange. [W/(m·K)]
    """
    gathered = spreading_conductance(FILM_OUTSIDE, conductivity, plate, spacing / 2)
    inside = 1.0 / (cover_resistance + 1.0 / FILM_INSIDE)
    spread = spreading_conductance(inside, conductivity, flange_thickness, max(flange, web) / 2)
    beside = clear_resistance - cover_resistance
    edges = 2.0 * edge_conductance(depth / beside, depth, inside) if beside > 0 else 0.0
    through = 1.0 / (1.0 / gathered + depth / (conductivity * web) + 1.0 / (spread + edges))
    return max(through - u_value(clear_resistance) * max(flange, web), 0.0)


def bridge_of_frames(clear_resistance: float, transmittance: float, spacing: float) -> float:
    """What frames add from skin to skin in parallel with the layers, so that the U-value air to air comes out.

    Parameters
    ----------
    clear_resistance : float
        Of the layers, skin to skin. [m²·K/W]
    transmittance : float
        ψ of one frame. [W/(m·K)]
    spacing : float
        Distance between frames. [m]

    Returns
    -------
    float
        Conductance beside the layers. [W/(m²·K)]
    """
    return _bridge(clear_resistance, u_value(clear_resistance) + transmittance / spacing, FILM_OUTSIDE, FILM_INSIDE)


def bridge_of_factor(clear_resistance: float, factor: float) -> float:
    """The same for a stated factor on the U-value with the films of ISO 7547:2002, 5.2.4: 80 and 8 W/(m²·K)."""
    raised = factor * u_value(clear_resistance, 80.0, 8.0)
    return _bridge(clear_resistance, raised, 80.0, 8.0)


def bridge_of_timber(clear_resistance: float, resistance_through: float, share: float) -> float:
    """Parallel area, skin to skin: members of low conductivity over a share of the area. [W/(m²·K)]

    References
    ----------
    .. [1] ISO 6946:2017, 6.7.2, lower limit of the combined method (parallel heat flow).
    """
    return share * (1.0 / resistance_through - 1.0 / clear_resistance)


def u_value(resistance: float, outside: float = FILM_OUTSIDE, inside: float = FILM_INSIDE) -> float:
    """U of layers of a resistance skin to skin between two films. [W/(m²·K)]"""
    return 1.0 / (1.0 / outside + resistance + 1.0 / inside)


def _bridge(clear_resistance: float, raised: float, outside: float, inside: float) -> float:
    between = 1.0 / raised - 1.0 / outside - 1.0 / inside
    if between <= 0:
        return 1e3
    return 1.0 / between - 1.0 / clear_resistance
