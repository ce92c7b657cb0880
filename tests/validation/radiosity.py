"""Long-wave exchange of a box by radiosity: grey diffuse surfaces, view factors summed from patches.

Independent of the engine, which lets every skin exchange with one radiant node of the room. Source: Incropera et al.,
Fundamentals of Heat and Mass Transfer, 6th ed., 2007, 13.1 (view factors) and 13.3 (radiosity).
"""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

STEFAN_BOLTZMANN = 5.670374419e-8

Sizes = tuple[float, float, float]
Hole = tuple[float, float, float, float]
"""Left, right, lower and upper edge of an opening, from the lower left corner of its side. [m]"""


def view_factors(size: Sizes, holes: tuple[Hole, ...], patch: Sizes) -> tuple[Array, Array]:
    """Areas and view factors of a box's faces and of openings in its side at y = 0.

    Parameters
    ----------
    size : Sizes
        Length (x), depth (y) and height (z). [m]
    holes : tuple of Hole
        Together one more surface.
    patch : Sizes
        Edges of the patches, into which sizes and holes divide. [m]

    Returns
    -------
    area : (7,) array
        Floor, roof, y = 0 without its openings, y = depth, x = 0, x = length, openings. [m²]
    factor : (7, 7) array
        Of the row's surface to the column's; rows sum to 1.
    """
    points, normals, owner, pieces = [], [], [], []
    for face, (axis, end) in enumerate([(2, 0), (2, 1), (1, 0), (1, 1), (0, 0), (0, 1)]):
        along = [i for i in range(3) if i != axis]
        steps = [(np.arange(round(size[i] / patch[i])) + 0.5) * patch[i] for i in along]
        normal = np.zeros(3)
        normal[axis] = 1.0 - 2.0 * end
        for first, second in itertools.product(*steps):
            point = np.zeros(3)
            point[along] = first, second
            point[axis] = end * size[axis]
            within = face == 2 and any(a < first < b and c < second < d for a, b, c, d in holes)
            points.append(point)
            normals.append(normal)
            owner.append(6 if within else face)
            pieces.append(patch[along[0]] * patch[along[1]])
    x, n, k, piece = np.array(points), np.array(normals), np.array(owner), np.array(pieces)
    exchange = np.zeros((7, 7))
    for i in range(len(k)):
        ray = x - x[i]
        square = np.maximum((ray**2).sum(axis=1), 1e-12)
        seen = np.maximum(ray @ n[i], 0.0) * np.maximum(-(ray * n).sum(axis=1), 0.0) / (np.pi * square**2)
        exchange[k[i]] += np.bincount(k, seen * piece * piece[i], minlength=7)
    area = np.bincount(k, piece, minlength=7)
    exchange = 0.5 * (exchange + exchange.T)
    for _ in range(200):  # patches that touch are seen too coarsely: even out until every surface sees all around it
        root = np.sqrt(np.divide(area, exchange.sum(axis=1), out=np.ones(7), where=area > 0.0))
        exchange *= root[:, None] * root[None, :]
    return area, np.divide(exchange, area[:, None], out=np.zeros((7, 7)), where=area[:, None] > 0.0)


def losses(
    area: Array, factor: Array, emissivity: Array, film: Array, beyond: Array, room: float, outdoors: float
) -> Array:
    """Heat through each surface of a box whose air is held, (surface,). [W]

    Parameters
    ----------
    area, factor
        As from `view_factors`.
    emissivity, film : (surface,) array
        Long-wave emissivity [-] and convection [W m⁻² K⁻¹] of the inner skins.
    beyond : (surface,) array
        Conductance from inner skin to outdoors. [W m⁻² K⁻¹]
    room, outdoors : float
        Air temperatures. [K]
    """
    skin = np.full(len(area), 0.5 * (room + outdoors))
    for _ in range(300):
        own = emissivity * STEFAN_BOLTZMANN * skin**4
        radiosity = np.linalg.solve(np.eye(len(area)) - (1.0 - emissivity)[:, None] * factor, own)
        net = own / (1.0 - emissivity) - emissivity / (1.0 - emissivity) * radiosity
        slope = 4.0 * own / skin
        skin = (film * room + beyond * outdoors - net + slope * skin) / (film + beyond + slope)
    return np.asarray(beyond * (skin - outdoors) * area)
