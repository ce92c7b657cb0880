"""Shade by geometry, in closed form and against rays."""

import numpy as np
import pytest

from heatsim.climate import shade
from heatsim.scenario.resolved import Obstruction, Shade

SIDE = shade.plane_axes(np.array([90.0]), np.array([90.0]))


def lit(one: Shade, bearing: float, elevation: float, axes: shade.Axes = SIDE) -> float:
    towards = shade.direction(np.array([bearing]), np.array([elevation]))
    return float(shade.sunlit_share(shade.shade_geometry([one]), axes, towards)[0, 0])


# Shadow height P tan(elevation) / cos(surface-solar azimuth), ASHRAE Fundamentals fenestration chapter (from memory).
@pytest.mark.parametrize(
    ("bearing", "elevation", "expected"),
    [
        (90.0, 45.0, 1.0 - 0.5),  # 0.5 m of 1 m
        (90.0, 0.0, 1.0),
        (150.0, 45.0, 1.0 - 1.0),  # 1 / cos 60° doubles it
        (90.0, np.degrees(np.arctan(0.4)), 1.0 - 0.2),
        (90.0, 80.0, 0.0),
    ],
)
def test_overhang_profile_angle(bearing, elevation, expected):
    assert lit(Shade(1.0, 1.0, overhang=0.5), bearing, elevation) == pytest.approx(expected, abs=1e-9)


def test_gap_above_the_head_delays_the_shadow():
    assert lit(Shade(1.0, 1.0, overhang=0.5, overhang_gap=0.3), 90.0, 45.0) == pytest.approx(0.8)


def test_fins_shade_from_their_own_side():
    """Seen from outside a starboard window, the bow is on the right: sun from ahead meets the right fin; P |tan γ|."""
    right, left = Shade(1.0, 1.0, fin_right=0.4), Shade(1.0, 1.0, fin_left=0.4)
    assert lit(right, 45.0, 10.0) == pytest.approx(0.6)
    assert lit(left, 45.0, 10.0) == pytest.approx(1.0)
    assert lit(left, 135.0, 10.0) == pytest.approx(0.6)
    assert lit(Shade(1.0, 1.0, fin_right=0.4, fin_gap=0.1), 45.0, 10.0) == pytest.approx(0.7)


def test_mirrored_sun_ignores_an_overhang_but_not_a_fin():
    assert lit(Shade(1.0, 1.0, overhang=2.0), 90.0, -45.0) == 1.0
    assert lit(Shade(1.0, 1.0, fin_right=0.4), 45.0, -10.0) == pytest.approx(0.6)


@pytest.mark.parametrize("tilt", [60.0, 90.0, 110.0])
def test_overhang_on_a_raked_window_by_rays(tilt):
    """Rays from points of the window to the sun, stopped by a plate square to it: share counted on 4000 heights."""
    axes = shade.plane_axes(np.array([0.0]), np.array([tilt]))
    towards = shade.direction(np.array([20.0]), np.array([40.0]))
    depth, height = 0.5, 1.0
    s_n, s_u = float(towards[0] @ axes.normal[0]), float(towards[0] @ axes.up[0])
    below = (np.arange(4000) + 0.5) / 4000.0 * height
    free = depth * s_u / s_n < below  # the ray has risen less than to the plate when it passes its edge
    found = shade.sunlit_share(shade.shade_geometry([Shade(height, 1.0, overhang=depth)]), axes, towards)[0, 0]
    assert found == pytest.approx(free.mean(), abs=1e-3)  # one part in 4000 of the heights


def test_sky_under_an_overhang_by_patches():
    """Mean view of the sky from 200 heights under a very wide plate, summed over patches of 0.25° of profile angle."""
    geometry = shade.shade_geometry([Shade(1.0, 1.0, overhang=0.8, overhang_gap=0.1)])
    depth = 0.1 + (np.arange(200) + 0.5) / 200.0
    angle = np.radians((np.arange(360) + 0.5) * 0.25)
    seen = np.array([np.cos(angle)[angle < np.arctan2(d, 0.8)].sum() for d in depth]) / np.cos(angle).sum()
    assert shade.visible_above(geometry)[0] == pytest.approx(seen.mean(), abs=2e-3)  # half a patch at the edge


def test_no_shade_hides_nothing():
    geometry = shade.shade_geometry([Shade(1.0, 1.0)])
    assert shade.visible_above(geometry)[0] == shade.visible_between(geometry)[0] == 1.0
    assert lit(Shade(1.0, 1.0), 90.0, 89.0) == 1.0


def test_obstruction_all_round_view_factor():
    """A ring up to elevation e leaves a horizontal plane cos² e of an even sky, and a wall 1 − (e + sin e cos e)·2/π of
    its half (closed forms). Patches are 1° high, hence 2 % at the edge.
    """
    ring = (Obstruction(0.0, 360.0, 30.0),)
    planes = shade.plane_axes(np.zeros(2), np.array([0.0, 90.0]))
    e = np.radians(30.0)
    expected = [np.cos(e) ** 2, 1.0 - (e + np.sin(e) * np.cos(e)) * 2.0 / np.pi]
    assert shade.visible_sky(ring, planes) == pytest.approx(expected, abs=0.02)


def test_obstruction_across_the_bow():
    one = (Obstruction(330.0, 30.0, 20.0),)
    bearing = np.array([0.0, 350.0, 29.0, 31.0, 180.0, 0.0])
    elevation = np.array([10.0, 10.0, 19.0, 10.0, 10.0, 21.0])
    assert shade.blocked(one, bearing, elevation).tolist() == [True, True, True, False, False, False]


@pytest.mark.parametrize(("bearing", "tilt"), [(0.0, 90.0), (90.0, 30.0), (213.0, 110.0), (300.0, 0.0), (10.0, 180.0)])
def test_axes_stand_square_on_each_other(bearing, tilt):
    axes = shade.plane_axes(np.array([bearing]), np.array([tilt]))
    matrix = np.stack([axes.normal[0], axes.up[0], axes.right[0]])
    np.testing.assert_allclose(matrix @ matrix.T, np.eye(3), atol=1e-12)


def test_axes_of_a_starboard_window():
    """It faces starboard; up is up; seen from outside, the bow is on the right."""
    found = [vector[0].round(12).tolist() for vector in SIDE]
    assert found == [[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]
