"""The pack as a whole: its files open, agree with one another, and give the same numbers again."""

from __future__ import annotations

import csv
import hashlib
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from hostile import DEMO, HOSTILE, ROOM, Packed
from openpyxl import load_workbook

import heatsim
from heatsim.handover.packing import FILES
from heatsim.handover.results import STAGES
from heatsim.handover.sun_check import SunCheck, noon_by_series, sun_check
from heatsim.loads.dataset import canonical


def test_all_six_files_and_the_list_of_ours(packed: Packed) -> None:
    assert {path.name for path in packed.folder.iterdir()} == {*FILES, "heatsim.json"}
    assert set(json.loads(packed.text("heatsim.json"))["files"]) == set(FILES)


def test_the_record_tells_what_it_was_made_from(packed: Packed) -> None:
    assert json.loads(packed.text("pack.json")) == packed.record
    assert packed.record["inputs"] == [
        {"what": "scenario", "name": packed.file.name, "sha256": hashlib.sha256(packed.file.read_bytes()).hexdigest()}
    ]
    assert packed.record["title"] == HOSTILE
    assert set(packed.record["seconds"]) == set(STAGES)
    assert len(packed.record["answers"]) == 5


def test_the_resolved_scenario_is_the_same_boat(packed: Packed) -> None:
    first = heatsim.resolve(heatsim.read(packed.file))
    again = heatsim.resolve(heatsim.read(packed.folder / "resolved.yaml"))
    assert packed.record["resolved_gives_the_same_numbers"]
    assert again.defaults == ()
    assert again.name == HOSTILE
    assert json.loads(canonical(again))["faces"] == json.loads(canonical(first))["faces"]


def test_the_data_set_opens_and_its_causes_add_up(packed: Packed) -> None:
    """The contract of the data set: both splits give the sensible load to 1e-9 of its peak."""
    with xr.open_dataset(packed.folder / "loads.nc") as loads:
        assert ROOM in loads["zone"].values
        net = loads["sensible_cooling"] - loads["heating"]
        rest = float(np.abs(loads["load_by_cause"].sum("cause") - net).max())
        assert rest <= 1e-9 * float(net.max())


def test_the_workbook_and_the_data_set_tell_the_same_peak(packed: Packed) -> None:
    book = load_workbook(packed.folder / "schedules.xlsx", read_only=True)
    rows = list(book["Block load and sum of peaks"].iter_rows(values_only=True))
    shown = {row[0]: row[1] for row in rows[1:4]}
    with xr.open_dataset(packed.folder / "loads.nc") as loads:
        cooled = loads.sel(zone=loads["conditioned"].values.astype(bool))
        total = (cooled["sensible_cooling"] + cooled["latent_cooling"]).sum("zone").max(["heading", "time"])
        for day in shown:
            # The workbook keeps kilowatts in full; nothing but the order of sums is between the two.
            assert shown[day] == pytest.approx(float(total.sel(day=day)) / 1e3, rel=1e-9)


def test_the_workbook_holds_a_sheet_a_schedule(packed: Packed) -> None:
    book = load_workbook(packed.folder / "schedules.xlsx")
    for name in ("Loads by zone", "Block load by cause", "Layouts side by side", "Chosen units", "Proof by zone",
                 "From nameplate to capacity", "Supply air", "Heating", "Assumptions", "Findings", "Cautions",
                 "Margins"):  # fmt: skip
        assert name in book.sheetnames, name
        assert book[name].max_row > 1
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row}
    assert "f" not in kinds


def test_the_hourly_table_has_a_row_for_every_hour_and_zone(packed: Packed) -> None:
    rows = list(csv.DictReader(packed.text("hourly.csv").splitlines()))
    with xr.open_dataset(packed.folder / "loads.nc") as loads:
        assert len(rows) == np.prod([loads.sizes[name] for name in ("day", "heading", "time", "zone")])
    assert "sensible_cooling_W" in rows[0]


BOX = """\
format: 1
yacht: {name: Wagtail, length: 8 m, persons: 2}
place: {region: CYC, month: 8, berth: alongside, heading: 90 deg}
climate: {days: [hot]}
zones:
  saloon: {use: saloon, setpoint: 24 degC, quick: {deck: main, length: 3 m, beam: 2.5 m, height: 2 m}}
  cabin: {quick: {deck: main, length: 2 m, beam: 2 m, height: 2 m}}
"""


