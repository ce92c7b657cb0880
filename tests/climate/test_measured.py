"""Sun on tilted planes against measurements: bias and root mean square error, as shares of the measured mean."""

import numpy as np
import pandas as pd
import pytest
from boxes import plain_box, plain_face
from skies import given_light

from heatsim.climate.sun import sun_on_boat
from heatsim.scenario.resolved import Foreground

GROUND = Foreground(0.0, 0.0, 1.0, 0.0, 0.2)


def on_plane(times, latitude, longitude, dni, dhi, tilt):
    """Sun on a plane facing south at the given moments."""
    weather = given_light(times, latitude, longitude, np.maximum(dni, 0.0), np.maximum(dhi, 0.0))
    box = plain_box([plain_face("plane", "house", 180.0, tilt, 1.0, foreground=GROUND)])
    sun = sun_on_boat(box, weather, [0.0]).incident[0, :, :, 0]
    return np.append(sun[0], sun[1, -1])


def bias_and_spread(found, measured, counted):
    error = (found - measured)[counted]
    return error.mean(), np.sqrt(np.mean(error**2)), measured[counted].mean()


def test_golden_colorado_february_2019(shared_data):
    """Afternoons of five clear and cloudy days at 5 min, plane facing south at 40° (not stated by the source).

    NREL, Golden, 39.742 °N 105.18 °W, in the data set of PyPI's pvanalytics. Afternoons only: before noon the plane's
    instrument reads up to 20 % below beam and sky light together, by ours and by any other model, so that over whole
    days the bias is +5 % and the spread 9 %. Perez claims a spread of 3–6 % on south-facing planes (Perez 1990, table
    3, from memory).
    """
    frame = pd.read_csv(shared_data / "measured" / "irradiance_RMIS_NREL.csv").dropna()
    local = pd.to_datetime(frame["measured_on"], format="%m/%d/%Y %H:%M")
    times = (local + pd.Timedelta(hours=7)).to_numpy()
    dni, dhi = frame["irradiance_dni__7982"].to_numpy(), frame["irradiance_dhi__7983"].to_numpy()
    measured = frame["irradiance_poa__7984"].to_numpy()
    found = on_plane(times, 39.742, -105.18, dni, dhi, 40.0)
    afternoon = (frame["pvlib_zenith"].to_numpy() < 80.0) & (local.dt.hour.to_numpy() >= 12)
    bias, spread, mean = bias_and_spread(found, measured, afternoon)
    assert mean > 500.0
    assert abs(bias) < 0.02 * mean
    assert spread < 0.05 * mean


def test_graz_may_2017(shared_data):
    """Two days at 1 min in Graz, 47.047 °N 15.436 °E, plane facing south at 30°: sunpeek example data, CC BY-SA 4.0.

    Sky light is global sun less beam, so the error of both enters the plane: bias −0.4 %, spread 6 % when written; the
    bounds are those of the instruments (5 %) and of Perez's model on top.
    """
    files = sorted((shared_data / "measured").glob("FHW*.csv"))
    if not files:
        pytest.skip("the measurement of Graz is not there")
    frame = pd.read_csv(files[0], sep=";")
    times = pd.to_datetime(frame["timestamps_UTC"]).to_numpy()
    from heatsim.climate.position import sun_position

    height = np.cos(np.radians(sun_position(times.astype("datetime64[s]"), 47.047, 15.436).zenith))
    dni, ghi = frame["rd_dni"].to_numpy(), frame["rd_ghi"].to_numpy()
    dhi = np.maximum(ghi - dni * np.maximum(height, 0.0), 0.0)
    found = on_plane(times, 47.047, 15.436, dni, dhi, 30.0)
    measured = frame["rd_gti"].to_numpy()
    counted = (height > 0.17) & np.isfinite(measured) & np.isfinite(dni) & (frame["is shadowed"].to_numpy() == 0)
    bias, spread, mean = bias_and_spread(found, measured, counted)
    assert abs(bias) < 0.05 * mean
    assert spread < 0.08 * mean
