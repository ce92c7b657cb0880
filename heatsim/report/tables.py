"""Tables for the screen: zones with their peaks, defaults with their sources, findings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from heatsim.errors import Finding
from heatsim.report.amounts import AREA, FLUX, POWER, UnitSystem, phrase, show, temperature, units
from heatsim.scenario.resolved import DefaultUsed

_NAMED_USE = re.compile(r"(?<=uses table), [^:,]+")
"""The use a default comes from, which the line of several zones leaves out."""

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from rich.table import Table


def _table(title: str, columns: Sequence[tuple[str, bool]]) -> Table:
    """A plain table; numbers to the right."""
    from rich import box
    from rich.table import Table

    table = Table(title=title, title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False)
    for name, number in columns:
        keep = number or name == "zone"
        table.add_column(
            name, justify="right" if number else "left", no_wrap=keep, overflow="ellipsis" if keep else "fold"
        )
    return table


def zone_table(peak: pd.DataFrame, loads: xr.Dataset, day: str, system: UnitSystem) -> Table:
    """Peak of every zone on one day, block last."""
    columns: list[tuple[str, bool]] = [("zone", False), ("deck", False)]
    parts: UnitSystem = "si" if system == "both" else system
    for label, quantity, shown in (
        ("floor", AREA, system), ("sensible", POWER, parts), ("latent", POWER, parts), ("total", POWER, system),
        ("", FLUX, parts),
    ):  # fmt: skip
        columns += [(f"{label}\n{unit}", True) for unit in units(quantity, shown)]
    columns += [("at", True), ("load\nfactor", True)]
    several = loads.sizes["heading"] > 1
    if several:
        columns.append(("heading", True))
    table = _table(f"Peak cooling, {day} day" if day != "year" else "Peak cooling of the year", columns)
    deck = dict(zip(loads["zone"].values, loads["deck"].values, strict=True))
    area = dict(zip(loads["zone"].values, loads["floor_area"].values, strict=True))
    rows = peak.loc[day]
    for zone, row in rows.iterrows():
        block = zone == "block"
        if block:
            table.add_section()
        floor = sum(area[z] for z in rows.index if z != "block") if block else area[zone]
        cells = [str(zone), "" if block else str(deck[zone]), *show(floor, AREA, system)]
        for name in ("sensible", "latent"):
            cells += show(row[name], POWER, parts)
        cells += show(row["total"], POWER, system) + show(row["w_per_m2"], FLUX, parts)
        cells += [_clock(row["hour"], day == "year") if row["total"] > 0.5 else "–", f"{row['load_factor']:.2f}"]
        if several:
            cells.append(f"{row['heading']:.0f}°")
        table.add_row(*cells, style="bold" if block else None)
    return table


def _clock(hour: Any, dated: bool) -> str:
    text = str(hour)
    return f"{text[5:10]} {text[11:16]}" if dated else text[11:16]


def same_use(source: str) -> str:
    """A default's source without the use of the one zone it came from."""
    return _NAMED_USE.sub("", source)


def defaults_table(defaults: Iterable[DefaultUsed]) -> Table:
    """Every default used, with value and source; the same value of the same kind is one line with its count."""
    from heatsim.loads.check import kind_of

    groups: dict[tuple[str, str, str], list[str]] = {}
    for default in defaults:
        groups.setdefault((kind_of(default.path), default.value, same_use(default.source)), []).append(default.path)
    table = _table("Defaults used", [("where", False), ("times", True), ("value", False), ("source", False)])
    for (kind, value, source), paths in groups.items():
        table.add_row(paths[0] if len(paths) == 1 else kind, str(len(paths)), value, source)
    return table


def findings_table(findings: Iterable[Finding]) -> Table:
    """Findings with their codes."""
    table = _table("Findings", [("code", False), ("where", False), ("what", False), ("value", True), ("limit", True)])
    for finding in findings:
        table.add_row(finding.code, finding.path, finding.message, finding.value, finding.limit)
    return table


def plain_table(title: str, heads: Sequence[str], rows: Iterable[Sequence[str]], numbers: Sequence[str] = ()) -> Table:
    """Any other small table."""
    table = _table(title, [(head, head in numbers) for head in heads])
    for row in rows:
        table.add_row(*row)
    return table


def outdoor_line(loads: xr.Dataset, day: str, system: UnitSystem) -> str:
    """One line on the weather behind a table."""
    part = loads.sel(day=day) if "day" in loads.dims else loads
    air = part["outdoor_temperature"].values
    sea = float(part["sea_temperature"].values.mean())
    low, high = temperature(air.min(), system), temperature(air.max(), system)
    return f"outdoor air {low} to {high}, sea {temperature(sea, system)}"


def _excess(hour: xr.Dataset) -> str:
    """The three causes that lift a zone most above its setpoint in one hour, and what its plant takes off. [K]"""
    from heatsim.report.pictures import label_of

    causes = hour["excess_by_cause"].to_series()
    most = causes.drop("plant").nlargest(3)
    parts = [f"{label_of(str(name))} {value:+.1f} K" for name, value in most.items()]
    return ": " + ", ".join([*parts, f"plant {float(causes['plant']):+.1f} K"])


def remarks(peak: pd.DataFrame, loads: xr.Dataset, day: str, system: UnitSystem) -> list[str]:
    """What the table does not tell: zones at their limit, recovery kept out of the peaks, heating.

    A zone's limit is told at the heading of its own peak; heating at its largest over all headings.
    """
    part = loads.sel(day=day) if "day" in loads.dims else loads
    rows, limited, recovering = peak.loc[day], [], []
    hours = part["at_limit"].sum("time")
    for zone, row in rows.iterrows():
        name = "the block" if zone == "block" else str(zone)
        if row["recovery"] > row["total"]:
            recovering.append(f"{name} {phrase(row['recovery'], POWER, system)}")
        if zone == "block":
            continue
        long = float(hours.sel(zone=zone, heading=row["heading"]))
        if long <= 0.05:
            continue
        one = part.sel(zone=zone, heading=row["heading"])
        at = one["air_temperature"].where(one["at_limit"] > 0.0)
        why = _excess(one.isel(time=int(at.argmax("time")))) if "excess_by_cause" in one else ""
        limited.append(f"{zone} ({long:.1f} h, up to {temperature(float(at.max()), system)}{why})")
    heating = part["heating"].sel(zone=part["conditioned"].values).sum("zone").values.max()
    lines = []
    if limited:
        lines.append(
            "at the equipment's limit, so that the load shown is not what the setpoint needs: " + ", ".join(limited)
        )
    if recovering:
        lines.append("recovery from a setpoint that was not kept, not counted as a peak: " + ", ".join(recovering))
    if heating > 50.0:
        span = "year" if day == "year" else "day"
        lines.append(f"this {span} asks for heating too, at most {phrase(float(heating), POWER, system)} at once")
    return lines
