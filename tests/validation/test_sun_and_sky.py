"""The sun's place by almanacs, clear-sky gains of the handbook, long-wave sky, and reflection from the sea."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from boxes import plain_box, plain_face
from skies import one_moment
from validation.sheet import Sheet

from heatsim.climate import position
from heatsim.climate.sun import sun_on_boat
from heatsim.physics import glazing, sea_surface, sky
from heatsim.scenario.resolved import Foreground, Glazing

FAMILY = "sun and sky"
ALMANAC = "0.02 deg is the claim of the fast almanac: 5 s of the sun's way"


def test_reference_moment(sheet: Sheet) -> None:
    """17 Oct 2003, 12:30:30 UTC−7, 39.742476° N 105.1786° W; of 820 hPa, where air refracts 0.003° less."""
    sun = position.sun_position(np.array(["2003-10-17T19:30:30"], dtype="datetime64[s]"), 39.742476, -105.1786)
    source = "NREL/TP-560-34302, table A5.1"
    for what, published, ours, within in (
        ("zenith", 50.11162, sun.zenith[0], 0.02), ("azimuth", 194.34024, sun.azimuth[0], 0.03),
    ):  # fmt: skip
        sheet.value(
            f"sun of 17 October 2003 at Golden, {what}", published, ours, within=within, because=ALMANAC, source=source,
            unit="deg", confidence="seen",
        )  # fmt: skip


PLACES = {
    "Miami": (25.8, -80.3), "Syros": (37.5, 24.9), "Cape Town": (-33.9, 18.4), "Stockholm": (59.3, 18.0),
    "Fiji": (-17.7, 179.9), "Singapore": (1.3, 103.8), "Svalbard": (78.2, 15.6),
}  # fmt: skip


@pytest.mark.parametrize("place", PLACES)
def test_against_astropy(place: str, sheet: Sheet) -> None:
    """Every 37 hours of a year with the sun above 15°; the almanac's refraction is taken off by Bennett's formula."""
    import astropy.units as u
    from astropy.coordinates import AltAz, EarthLocation, get_sun
    from astropy.time import Time
    from astropy.utils import iers

    latitude, longitude = PLACES[place]
    times = np.datetime64("2025-01-01T00:30", "s") + (np.arange(236) * 37 * 3600).astype("timedelta64[s]")
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("iers_degraded_accuracy", "ignore"):
        here = EarthLocation(lat=latitude * u.deg, lon=longitude * u.deg)
        frame = AltAz(obstime=Time(times, scale="utc"), location=here)
        true = get_sun(frame.obstime).transform_to(frame)
    elevation, azimuth = np.asarray(true.alt.deg), np.asarray(true.az.deg)
    sun = position.sun_position(times, latitude, longitude)
    high = elevation > 15.0
    refraction = 1.0 / np.tan(np.radians(elevation[high] + 7.31 / (elevation[high] + 4.4))) / 60.0
    off = 90.0 - sun.zenith[high] - refraction - elevation[high]
    apart = ((sun.azimuth[high] - azimuth[high] + 180.0) % 360.0 - 180.0) * np.cos(np.radians(elevation[high]))
    for what, difference in (("height", off), ("bearing on the sphere", apart)):
        sheet.value(
            f"largest difference from astropy over 2025, {place}, {what}", 0.0, float(np.abs(difference).max()),
            within=0.02, because=ALMANAC, source="astropy's built-in ephemeris, without refraction", unit="deg",
            confidence="formula",
        )  # fmt: skip


# 40° N, 21 July, solar hours; the handbook's clear sky: beam, and W/m² through reference glass by face.
HOURS = {
    8: (35.8, 762, {"E": 680, "SE": 505, "S": 94, "HOR": 459}),
    10: (57.9, 850, {"E": 462, "SE": 501, "S": 254, "HOR": 729}),
    12: (70.6, 871, {"SE": 253, "S": 344, "SW": 253, "HOR": 826}),
}
BEARINGS = {"E": 90.0, "SE": 135.0, "S": 180.0, "SW": 225.0, "HOR": 0.0}
HEADING = 50.0
"""[deg] Of the boat whose sides face these bearings: azimuth is heading plus bearing on the boat."""
DIFFUSE_SHARE = 0.136
"""[-] C of the handbook's July sky: sky light on the level over the beam."""
DECLINATION, LATITUDE = 20.6, 40.0
SKY_MODELS = 30.0
"""[W/m²] A quarter of the sky light."""


