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
"""[s] Period whose penetration depth sets the cell size: sun and routines change over hours, controls over minutes."""
SMALLEST_CAPACITY = 500.0
"""[J m⁻² K⁻¹] Below this a layer is a resistance only (half a millimetre of water); it would settle in a minute."""


def resistance(layers: Sequence[LayerNumbers]) -> float:
    """Surface-to-surface resistance of layers in series. [m² K W⁻¹]

    References
    ----------
    .. [1] ISO 6946:2017, 6.7.1.
    """
    return float(sum(thickness / conductivity for thickness, conductivity, _, _ in layers))


def cells(layers: Sequence[LayerNumbers]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Cut layers into cells with their capacity at the middle.

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
    return _merge(np.array(between), np.array(capacities))


def _merge(
    between: npt.NDArray[np.float64], capacities: npt.NDArray[np.float64], least: float = 0.008
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Join neighbouring nodes less than `least` m²·K/W apart at their centre of capacity (thin skins beside another)."""
    between, capacities = between.copy(), capacities.copy()
    i = 1
    while i < len(between) - 1:
        if between[i] >= least:
            i += 1
            continue
        first, second = capacities[i - 1], capacities[i]
        to_first = between[i] * second / (first + second)
        between[i - 1] += to_first
        between[i + 1] += between[i] - to_first
        capacities[i - 1] = first + second
        between, capacities = np.delete(between, i), np.delete(capacities, i)
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
