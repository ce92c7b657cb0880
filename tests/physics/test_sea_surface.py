"""Reflectance of the sea against Fresnel's law, flat, and two published fits of measured albedo, wavy."""

import numpy as np
import pytest

from heatsim.physics import sea_surface as sea


# Fresnel's law for n = 1.34 (closed form); a flat sea still has Cox and Munk's σ² of 0.003, which blurs the steep rise
# below 15°, so the check stands above it.
@pytest.mark.parametrize("elevation", [20.0, 30.0, 45.0, 60.0, 90.0])
def test_calm_sea_is_nearly_a_mirror(elevation):
    theta = np.radians(90.0 - elevation)
    inside = np.arcsin(np.sin(theta) / 1.34)
    if elevation == 90.0:
        mirror = (0.34 / 2.34) ** 2
    else:
        s = np.sin(theta - inside) / np.sin(theta + inside)
        p = np.tan(theta - inside) / np.tan(theta + inside)
        mirror = 0.5 * (s**2 + p**2)
    assert sea.rough_reflectance(elevation, 0.0) == pytest.approx(mirror, rel=0.06)


# Briegleb et al. 1986, J. Clim. Appl. Meteorol. 25: α = 0.026/(μ^1.7 + 0.065) + 0.15 (μ − 0.1)(μ − 0.5)(μ − 1), a fit
# to measured beam albedo (from memory). The fit knows no wind, which moves ours by 20 % at 10–20° from 2 to 10 m/s.
@pytest.mark.parametrize("elevation", [10.0, 20.0, 30.0, 45.0, 60.0, 90.0])
def test_beam_albedo_briegleb_1986(elevation):
    mu = np.sin(np.radians(elevation))
    fit = 0.026 / (mu**1.7 + 0.065) + 0.15 * (mu - 0.1) * (mu - 0.5) * (mu - 1.0)
    ours = sea.rough_reflectance(elevation, 6.0) + sea.VOLUME_REFLECTANCE
    assert ours == pytest.approx(fit, rel=0.25)


# Payne 1972, clear sky (transmittance 0.6–0.7), albedo of beam and sky together (from memory): 0.07–0.09 at 30°,
# 0.03–0.04 at 60°. Sky light is a fifth of clear global sun at 30°, an eighth at 60°.
@pytest.mark.parametrize(
    ("elevation", "sky_share", "low", "high"), [(30.0, 0.2, 0.06, 0.09), (60.0, 0.12, 0.025, 0.045)]
)
def test_clear_sky_albedo_payne_1972(elevation, sky_share, low, high):
    beam = float(sea.rough_reflectance(elevation, 4.0)) + sea.VOLUME_REFLECTANCE
    assert low < (1.0 - sky_share) * beam + sky_share * sea.DIFFUSE_REFLECTANCE < high


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
