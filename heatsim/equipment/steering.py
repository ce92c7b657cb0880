"""Choices that stand their checks: what is not linear is checked on the winner, and a failing choice is cut off.

The layouts of a boat go through the proof as one batch on their design days. A zone that does not hold, stays damp or
gets too warm with a unit out of order bars the offers that are taken to fail there in the same way (as many units that
bring as much at once, as little capacity, the same group); then the next choice is taken. Where none is left, the one
that failed least stays and says where.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from heatsim.equipment.baked import DesignDays, design_days
from heatsim.equipment.holding import Reruns
from heatsim.equipment.layouts import (
    ABOARD,
    ONE_LOST,
    TOO_COARSE,
    TOO_DAMP,
    TOO_SMALL,
    Failure,
    Layout,
    Search,
)
from heatsim.equipment.proof import prove
from heatsim.equipment.record import SETTLED
from heatsim.equipment.selection import SLEEPING, Offer
from heatsim.equipment.summary import HOLDS, KWH, why_not_held
from heatsim.loads.line import one_blas_thread

if TYPE_CHECKING:
    import xarray as xr

Array = npt.NDArray[np.float64]
Bar = Callable[[Offer], bool]

MOST_CUTS = 20
"""Choices that are cut off before a layout is given up (assumed)."""
AHEAD = 3
"""Choices checked at once after a failure; more of them take as long in the batch as they save in rounds (measured)."""
NEAR = 1.0 - 1e-9
"""Within which amounts count as equal."""
NIGHT = 22.0, 7.0
"""[h] From and until when energy counts as the night's (assumed)."""
STEP = 60.0
"""[s] Of the proof that checks."""


class _Trial:
    """One search under way: the layouts tried, the last one under trial, what their failures bar, and the last failure
    of each room.
    """

    def __init__(self, search: Search, ground: tuple[Reruns, DesignDays]) -> None:
        self.search, self.ground = search, ground
        self.tries = [search.build(search.offers)]
        self.bars: list[Bar] = []
        self.last: tuple[Failure, ...] = ()
        self.seen: dict[str, Failure] = {}

    @property
    def best(self) -> Layout:
        """That which stands its checks, or failed least."""
        return min(self.tries, key=_failing)

    def ahead(self) -> list[Layout]:
        """What is under trial, and what comes next should rooms fail that failed before, one of them or all: a batch
        costs little more.
        """
        guesses, waiting = [self.tries[-1]], [(self.tries[-1], list(self.bars))]
        while waiting and len(guesses) < AHEAD:
            layout, bars = waiting.pop(0)
            for some in self._suspected():
                more = bars + [_bar(layout, failure) for failure in some]
                following = self._next(more)
                if following.possible and len(guesses) < AHEAD and _same(following) not in map(_same, guesses):
                    guesses.append(following)
                    waiting.append((following, more))
        return guesses

    def _suspected(self) -> list[tuple[Failure, ...]]:
        """Which failures may come again: the last ones, each that there was, all of them."""
        every = tuple(self.seen.values())
        return list(dict.fromkeys(some for some in (self.last, *((one,) for one in every), every) if some))

    def take(self, checked: Sequence[Layout]) -> bool:
        """Take what `ahead` was found to do as far as it was guessed right; whether another choice is to be tried."""
        while True:
            own = _same(self.tries[-1])
            found = next((layout for layout in checked if _same(layout) == own), None)
            if found is None:
                return True
            self.tries[-1] = replace(found, name=self.search.name, cut=len(self.tries) - 1)
            if not self._advance():
                return False

    def _advance(self) -> bool:
        """Go on to the next choice after a failure; False where there was none, or no choice is left."""
        failures = self.last = tuple(self.tries[-1].failures or ())
        self.seen |= {failure.zone: failure for failure in failures}
        if not failures or self.search.name == ABOARD or len(self.tries) > MOST_CUTS:
            return False
        self.bars += [_bar(self.tries[-1], failure) for failure in failures]
        following = self._next(self.bars)
        if following.possible:
            self.tries.append(following)
        return following.possible

    def _next(self, bars: Sequence[Bar]) -> Layout:
        return self.search.build([offer for offer in self.search.offers if not any(bar(offer) for bar in bars)])


def _same(layout: Layout) -> list[tuple[tuple[str, ...], str, int]]:
    """What tells two choices of one search apart."""
    return sorted((offer.covered, offer.unit.model, offer.count) for offer in layout.offers)


def steer(searches: Sequence[Search], reruns: Reruns) -> list[Layout]:
    """The layout of least worth of each search that stands its checks, or that which failed least.

    Parameters
    ----------
    searches : sequence of Search
    reruns : Reruns
        Of the boat at its worst heading.

    Returns
    -------
    list of Layout
        One for each search, with `failures` where there is something to check, and the choices `cut` before it.
    """
    grounds: dict[int, tuple[Reruns, DesignDays]] = {}
    trials = []
    for search in searches:
        if id(search.boat) not in grounds:
            own = reruns.of(search.boat)
            with one_blas_thread():
                grounds[id(search.boat)] = own, design_days(own.resolved, own.heading, STEP, own.line, with_skins=False)
        trials.append(_Trial(search, grounds[id(search.boat)]))
    able = [trial for trial in trials if trial.tries[0].possible and trial.tries[0].offers]
    for settle in (False, True):  # the longer proof for what stands the shorter
        _until_they_stand([trial for trial in able if settle is False or not trial.best.failures], settle)
    return [trial.best for trial in trials]


