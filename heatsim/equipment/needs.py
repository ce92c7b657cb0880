"""What equipment must deliver: hourly loads of the design days, the air a unit meets, and what sharing costs.

Hourly sums count as capacity only where each zone controls itself. A group on one thermostat with fixed air shares
needs, each hour, the largest of zone load over air share; with the best shares that is the sum of the zones' peaks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from heatsim.loads.peaks import ENTERING_SHARE
from heatsim.physics import moist_air
from heatsim.scenario.resolved import Resolved

if TYPE_CHECKING:
    import xarray as xr

Array = npt.NDArray[np.float64]

DESIGN_DAYS = ("hot", "humid")
"""Days whose peaks size equipment; a typical day does not."""
ASKED = 10.0
"""[W] From which a zone counts as asking for heat or for cooling (assumed)."""
ROOM_HUMIDITY = 0.60
"""[-] Of the air a unit meets where no humidity limit is set (assumed)."""


@dataclass(frozen=True)
class Needs:
    """Loads of the conditioned zones and the conditions equipment meets.

    `sensible` and `latent` (case, hour, zone) W: a case is one design day at one heading, named in `cases`.
    `temperature` and `humidity_ratio` (zone,) are those of the air a unit takes in, `sea` the warmest of the days.
    `heating` (zone,) is the largest heating of all days; the outdoor air's state is (case, hour).
    """

    zones: tuple[str, ...]
    cases: tuple[tuple[str, float], ...]
    sensible: Array
    latent: Array
    heating: Array
    temperature: Array
    humidity_ratio: Array
    sea: float
    outdoor_temperature: Array = field(default_factory=lambda: np.zeros((0, 0)))
    outdoor_humidity_ratio: Array = field(default_factory=lambda: np.zeros((0, 0)))
    heat_and_cold: int = 0
    """Hours of all simulated days and headings in which one zone asks for heat while another asks for cooling."""

    @property
    def total(self) -> Array:
        """Sensible and latent, (case, hour, zone). [W]"""
        return self.sensible + self.latent

    def of(self, names: Sequence[str]) -> list[int]:
        """Numbers of zones by name."""
        return [self.zones.index(name) for name in names]

    @property
    def block(self) -> float:
        """Largest simultaneous total. [W]"""
        return float(self.total.sum(axis=-1).max())


def needs(loads: xr.Dataset, resolved: Resolved) -> Needs:
    """Needs of a simulated boat; recovery hours are left out as they are of peaks.

    Raises
    ------
    ValueError
        When the data set holds neither design days nor a year.
    """
    heated, cooled = ((loads[name] > ASKED).any("zone") for name in ("heating", "sensible_cooling"))
    part = loads
    if "day" in loads.dims:
        chosen = [str(day) for day in loads["day"].values if str(day).split()[0] in DESIGN_DAYS]
        part = loads.sel(day=chosen or [str(day) for day in loads["day"].values])
    else:
        part = loads.expand_dims(day=["year"])
    names = [str(name) for name in part["zone"].values[part["conditioned"].values]]
    part = part.sel(zone=names).transpose("day", "heading", "time", "zone", ...)
    entering = part["entering"].values > ENTERING_SHARE
    sensible, latent = (np.where(entering, 0.0, part[name].values) for name in ("sensible_cooling", "latent_cooling"))
    hours, zones = sensible.shape[2:]
    cases = tuple((str(d), float(h)) for d in part["day"].values for h in part["heading"].values)
    by_name = {zone.name: zone for zone in resolved.zones}
    controls = [by_name[name].control for name in names]
    temperature = np.array([np.min(c.cooling_setpoint.values) for c in controls if c is not None])
    limit = np.array([min(c.humidity_limit, ROOM_HUMIDITY) for c in controls if c is not None])
    return Needs(
        zones=tuple(names),
        cases=cases,
        sensible=sensible.reshape(-1, hours, zones),
        latent=latent.reshape(-1, hours, zones),
        heating=part["heating"].values.max(axis=(0, 1, 2)),
        temperature=temperature,
        humidity_ratio=np.asarray(moist_air.humidity_ratio(temperature, limit)),
        sea=float(part["sea_temperature"].values.max()),
        outdoor_temperature=_outdoors(part, "outdoor_temperature"),
        outdoor_humidity_ratio=_outdoors(part, "outdoor_humidity_ratio"),
        heat_and_cold=int((heated & cooled).sum()),
    )


def _outdoors(part: xr.Dataset, name: str) -> Array:
    """A course of the weather, (case, hour)."""
    course = part[name]
    if "day" not in course.dims:
        course = course.expand_dims(day=part["day"])
    return np.repeat(np.asarray(course.transpose("day", "time").values, dtype=float), part.sizes["heading"], axis=0)


@dataclass(frozen=True)
class Certainty:
    """How far peaks reach when every default is drawn from its range, over those with every default as it stands.

    `level` of the `draws` stay below `factors`, by room and of the "block"; `inputs` counts what was drawn.
    """

    level: float
    draws: int
    inputs: int
    factors: dict[str, float]

    @property
    def block(self) -> float:
        """The block's factor. [-]"""
        return self.factors["block"]

    def raised(self, loads: xr.Dataset) -> xr.Dataset:
        """The same loads with each room's cooling raised by its factor."""
        by_zone = np.array([self.factors.get(str(zone), 1.0) for zone in loads["zone"].values])
        names = ("sensible_cooling", "latent_cooling")
        raised = {}
        for name in names:
            last = loads[name].transpose(..., "zone")
            raised[name] = last.copy(data=last.values * by_zone).transpose(*loads[name].dims)
        return loads.assign(raised)