def _reference_glass() -> Glazing:
    """Double-strength sheet: transmittance 0.87 and absorptance 0.05 at normal incidence, 0.267 of it inwards."""
    table = glazing.angular_table(5.91, 0.8703 + 0.267 * 0.0511, 1)
    return Glazing("reference", u_value=5.91, g_value=0.884, **table._asdict())


@pytest.mark.parametrize("hour", HOURS)
def test_solar_heat_gain(hour: int, sheet: Sheet) -> None:
    height, beam, gains = HOURS[hour]
    turn = np.radians(15.0 * (hour - 12))
    delta, phi = np.radians([DECLINATION, LATITUDE])
    south = np.sin(phi) * np.cos(delta) * np.cos(turn) - np.cos(phi) * np.sin(delta)
    azimuth = 180.0 + float(np.degrees(np.arctan2(np.cos(delta) * np.sin(turn), south)))
    ground = Foreground(0.0, 0.0, 1.0, 0.0, 0.2)
    faces = [
        plain_face(
            face, "glass", (BEARINGS[face] - HEADING) % 360.0, 0.0 if face == "HOR" else 90.0, 1.0,
            glazing="reference", foreground=ground,
        )
        for face in gains
    ]  # fmt: skip
    box = plain_box(faces, glazings=(_reference_glass(),))
    light = sun_on_boat(box, one_moment(90.0 - height, azimuth, float(beam), DIFFUSE_SHARE * beam), [HEADING])
    absorbed = light.outer_absorbed + light.inner_absorbed
    for number, (face, published) in enumerate(gains.items()):
        ours = float(light.transmitted[0, 0, 0, number] + 0.267 * absorbed[0, 0, 0, number])
        sheet.value(
            f"solar heat gain through reference glass, {face} at {hour} h", published, ours, within=SKY_MODELS,
            because="two skies spread the same 120 W/m2 of light, ours by its brightness, the handbook's by a ratio",
            source="ASHRAE Fundamentals 1977 to 1997, solar heat gain factors, 40 deg N, 21 July", unit="W/m2",
            confidence="from memory",
        )  # fmt: skip


def test_clear_sky(sheet: Sheet) -> None:
    """40° N, 21 July, noon; a turbidity of 3, of which 2 is very clean and 4 hazy air: 80 W/m² of beam a step."""
    times = np.array(["2025-07-21T12:00"], dtype="datetime64[s]")
    dni, dhi = position.clear_sky(position.sun_position(times, 40.0, 0.0), times, 3.0, 0.0)
    told: dict[str, Any] = {
        "source": "ASHRAE Fundamentals 1977 to 1997, clear sky, 40 deg N, 21 July, noon", "unit": "W/m2",
        "confidence": "from memory",
        "because": "one step of turbidity either way, which the handbook's sky does not know",
    }  # fmt: skip
    sheet.value("clear sky at noon, beam", 871.0, dni[0], within=80.0, **told)
    sheet.value("clear sky at noon, sky light", 118.0, dhi[0], within=30.0, **told)


@pytest.mark.parametrize("dew_point", [0.0, 10.0, 20.0, 26.0])
def test_emissivity_of_a_clear_sky(dew_point: float, sheet: Sheet) -> None:
    """Between or near two published formulas, which differ by up to 0.05 from each other."""
    clark = 0.787 + 0.764 * np.log((dew_point + 273.15) / 273.0)
    vapour = 6.112 * np.exp(17.62 * dew_point / (243.12 + dew_point))
    w = 46.5 * vapour / (dew_point + 5.0 + 273.15)
    prata = 1.0 - (1.0 + w) * np.exp(-np.sqrt(1.2 + 3.0 * w))
    sheet.value(
        f"emissivity of a clear sky at a dew point of {dew_point:g} degC", 0.5 * (clark + prata),
        float(sky.clear_sky_emissivity(dew_point)), within=0.06, unit="1", confidence="formula",
        because="the two formulas differ by 0.05 and leave dry skies uncertain",
        source="mean of Clark and Allen 1978 and Prata 1996",
    )  # fmt: skip


