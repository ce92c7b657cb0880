"""How fast candidate sizes pull a baked boat down: the chosen units, the next ones of their kind, and twice the size.

All candidates go through the proof as one batch: the boat's network, its modes and what the weather does to it are
worked out once, whatever stands in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import routine_values
from heatsim.equipment.capacity import chiller
from heatsim.equipment.catalogue import Unit, catalogue_of
from heatsim.equipment.chilled import Plant
from heatsim.equipment.layouts import Layout
from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import AFTERNOON, Proof, prove
from heatsim.equipment.record import BAKED
from heatsim.equipment.selection import SAME_FREQUENCY, Bench, Offer
from heatsim.equipment.summary import DAMP
from heatsim.errors import Fault, HeatsimError
from heatsim.scenario.resolved import Zone

if TYPE_CHECKING:
    import xarray as xr

Array = npt.NDArray[np.float64]
Size = Literal["smaller", "chosen", "larger", "twice"]

USUAL: tuple[Size, ...] = ("smaller", "chosen", "larger")
DRY = DAMP[0]
OF_ZONES = ("air_temperature", "relative_humidity", "pull_down", "pull_down_humidity")
"""Variables of a proof that candidates are compared by."""


def pull_down(made: Plan, choices: Sequence[Size | Layout] = USUAL, *, hour: float = AFTERNOON) -> xr.Dataset:
    """Pull a baked boat down with each of several choices of units.

    Parameters
    ----------
    made : Plan
        With something chosen.
    choices : sequence of {"smaller", "chosen", "larger", "twice"} or Layout
        Sizes as `sized` has them, or arrangements of one's own, each of another name.

    Other Parameters
    ----------------
    hour : float
        Clock at which everything is switched on. [h]

    Returns
    -------
    Dataset
        See `compared`.

    Raises
    ------
    HeatsimError
        Where nothing was chosen, or two choices have one name.
    """
    layouts = [one if isinstance(one, Layout) else sized(made, one) for one in choices]
    proof = prove(made.boat, layouts, made.heading, starts=(BAKED,), hour=hour, line=made.line)
    return compared(proof, made, layouts)


def sized(made: Plan, size: Size) -> Layout:
    """The chosen layout with every unit of another size, named by it; the zones, air shares and counts stay.

    *smaller* and *larger* are the next of the same kind, regulation and mains in the catalogue. At its upper end one
    more unit of the model stands beside the others instead; at its lower end the chosen one stays. *twice* is the
    smallest model of at least twice the rated capacity, or twice as many. Chillers go the same way.

    Raises
    ------
    HeatsimError
        Where the plan has chosen nothing.
    """
    if made.chosen is None or made.chosen.choice is None:
        raise HeatsimError(
            Fault(
                "sizes are compared around a choice",
                path="choices",
                remedy="Relax one of the limits that the plan names",
            )
        )
    bench = Bench(catalogue_of(made.resolved), made.needs, made.resolved.terms)
    offers = tuple(_offer(bench, offer, size) for offer in made.chosen.offers)
    plant = made.chosen.plant
    return replace(
        made.chosen,
        name=size,
        choice=replace(made.chosen.choice, offers=offers),
        plant=None if plant is None else _plant(bench, plant, size),
    )


def compared(proof: Proof, made: Plan, layouts: Sequence[Layout]) -> xr.Dataset:
    """What a proof says of its runs from a baked boat, side by side.

    Parameters
    ----------
    proof : Proof
        With one baked start of each of `layouts` on each day.

    Returns
    -------
    Dataset
        Over candidate, day, time [min] and zone: `air_temperature` [°C] and `relative_humidity`; `pull_down` and
        `pull_down_humidity` [h], as in `summary.VARIABLES`, NaN where it is not reached within a day; `setpoint` [°C].
        With `boat_` before their names the same of the mean air of all rooms, by volume, its humidity by quarters of an
        hour; `all_pull_down` [h] until every room has been there. `capacity` of all units [W]; `models` names them.
    """
    import xarray as xr

    parts = []
    for layout in layouts:
        part = proof.of(layout.name, BAKED)
        if len(np.unique(part["day"].values)) != part.sizes["run"]:
            rule = "candidates must have different names, and one start each"
            raise HeatsimError(Fault(rule, path="choices", value=layout.name, remedy="Rename one of them"))
        parts.append(part[list(OF_ZONES)])
    first = parts[0]
    zones = [str(zone) for zone in first["zone"].values]
    rooms = {zone.name: zone for zone in made.resolved.zones}
    weights = np.array([rooms[zone].volume for zone in zones])
    weights = weights / weights.sum()
    setpoint = np.stack([_setpoint(rooms[zone], first) for zone in zones], axis=-1)
    values: dict[str, Any] = {"setpoint": (("day", "time", "zone"), setpoint, {"units": "degC"})}
    for name in OF_ZONES:
        stacked = np.stack([part[name].values for part in parts])
        dims = ("candidate", "day", "time", "zone") if stacked.ndim == 4 else ("candidate", "day", "zone")
        values[name] = (dims, stacked, first[name].attrs)
        if stacked.ndim == 4:
            values[f"boat_{name}"] = (dims[:-1], stacked @ weights, first[name].attrs)
    cool = values["boat_air_temperature"][1] <= setpoint @ weights + 0.5 * float(first.attrs["dead_band"])
    dry = np.logical_or.accumulate(cool, axis=-1) & (
        _quarterly(values["boat_relative_humidity"][1], first.attrs["step"]) <= DRY
    )
    hours = first["time"].values / 60.0
    for name, reached in (("boat_pull_down", cool), ("boat_pull_down_humidity", dry)):
        at = np.where(reached.any(axis=-1), hours[reached.argmax(axis=-1)], np.nan)
        values[name] = (("candidate", "day"), at, {"units": "h"})
    values["all_pull_down"] = (("candidate", "day"), values["pull_down"][1].max(axis=-1), {"units": "h"})
    values["capacity"] = (("candidate",), [layout.capacity for layout in layouts], {"units": "W"})
    return xr.Dataset(
        values,
        {
            "candidate": ["chosen" if layout is made.chosen else layout.name for layout in layouts],
            "models": ("candidate", [_models(layout) for layout in layouts]),
            "day": first["day"].values,
            "start_minute": ("day", first["start_minute"].values),
            "time": ("time", first["time"].values, {"units": "min"}),
            "zone": zones,
        },
    )


def _quarterly(values: Array, step: float) -> Array:
    """Mean of the quarter of an hour that ends with each step, of fewer steps at first, along the last axis."""
    length = round(900.0 / step)
    sums = np.cumsum(values, axis=-1)
    count = np.minimum(np.arange(values.shape[-1]) + 1, length)
    before = np.concatenate([np.zeros((*values.shape[:-1], length)), sums[..., :-length]], axis=-1)
    return np.asarray((sums - before) / count)


def _setpoint(zone: Zone, part: xr.Dataset) -> Array:
    """Cooling setpoint of a zone over the runs of a proof, (run, time). [°C]"""
    assert zone.control is not None
    minute = (part["start_minute"].values[:, None] + part["time"].values).astype(np.int64) % 1440
    return np.asarray(routine_values(zone.control.cooling_setpoint, minute.ravel()).reshape(minute.shape))


def _offer(bench: Bench, offer: Offer, size: Size) -> Offer:
    unit, count = _next(offer.unit, offer.count, bench.units, size)
    made = bench.offer(unit, bench.needs.of(offer.zones), offer.demand, count)
    return made if offer.by_night is None else replace(made, by_night=_offer(bench, offer.by_night, size))


def _plant(bench: Bench, plant: Plant, size: Size) -> Plant:
    unit, count = _next(plant.unit, plant.count, bench.units, size)
    capacity, power = (count * float(v) for v in chiller(unit, bench.conditions(unit, 24.0, 0.01)))
    return replace(
        plant, unit=unit, count=count, capacity=capacity, power=power,
        current=unit.running_current * power / unit.compressor_power, smallest_stage=unit.smallest_stage / count,
    )  # fmt: skip


def _next(unit: Unit, count: int, units: Sequence[Unit], size: Size) -> tuple[Unit, int]:
    """Which unit, and how many of it, stand in for so many of another in a size."""
    kin = sorted((one for one in units if _of_a_kind(one, unit)), key=lambda one: one.gross)
    if size == "smaller":
        less = [one for one in kin if one.gross < unit.gross]
        return (less[-1] if less else unit), count
    if size == "larger":
        more = [one for one in kin if one.gross > unit.gross]
        return (more[0], count) if more else (unit, count + 1)
    if size == "twice":
        more = [one for one in kin if one.gross >= 2.0 * unit.gross]
        return (more[0], count) if more else (unit, 2 * count)
    return unit, count


def _of_a_kind(one: Unit, other: Unit) -> bool:
    return (one.kind, one.regulation, one.phases) == (other.kind, other.regulation, other.phases) and abs(
        one.frequency - other.frequency
    ) <= SAME_FREQUENCY


def _models(layout: Layout) -> str:
    """Its units from the largest down, such as 2 × A, B."""
    counts: dict[str, int] = {}
    for offer in sorted(layout.offers, key=lambda offer: -offer.unit.gross):
        counts[offer.unit.model] = counts.get(offer.unit.model, 0) + offer.count
    if layout.plant is not None:
        counts = {layout.plant.unit.model: layout.plant.count} | counts
    return ", ".join(model if count == 1 else f"{count} × {model}" for model, count in counts.items())