def _until_they_stand(trials: Sequence[_Trial], settle: bool) -> None:
    """Check all and take the next choice of those that fail, until none fails or none is left."""
    while trials:
        checked = _check_all(trials, settle)
        trials = [trial for trial, layouts in zip(trials, checked, strict=True) if trial.take(layouts)]


def _check_all(trials: Sequence[_Trial], settle: bool) -> list[list[Layout]]:
    """Check what is under trial and what may come next; boats of the same controls as one batch."""
    found: dict[int, list[Layout]] = {}
    for key in {id(trial.search.boat) for trial in trials}:
        together = [i for i, trial in enumerate(trials) if id(trial.search.boat) == key]
        ahead = [(i, layout) for i in together for layout in trials[i].ahead()]
        named = [replace(layout, name=f"{n}") for n, (_, layout) in enumerate(ahead)]
        for (i, _), layout in zip(ahead, check(named, *trials[together[0]].ground, settle=settle), strict=True):
            found.setdefault(i, []).append(layout)
    return [found[i] for i in range(len(trials))]


def check(layouts: Sequence[Layout], reruns: Reruns, days: DesignDays, settle: bool = True) -> list[Layout]:
    """The same layouts with what their checks found: the proof of all as one batch, and each unit lost where asked.

    `settle` is that of `proof.prove`.
    """
    terms = reruns.resolved.terms
    data = prove(
        reruns.resolved, layouts, reruns.heading, step=STEP, starts=(SETTLED,), days=days, settle=settle
    ).data  # fmt: skip
    return [
        replace(
            layout,
            failures=(*held_to(data, layout.name, terms.damp_hours), *_lost(layout, reruns)),
            energy=_by_day_and_night(data, layout.name),
        )
        for layout in layouts
    ]


def _by_day_and_night(data: xr.Dataset, layout: str) -> tuple[float, float]:
    """Electrical energy by day and by night of a layout's first day. [kWh]"""
    run = int(np.flatnonzero(data["layout"].values == layout)[0])
    hour = data["time"].values / 60.0  # settled runs begin at midnight
    night = (hour >= NIGHT[0]) | (hour < NIGHT[1])
    each = data["power"].values[run] * data.attrs["step"] / KWH
    return float(each[~night].sum()), float(each[night].sum())


def held_to(data: xr.Dataset, layout: str, damp_hours: float) -> list[Failure]:
    """Where the settled runs of a layout do not hold, and how: one failure a zone, on its worst day."""
    runs = np.flatnonzero((data["layout"].values == layout) & (data["start"].values == SETTLED))
    above, damp = data["above_setpoint"].values[runs], data["hours_above_65"].values[runs]
    found = []
    for i, zone in enumerate(str(name) for name in data["zone"].values):
        day = int(above[:, i].argmax())
        if above[day, i] > HOLDS:
            found.append(Failure(zone, why_not_held(data, int(runs[day]), i), float(above[day, i]), HOLDS))
        elif damp[:, i].max() > damp_hours:
            found.append(Failure(zone, TOO_DAMP, float(damp[:, i].max()), damp_hours))
    return found


def _lost(layout: Layout, reruns: Reruns) -> list[Failure]:
    """Sleeping cabins that get warmer than they may with one unit out of order, the others held."""
    most = reruns.resolved.terms.cabin_one_lost
    if not np.isfinite(most):
        return []
    cabins = [zone.name for zone in reruns.resolved.zones if zone.use in SLEEPING]
    warmest: dict[str, float] = {}
    for held in reruns.without(layout.offers):
        for name in cabins:
            warmest[name] = max(warmest.get(name, -np.inf), held.air.get(name, -np.inf))
    return [Failure(name, ONE_LOST, value, most) for name, value in warmest.items() if value > most]


def _bar(layout: Layout, failure: Failure) -> Bar:
    """Which offers fail in the same way where this layout's did: as much at once, as little, the same group."""
    zone = failure.zone
    own = _duty(layout.offers, zone)
    if own is None:
        return lambda offer: False

    def brings(offer: Offer, what: str) -> float:
        return float(getattr(offer, what)) * offer.share(zone)

    amount = {TOO_SMALL: "sensible", ONE_LOST: "left", TOO_COARSE: "smallest_step"}.get(failure.why)
    bar = 0.0 if amount is None else brings(own, amount)

    def barred(offer: Offer) -> bool:
        duty = _duty([offer], zone)
        if duty is None:
            return False
        if failure.why == TOO_DAMP:  # drying is no plain matter of size: only what was tried
            return (duty.zones, duty.unit, duty.count) == (own.zones, own.unit, own.count)
        if amount is None:
            return set(duty.zones) == set(own.zones)
        if failure.why == TOO_COARSE:  # several side by side start one after the other: another matter
            return duty.count == own.count and brings(duty, amount) >= bar * NEAR
        return brings(duty, amount) <= bar / NEAR

    return barred


def _duty(offers: Sequence[Offer], zone: str) -> Offer | None:
    """What serves a zone."""
    return next((duty for offer in offers for duty in offer.duties if zone in duty.zones), None)


def _failing(layout: Layout) -> tuple[int, float]:
    """How much a layout fails: in so many zones, by so much over the limits."""
    failures = layout.failures or ()
    return len(failures), sum(one.value / max(one.limit, 1.0) for one in failures)
