"""Logs: read as they say, refused with one clear line a fault, laid over the boat as she is fitted."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from heatsim import resolve
from heatsim.climate.weather import clock
from heatsim.equipment.logbook import OUTDOOR, SEA, TOTAL, Column, Log, read_log
from heatsim.equipment.overlay import log_weather, overlay
from heatsim.equipment.plan import Plan, plan
from heatsim.errors import HeatsimError
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.starters import demo
from heatsim.scenario.terms import Installed

ATHENS = ZoneInfo("Europe/Athens")
ZONES, UNITS = ("saloon", "aft cabin"), ("settee unit",)
HEAD = "time,saloon degC"
ROWS = [f"2025-07-21 {hour:02d}:00,24.{hour % 10}" for hour in range(8)]
AIR = Column("saloon", "temperature")


def _file(folder: Path, *lines: str) -> Path:
    file = folder / "log.csv"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


def _read(folder: Path, *lines: str) -> Log:
    return read_log(_file(folder, *lines), ZONES, UNITS, ATHENS)


def test_times_without_an_offset_are_the_boats(tmp_path: Path) -> None:
    """Athens keeps UTC+3 in July (time zone database)."""
    log = _read(tmp_path, HEAD, *ROWS)
    assert str(log.time[0]) == "2025-07-20T21:00:00"
    utc = _read(tmp_path, "time UTC,saloon degC", *ROWS)
    assert utc.time[0] - log.time[0] == np.timedelta64(3, "h")
    written = _read(tmp_path, HEAD, *(row.replace(":00,", ":00+05:00,") for row in ROWS))
    assert utc.time[0] - written.time[0] == np.timedelta64(5, "h")


def test_units_of_heads(tmp_path: Path) -> None:
    """77 °F is 25 °C exactly; a cell that is empty or - is a gap."""
    lines = [f"2025-07-21 {h:02d}:00,77,50,3.5,82.4" for h in range(6)] + ["2025-07-21 07:00,-,,3.5,"]
    log = _read(tmp_path, "time,aft cabin degF,saloon %,settee unit A,sea degF", *lines)
    assert log.values[Column("aft cabin", "temperature")][0] == pytest.approx(25.0, abs=1e-12)
    assert np.isnan(log.values[Column("aft cabin", "temperature")][-1])
    assert np.isnan(log.values[Column("saloon", "humidity")][-1])
    assert log.values[Column("saloon", "humidity")][0] == 0.5
    assert log.values[Column(SEA, "temperature")][0] == pytest.approx(28.0, abs=1e-12)
    assert log.values[Column("settee unit", "current")][-1] == 3.5


BAD = {
    "no heads": ([""], 1, "a log begins with a line of heads"),
    "no times": (["saloon degC", "24.1"], 1, "one column of times"),
    "semicolons": (["time;saloon degC", *ROWS], 1, "Part columns by commas"),
    "no unit": (["time,saloon", *ROWS], 1, "a head ends with its unit"),
    "other unit": (["time,saloon K", *ROWS], 1, "a head ends with its unit"),
    "unknown zone": (["time,salon degC", *ROWS], 1, 'Did you mean "saloon"?'),
    "current of a zone": (["time,saloon A", *ROWS], 1, "a current is not read there"),
    "twice": (["time,saloon degC,saloon degF", *(row + ",75" for row in ROWS)], 1, "stands twice"),
    "nothing to compare": (["time,sea degC", *ROWS], 1, "nothing in this log"),
    "no rows": ([HEAD], 2, "at least one row"),
    "words": ([HEAD, *ROWS, "2025-07-21 09:00,warm"], 10, "must be a number"),
    "infinite": ([HEAD, *ROWS, "2025-07-21 09:00,inf"], 10, "must be a number"),
    "decimal comma": ([HEAD, *ROWS, "2025-07-21 09:00,24,5"], 10, "more cells than there are heads"),
    "Fahrenheit under degC": ([HEAD, *ROWS, "2025-07-21 09:00,176"], 10, "must lie between"),
    "humidity above all": (["time,saloon %", *ROWS, "2025-07-21 09:00,140"], 10, "must lie between 0 and 100 %"),
    "day first": ([HEAD, *ROWS, "21/07/2025 09:00,24"], 10, "must be a time, year first"),
    "no time": ([HEAD, *ROWS, ",24"], 10, "must be a time, year first"),
    "backwards": ([HEAD, *ROWS, "2025-07-21 03:30,24"], 10, "does not come after"),
    "same time": ([HEAD, *ROWS, "2025-07-21 07:00,24"], 10, "does not come after"),
    "skipped hour": ([HEAD, "2025-03-30 03:30,24"], 2, "does not exist on this clock"),
    "hour twice": ([HEAD, "2025-10-26 03:30,24"], 2, "comes twice on this clock"),
    "too long": ([HEAD, *ROWS, "2025-08-21 07:00,24"], 0, "at most 14 days"),
    "too few": ([HEAD, *ROWS[:3]], 0, "at least 6 readings"),
}
"""Lines, the line that is blamed (0: the file as a whole), words of the fault."""


@pytest.mark.parametrize("kind", BAD)
def test_bad_logs_are_refused(tmp_path: Path, kind: str) -> None:
    """Athens skips 03:00–04:00 on 30 March 2025 and has it twice on 26 October (time zone database)."""
    lines, number, words = BAD[kind]
    with pytest.raises(HeatsimError) as caught:
        _read(tmp_path, *lines)
    fault = next(fault for fault in caught.value.faults if words in str(fault))
    assert fault.file.endswith("log.csv")
    assert fault.line == number


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(HeatsimError, match="can be read"):
        read_log(tmp_path / "none.csv", ZONES, UNITS, ATHENS)
    (tmp_path / "log.csv").write_bytes(b"time,saloon degC\n\xff\xfe")
    with pytest.raises(HeatsimError, match="UTF-8"):
        read_log(tmp_path / "log.csv", ZONES, UNITS, ATHENS)


def test_many_faults_are_cut_short(tmp_path: Path) -> None:
    with pytest.raises(HeatsimError) as caught:
        _read(tmp_path, HEAD, *(f"2025-07-21 {h:02d}:{m:02d},x" for h in range(10) for m in (0, 30)), "x,x")
    assert len(caught.value.faults) == 21
    assert "2 more" in str(caught.value.faults[-1])  # 21 cells and a time


@pytest.fixture(scope="module")
def made(unproved: None) -> Plan:
    """The demo boat with one unit of an invented plate, at one heading and on one design day."""
    resolved = resolve(read_text(demo("dunlin-11")))
    one = Installed("settee unit", ("forward cabin", "saloon", "aft cabin"), 4100.0, None)
    place = replace(resolved.place, headings=(120.0,))
    hot = tuple(day for day in resolved.days if day.kind == "hot")
    return plan(replace(resolved, place=place, days=hot, terms=replace(resolved.terms, installed=(one,), group_size=1)))


def _log(resolved: Resolved, days: float, **values: float) -> Log:
    """Every 20 minutes of some days from 6 o'clock on the boat's clock."""
    start = np.datetime64("2025-09-21T10:00:00")  # 6 o'clock at UTC−4
    time = start + np.arange(int(days * 72)) * np.timedelta64(1200, "s")
    names = {"air": AIR, "outdoor": Column(OUTDOOR, "temperature"), "sea": Column(SEA, "temperature"),
             "current": Column(TOTAL, "current")}  # fmt: skip
    return Log("log.csv", time, {names[name]: np.full(len(time), value) for name, value in values.items()})


def test_an_added_bias_comes_back(made: Plan) -> None:
    """Self-check, not validation: our own simulation, 0.7 K and 0.4 A added, is laid over itself.

    Exact but for rounding: the same minutes are compared.
    """
    first = overlay(made, _log(made.resolved, 1.5, air=24.0, current=3.0))
    minutes = np.round((first.log.time - first.begins) / np.timedelta64(60, "s")).astype(int)
    own = {column: first.traces[column][minutes] + add for column, add in ((AIR, 0.7), (Column(TOTAL, "current"), 0.4))}
    gaps = own[AIR].copy()
    gaps[10:25] = np.nan
    found = overlay(made, replace(first.log, values=own | {AIR: gaps}))
    by_name = {one.name: one for one in found.series}
    assert by_name["saloon"].bias == pytest.approx(0.7, abs=1e-9)
    assert by_name["saloon"].scatter == pytest.approx(0.0, abs=1e-9)
    assert by_name[TOTAL].bias == pytest.approx(0.4, abs=1e-9)
    assert by_name["saloon"].readings == len(gaps) - 15
    assert len(by_name["saloon"].time) < len(by_name[TOTAL].time)

    odd = own[AIR] + np.where(np.arange(len(gaps)) // 3 == 20, 5.0, 0.0)
    spoilt = overlay(made, replace(first.log, values={AIR: odd}))
    (one,) = spoilt.series
    assert one.farthest[0] == 20  # readings start on the hour, three in each
    assert one.scatter > 0.5


def test_times_with_an_offset_give_the_same(made: Plan, tmp_path: Path) -> None:
    zone = clock(made.resolved.place.timezone)
    plain = [f"2025-09-21 {h:02d}:00,24.5" for h in range(24)]
    stated = [f"2025-09-21T{h:02d}:00-04:00,24.5" for h in range(24)]
    first, second = (read_log(_file(tmp_path, HEAD, *rows), ZONES, UNITS, zone) for rows in (plain, stated))
    assert (first.time == second.time).all()  # Antigua keeps UTC−4 all year (time zone database)


def test_outdoor_columns_drive_the_boat(made: Plan) -> None:
    resolved = made.resolved
    log = _log(resolved, 1.5, air=24.0, outdoor=21.5, sea=24.5)
    weather, told = log_weather(resolved, log, resolved.days[0], -4.0)
    within = (weather.time >= log.time[0]) & (weather.time < log.time[-1])
    assert weather.air[:, within] == pytest.approx(21.5)
    assert weather.sea[:, within] == pytest.approx(24.5)
    assert weather.air[0, 0] == pytest.approx(log_weather(resolved, _log(resolved, 1.5, air=24.0), resolved.days[0],
                                                          -4.0)[0].air[0, 0])  # fmt: skip
    assert any(line.startswith("outdoor air: the log") for line in told)
    assert "outdoor humidity: the design day" in told


@pytest.mark.parametrize(("date", "day_of_year"), [("2025-01-15", 15), ("2025-06-21", 172), ("2025-09-21", 264)])
def test_the_sun_is_that_of_the_logs_own_date(made: Plan, date: str, day_of_year: int) -> None:
    """Noon zenith is latitude less declination; Cooper's declination 23.45° sin(360°(284 + n)/365), Solar Energy 12,
    1969 (from memory), is good to about 1°; steps of 15 min near noon add 0.2°."""
    log = _log(made.resolved, 1.0, air=24.0)
    moved = replace(log, time=log.time + (np.datetime64(date) - np.datetime64("2025-09-21")))
    weather, _ = log_weather(made.resolved, moved, made.resolved.days[0], -4.0)
    declination = 23.45 * np.sin(np.radians(360.0 * (284 + day_of_year) / 365.0))
    noon = weather.sun_zenith[0, :96].min()
    assert noon == pytest.approx(abs(made.resolved.place.latitude - declination), abs=1.2)
    assert str((weather.time[0] - np.timedelta64(4, "h")).astype("datetime64[D]")) == date


def test_findings_of_a_short_log_of_another_month(made: Plan) -> None:
    log = _log(made.resolved, 0.25, air=24.0)
    moved = replace(log, time=log.time + np.timedelta64(timedelta(days=100)))
    gap = np.delete(np.arange(len(moved.time)), np.arange(3, 14))
    moved = Log("log.csv", moved.time[gap], {AIR: moved.values[AIR][gap]})
    codes = {finding.code for finding in overlay(made, moved).findings}
    assert codes == {"log-short", "log-season", "log-gap"}
    assert not overlay(made, _log(made.resolved, 1.5, air=24.0)).findings


def test_a_weak_unit_shows_in_the_log(made: Plan) -> None:
    """A healthy unit's log laid over the same boat with half the capacity: the boat is logged colder than simulated."""
    healthy = overlay(made, _log(made.resolved, 1.5, air=24.0))
    minutes = np.round((healthy.log.time - healthy.begins) / np.timedelta64(60, "s")).astype(int)
    log = replace(healthy.log, values={AIR: healthy.traces[AIR][minutes]})
    weak = replace(made.resolved.terms.installed[0], capacity=2050.0)
    other = plan(replace(made.resolved, terms=replace(made.resolved.terms, installed=(weak,))))
    (one,) = overlay(other, log).series
    assert one.bias < -0.5