@pytest.fixture
def box(tmp_path: Path, unproved: None, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small boat; all work in this process, pictures a pixel."""
    monkeypatch.setattr("heatsim.report.worker.cores", lambda: 1)
    monkeypatch.setattr("heatsim.report.pictures.Drawing.png", lambda self: PIXEL)
    file = tmp_path / "wagtail.yaml"
    file.write_text(BOX, encoding="utf-8")
    return file


PIXEL = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108060000001f15c4890000000d49444154789c6360606060000000050001a5f64540"
    "0000000049454e44ae426082"
)
"""A picture of one pixel."""


def test_where_nothing_is_possible_the_pack_still_says_so(box: Path, tmp_path: Path) -> None:
    record = heatsim.pack(box, tmp_path / "out", ["equipment.group_size=1", "supply.generator.power=0.1 kW"])
    assert record["chosen"] is None
    assert not record["holds"]
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "None can be built within the terms" in page
    assert "No layout can be built within these terms" in page
    assert 'id="proof"' not in page
    book = load_workbook(tmp_path / "out" / "schedules.xlsx")
    assert "Loads by zone" in book.sheetnames
    assert "Proof by zone" not in book.sheetnames


def test_changes_are_in_all_of_it(box: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    record = heatsim.pack(box, out, ["zones.saloon.setpoint=22 degC"], units="us")
    assert record["overrides"] == ["zones.saloon.setpoint=22 degC"]
    assert "setpoint: 22 degC" in (out / "resolved.yaml").read_text(encoding="utf-8")
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "zones.saloon.setpoint=22 degC" in page
    assert " kW at" not in page
    assert "Btu/h at" in page


def test_a_folder_with_other_files_stays_as_it_was(box: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "report.html").write_text("mine", encoding="utf-8")
    with pytest.raises(heatsim.HeatsimError, match="never replaced"):
        heatsim.pack(box, out, force=True)
    assert [path.name for path in out.iterdir()] == ["report.html"]
    assert (out / "report.html").read_text(encoding="utf-8") == "mine"


def test_a_failure_on_the_way_leaves_nothing(box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("the disc is gone")

    monkeypatch.setattr("heatsim.handover.workbook.write_workbook", fail)
    with pytest.raises(RuntimeError, match="the disc is gone"):
        heatsim.pack(box, tmp_path / "out")
    assert not (tmp_path / "out").exists()


SUN = 2.5 / 60.0
"""[h] Spencer's series is good to half a minute; positions, ours and astropy's, stand a minute apart."""


@pytest.mark.parametrize("name", ["dunlin-11", "tern-24", "skua-38"])
def test_noon_by_the_stars(name: str) -> None:
    """The sun's highest stand by astropy's positions, from the same date and clock."""
    from astropy import units
    from astropy.coordinates import AltAz, EarthLocation, get_sun
    from astropy.time import Time
    from astropy.utils import iers

    resolved = heatsim.resolve(heatsim.read(DEMO / f"{name}.yaml"))
    place, day = resolved.place, resolved.days[0]
    found = sun_check(place, day)
    assert found.agrees
    from heatsim.climate.weather import clock, local_midnight

    midnight, _ = local_midnight(day.date, clock(place.timezone))
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("iers_degraded_accuracy", "ignore"):
        minutes = np.arange(10 * 60, 15 * 60)
        times = Time(midnight + minutes.astype("timedelta64[m]"))
        where = EarthLocation(lat=place.latitude * units.deg, lon=place.longitude * units.deg)
        high = get_sun(times).transform_to(AltAz(obstime=times, location=where)).alt.deg
    assert found.noon == pytest.approx(float(minutes[int(np.argmax(high))]) / 60.0, abs=SUN)
    assert found.noon_by_series == pytest.approx(float(minutes[int(np.argmax(high))]) / 60.0, abs=SUN)
    # Refraction at these heights is below 0.02°, the positions' own error 0.02°.
    assert found.highest == pytest.approx(float(high.max()), abs=0.05)


def test_a_clock_an_hour_off_is_told() -> None:
    good = SunCheck("hot", 6.0, 12.0, 18.0, 12.01, 60.0)
    assert good.agrees
    assert not replace(good, noon=13.0).agrees
    # 15° of longitude are an hour of the sun by definition.
    assert noon_by_series("2025-08-21", 15.0, 1.0) == pytest.approx(noon_by_series("2025-08-21", 0.0, 0.0), abs=1e-9)


@pytest.mark.slow
def test_sixty_zones_of_the_longest_names(unproved: None, tmp_path: Path) -> None:
    """Loads, page, workbook and resolved scenario; no layout, since 60 zones of equipment take minutes more."""
    names = [f"{i:02d} {'cabin of a long name ' * 3}"[:56] + f" {i:02d}" for i in range(60)]
    zones = "\n".join(
        f'  "{name}": {{quick: {{deck: {"lower" if i % 2 else "main"}, length: 3 m, beam: 2.5 m, height: 2 m}}}}'
        for i, name in enumerate(names)
    )
    file = tmp_path / "knot.yaml"
    head = BOX.split("zones:")[0].replace("persons: 2", "persons: 60")
    file.write_text(f"{head}supply: {{generator: {{power: 0.1 kW}}}}\nequipment: {{group_size: 1}}\nzones:\n{zones}\n")
    record = heatsim.pack(file, tmp_path / "out")
    assert record["resolved_gives_the_same_numbers"]
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert all(name in page for name in names)
    book = load_workbook(tmp_path / "out" / "schedules.xlsx")
    assert book["Loads by zone"].max_row > 61
    assert heatsim.resolve(heatsim.read(tmp_path / "out" / "resolved.yaml")).defaults == ()


def test_longer_names_are_refused(box: Path, tmp_path: Path) -> None:
    """A name of 200 characters is told by the file's own reader before anything runs."""
    box.write_text(BOX.replace("  cabin:", f"  {'c' * 200}:"), encoding="utf-8")
    with pytest.raises(heatsim.HeatsimError, match="a name is made of letters"):
        heatsim.pack(box, tmp_path / "out")
    assert not (tmp_path / "out").exists()
