"""Catalogues: the shipped one is whole and plausible, and a bad one is refused with every fault it has."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from heatsim.equipment.capacity import findings, rated
from heatsim.equipment.catalogue import UnitText, read_catalogue
from heatsim.errors import HeatsimError
from heatsim.tables.loader import rows

GOOD = {
    "model": "Plain 12", "kind": "self-contained", "total_capacity": "12 kBtu/h", "sensible_capacity": "8.6 kBtu/h",
    "airflow": "400 cfm", "power": "1.15 kW", "voltage": "230 V", "rating": "warm sea",
}  # fmt: skip
TON = 3516.85
"""[W] 12,000 Btu/h."""


def _write(folder: Path, *changes: dict[str, str], heads: Sequence[str] = ()) -> Path:
    units = [{**GOOD, **change} for change in changes]
    columns = list(heads) or list(dict.fromkeys(key for unit in units for key in unit))
    lines = [",".join(columns), *(",".join(unit.get(key, "") for key in columns) for unit in units)]
    (folder / "units.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder / "units.csv"


def test_shipped_units_are_invented_and_whole() -> None:
    units = read_catalogue()
    assert all(row["remark"] == "invented" for row in rows("demo_catalogue"))
    assert {unit.kind for unit in units} == {"self-contained", "split", "chiller", "air handler", "fresh-air unit"}
    for hertz in (50.0, 60.0):
        small = [u.gross - u.fan_power for u in units if u.kind == "self-contained" and u.frequency == hertz]
        plants = [u.gross for u in units if u.kind == "chiller" and u.frequency == hertz]
        assert min(small) == pytest.approx(0.25 * TON, rel=0.01)
        assert max(small) == pytest.approx(2.5 * TON, rel=0.01)
        assert min(plants) == pytest.approx(2.5 * TON, rel=0.01)
        assert max(plants) == pytest.approx(50.0 * TON, rel=0.01)
    for unit in units:
        assert 0.05 < rated(unit).bypass < 0.3 or unit.kind == "chiller"
        assert not findings(unit)


def test_power_of_shipped_units() -> None:
    """Common practice, no source: 0.9 to 1.3 kW and, at 115 to 120 V, 8 to 11 A a ton, without the pump."""
    for unit in read_catalogue():
        if unit.compressor_power == 0.0:
            continue
        tons = (unit.gross - (unit.fan_power if unit.kind != "chiller" else 0.0)) / TON
        assert 0.9 <= (unit.compressor_power + unit.fan_power) / 1000.0 / tons <= 1.3
        if unit.voltage == 115.0:
            assert 8.0 <= unit.running_current / tons <= 11.0


def test_net_and_gross(tmp_path: Path) -> None:
    """A net capacity has the fan's heat taken off already; the coil took off so much more."""
    file = _write(tmp_path, {"fan_power": "100 W"}, {"model": "Gross", "fan_power": "100 W", "capacity_is": "gross"})
    net, gross = read_catalogue(file)
    assert net.gross - gross.gross == pytest.approx(100.0)


def test_a_rating_point_by_name_or_by_its_numbers(tmp_path: Path) -> None:
    """ISO 13256-1:1998 table 1, water loop: 27 °C dry, 19 °C wet, water 30 °C (from memory)."""
    own = {"rating": "", "entering_dry_bulb": "27 degC", "entering_wet_bulb": "19 degC", "entering_water": "30 degC"}
    named, numbers = read_catalogue(
        _write(tmp_path, {"rating": "ISO 13256-1 water loop"}, {"model": "By numbers", **own})
    )
    assert (named.rating.dry_bulb, named.rating.wet_bulb, named.rating.water) == (27.0, 19.0, 30.0)
    assert (numbers.rating.dry_bulb, numbers.rating.wet_bulb, numbers.rating.water) == (27.0, 19.0, 30.0)


def test_an_unrated_row_costs_its_penalty(tmp_path: Path) -> None:
    file = _write(tmp_path, {"rating": ""}, {"model": "Rated", "rating": "warm sea"})
    with pytest.raises(HeatsimError, match="rating conditions"):
        read_catalogue(file)
    unrated, known = read_catalogue(file, accept_unrated=0.1)
    assert unrated.gross - unrated.fan_power == pytest.approx(0.9 * (known.gross - known.fan_power))
    assert [one.code for one in findings(unrated)] == ["unit-unrated"]


