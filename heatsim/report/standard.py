"""What `heatsim loads` prints and writes for a scenario on the steady ship-standard basis."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim.loads.ship_standard import ship_standard, value
from heatsim.report.amounts import AIR_FLOW, POWER, UnitSystem, show, temperature, units
from heatsim.report.output import refuse, staged
from heatsim.report.tables import plain_table

if TYPE_CHECKING:
    import pandas as pd
    from rich.console import Console

    from heatsim.scenario.resolved import Resolved

FILES = ("ship-standard.csv", "summary.json")
GROUPS = {
    "shell": ("sides_and_decks", "glass", "neighbours"),
    "sun on\nsurfaces": ("sun_on_surfaces",),
    "sun through\nglass": ("sun_through_glass",),
    "persons": ("persons_sensible", "persons_latent"),
    "lights,\nequipment": ("lights", "equipment_sensible", "equipment_latent"),
    "room\nsensible": ("room_sensible",),
    "outdoor\nair": ("outdoor_air_sensible", "outdoor_air_latent"),
    "total": ("total",),
    "winter\nloss": ("winter_loss",),
}
"""Columns of the printed table, each a sum of columns of the result; the file has them all."""
CAUTION = (
    "A steady estimate by a standard of 2002, most of its tables from memory; the edition of 2022 was not seen. It "
    "knows neither hours nor storage. It supports and does not replace a qualified designer and class rules."
)


def run_ship_standard(
    resolved: Resolved, out: Path | None, system: UnitSystem, *, force: bool, console: Console | None
) -> dict[str, Any]:
    """Print the table, write it into `out`; returns the summary."""
    if out is not None:
        refuse(out, FILES, force)
    table = ship_standard(resolved)
    summary = {
        "basis": resolved.basis,
        "title": resolved.name,
        "spaces": {str(name): {key: _plain(v) for key, v in row.items()} for name, row in table.iterrows()},
        "caution": CAUTION,
    }
    if console is not None:
        _print(console, resolved, table, system)
    if out is not None:
        with staged(out, force) as work:
            table.to_csv(work / FILES[0], float_format="%.6g")
            (work / FILES[1]).write_text(json.dumps(summary, indent=1), encoding="utf-8")
        if console is not None:
            console.print(f"written to {out}: " + ", ".join(FILES))
    return summary


def _print(console: Console, resolved: Resolved, table: pd.DataFrame, system: UnitSystem) -> None:
    parts: UnitSystem = "si" if system == "both" else system
    shown: dict[str, UnitSystem] = {name: system if name == "total" else parts for name in GROUPS}
    numbers = [f"{name}\n{unit}" for name in GROUPS for unit in units(POWER, shown[name])]
    numbers += [f"{name} air\n{unit}" for name in ("supply", "outdoor") for unit in units(AIR_FLOW, parts)]
    numbers.append("persons")
    rows = []
    for zone, row in table.iterrows():
        cells = [str(zone)]
        for name, columns in GROUPS.items():
            cells += show(float(sum(row[column] for column in columns)), POWER, shown[name])
        for name in ("supply_air", "outdoor_air"):
            cells += show(float(row[name]), AIR_FLOW, parts)
        rows.append([*cells, f"{row['persons']:.1f}"])
    title = f"Heat by the ship standard of 2002, {'own layers' if 'layers' in resolved.basis else 'its coefficients'}"
    console.print(plain_table(title, ["zone", *numbers], rows, numbers=numbers))
    states = [temperature(value(f"{side} dry bulb", season), system) for season in ("summer", "winter")
              for side in ("outdoor", "indoor")]  # fmt: skip
    console.print(
        f"summer {states[0]}, {value('outdoor relative humidity'):.0f} % outside, {states[1]}, "
        f"{value('indoor relative humidity'):.0f} % inside; winter {states[2]} outside, {states[3]} inside. "
        "Each space has the sun on its worst side, so that the boat's sum is not a load of one hour."
    )
    console.print(CAUTION, style="dim")


def _plain(number: float) -> float | None:
    return None if number != number else float(number)
