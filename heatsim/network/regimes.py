"""Regimes: everything that changes the network's matrix (wind, fans, air routines, doors, awnings, blinds), numbered.

Each step of each run belongs to one regime; a regime's matrices are prepared once. Routines are exact in their regime;
wind of a weather year is binned, and the drivers carry what the bin loses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.climate.weather import Weather, routine_values
from heatsim.errors import Fault, HeatsimError
from heatsim.scenario.resolved import Resolved, Routine

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

MOST_REGIMES = 64
WIND_BINS = 4
NEAR_WIND = 0.75
"""[m/s] Days this near in wind share a regime: 3 W/(m²·K) in a film of 12–20, and the drivers carry the difference."""
WIND_STEP = 2.0 * NEAR_WIND
"""[m/s] Between the winds of networks that many places share."""


@dataclass(frozen=True)
class Regimes:
    """What each regime is: `wind` (regime,) m/s, and shares by routine (regime, item) for each kind of item.

    `numbers` holds one (step,) array for each weather given; `air_density` is the mean of outdoor air over all of them,
    kg of dry air per m³: a third less on a mountain lake than at sea.
    """

    wind: Array
    fan: Array
    flow: Array
    opening: Array
    awning: Array
    blind: Array
    numbers: tuple[Indices, ...]
    air_density: float


def blinded(resolved: Resolved) -> list[int]:
    """Numbers of the faces that have an inside blind, in order."""
    return [i for i, face in enumerate(resolved.faces) if face.blind is not None]


def regimes(
    resolved: Resolved, weathers: Sequence[Weather], winds: Sequence[float] | None = None, density: float | None = None
) -> Regimes:
    """Number the regimes of a scenario over one or more weathers.

    Parameters
    ----------
    resolved : Resolved
    weathers : sequence of Weather
    winds : sequence of float, optional
        The wind of each weather's regimes, for steady days; by bins of their own winds unless given. [m/s]
    density : float, optional
        Of outdoor air; the mean over the weathers unless given. [kg/m³]

    Raises
    ------
    HeatsimError
        When more than 64 regimes would be needed; names the routines that multiply.
    """
    minute = np.concatenate([weather.local_minute for weather in weathers])
    groups: list[tuple[str, list[tuple[str, Routine]]]] = [
        ("fan", [(f"zones.{z.name} fan", z.fan_on) for z in resolved.zones]),
        ("flow", [(f.name, f.routine) for f in resolved.flows]),
        ("opening", [(o.name, o.routine) for o in resolved.openings]),
        ("awning", [(a.name, a.routine) for a in resolved.awnings]),
        ("blind", [(resolved.faces[i].name, resolved.faces[i].blind.routine) for i in blinded(resolved)]),  # type: ignore[union-attr]
    ]
    if winds is None:
        columns = [_binned_wind(np.concatenate([weather.wind for weather in weathers]))]
    else:
        columns = [np.repeat(winds, [len(weather.wind) for weather in weathers])]
    labels, ends = ["wind"], [1]
    for _, items in groups:
        columns += [routine_values(routine, minute) for _, routine in items]
        labels += [label for label, _ in items]
        ends.append(len(columns))
    rows, number = _distinct(columns)
    if len(rows) > MOST_REGIMES:
        _refuse(rows, labels)
    fan, flow, opening, awning, blind = (rows[:, ends[i] : ends[i + 1]] for i in range(len(groups)))
    lengths = np.cumsum([len(weather.local_minute) for weather in weathers])[:-1]
    numbers = tuple(part.astype(np.int64) for part in np.split(number.reshape(-1), lengths))
    mean = float(np.mean(np.concatenate([w.density.ravel() for w in weathers]))) if density is None else density
    return Regimes(rows[:, 0], fan, flow, opening, awning, blind, numbers, mean)


def _distinct(columns: Sequence[Array]) -> tuple[Array, Indices]:
    """Distinct rows of columns in ascending order, and each row's number; ten times as fast as by whole rows."""
    number = np.zeros(len(columns[0]), dtype=np.int64)
    first = np.zeros(1, dtype=np.int64)
    for column in columns:
        if np.all(column == column[0]):
            continue
        values, place = np.unique(column, return_inverse=True)
        _, first, number = np.unique(number * len(values) + place, return_index=True, return_inverse=True)
    return np.stack([column[first] for column in columns], axis=1), number


def _binned_wind(wind: Array) -> Array:
    """Wind by bins: steady days whose films lie within `NEAR_WIND` of each other share the first one's, the wind of a
    year goes into bins of equal numbers of steps at their means.
    """
    speeds = wind[np.sort(np.unique(wind, return_index=True)[1])]
    shared: list[float] = []
    for speed in speeds[: 4 * WIND_BINS]:
        if not any(abs(speed - other) <= NEAR_WIND for other in shared):
            shared.append(float(speed))
    if len(speeds) <= 4 * WIND_BINS and len(shared) <= WIND_BINS:
        nearest = np.abs(wind[:, None] - np.array(shared)[None, :]).argmin(axis=1)
        return np.asarray(np.array(shared)[nearest], dtype=float)
    edges = np.quantile(wind, np.linspace(0.0, 1.0, WIND_BINS + 1)[1:-1])
    bins = np.searchsorted(edges, wind, side="right")
    sums, counts = np.bincount(bins, wind, WIND_BINS), np.bincount(bins, minlength=WIND_BINS)
    means = np.round(sums / np.maximum(counts, 1), 2)
    return np.asarray(means[bins], dtype=float)


def _refuse(rows: Array, labels: Sequence[str]) -> None:
    counts = [len(np.unique(rows[:, i])) for i in range(rows.shape[1])]
    worst = sorted((-count, label) for count, label in zip(counts, labels, strict=True) if count > 1)[:6]
    raise HeatsimError(
        Fault(
            rule=f"the routines of air, doors, awnings and blinds may combine to at most {MOST_REGIMES} states",
            path="routines",
            value=f"{len(rows)} states from " + ", ".join(f"{label} ({-count} values)" for count, label in worst),
            remedy="Let some of them change at the same hours, or give them fewer steps",
        )
    )
