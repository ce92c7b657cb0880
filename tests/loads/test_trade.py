"""Beside the trade: surface temperatures, the volume rule, and docs/trade.md that shows both. All common practice, no
source: readings and rules of thumb as people tell them (tests/readings.py, tests/spaces.py state every assumption)."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
import readings
from click.testing import CliRunner
from readings import READINGS, surface_temperatures
from spaces import BESIDE, DATA, SPACES, Density, Space, density
from trade_page import CLOSE, PAGE, page

from heatsim.cli import main
from heatsim.report.amounts import BTU_PER_HOUR
from heatsim.scenario import thumb


def test_swapped_colours_are_not_as_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison rejects an engine that takes white for grey and teak look for white."""
    swap = {"weathered white": "medium grey", "medium grey": "weathered white", "synthetic teak": "weathered white"}
    swapped = tuple(replace(x, colour=swap.get(x.colour, x.colour)) for x in READINGS)
    monkeypatch.setattr(readings, "READINGS", swapped)
    off = [x.surface for x, found in surface_temperatures() if x.surface in ("white roof", "medium grey deck")
           and abs(found - x.read) <= CLOSE]  # fmt: skip
    assert off == []


@pytest.fixture(scope="module")
def loads() -> dict[Space, Density]:
    return {space: density(space) for space in (*SPACES, *BESIDE)}


def test_spaces_in_the_trade_s_order(loads: dict[Space, Density]) -> None:
    found = [loads[space].total for space in SPACES]
    assert found == sorted(found)
    assert found[-1] > 1.5 * found[0]


def test_what_raises_the_day_cabin(loads: dict[Space, Density]) -> None:
    plain = loads[SPACES[1]].total
    fresh, solid, overhead = (loads[space].total for space in BESIDE[1:4])
    assert fresh > plain
    assert solid > plain
    assert overhead > plain
    # 50 m³/h of air at 33 °C, 17.5 g/kg (dew point 22.8 °C) into 24 °C, 9.3 g/kg: 1.14 kg/m³ × 50/3600 × (9 × 1.01 +
    # 8.2 × 2.5) kJ/kg = 0.47 kW over 17.55 m³, less what 0.5 K of afternoon costs; by hand, 10 % for the hour.
    assert fresh - plain == pytest.approx(0.47e3 / 17.55, rel=0.10)


def test_volume_rule_as_printed(monkeypatch: pytest.MonkeyPatch) -> None:
    """200 ft³ at 15 Btu/h·ft³ is 3,000 Btu/h (common practice): the rule itself, and as `check` prints it."""
    volume = 200.0 * 0.3048**3
    assert thumb.volume_rule(volume, 15.0) / BTU_PER_HOUR == pytest.approx(3000.0, rel=1e-6)
    monkeypatch.setitem(thumb.VOLUME_FACTORS, "ordinary", (15.0, 15.0))
    changes = [f"--set=zones.cabin.floor_area={volume / 1.95!r} m2", "--no-leverage", "--units", "us"]
    printed = CliRunner().invoke(main, ["check", str(DAY_CABIN), *changes], catch_exceptions=False).output
    row = next(line for line in printed.splitlines() if re.match(r" *cabin +ordinary", line))
    assert row.split()[2:4] == ["3,000", "3,000"]
    assert "200 ft³ at 15 Btu/h·ft³ is 3,000 Btu/h" in " ".join(printed.split())


DAY_CABIN = DATA / "cabin-by-day.yaml"
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")


def _same(first: str, second: str) -> bool:
    """Same words, and numbers that differ by less than the page rounds away (0.5 K, 2 W/m³)."""
    if NUMBER.sub("#", first).replace("**no**", "yes") != NUMBER.sub("#", second).replace("**no**", "yes"):
        return False
    pairs = zip(NUMBER.findall(first), NUMBER.findall(second), strict=True)
    return all(abs(float(a) - float(b)) <= (0.5 if "." in a else 2.0) for a, b in pairs)


def test_the_page_is_the_engine_s() -> None:
    written, now = PAGE.read_text(encoding="utf-8"), page()
    assert _same(written, now), "docs/trade.md is older than the engine: run python tests/trade_page.py"
    changed = now.replace("| 60 |", "| 70 |")
    assert changed != now
    assert not _same(changed, now)
