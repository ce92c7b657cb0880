"""Weather files: whose clock they keep, what is wrong with them, and that nothing wrong is swallowed."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pvlib
import pytest

from heatsim.climate import files, quality
from heatsim.climate.files import read_year
from heatsim.errors import HeatsimError

PVLIB = Path(pvlib.__file__).parent / "data"
SHIPPED = {"723170TYA.CSV": "tmy3", "703165TY.csv": "tmy3", "12839.tm2": "tmy2"}


def codes(findings):
    return [finding.code for finding in findings]


@pytest.mark.parametrize("name", SHIPPED)
def test_hours_of_files_shipped_with_pvlib_close_at_half_past(name):
    """TMY3 labels an hour by its end, TMY2's reader by its start: both must come to hours with sun at half past."""
    year, findings = read_year(PVLIB / name, SHIPPED[name])
    assert year.sun_shift == 0
    assert findings == ()


@pytest.mark.parametrize(
    ("name", "reader", "shift"),
    [
        ("722020TYA.CSV", "tmy3", 0),
        ("722010TYA.CSV", "tmy3", 0),
        ("725650TYA.CSV", "tmy3", 0),
        ("PRI_San.Juan.Intl.AP.785260_TMY3.epw", "epw", 0),
        ("GUM_Andersen.AFB.912180_TMY3.epw", "epw", 0),
        ("BLZ_Belize.785830_SWERA.epw", "epw", 0),
    ],
)
def test_hours_of_open_files_close(shared_data, name, reader, shift):
    year, findings = read_year(shared_data / name, reader)
    assert year.sun_shift == shift
    assert findings == ()


def test_sky_light_made_with_the_sun_in_the_wrong_place_is_made_anew(shared_data):
    """Denver-Stapleton: beam and sky light close half an hour before the hours' middle, and noon contradicts.

    On clear days its global sun lies evenly about noon if hours have their middle at half past, as in every other file,
    while its sky light is balanced 78 min before noon, which no sky does.
    """
    name = "USA_CO_Denver-Stapleton.724690_TMY.epw"
    year, findings = read_year(shared_data / name, "epw")
    assert year.sun_shift == 0
    assert codes(findings) == ["weather-sky-light"]
    assert "before global sun" in findings[0].value
    clear = np.argsort(-year.dni.reshape(365, 24).sum(axis=1))[:40]
    labels = np.arange(24) + 0.5
    sky = year.dhi.reshape(365, 24)[clear]
    table = files._parsed(shared_data / name, "epw")
    as_stated = table.columns["dhi"].reshape(365, 24)[clear]
    # Centre of gravity against solar noon (equation of time within 16 min); sky light follows the sun.
    assert np.median((sky * labels).sum(axis=1) / sky.sum(axis=1)) == pytest.approx(12.0, abs=0.3)
    assert np.median((as_stated * labels).sum(axis=1) / as_stated.sum(axis=1)) < 11.0


def test_sky_light_of_another_file_spoilt_in_the_same_way_is_found(tmp_path):
    """723170TYA as pvlib ships it, its sky light made from the other two with the sun half an hour early."""
    table = files._parsed(PVLIB / "723170TYA.CSV", "tmy3")
    zenith = files.position.sun_position(table.start, table.latitude, table.longitude).zenith
    beam = table.columns["dni"] * np.maximum(np.cos(np.radians(zenith)), 0.0)
    spoilt = np.maximum(table.columns["ghi"] - beam, 0.0)

    def change(lines):
        for i in range(2, len(lines)):
            cells = lines[i].split(",")
            cells[10] = f"{spoilt[i - 2]:.0f}"
            lines[i] = ",".join(cells)
        return lines

    year, findings = edited(tmp_path, "723170TYA.CSV", change)
    sound, _ = read_year(PVLIB / "723170TYA.CSV", "tmy3")
    assert codes(findings) == ["weather-sky-light"]
    assert year.sun_shift == 0
    # The file's own beam is a measurement or a model of its own: its sky light closes to 3 W/m² at half past.
    assert year.dhi.sum() == pytest.approx(sound.dhi.sum(), rel=0.03)


