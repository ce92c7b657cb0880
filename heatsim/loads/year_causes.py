"""The load of weather years by cause: of each room's peak day, or summed by the month.

Years are carried month by month and their steps forgotten, so that what is asked for is gathered on the way: `look` is
shown each month as it is done. Rooms are conditioned zones, and last the block: all of them together.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from heatsim.loads.causes import Recorded, behind, origin, split_by_cause
from heatsim.loads.line import Line, Stretch
from heatsim.loads.paths import RoomHours
from heatsim.loads.peaks import ENTERING_SHARE
from heatsim.network.base import CAUSES
from heatsim.solve.base import Mode

Array = npt.NDArray[np.float64]

DAY = 24
KWH = 3.6e6
"""[J] In a kilowatt hour."""


def of_run(stretch: Stretch, run: int, first: Array, steps: slice = slice(None)) -> Recorded:
    """One run of a fleet on some steps, begun at `first` (massive node,), as arrays of its own."""
    runs, own, done, band = stretch.heat_u.shape[1], (slice(run, run + 1), steps), stretch.heat, stretch.band
    u = stretch.heat_u[:, run % runs, steps].copy()
    if stretch.heat_own is not None:
        columns, at_start, at_end, values, _ = stretch.heat_own
        for edge, share in enumerate((at_start, at_end)):
            for column, value in zip(columns, values[:, run // runs, steps] * share[:, None], strict=True):
                u[edge, :, column] += value
    warm, cool = (np.broadcast_to(part, done.mode.shape)[own] for part in (band.heat, band.cool))
    setpoint = np.where(done.mode[own] == Mode.HOLD_HEAT, warm, cool)
    return Recorded(
        stretch.number[steps], u[:, None], first[None], done.heat[own].copy(), done.mode[own].copy(),
        done.entering[own].copy(), setpoint,
    )  # fmt: skip


class PeakDays:
    """The day of each room's largest hour, of every run of a fleet, and its load by cause.

    Causes begin the day from their own periodic states; what the days before left beside these is the cause `start`.

    Parameters
    ----------
    lines : sequence of Line
        Of the boats of a fleet.
    cooled : sequence of int
        Zones that are rooms.
    """

    def __init__(self, lines: Sequence[Line], cooled: Sequence[int]) -> None:
        self.lines, self.cooled = lines, list(cooled)
        self._largest = np.empty((0, 0))
        self._day = np.empty((0, 0), dtype=np.int64)
        self._kept: list[dict[int, Recorded]] = []
        self._days = 0

    def look(self, stretch: Stretch, rooms: RoomHours) -> None:
        """A month of the fleet, and the hours of its rooms (run, hour, room)."""
        total, away = rooms.sensible_cooling + rooms.latent_cooling, rooms.entering > ENTERING_SHARE
        total = np.concatenate([total, total.sum(axis=-1, keepdims=True)], axis=-1)
        away = np.concatenate([away, away.any(axis=-1, keepdims=True)], axis=-1)
        counted = np.where(away, 0.0, total)
        by_day = counted.reshape(len(counted), -1, DAY, counted.shape[2]).max(axis=2)
        if not self._kept:
            self._largest, self._day = np.full(by_day[:, 0].shape, -1.0), np.zeros(by_day[:, 0].shape, dtype=np.int64)
            self._kept = [{} for _ in by_day]
        largest, day = by_day.max(axis=1), by_day.argmax(axis=1)
        better = largest > self._largest
        self._largest[better], self._day[better] = largest[better], self._days + day[better]
        for run in np.flatnonzero(better.any(axis=1)):
            for new in np.unique(day[run, better[run]]):
                self._kept[run][self._days + int(new)] = self._of(stretch, int(run), int(new))
            own = set(self._day[run].tolist())
            self._kept[run] = {number: kept for number, kept in self._kept[run].items() if number in own}
        self._days += by_day.shape[1]

    def _of(self, stretch: Stretch, run: int, day: int) -> Recorded:
        per_day = round(DAY * 3600.0 / stretch.weather.step)
        steps = slice(day * per_day, (day + 1) * per_day)
        regime = self.lines[0].heat_operators.regimes[stretch.number[steps.start]]
        return of_run(stretch, run, regime.from_modes @ stretch.heat.begun(steps.start)[run], steps)

    def found(self) -> dict[str, Array]:
        """`peak_day` (run, room) from 0 and `peak_day_causes` (run, room, hour, cause) [W]."""
        each = [(run, day, kept) for run, days in enumerate(self._kept) for day, kept in days.items()]
        rooms = len(self.cooled) + 1
        load = np.zeros((len(self._kept), rooms, DAY, len(CAUSES)))
        hourly = self._split([kept for _, _, kept in each], [run for run, _, _ in each])[:, :, self.cooled]
        hourly = np.concatenate([hourly, hourly.sum(axis=2, keepdims=True)], axis=2)
        for (run, day, _), split in zip(each, hourly, strict=True):
            own = self._day[run] == day
            load[run, own] = np.moveaxis(split, 0, 1)[own]
        return {"peak_day": self._day.astype(float), "peak_day_causes": load}

    def _split(self, days: list[Recorded], runs: list[int]) -> Array:
        """Hourly loads of days by cause, (day, hour, zone, cause). [W]"""
        from heatsim.solve.compiled import follow_compiled

        per_boat = len(self._kept) // len(self.lines)
        base = np.array([origin(self.lines[run // per_boat]) for run in runs])
        together = behind(np.stack([day.number for day in days]), days)
        load = split_by_cause(self.lines[0], together, base=base, follower=follow_compiled).load
        return np.asarray(load.reshape(len(days), DAY, -1, *load.shape[2:]).mean(axis=2))


class Months:
    """The loads of every run of a fleet by cause, summed by the month; each cause goes on from month to month.

    Parameters are those of `PeakDays`.
    """

    def __init__(self, lines: Sequence[Line], cooled: Sequence[int]) -> None:
        self.lines, self.cooled = lines, list(cooled)
        self._carried: list[Array | None] = []
        self._sums: list[Array] = []

    def look(self, stretch: Stretch, rooms: RoomHours) -> None:
        """A month of the fleet."""
        from heatsim.solve.compiled import follow_compiled

        runs = len(stretch.heat.heat)
        self._carried = self._carried or [np.zeros((len(CAUSES), 1, stretch.heat_first.shape[1]))] * runs
        per_boat, sums = runs // len(self.lines), []
        for run in range(runs):
            base = np.array([origin(self.lines[run // per_boat])])
            own = of_run(stretch, run, stretch.heat_first[run])
            split = split_by_cause(self.lines[0], own, self._carried[run], base, follow_compiled)
            self._carried[run] = split.end
            by_room = split.load[0][:, self.cooled].sum(axis=0) * stretch.weather.step / KWH
            sums.append(np.concatenate([by_room, by_room.sum(axis=0, keepdims=True)]))
        self._sums.append(np.stack(sums))

    def found(self) -> dict[str, Array]:
        """`monthly_causes` (run, room, month, cause): cooling less heating. [kWh]"""
        return {"monthly_causes": np.stack(self._sums, axis=2)}
