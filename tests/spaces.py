"""Three invented spaces (tests/data) beside the trade's volume rule, which is common practice, no source.

The rule speaks of a cabin below deck used after sunset (10–12 Btu/h·ft³), an ordinary pleasure craft (14) and a sunny
wheelhouse under an unshaded roof (16–19). Glass is what the engine's quick zones take for the deck level: 5, 35 and
45 % of the weather sides. By day the largest hour at the worst heading counts. After sunset the cabin stood closed
and is cooled from 20 h: the mean of the first three hours counts, the recovery spread over them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

import heatsim
from heatsim.report.amounts import BTU_PER_HOUR
from heatsim.scenario.thumb import CUBIC_FOOT

DATA = Path(__file__).resolve().parent / "data"
PER_CUBIC_FOOT = BTU_PER_HOUR / CUBIC_FOOT
"""[W/m³] One Btu/h·ft³."""
EVENING = range(20, 23)
"""[h] Local hours that start the three hours after the plant is switched on."""
FROM_SUNSET = 'zones.cabin.cooling={"20:00-08:00": 1}'


@dataclass(frozen=True)
class Space:
    """A file of tests/data with changes, the hours that count (None: the largest), and the trade's range."""

    name: str
    file: str
    changes: tuple[str, ...] = ()
    hours: range | None = None
    low: float = 0.0
    high: float = 0.0


@dataclass(frozen=True)
class Density:
    """Load by volume, in all, latent and by cause [W/m³], and the heading and local hour it belongs to."""

    total: float
    latent: float
    causes: dict[str, float]
    heading: float
    hour: int


SPACES = (
    Space("cabin below deck, after sunset", "cabin-after-sunset", (FROM_SUNSET,), EVENING, 10.0, 12.0),
    Space("ordinary cabin by day", "cabin-by-day", (), None, 14.0, 14.0),
    Space("wheelhouse in the sun", "wheelhouse-in-sun", (), None, 16.0, 19.0),
)
BESIDE = (
    Space("cabin below deck, held at 24 °C day and night", "cabin-after-sunset", (), EVENING),
    Space("cabin by day, 25 m³/h of outdoor air a person", "cabin-by-day", ("zones.cabin.fresh_air=50 m3/h",)),
    Space("cabin by day, solid GRP", "cabin-by-day", ("yacht.material=solid GRP",)),
    Space("cabin by day, dark deck overhead", "cabin-by-day", ("zones.cabin.faces[5].colour=dark grey",)),
    Space("cabin by day, all decks dark", "cabin-by-day", ("yacht.deck_colour=dark grey",)),
)


@cache
def density(space: Space) -> Density:
    """Simulate one space."""
    loads = heatsim.simulate(heatsim.resolve(heatsim.read(DATA / f"{space.file}.yaml", space.changes)))
    part = loads.isel(day=0, zone=0)
    volume = float(loads["volume"][0])
    total = (part["sensible_cooling"] + part["latent_cooling"]).values
    clock = part["local_time"].dt.hour.values
    if space.hours is None:
        heading, hour = np.unravel_index(int(total.argmax()), total.shape)
        chosen = np.array([hour])
    else:
        chosen = np.flatnonzero(np.isin(clock, list(space.hours)))
        heading = int(total[:, chosen].mean(axis=1).argmax())

    def mean(name: str) -> npt.NDArray[np.float64]:
        return np.asarray(part[name].isel(heading=int(heading), time=chosen).mean("time").values) / volume

    causes = dict(zip(loads["cause"].values.tolist(), mean("load_by_cause").tolist(), strict=True))
    latent = float(mean("latent_cooling"))
    return Density(
        float(total[heading, chosen].mean()) / volume, latent, causes, float(part["heading"][int(heading)]),
        int(clock[chosen[0]]),
    )  # fmt: skip


def gap(space: Space, found: float) -> float:
    """How many times the nearer end of the trade's range lies above the load found (below 1: the load lies above)."""
    low, high = space.low * PER_CUBIC_FOOT, space.high * PER_CUBIC_FOOT
    return float(np.clip(found, low, high)) / found
