"""What `heatsim plan --proof` prints and writes: the chosen units run minute by minute."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

from heatsim.report.amounts import POWER, UnitSystem, phrase, temperature
from heatsim.report.tables import findings_table, plain_table

if TYPE_CHECKING:
    import xarray as xr
    from rich.console import Console

    from heatsim.equipment.candidates import Size
    from heatsim.equipment.plan import Plan
    from heatsim.equipment.proof import Proof

ZONE_FIGURES = (
    "above_setpoint", "degree_hours", "float_temperature", "hours_above_60", "hours_above_65", "hours_above_70",
    "hours_skin_above_80",
    "cycles", "run_fraction", "pull_down", "pull_down_humidity",
)  # fmt: skip
SIZE_FIGURES = ("boat_pull_down", "boat_pull_down_humidity", "all_pull_down")
OTHER_SIZES: tuple[Size, ...] = ("smaller", "larger", "twice")
BOAT_FIGURES = ("energy", "fuel", "peak_current", "peak_start_current", "condensate", "energy_residual")


def proved(made: Plan) -> tuple[Proof, xr.Dataset] | None:
    """The chosen layout's proof and sizes compared in the same batch, None where nothing was chosen."""
    from heatsim.equipment.candidates import compared, sized
    from heatsim.equipment.proof import prove

    if made.chosen is None:
        return None
    others = [sized(made, size) for size in OTHER_SIZES]
    proof = prove(made.boat, made.chosen, made.heading, candidates=others, line=made.line)
    return proof, compared(proof, made, [others[0], made.chosen, *others[1:]])


FANS = {"continuous": "run on while compressors pause", "cycling": "pause with their compressors"}


def _plant_line(one: xr.Dataset) -> str:
    """How the chillers of a run followed its load; nothing where it has none."""
    if not isfinite(float(one["plant_cycles"])):
        return ""
    return (
        f"; chillers start {float(one['plant_cycles']):.1f} times an hour, and the water in the loop stays within "
        f"{float(one['loop_swing']):.1f} K of its middle"
    )


def print_proof(console: Console, made: Plan, proof: Proof, pulled: xr.Dataset, system: UnitSystem) -> None:
    """A table by zone for each day, what the boat uses, sizes compared, and the cautions."""
    assert made.chosen is not None
    name = made.chosen.name
    settled, baked, full = (proof.of(name, start) for start in ("settled", "baked", "full"))
    for i, day in enumerate(settled["day"].values):
        console.print(_zone_table(str(day), settled.isel(run=i), baked.isel(run=i), full.isel(run=i), system))
        one = settled.isel(run=i)
        console.print(
            f"the {day} day takes {float(one['energy']):.1f} kWh ({float(one['fuel']):.1f} L by generator), at most "
            f"{float(one['peak_current']):.0f} A running and {float(one['peak_start_current']):.0f} A with a start, "
            f"and gives {float(one['condensate']):.1f} L of condensate; fans {FANS[made.resolved.terms.fan]}"
            + _plant_line(one)
        )
    console.print(_sizes_table(pulled, system))
    if proof.cautions:
        console.print(findings_table(list(proof.cautions)))
    console.print(
        "Baked: the same boat closed and off, all units started in the afternoon. Sizes: the next of each unit's kind "
        "in the catalogue, one more beside the largest, at least twice its capacity; humidity by quarters of an hour.",
        style="dim",
    )


def as_json(made: Plan, proof: Proof, pulled: xr.Dataset) -> dict[str, Any]:
    """Figures by start, day and zone, of the whole boat and of sizes, as plain values; what was not reached is null."""
    assert made.chosen is not None
    out: dict[str, Any] = {}
    for start in ("settled", "baked", "full"):
        part = proof.of(made.chosen.name, start)
        out[start] = {
            str(day): {
                "zones": {
                    str(zone): {name: _plain(part[name].values[i, z]) for name in ZONE_FIGURES}
                    for z, zone in enumerate(part["zone"].values)
                },
                "boat": {name: _plain(part[name].values[i]) for name in BOAT_FIGURES},
            }
            for i, day in enumerate(part["day"].values)
        }
    coast = proof.of(made.chosen.name, "coast")
    out["coast"] = {
        str(day): {str(zone): _plain(coast["coast_down"].values[i, z]) for z, zone in enumerate(coast["zone"].values)}
        for i, day in enumerate(coast["day"].values)
    }
    out["pull_down_h"] = {
        str(name): {
            "models": str(one["models"].values),
            "capacity_W": _plain(one["capacity"].values),
            **{
                str(day): {figure: _plain(one[figure].values[i]) for figure in SIZE_FIGURES}
                for i, day in enumerate(one["day"].values)
            },
        }
        for name, one in ((name, pulled.sel(candidate=name)) for name in pulled["candidate"].values)
    }
    return out | {"cautions": [vars(finding) for finding in proof.cautions]}


def _sizes_table(pulled: xr.Dataset, system: UnitSystem) -> Any:
    days = " / ".join(str(day) for day in pulled["day"].values)
    heads = [
        "size",
        "capacity",
        "mean air at\nsetpoint, h",
        "and at\n60 %, h",
        "every room has\nbeen there, h",
        "units",
    ]
    rows = []
    for i, name in enumerate(pulled["candidate"].values):
        times = [" / ".join(_hours(float(hours)) for hours in pulled[figure].values[i]) for figure in SIZE_FIGURES]
        capacity = phrase(float(pulled["capacity"].values[i]), POWER, system)
        rows.append([str(name), capacity, *times, str(pulled["models"].values[i])])
    return plain_table(f"Baked boat pulled down by size, {days} day", heads, rows, heads[1:-1])


def _zone_table(day: str, settled: xr.Dataset, baked: xr.Dataset, full: xr.Dataset, system: UnitSystem) -> Any:
    heads = [
        "zone", "above setpoint\nK, hourly", "degree\nhours", "full capacity\nfloats at",
        "hours above\n60 / 65 / 70 %", "skins above\n80 %, hours",
        "starts\nan hour", "runs\n% of day", "baked to\nsetpoint, h", "and to\n60 %, h",
    ]  # fmt: skip
    rows = []
    for z, zone in enumerate(settled["zone"].values):
        at = {name: float(settled[name].values[z]) for name in ZONE_FIGURES}
        rows.append([
            str(zone), f"{at['above_setpoint']:.1f}", f"{at['degree_hours']:.1f}",
            temperature(float(full["float_temperature"].values[z]), system),
            " / ".join(f"{at[f'hours_above_{share}']:.0f}" for share in (60, 65, 70)),
            f"{at['hours_skin_above_80']:.0f}", f"{at['cycles']:.1f}",
            f"{100.0 * at['run_fraction']:.0f}", _hours(float(baked["pull_down"].values[z])),
            _hours(float(baked["pull_down_humidity"].values[z])),
        ])  # fmt: skip
    return plain_table(f"Proof, minute by minute, {day} day", heads, rows, heads[1:])


def _hours(value: float) -> str:
    return "not reached" if not value < 1e6 else f"{value:.1f}"


def _plain(value: Any) -> float | None:
    number = float(value)
    return number if abs(number) < float("inf") else None