@dataclass(frozen=True)
class Demand:
    """What one group asks of its unit: total and sensible capacity [W], and the air shares of its zones."""

    total: float
    sensible: float
    shares: Array


def own(n: Needs, zone: int) -> Demand:
    """A zone with a unit of its own: its peaks."""
    return Demand(float(n.total[..., zone].max()), float(n.sensible[..., zone].max()), np.ones(1))


def shared(n: Needs, zones: Sequence[int], shares: Array | None = None) -> Demand:
    """Zones on one thermostat with fixed air shares.

    Parameters
    ----------
    zones : sequence of int
    shares : (zone,) array, optional
        Of the unit's air, sum 1; the best ones by default, in proportion to the zones' sensible peaks.
    """
    sensible = n.sensible[..., list(zones)]
    peaks = sensible.max(axis=(0, 1))
    if shares is None:
        shares = best_shares(peaks)
    moved = (sensible / np.maximum(shares, 1e-9)).max(axis=-1)
    total = moved + n.latent[..., list(zones)].sum(axis=-1)
    return Demand(float(total.max()), float(moved.max()), shares)


def demand_of(n: Needs, zones: Sequence[int]) -> Demand:
    """What zones ask of one unit: a single one its peaks, several what sharing with the best shares costs."""
    return own(n, zones[0]) if len(zones) == 1 else shared(n, zones)


def best_shares(peaks: Array) -> Array:
    """Air shares that let the smallest unit serve zones of these sensible peaks on one thermostat, (zone,).

    Each zone must get its peak at some hour, so a unit of capacity Q needs Q · share ≥ peak in each; the shares sum to
    1, so Q is at least the sum of peaks, which these shares reach.
    """
    whole = float(peaks.sum())
    return np.full(len(peaks), 1.0 / len(peaks)) if whole <= 0.0 else np.asarray(peaks / whole)


def self_controlled(n: Needs, zones: Sequence[int]) -> Demand:
    """Zones that each control their own share (valves, dampers, air handlers): the largest hourly sum."""
    part = list(zones)
    return Demand(
        float(n.total[..., part].sum(axis=-1).max()), float(n.sensible[..., part].sum(axis=-1).max()),
        best_shares(n.sensible[..., part].max(axis=(0, 1))),
    )  # fmt: skip


def adjacent(resolved: Resolved, names: Sequence[str]) -> dict[str, set[str]]:
    """Which of these zones touch: by a bulkhead or sole, or through an opening between them."""
    touching: dict[str, set[str]] = {name: set() for name in names}
    pairs = [(face.zone, face.beyond) for face in resolved.faces]
    pairs += [(opening.first, opening.second) for opening in resolved.openings]
    for first, second in pairs:
        if first in touching and second in touching and first != second:
            touching[first].add(second)
            touching[second].add(first)
    return touching


def connected_groups(touching: dict[str, set[str]], most: int) -> list[tuple[str, ...]]:
    """Every connected set of up to `most` zones, each once, in the order of the names.

    Sets grow by neighbours that come after their first name or have not been passed over (Wernicke 2006).
    """
    order = {name: i for i, name in enumerate(touching)}
    found: list[tuple[str, ...]] = []

    def grow(group: list[str], frontier: set[str], seen: set[str], first: int) -> None:
        found.append(tuple(sorted(group, key=order.__getitem__)))
        if len(group) == most:
            return
        frontier = set(frontier)
        while frontier:
            new = min(frontier, key=order.__getitem__)
            frontier.remove(new)
            fresh = {n for n in touching[new] if order[n] > first and n not in seen}
            grow([*group, new], frontier | fresh, seen | fresh, first)

    for name in touching:
        start = {n for n in touching[name] if order[n] > order[name]}
        grow([name], start, {name, *start}, order[name])
    return found
