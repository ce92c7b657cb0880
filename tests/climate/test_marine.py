"""The marine climatology against an independent one, and at the edges of the map."""

import hashlib

import numpy as np
import pytest

from heatsim.tables import derive_marine, marine

# Sea temperature by the AMIP boundary-condition climatology, 1°, means of about 1980–2000: annual mean, warmest and
# coldest month. Two climatologies of 1° and 2° differ by 1.5 K near land (shore cells mix coasts), hence the tolerance.
AMIP = {
    "Virgin Islands": (18.4, -64.6, 27.4, 28.7, 25.8),
    "Mallorca": (39.5, 2.6, 18.7, 25.8, 13.5),
    "Santorini": (36.4, 25.4, 19.3, 24.1, 15.4),
    "Phuket": (7.9, 98.4, 28.8, 29.7, 27.8),
    "Whitsundays": (-20.3, 149.0, 25.3, 28.3, 21.9),
    "Seychelles": (-4.6, 55.5, 27.7, 29.5, 25.8),
    "Bahamas": (25.0, -77.4, 26.7, 29.5, 24.3),
    "Split": (43.5, 16.4, 18.0, 25.2, 13.4),
    "Stockholm": (59.3, 18.0, 7.1, 16.6, 1.3),
}


@pytest.mark.parametrize("name", AMIP)
def test_sea_temperature_amip(name):
    latitude, longitude, mean, warmest, coldest = AMIP[name]
    sea = marine.nearest(latitude, longitude).sea
    assert sea.mean() == pytest.approx(mean, abs=0.8)
    assert sea.max() == pytest.approx(warmest, abs=1.5)
    assert sea.min() == pytest.approx(coldest, abs=1.5)
    assert not marine.nearest(latitude, longitude).weak


def test_head_of_the_gulf_is_flagged_weak():
    """Kuwait: 23.3 °C and 28.0 in the warmest month against AMIP's 25.0 and 32.2; few ships, and the table says so."""
    cell = marine.nearest(29.4, 48.0)
    assert cell.weak
    assert cell.sea.max() < 30.0


def test_date_line_is_no_edge():
    by_east, by_west = marine.nearest(-17.7, 180.4), marine.nearest(-17.7, -179.6)
    assert (by_east.latitude, by_east.longitude) == (by_west.latitude, by_west.longitude)
    assert by_east.distance_km == pytest.approx(by_west.distance_km, abs=1e-6)
    assert marine.nearest(-17.7, 179.9).distance_km < 250.0


def test_poles_find_the_nearest_water():
    """The climatology ends at pack ice; the distance says how far away the answer is."""
    assert marine.nearest(90.0, 0.0).distance_km > 500.0
    assert marine.nearest(90.0, 0.0).latitude == marine.nearest(90.0, 137.0).latitude


# Great circles: a quarter and half of the earth's girth of a sphere of 6371 km (closed form).
@pytest.mark.parametrize(
    ("north", "east", "expected"), [(0, 90, 10007.5), (0, 180, 20015.1), (90, 0, 10007.5), (0, 0, 0)]
)
def test_great_circle(north, east, expected):
    assert marine.great_circle(0.0, 0.0, north, east) == pytest.approx(expected, abs=0.1)


def test_seasons_are_the_right_way_round():
    """The sea is warmest in late summer: August or September north, February or March south (common knowledge)."""
    assert int(np.argmax(marine.nearest(38.0, 5.0).sea)) in (7, 8)
    assert int(np.argmax(marine.nearest(-38.0, 20.0).sea)) in (1, 2)


def test_plausible_everywhere():
    table = marine._table()
    for name, low, high in (("air", -40, 36), ("dew_point", -45, 32), ("wind", 0, 20), ("sea", -2.5, 35)):
        months = np.cumsum(table[name], axis=0, dtype=np.int64) * marine.RESOLUTION
        strong = months[:, ~table["weak"]]
        assert low <= strong.min(), name
        assert strong.max() <= high, name
    assert len(table["row"]) > 7000


def test_script_makes_the_shipped_table(shared_data, tmp_path):
    """The same source gives the same file, byte for byte, but for the compression library."""
    made = tmp_path / "marine.npz"
    derive_marine.derive(str(shared_data / "coads_climatology.cdf"), str(made))
    with np.load(made) as ours, np.load(marine.Path(marine.__file__).with_name("marine.npz")) as shipped:
        assert ours.files == shipped.files
        for name in ours.files:
            np.testing.assert_array_equal(ours[name], shipped[name])
    source = (shared_data / "coads_climatology.cdf").read_bytes()
    assert hashlib.sha256(source).hexdigest().startswith("b94f55034d13d63f")
