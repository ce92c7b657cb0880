"""Schedules of loads: by zone, for the block, by cause, and the checks on them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from heatsim.handover.results import Results
from heatsim.network.base import CAUSES
from heatsim.report.amounts import UnitSystem
from heatsim.report.pictures import LATENT, STYLE, label_of
from heatsim.report.running import at_peak
from heatsim.report.tables import outdoor_line, remarks
from heatsim.services.schedule import AREA, FLUX, POWER, SHARE, Cell, Column, Schedule

if TYPE_CHECKING:
    import xarray as xr

LEAST_SHARE = 0.01
"""Of the largest cause, below which a cause is left out of the tables."""
BLOCK = "block"


def load_schedules(found: Results, system: UnitSystem) -> tuple[Schedule, ...]:
    """All schedules of loads in the order a designer reads them."""
    return (zones(found, system), block(found, system), causes(found), zone_causes(found))


def clock(hour: Any) -> str:
    """The clock of a peak's hour."""
    return str(hour)[11:16]


def zones(found: Results, system: UnitSystem) -> Schedule:
    """Peak of every zone on every day, and of the block."""
    loads = found.loads
    deck = dict(zip(loads["zone"].values, loads["deck"].values, strict=True))
    area = dict(zip(loads["zone"].values, loads["floor_area"].values, strict=True))
    rows: list[tuple[Cell, ...]] = []
    for day in found.days:
        frame = found.peak.loc[day]
        for zone, row in frame.iterrows():
            whole = zone == BLOCK
            sole = sum(float(area[z]) for z in frame.index if z != BLOCK) if whole else float(area[zone])
            loaded = row["total"] > 0.5
            rows.append((
                day, str(zone), "" if whole else str(deck[zone]), sole, float(row["sensible"]), float(row["latent"]),
                float(row["total"]), float(row["w_per_m2"]), clock(row["hour"]) if loaded else None,
                round(float(row["heading"])), float(row["load_factor"]),
            ))  # fmt: skip
    columns = (
        Column("day"), Column("zone"), Column("deck"), Column("sole", AREA), Column("sensible", POWER),
        Column("latent", POWER), Column("total", POWER), Column("per area", FLUX), Column("at"), Column("bow, °"),
        Column("load factor"),
    )  # fmt: skip
    notes = ["Every peak is the mean of the hour that starts at the clock shown; bow is the true bearing at which it "
             "falls. Load factor: mean of the day over peak."]  # fmt: skip
    for day in found.days:
        notes.append(f"{day} day: {outdoor_line(loads, day, system)}")
        notes += [f"{day} day: {text}" for text in remarks(found.peak, loads, day, system)]
    return Schedule("loads", "Loads by zone", columns, tuple(rows), tuple(notes))


def block(found: Results, system: UnitSystem) -> Schedule:
    """Block load against the sum of zone peaks, day by day; over all headings where she has more than one."""
    rows, turns = [], found.loads.sizes["heading"] > 1
    for day in found.days:
        row: Any = found.peak.loc[(day, BLOCK)]
        rows.append((
            day, float(row["total"]), clock(row["hour"]), round(float(row["heading"])), float(row["sum_of_peaks"]),
            float(row["diversity"]), *((float(row["envelope"]),) if turns else ()), float(row["mean"]),
            float(row["load_factor"]),
        ))  # fmt: skip
    columns = (
        Column("day"), Column("block load", POWER), Column("at"), Column("bow, °"), Column("sum of zone peaks", POWER),
        Column("diversity"), *((Column("over all headings", POWER),) if turns else ()), Column("mean", POWER),
        Column("load factor"),
    )  # fmt: skip
    notes = (
        "Block load: the largest load of all zones at one time. Diversity: block load over the sum of zone peaks at "
        "the same heading and day, computed, not assumed."
        + (" Over all headings: what a swinging boat must carry." if turns else ""),
    )
    return Schedule("block", "Block load and sum of peaks", columns, tuple(rows), notes)


def shown_causes(parts: dict[str, float]) -> list[str]:
    """Causes that count, in the order of the pictures."""
    most = max((abs(value) for value in parts.values()), default=0.0)
    return [name for name in STYLE if name in parts and abs(parts[name]) > LEAST_SHARE * most]


def block_causes(found: Results, day: str) -> dict[str, float]:
    """The block's load at its peak by cause, moisture last. [W]"""
    part = at_peak(found.loads, found.peak, day)
    parts = {str(name): float(value) for name, value in part["load_by_cause"].sum("zone").to_series().items()}
    return parts | {LATENT: float(part["latent_cooling"].sum())}


def causes(found: Results) -> Schedule:
    """The block's peak by cause, day by day."""
    by_day = {day: block_causes(found, day) for day in found.days}
    names = [name for name in STYLE if any(name in shown_causes(parts) for parts in by_day.values())]
    names.sort(key=lambda name: -by_day[found.sizing_day].get(name, 0.0))
    rows: list[tuple[Cell, ...]] = []
    for name in names:
        cells: list[Cell] = [label_of(name)]
        for day in found.days:
            value = by_day[day].get(name, 0.0)
            cells += [value, value / max(sum(by_day[day].values()), 1e-9)]
        rows.append(tuple(cells))
    columns = [Column("cause")]
    for day in found.days:
        columns += [Column(f"{day} day", POWER), Column(f"{day} day, share", SHARE)]
    notes = (
        "Each cause alone in the same boat with the same controls, at the block's peak hour; below zero it helps. "
        "Causes add up to the load.",
    )
    return Schedule("causes", "Block load by cause", tuple(columns), tuple(rows), notes)


def zone_causes(found: Results) -> Schedule:
    """Every zone's own peak by cause."""
    rows, present = [], set()
    for day in found.days:
        for zone, row in found.peak.loc[day].iterrows():
            if zone == BLOCK or row["total"] <= 0.5:
                continue
            parts = _zone_parts(found.loads, day, str(zone), row)
            present |= set(shown_causes(parts))
            rows.append((day, str(zone), clock(row["hour"]), parts))
    names = [name for name in STYLE if name in present]
    columns = (
        Column("day"), Column("zone"), Column("at"), *(Column(label_of(name), POWER) for name in names),
        Column("total", POWER),
    )  # fmt: skip
    cells = tuple(
        (day, zone, at, *(parts.get(name, 0.0) for name in names), sum(parts.values())) for day, zone, at, parts in rows
    )
    notes = ("Each zone at the hour of its own peak; causes below 1 % of the largest are summed into the total alone.",)
    return Schedule("zone-causes", "Loads by zone and cause", columns, cells, notes)


def _zone_parts(loads: xr.Dataset, day: str, zone: str, row: Any) -> dict[str, float]:
    part = loads.sel(day=day, heading=row["heading"], zone=zone)
    hour = int((part["local_time"].values == row["hour"]).argmax())
    values = part["load_by_cause"].transpose("time", "cause").values[hour]
    return dict(zip(CAUSES, map(float, values), strict=True)) | {LATENT: float(part["latent_cooling"].values[hour])}


def residuals(found: Results) -> tuple[float, float]:
    """Largest imbalance of heat and of moisture in any hour, over each zone's peak."""
    loads = found.loads
    return tuple(float(np.nanmax(loads[name].values)) for name in ("energy_residual", "moisture_residual"))  # type: ignore[return-value]
