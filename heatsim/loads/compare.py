"""`compare`: what differs between two scenarios, and what that does in each zone."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from heatsim.errors import Fault, HeatsimError
from heatsim.loads.wording import is_course, worded_pair

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

CLOSE = 1e-9
"""Relative difference below which two numbers are one."""
LEAST_CAUSE = 5.0
"""[W] A cause that changes by less is not named: in print, to 10 W, it would be nothing."""


@dataclass(frozen=True)
class Difference:
    """One value of the resolved scenarios that differs."""

    path: str
    first: str
    second: str


@dataclass(frozen=True)
class Change:
    """One zone (or the block) on one day: peaks [W], hours, warmest air [°C], and the largest changes of cause [W]."""

    day: str
    zone: str
    first: float
    second: float
    first_hour: str
    second_hour: str
    first_warmest: float
    second_warmest: float
    causes: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Comparison:
    """Inputs that differ and what follows."""

    names: tuple[str, str]
    inputs: tuple[Difference, ...]
    changes: tuple[Change, ...]

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return asdict(self)


def compare(
    first: str | Path,
    second: str | Path,
    overrides: Sequence[str] = (),
    progress: Callable[[str, float], None] | None = None,
) -> Comparison:
    """Compare two scenario files, or folders that `loads` wrote.

    Parameters
    ----------
    first, second : str or Path
        Scenario files or result folders.
    overrides : sequence of str
        Changes such as `place.region=palm-beach`, made to both scenarios alike; results cannot be changed.
    progress : callable, optional
        Called with a label and a share done.

    Raises
    ------
    HeatsimError
        With every fault of either; or when they have no day in common.
    """
    sets = [_loads(Path(first), overrides), _loads(Path(second), overrides)]
    if progress is not None:
        progress("compare", 1.0)
    resolved = [json.loads(data.attrs["resolved_scenario"]) for data in sets]
    inputs = tuple(_differences((), *map(_named, resolved)))
    from heatsim.loads.peaks import peaks

    frames = [peaks(data) for data in sets]
    days = [day for day in dict.fromkeys(d for d, _ in frames[0].index) if day in {d for d, _ in frames[1].index}]
    if not days:
        raise HeatsimError(
            Fault("the two must have a day in common", value=f"{first} and {second}", remedy="Give both the same days")
        )
    changes = tuple(change for day in days for change in _changes(day, sets, frames))
    return Comparison((str(first), str(second)), inputs, changes)


def _loads(path: Path, overrides: Sequence[str]) -> xr.Dataset:
    import xarray as xr

    data = path / "loads.nc" if path.is_dir() else path
    if data.suffix == ".nc":
        if overrides:
            raise HeatsimError(
                Fault("--set changes scenarios, and this is a result", value=str(path), remedy="Name the scenario file")
            )
        if not data.exists():
            raise HeatsimError(Fault("must be a scenario file or a folder that `heatsim loads` wrote", value=str(path)))
        try:
            loads = xr.load_dataset(data, engine="scipy")
            json.loads(loads.attrs["resolved_scenario"])
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise HeatsimError(Fault("must be a data set that `heatsim loads` wrote", value=str(data))) from error
        return loads
    from heatsim.loads.simulate import simulate
    from heatsim.scenario.reading import read
    from heatsim.scenario.resolve import resolve

    return simulate(resolve(read(path, overrides)))


def _named(value: Any) -> Any:
    """Lists of named things as mappings, so that order does not matter and paths read like the file's."""
    if isinstance(value, dict):
        return value if is_course(value) else {key: _named(item) for key, item in value.items()}
    if isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
        for key in ("name", "kind", "activity"):
            names = [str(item.get(key)) for item in value]
            if None not in (item.get(key) for item in value) and len(set(names)) == len(names):
                return {name: _named(item) for name, item in zip(names, value, strict=True)}
    return value


def _differences(path: tuple[str, ...], first: Any, second: Any) -> Iterator[Difference]:
    if isinstance(first, dict) != isinstance(second, dict) and [] in (first, second):
        first, second = first or {}, second or {}  # no named things on one side
    if isinstance(first, dict) and isinstance(second, dict) and not (is_course(first) and is_course(second)):
        for key in dict.fromkeys([*first, *second]):
            below = (*path, key)
            if key not in first:
                yield Difference(".".join(below), "absent", "present")
            elif key not in second:
                yield Difference(".".join(below), "present", "absent")
            else:
                yield from _differences(below, first[key], second[key])
    elif first != second and not _near(first, second):
        yield Difference(".".join(path), *worded_pair(path, first, second))


def _near(first: Any, second: Any) -> bool:
    if isinstance(first, list) and isinstance(second, list):
        return len(first) == len(second) and all(map(_near, first, second))
    numbers = isinstance(first, float | int) and isinstance(second, float | int)
    return first == second or (numbers and abs(first - second) <= CLOSE * max(abs(first), abs(second), 1.0))


def _changes(day: str, sets: list[xr.Dataset], frames: list[pd.DataFrame]) -> Iterator[Change]:
    zones = [zone for zone in frames[0].loc[day].index if zone in frames[1].loc[day].index]
    for zone in zones:
        rows = [frame.loc[(day, zone)] for frame in frames]
        split = [_causes(data, day, zone, row) for data, row in zip(sets, rows, strict=True)]
        moved = sorted(((k, split[1][k] - split[0][k]) for k in split[0] if k in split[1]), key=lambda kv: -abs(kv[1]))
        causes = tuple((name, by) for name, by in moved[:3] if abs(by) >= LEAST_CAUSE)
        warmest = [_warmest(data, day, zone) for data in sets]
        yield Change(
            day, str(zone), float(rows[0]["total"]), float(rows[1]["total"]), str(rows[0]["hour"])[11:16],
            str(rows[1]["hour"])[11:16], warmest[0], warmest[1], causes,
        )  # fmt: skip


def _of(data: xr.Dataset, day: str, zone: str) -> xr.Dataset:
    part = data.sel(day=day) if "day" in data.dims else data
    return part.sel(zone=part["conditioned"].values) if zone == "block" else part.sel(zone=[zone])


def _causes(data: xr.Dataset, day: str, zone: str, row: pd.Series) -> dict[str, float]:
    part = _of(data, day, zone).sel(heading=row["heading"])
    part = part.isel(time=int(np.argmax(part["local_time"].values == row["hour"])))
    causes = {"moisture": float(part["latent_cooling"].sum())}
    if "load_by_cause" in part:
        causes |= {str(k): float(v) for k, v in part["load_by_cause"].sum("zone").to_series().items()}
    return causes


def _warmest(data: xr.Dataset, day: str, zone: str) -> float:
    return float(_of(data, day, zone)["air_temperature"].max())