def test_closure_rejects_the_wrong_half_hour():
    """At the middle that is taken, beam and sky light close to global sun at least three times as well as at others."""
    table = files._parsed(PVLIB / "723170TYA.CSV", "tmy3")
    bright = (table.columns["ghi"] > 50) & (table.columns["dni"] > 50)
    rest = {}
    for minutes in (0, 30, 60):
        moments = table.start[bright] + np.timedelta64(minutes, "m")
        zenith = files.position.sun_position(moments, table.latitude, table.longitude).zenith
        beam = table.columns["dni"][bright] * np.cos(np.radians(zenith))
        open_part = (table.columns["ghi"] - table.columns["dhi"])[bright] - beam
        rest[minutes] = np.sqrt(np.mean(open_part**2))
    assert rest[30] < min(rest[0], rest[60]) / 3.0


# Annual sums and means of the same files by an independent reading of their columns, printed to these figures.
def test_sums_of_miami_tmy3(shared_data):
    """722020, NREL TMY3: 24.51 °C, dew point 18.9 °C, 4.12 m/s; 1753, 1454, 811 kWh/m² global, beam, sky."""
    year, _ = read_year(shared_data / "722020TYA.CSV", "tmy3")
    assert year.air.mean() == pytest.approx(24.51, abs=0.005)
    assert year.dew_point.mean() == pytest.approx(18.9, abs=0.05)
    assert year.wind.mean() == pytest.approx(4.12, abs=0.005)
    sums = [value.sum() / 1000.0 for value in (year.ghi, year.dni, year.dhi)]
    assert sums == pytest.approx([1753, 1454, 811], abs=1.0)


def test_frost_in_the_tropics_is_reported_and_not_used(shared_data):
    """St Thomas TMY3: 51 h below 18 °C, down to −8 °C, most on 7–8 May (its provenance note)."""
    name = "VIR_Charlotte.Amalie-Harry.S.Truman.AP.785430_TMY3.epw"
    year, findings = read_year(shared_data / name, "epw")
    assert codes(findings) == ["weather-strange-hours", "weather-filled"]
    assert "-8.0" in findings[0].message
    assert findings[0].source == name
    assert year.air.min() > 15.0
    assert 40 <= int(findings[0].value.split()[0]) <= 60


def test_empty_columns_are_reported(shared_data):
    """A cell at sea of a public radiation service: radiation only, everything else zero (its provenance note)."""
    year, findings = read_year(shared_data / "tmy_35.015_25.755_2005_2020.csv", "pvgis")
    assert codes(findings).count("weather-empty-column") == 3
    assert np.isnan(year.air).all()
    assert year.ghi.sum() / 1000.0 == pytest.approx(1948, abs=1.0)


def edited(tmp_path, name, change, reader="tmy3"):
    """A shipped file with its lines changed, read again."""
    lines = (PVLIB / name).read_text().splitlines(keepends=True)
    path = tmp_path / name
    path.write_text("".join(change(lines)))
    return read_year(path, reader)


@pytest.mark.parametrize("error", [3, -5])
def test_wrong_utc_offset_is_found_and_put_right(tmp_path, error):
    """Greensboro keeps UTC−5; a header that says otherwise moves its sun by whole hours, which cannot be true."""

    def change(lines):
        head = lines[0].split(",")
        head[3] = f"{-5 + error}"
        return [",".join(head), *lines[1:]]

    year, findings = edited(tmp_path, "723170TYA.CSV", change)
    assert codes(findings) == ["weather-clock"]
    assert findings[0].value == f"UTC{-5 + error:+d}"
    assert year.utc_offset == -5.0


def test_gaps_and_doubles_are_counted(tmp_path):
    """Thirty hours cut out and five repeated: reported, and the gap filled by the days around."""
    year, findings = edited(tmp_path, "723170TYA.CSV", lambda x: [*x[:1000], *x[1030:2000], *x[1995:]])
    assert codes(findings)[0] == "weather-gap"
    assert "30 hours" in findings[0].message
    assert "5 stand" in findings[0].message
    assert np.isfinite(year.air).all()


def test_missing_codes_are_not_temperatures(tmp_path):
    """The format's code for "missing" (−9900, Users Manual for TMY3 Data Sets, NREL/TP-581-43156) in ten hours."""

    def change(lines):
        for i in range(3000, 3010):
            cells = lines[i].split(",")
            cells[31] = "-9900"
            lines[i] = ",".join(cells)
        return lines

    year, findings = edited(tmp_path, "723170TYA.CSV", change)
    assert codes(findings) == ["weather-filled"]
    assert "air temperature 10 h" in findings[0].message
    assert year.air.min() > -20.0


