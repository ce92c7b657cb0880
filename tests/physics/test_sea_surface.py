"""Reflectance of the sea: what waves do to it, and its table against the quadrature over slopes."""

import numpy as np
import pytest

from heatsim.physics import sea_surface as sea


def test_waves_dull_a_low_sun_and_brighten_a_middling_one():
    """Cox and Munk 1954: slopes turn facets to a grazing sun, whose reflectance falls with wind; at 40° it rises."""
    winds = np.array([0.0, 5.0, 10.0, 15.0])
    assert np.all(np.diff(sea.rough_reflectance(8.0, winds)) < 0.0)
    assert np.all(np.diff(sea.rough_reflectance(40.0, winds)) > 0.0)


def test_table_stands_for_the_quadrature():
    """Interpolation off the table's points, within 3 % or 0.003 of the quadrature itself (our choice of steps)."""
    elevation, wind = np.meshgrid([0.7, 3.3, 7.4, 12.6, 18.5, 33.3, 71.0], [0.4, 3.1, 7.7, 14.0])
    exact = sea.rough_reflectance(elevation, wind)
    np.testing.assert_allclose(sea.beam_reflectance(elevation, wind), exact, rtol=0.03, atol=0.003)


def test_quadrature_over_slopes():
    """Against a plain sum over a fine grid of slopes: 0.004, for facets that turn away put a kink in the integrand."""
    slope = np.sqrt(0.003 + 0.00512 * 8.0)
    z = np.linspace(-6, 6, 1201) / np.sqrt(2.0) * slope
    along, across = np.meshgrid(z, z, indexing="ij")
    for elevation in (5.0, 15.0, 40.0):
        h = np.radians(elevation)
        met = np.maximum(np.sin(h) + along * np.cos(h), 0.0) * np.exp(-(along**2 + across**2) / slope**2)
        cosine = np.clip((np.sin(h) + along * np.cos(h)) / np.sqrt(1 + along**2 + across**2), 1e-9, 1.0)
        fresnel = np.mean(sea.fresnel_reflectance(cosine, sea.REFRACTIVE_INDEX), axis=0)
        assert sea.rough_reflectance(elevation, 8.0) == pytest.approx((met * fresnel).sum() / met.sum(), abs=0.004)