def test_a_workbook_reads_as_the_same_sheet(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.append(list(GOOD))
    book.active.append(list(GOOD.values()))
    book.save(tmp_path / "units.xlsx")
    assert repr(read_catalogue(tmp_path / "units.xlsx")) == repr(read_catalogue(_write(tmp_path, {})))  # holds NaN


BAD: dict[str, tuple[dict[str, str], str]] = {
    "no unit": ({"total_capacity": "12000"}, "with its unit"),
    "wrong kind of unit": ({"airflow": "400 W"}, "flow"),
    "ambiguous unit": ({"total_capacity": "1 ton"}, "two ways"),
    "negative": ({"power": "-1 kW"}, "must lie"),
    "zero volts": ({"voltage": "0 V"}, "must lie"),
    "not a number": ({"total_capacity": "nan kW"}, "must be"),
    "infinite": ({"total_capacity": "1e999 kW"}, "finite"),
    "unknown kind": ({"kind": "window unit"}, "must be"),
    "unknown refrigerant": ({"refrigerant": "R12"}, "must be"),
    "unknown rating": ({"rating": "ISO 13256-1 water lop"}, "Did you mean"),
    "sensible above total": ({"sensible_capacity": "13 kBtu/h"}, "below the total"),
    "no air flow": ({"airflow": ""}, "airflow"),
    "no power": ({"power": ""}, "must be filled"),
    "no model": ({"model": ""}, "must be filled"),
    "two phases": ({"phases": "2"}, "must be"),
    "phases in words": ({"phases": "three"}, "must be"),
    "loud": ({"noise": "400"}, "120"),
    "staged without a stage": ({"regulation": "staged"}, "smallest_stage"),
    "stage of an on-off unit": ({"smallest_stage": "50 %"}, "no smaller stage"),
    "stage above one": ({"regulation": "staged", "smallest_stage": "130 %"}, "must lie"),
    "fan above power": ({"fan_power": "2 kW", "refrigerant": "R410A"}, "whole power"),
    "wet above dry": (
        {"rating": "", "entering_dry_bulb": "20 degC", "entering_wet_bulb": "25 degC", "entering_water": "30 degC"},
        "wet bulb",
    ),
    "sea too hot": ({"hottest_water": "60 degC"}, "must lie"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_row_is_refused_with_its_line(tmp_path: Path, name: str) -> None:
    change, words = BAD[name]
    with pytest.raises(HeatsimError, match=words) as refused:
        read_catalogue(_write(tmp_path, {"model": "Good"}, change))
    assert all(fault.line == 3 for fault in refused.value.faults)


def test_all_faults_at_once(tmp_path: Path) -> None:
    file = _write(tmp_path, {"power": "1 A"}, {"model": "Second", "voltage": "230"}, {"model": "Third"})
    with pytest.raises(HeatsimError) as refused:
        read_catalogue(file)
    assert [fault.line for fault in refused.value.faults] == [2, 3]


FORMS: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "column names"),
    "heads only": (b"model,kind\n", "at least one row"),
    "unknown column": (b"model,kindd\nA,split\n", "Did you mean"),
    "column twice": (b"model,model\nA,B\n", "twice"),
    "too many cells": (b"model,kind\nA,split,more\n", "more cells"),
    "binary": (b"\x89PNG\x00\x01", "text file"),
    "encoding": ("model,kind\nÖ,split\n".encode("latin-1"), "UTF-8"),
    "open quote": (b'model,kind\n"A,split\n', "comma-separated"),
}


@pytest.mark.parametrize("name", FORMS)
def test_a_bad_sheet_is_refused(tmp_path: Path, name: str) -> None:
    content, words = FORMS[name]
    (tmp_path / "units.csv").write_bytes(content)
    with pytest.raises(HeatsimError, match=words):
        read_catalogue(tmp_path / "units.csv")


def test_missing_folder_and_broken_workbook(tmp_path: Path) -> None:
    (tmp_path / "broken.xlsx").write_bytes(b"no workbook")
    for name in ("none.csv", ".", "broken.xlsx"):
        with pytest.raises(HeatsimError, match="must be"):
            read_catalogue(tmp_path / name)


def test_the_same_name_twice(tmp_path: Path) -> None:
    with pytest.raises(HeatsimError, match="already"):
        read_catalogue(_write(tmp_path, {}, {}))


def test_what_no_coil_or_machine_can_do(tmp_path: Path) -> None:
    dry, free = read_catalogue(
        _write(tmp_path, {"sensible_capacity": "3 kBtu/h"}, {"model": "Free", "power": "60 W", "fan_power": "30 W"})
    )
    with pytest.raises(HeatsimError, match="no coil"):
        rated(dry)
    with pytest.raises(HeatsimError, match="Carnot"):
        rated(free)


def test_every_field_says_what_it_is() -> None:
    assert all(UnitText.model_fields[name] for name in UnitText.model_fields)