def test_sky_below_air(sheet: Sheet) -> None:
    half = sky.cloudy_sky_emissivity(sky.clear_sky_emissivity(8.0), 0.5)
    sheet.value(
        "sky below air at 15 degC, dew point 8 degC, half cover", 11.0, 15.0 - float(sky.sky_temperature(15.0, half)),
        within=3.0, because="the standard gives one number for a zone of the earth", unit="K", confidence="from memory",
        source="ISO 13790:2008, 11.4.6, intermediate zones",
    )  # fmt: skip
    humid = 28.0 - float(sky.sky_temperature(28.0, sky.clear_sky_emissivity(23.0)))
    sheet.value(
        "sky below air at 28 degC, dew point 23 degC, clear", 13.0, humid, within=3.0, unit="K", judged=False,
        because="one number for all tropics; humid skies are warmer than that", confidence="from memory",
        source="ISO 13790:2008, 11.4.6, tropics",
    )  # fmt: skip


@pytest.mark.parametrize("elevation", [20.0, 30.0, 45.0, 60.0, 90.0])
def test_calm_sea(elevation: float, sheet: Sheet) -> None:
    theta = np.radians(90.0 - elevation)
    inside = np.arcsin(np.sin(theta) / 1.34)
    mirror = (0.34 / 2.34) ** 2
    if elevation < 90.0:
        across = (np.sin(theta - inside) / np.sin(theta + inside)) ** 2
        along = (np.tan(theta - inside) / np.tan(theta + inside)) ** 2
        mirror = 0.5 * (across + along)
    sheet.value(
        f"calm sea, sun at {elevation:g} deg", mirror, float(sea_surface.rough_reflectance(elevation, 0.0)),
        within=0.06 * mirror, because="a calm sea still has slopes of 0.003 in the mean square", unit="1",
        source="Fresnel's law for n = 1.34", confidence="formula",
    )  # fmt: skip


@pytest.mark.parametrize("elevation", [10.0, 20.0, 30.0, 45.0, 60.0, 90.0])
def test_beam_albedo_of_the_sea(elevation: float, sheet: Sheet) -> None:
    mu = np.sin(np.radians(elevation))
    fit = 0.026 / (mu**1.7 + 0.065) + 0.15 * (mu - 0.1) * (mu - 0.5) * (mu - 1.0)
    sheet.value(
        f"beam albedo of the sea in 6 m/s, sun at {elevation:g} deg", fit,
        float(sea_surface.rough_reflectance(elevation, 6.0)) + sea_surface.VOLUME_REFLECTANCE, within=0.25 * fit,
        because="the fit knows no wind, which moves ours by 20 % from 2 to 10 m/s", unit="1", confidence="from memory",
        source="Briegleb et al. 1986, J. Clim. Appl. Meteorol. 25, fit to measured albedo",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("elevation", "sky_share", "low", "high"), [(30.0, 0.2, 0.06, 0.09), (60.0, 0.12, 0.025, 0.045)]
)
def test_clear_sky_albedo_of_the_sea(
    elevation: float, sky_share: float, low: float, high: float, sheet: Sheet
) -> None:  # fmt: skip
    beam = float(sea_surface.rough_reflectance(elevation, 4.0)) + sea_surface.VOLUME_REFLECTANCE
    sheet.span(
        f"albedo of the sea under a clear sky, sun at {elevation:g} deg", (low, high),
        (1.0 - sky_share) * beam + sky_share * sea_surface.DIFFUSE_REFLECTANCE, unit="1", confidence="from memory",
        source="Payne 1972, measured, transmittance of the air 0.6 to 0.7", because="scatter of the measurements",
    )  # fmt: skip


def test_a_mirrored_bearing_is_seen() -> None:
    faces = [plain_face(name, "glass", BEARINGS[name], 90.0, 1.0) for name in ("E", "SW")]
    light = sun_on_boat(plain_box(faces), one_moment(55.0, 90.0, 762.0, 100.0), [0.0]).transmitted[0, 0, 0]
    assert light[0] - light[1] > 300.0
