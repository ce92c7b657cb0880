"""Layered walls: the layer matrix as ISO 13786 prints it, and cells that keep resistance and capacity."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.physics.layers import cells, periodic_matrix, resistance


def test_periodic_matrix_of_the_clause() -> None:
    """The layer matrix exactly as ISO 13786 prints it, for one layer."""
    d, k, rho, c, T = 0.1, 0.51, 1400.0, 1000.0, 86400.0
    depth = np.sqrt(k * T / (np.pi * rho * c))
    x = d / depth
    ch, sh, co, si = np.cosh(x), np.sinh(x), np.cos(x), np.sin(x)
    Z11 = ch * co + 1j * sh * si
    Z12 = -depth / (2 * k) * (sh * co + ch * si + 1j * (ch * si - sh * co))
    Z21 = -k / depth * (sh * co - ch * si + 1j * (sh * co + ch * si))
    np.testing.assert_allclose(periodic_matrix([(d, k, rho, c)]), [[Z11, Z12], [Z21, Z11]], rtol=1e-12)


def test_cells_keep_resistance_and_capacity() -> None:
    layers = [(0.009, 0.13, 500, 1600), (0.04, 0.04, 40, 1030), (0.02, 0.025, 0, 0), (0.004, 0.3, 1700, 1100)]
    between, capacities = cells(layers)
    assert between.sum() == pytest.approx(resistance(layers), rel=1e-12)
    assert capacities.sum() == pytest.approx(sum(d * rho * c for d, _, rho, c in layers), rel=1e-12)
    assert np.all(between >= 0.0)