def test_radiation_that_does_not_belong_together(tmp_path):
    """Beam and sky light of other hours: no clock closes them, which is said and not corrected."""

    def change(lines):
        for i in range(2, len(lines)):
            cells = lines[i].split(",")
            cells[10] = "0" if i % 2 else cells[10]
            lines[i] = ",".join(cells)
        return lines

    year, findings = edited(tmp_path, "723170TYA.CSV", change)
    assert "weather-closure" in codes(findings)
    assert year.utc_offset == -5.0


def test_half_a_year_is_refused(tmp_path):
    with pytest.raises(HeatsimError, match="every hour of a year"):
        edited(tmp_path, "723170TYA.CSV", lambda lines: lines[:4000])


@pytest.mark.parametrize("reader", ["epw", "tmy3", "tmy2", "pvgis"])
@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02" * 100, b"hello,world\n1,2\n"])
def test_not_a_weather_file(tmp_path, reader, content):
    path = tmp_path / "weather.bin"
    path.write_bytes(content)
    with pytest.raises(HeatsimError, match=f"cannot be read as {reader}"):
        read_year(path, reader)


def test_latin_1_comments_do_not_stop_a_file(shared_data, tmp_path):
    """Comment lines of many files hold accents in another encoding than the reader's."""
    raw = (shared_data / "GUM_Andersen.AFB.912180_TMY3.epw").read_bytes()
    path = tmp_path / "accents.epw"
    path.write_bytes(raw.replace(b"COMMENTS 1,", "COMMENTS 1,Hagåtña ".encode("latin-1"), 1))
    assert read_year(path, "epw")[1] == ()


def test_leap_day_rows_are_dropped(tmp_path):
    """29 February has no place in 2025; a file that holds it keeps its other 8760 h where they belong."""

    def change(lines):
        march = next(i for i, line in enumerate(lines) if line.startswith("03/01"))
        day = [line.replace(line[:10], "02/29/1996", 1) for line in lines[march - 24 : march]]
        return [*lines[:march], *day[:23], *lines[march:]]

    year, _ = edited(tmp_path, "723170TYA.CSV", change)
    plain, _ = read_year(PVLIB / "723170TYA.CSV", "tmy3")
    np.testing.assert_array_equal(year.air, plain.air)


def test_every_bound_rejects():
    """A value past each bound is taken out and named."""
    for name, (low, high) in quality.BOUNDS.items():
        hours = np.tile(np.linspace(low, high, 24) * 0.5 + 0.25 * (low + high), 365)
        values = {key: hours * 0.0 + sum(bounds) / 2.0 for key, bounds in quality.BOUNDS.items()}
        values[name] = hours.copy()
        values[name][100] = high * 1.5 + 1.0
        cleaned, findings = quality.implausible(values, 0.0)
        assert np.isnan(cleaned[name][100]), name
        assert findings[0].code == "weather-bounds"
        assert quality.NAMES[name] in findings[0].message


def test_cold_fronts_are_believed():
    """Outside the tropics a fall of 17 K below the month's median happens (Miami, 15 March of its typical year)."""
    air = np.full(8760, 23.0)
    air[1500:1512] = 6.7
    assert not quality.strange_air(air, 25.8).any()
    assert quality.strange_air(air, 18.3).sum() == 12


def test_filled_hours_keep_the_course_of_the_day():
    hours = np.arange(8760)
    course = 20.0 + 5.0 * np.sin(2.0 * np.pi * hours / 24.0)
    holed = course.copy()
    holed[1000:1060] = np.nan
    np.testing.assert_allclose(quality.fill(holed), course, atol=1e-9)


def test_relative_humidity_stands_in_for_dew_point():
    """Where a file gives only relative humidity; psychrolib's dew point of 30 °C, 60 % is 21.39 °C."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    steady = {"air": 30.0, "humidity": 0.6, "dew_point": np.nan, "pressure": 101325.0}
    values = {name: np.full(8760, value) for name, value in steady.items()}
    found = files._complete(values, 0.0)["dew_point"]
    assert found[0] == pytest.approx(psychrolib.GetTDewPointFromRelHum(30.0, 0.6), abs=2e-3)


def test_year_is_plain_data():
    year, _ = read_year(PVLIB / "703165TY.csv", "tmy3")
    assert replace(year, name="elsewhere").name == "elsewhere"
    assert all(len(getattr(year, name)) == 8760 for name in ("air", "dew_point", "wind", "pressure", "dni", "cloud"))
