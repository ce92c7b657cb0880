"""Layered walls: steady resistance, cells for the transient network, and the exact periodic matrix.

Sources: ISO 6946:2017 (resistances in series), ISO 13786:2017 (heat transfer matrix of a layer).
A layer is a tuple (thickness m, conductivity W/(m·K), density kg/m³, specific heat J/(kg·K)).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

LayerNumbers = tuple[float, float, float, float]

CELL_PERIOD = 5400.0
"""[s] Period whose penetration depth sets the finest cell: sun and routines change over hours."""
SMALLEST_CAPACITY = 1.0
"""[J m⁻² K⁻¹] Below this (air, a membrane) a layer is a resistance only."""
SHORTEST_RELAXATION = 150.0
"""[s] Neighbouring cells that come to one temperature faster than this are one node. With it the 24 h transfer
matrix of marine lay-ups is within 1.5 % of the exact one and the 6 h matrix within 5 % (tests/validation);
without merging a sandwich deck has ten nodes, with it seven, a bare laminate one."""


def resistance(layers: Sequence[LayerNumbers]) -> float:
    """Surface-to-surface resistance of layers in series. [m² K W⁻¹]

    References
    ----------
    .. [1] ISO 6946:2017, 6.7.1.
    """
    return float(sum(thickness / conductivity for thickness, conductivity, _, _ in layers))


def cells(layers: Sequence[LayerNumbers]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Cut layers into cells with their capacity at the middle, then join those that settle together.

    Each layer is cut so that a cell is at most 0.6 of the penetration depth √(λP/(πρc)) of a 1.5 h period.

    Parameters
    ----------
    layers : sequence of (thickness, conductivity, density, specific heat)
        From inside to outside.

    Returns
    -------
    resistances : (node + 1,) array
        From the inside skin to the first node, between nodes, and to the outside skin. [m² K W⁻¹]
    capacities : (node,) array
        [J m⁻² K⁻¹]
    """
    between, capacities = [0.0], []
    for thickness, conductivity, density, specific_heat in layers:
        capacity = thickness * density * specific_heat
        if capacity < SMALLEST_CAPACITY:
            between[-1] += thickness / conductivity
            continue
        depth = np.sqrt(conductivity * CELL_PERIOD / (np.pi * density * specific_heat))
        count = int(np.ceil(thickness / (0.6 * depth)))
        half = thickness / conductivity / count / 2.0
        for _ in range(count):
            between[-1] += half
            between.append(half)
            capacities.append(capacity / count)
    return _join_fast_neighbours(np.array(between), np.array(capacities))


def _join_fast_neighbours(
    between: npt.NDArray[np.float64], capacities: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Join the fastest pair at its centre of capacity until none relaxes within `SHORTEST_RELAXATION`."""
    while len(capacities) > 1:
        first, second = capacities[:-1], capacities[1:]
        relaxation = between[1:-1] * first * second / (first + second)
        i = int(np.argmin(relaxation))
        if relaxation[i] >= SHORTEST_RELAXATION:
            break
        share = second[i] / (first[i] + second[i])
        joined = first[i] + second[i]
        between, capacities = between.copy(), capacities.copy()
        between[i] += between[i + 1] * share
        between[i + 2] += between[i + 1] * (1.0 - share)
        capacities[i] = joined
        between, capacities = np.delete(between, i + 1), np.delete(capacities, i + 1)
    return between, capacities


def periodic_matrix(layers: Sequence[LayerNumbers], period: float = 86400.0) -> npt.NDArray[np.complex128]:
    """Exact heat transfer matrix of a layered wall under a sine of the given period.

    Parameters
    ----------
    layers : sequence of (thickness, conductivity, density, specific heat)
        From side 1 to side 2; density 0 is a pure resistance.
    period : float
        [s]

    Returns
    -------
    (2, 2) complex array
        [θ₂, q₂] = Z [θ₁, q₁], determinant 1.

    References
    ----------
    .. [1] ISO 13786:2017, 7.1.
    """
    total = np.eye(2, dtype=complex)
    for thickness, conductivity, density, specific_heat in layers:
        if thickness * density * specific_heat == 0.0:
            layer = np.array([[1.0, -thickness / conductivity], [0.0, 1.0]], dtype=complex)
        else:
            root = np.sqrt(1j * 2.0 * np.pi / period * density * specific_heat / conductivity)
            x = root * thickness
            layer = np.array(
                [[np.cosh(x), -np.sinh(x) / (conductivity * root)], [-conductivity * root * np.sinh(x), np.cosh(x)]]
            )
        total = layer @ total
    return total
