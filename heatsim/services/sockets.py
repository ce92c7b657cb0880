"""Which sets of units run together on a shore socket: at most 80 % of its rating in every leg, at the dock's voltage.

The search is exact: every set is tried. It adds magnitudes, which is never less than the sum by phase that is then
reported. A load of another voltage goes through a transformer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from heatsim.scenario.electrics import HOUSEHOLD_FACTOR, Socket, legs_of, limit_of, lowest_of
from heatsim.services.draws import SOFT, Draw, reactive_part

MATCHES = 0.15
"""[-] By which a unit's rated voltage may differ from the socket's."""
MOST_TRIED = 12
"""Loads of which every set is tried; of more, only the set that cools most is looked for."""
LONGEST, NEAR = 2.0, 1e-3
"""[s], [-] After which, and within which, the search among more loads is good enough."""
TRIPS = 5.0
"""[-] Times a breaker's rating that it lets through for an instant: type C of IEC 60898-1, 5 to 10 (from memory)."""
STANDARD = (
    Socket("230 V 16 A", 230.0, 16.0),
    Socket("230 V 32 A", 230.0, 32.0),
    Socket("230 V 63 A", 230.0, 63.0),
    Socket("120 V 30 A", 120.0, 30.0, frequency=60.0),
    Socket("120/240 V 50 A", 240.0, 50.0, legs=2, frequency=60.0),
    Socket("120/240 V 100 A", 240.0, 100.0, legs=2, frequency=60.0),
    Socket("400 V 32 A three-phase", 400.0, 32.0, 3),
    Socket("400 V 63 A three-phase", 400.0, 63.0, 3),
    Socket("400 V 125 A three-phase", 400.0, 125.0, 3),
)
"""Sockets that harbours have."""


@dataclass(frozen=True)
class Seen:
    """A load at a socket: current of each leg it lies on [A], whether it lies on all of them, or needs a transformer.

    `possible` False for a three-phase load on a socket of one phase.
    """

    current: float
    whole: bool
    transformer: bool
    possible: bool


@dataclass(frozen=True)
class Placed:
    """Loads that run together: which of them, their leg (None for all legs), and what each leg then carries [A].

    `legs` are complex currents against each leg's own voltage; `neutral` is their sum as it flows back.
    """

    loads: tuple[int, ...]
    leg: tuple[int | None, ...]
    legs: tuple[complex, ...]

    @property
    def neutral(self) -> complex:
        """Current of the middle conductor: phases a third of a turn apart, legs half a turn; of one leg, its own."""
        turns = np.exp(-2j * np.pi * np.arange(len(self.legs)) / len(self.legs))
        return complex(np.sum(np.array(self.legs) * turns))

    @property
    def largest(self) -> float:
        """Of the leg that carries most. [A]"""
        return max((abs(current) for current in self.legs), default=0.0)


def seen(draw: Draw, socket: Socket) -> Seen:
    """How a load lies on a socket and what it takes there at the dock's lowest voltage."""
    share = lowest_of(socket) / socket.voltage
    single = {1: socket.voltage, 2: socket.voltage / 2.0, 3: socket.voltage / sqrt(3.0)}[legs_of(socket)] * share
    if draw.phases == 3:
        fits = abs(draw.voltage / socket.voltage - 1.0) <= MATCHES
        return Seen(draw.apparent / (sqrt(3.0) * socket.voltage * share), True, not fits, socket.phases == 3)
    if legs_of(socket) == 2 and abs(draw.voltage / socket.voltage - 1.0) <= MATCHES:
        return Seen(draw.apparent / (socket.voltage * share), True, False, True)
    fits = abs(draw.voltage / (single / share) - 1.0) <= MATCHES
    if not fits and legs_of(socket) == 2:
        return Seen(draw.apparent / (socket.voltage * share), True, True, True)
    return Seen(draw.apparent / single, False, not fits, True)


def household_current(power: float, socket: Socket) -> complex:
    """Lights and household spread evenly over all legs, at the dock's lowest voltage. [A]"""
    volts = lowest_of(socket) * {1: 1.0, 2: 1.0, 3: sqrt(3.0)}[legs_of(socket)]
    return complex(power, -reactive_part(power, HOUSEHOLD_FACTOR)) / volts


def sets(draws: Sequence[Draw], socket: Socket, household: float = 0.0) -> list[tuple[int, ...]]:
    """Sets of loads, by their numbers, to which none can be added, those that cool most first.

    Parameters
    ----------
    draws : sequence of Draw
        At most `MOST_TRIED`.
    socket : Socket
    household : float
        What else runs there. [W]
    """
    views = [seen(draw, socket) for draw in draws]
    beside = household_current(household, socket)
    room = limit_of(socket) - abs(beside)
    legs, possible = legs_of(socket), [i for i, view in enumerate(views) if view.possible]
    able = _able([views[i] for i in possible], legs, room)
    members = [frozenset(possible[k] for k in range(len(possible)) if mask >> k & 1) for mask in able if mask]
    maximal = [one for one in members if not any(one < other for other in members)]
    maximal.sort(key=lambda one: (-sum(draws[i].cooling for i in one), sorted(one)))
    return [tuple(sorted(one)) for one in maximal]


def place(draws: Sequence[Draw], loads: Sequence[int], socket: Socket, household: float = 0.0) -> Placed:
    """Put loads on legs so that the fullest carries least; every way is tried, which is meant for a dozen loads.

    Their currents are those at the dock's lowest voltage, with their phase.
    """
    beside = household_current(household, socket)
    legs = [beside] * legs_of(socket)
    views = {i: seen(draws[i], socket) for i in loads}
    phasor = {i: views[i].current * _turned(draws[i]) for i in loads}
    for i in loads:
        if views[i].whole:
            legs = [leg + phasor[i] for leg in legs]
    movable = sorted((i for i in loads if not views[i].whole), key=lambda i: -views[i].current)
    where = _balanced([phasor[i] for i in movable], legs)
    for i, leg in zip(movable, where, strict=True):
        legs[leg] += phasor[i]
    on = dict(zip(movable, where, strict=True))
    return Placed(tuple(loads), tuple(on.get(i) for i in loads), tuple(legs))


def best_set(draws: Sequence[Draw], socket: Socket, household: float = 0.0) -> Placed | None:
    """The set of many loads that cools most, laid on legs by mixed-integer programming; None where none runs.

    By magnitudes as `sets`, whatever the number of loads; solver: HiGHS by scipy.optimize.milp.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    views = [seen(draw, socket) for draw in draws]
    beside = household_current(household, socket)
    room, legs = limit_of(socket) - abs(beside), legs_of(socket)
    cells = [(i, k) for i, v in enumerate(views) if v.possible for k in ([-1] if v.whole else range(legs))]
    if not cells or room <= 0.0:
        return None
    worth = np.array([-(draws[i].cooling + 1.0) for i, _ in cells])  # a watt each: what cools nothing runs where it can
    on_leg = [[views[i].current * (k in (-1, leg)) for i, k in cells] for leg in range(legs)]
    once = [[float(j == i) for j, _ in cells] for i in range(len(draws))]
    found = milp(
        worth, integrality=np.ones(len(cells)), bounds=Bounds(0, 1),
        constraints=[LinearConstraint(np.array(on_leg), ub=room), LinearConstraint(np.array(once), ub=1.0)],
        options={"time_limit": LONGEST, "mip_rel_gap": NEAR},
    )  # fmt: skip
    if found.x is None or found.x.max() < 0.5:
        return None
    on = {i: k for (i, k), taken in zip(cells, found.x, strict=True) if taken > 0.5}
    carried = [beside] * legs
    for i, leg in on.items():
        for k in range(legs) if leg < 0 else (leg,):
            carried[k] += views[i].current * _turned(draws[i])
    loads = tuple(sorted(on))
    return Placed(loads, tuple(None if on[i] < 0 else on[i] for i in loads), tuple(carried))


def start_order(draws: Sequence[Draw]) -> list[Draw]:
    """The order in which the highest of all starting peaks is least: by how far a start is above its own running.

    Of two neighbours in any order, the one with the larger step first never gives the higher peak (by magnitudes).
    """
    return sorted(draws, key=lambda draw: -draw.step)


def peaks(order: Sequence[Draw], running: complex = 0j, soft: bool = False) -> list[float]:
    """Apparent power at each start of an order, on top of what runs already and of `running`. [VA]"""
    found = []
    for draw in order:
        starting = complex(*draw.starting) * start_share(draw, soft)
        found.append(abs(running + starting))
        running += complex(draw.active, draw.reactive)
    return found


def start_share(draw: Draw, soft: bool) -> float:
    """Of its starting current that is left, with a soft starter or without; never below its running current."""
    if not (soft and draw.soft):
        return 1.0
    return max(SOFT, draw.apparent / max(hypot(*draw.starting), 1e-9))


def _turned(draw: Draw) -> complex:
    """Direction of a load's current against its voltage."""
    return complex(draw.active, -draw.reactive) / max(draw.apparent, 1e-9)


def _able(views: Sequence[Seen], legs: int, room: float) -> list[int]:
    """Every set of loads, as bits, whose magnitudes fit on the legs.

    Of a set, the least number of legs it fills and the least it then puts on the last one decide (a load goes onto the
    last leg or opens the next), which is exact for legs of one size.
    """
    count = len(views)
    whole = [1 << k for k in range(count) if views[k].whole]
    single = [k for k in range(count) if not views[k].whole]
    found = []
    for pick in range(1 << len(whole)):
        common = sum(bit for j, bit in enumerate(whole) if pick >> j & 1)
        left = room - sum(views[k].current for k in range(count) if common >> k & 1)
        if left < 0.0:
            continue
        best: dict[int, tuple[int, float]] = {0: (1, 0.0)}
        for mask in range(1 << len(single)):
            if mask not in best:
                continue
            used, last = best[mask]
            found.append(common | sum(1 << single[j] for j in range(len(single)) if mask >> j & 1))
            for j, k in enumerate(single):
                if mask >> j & 1 or views[k].current > left:
                    continue
                current = views[k].current
                then = (used, last + current) if last + current <= left else (used + 1, current)
                if then[0] <= legs:
                    other = mask | 1 << j
                    best[other] = min(best.get(other, then), then)
    return found


def _balanced(phasors: Sequence[complex], legs: Sequence[complex]) -> list[int]:
    """A leg for each current so that the leg that carries most carries least, of all ways to lay them.

    Legs carry the same before, so that the first current may stay on the first.
    """
    if not phasors:
        return []
    rest = np.array(phasors[1:], dtype=complex)
    digits = np.arange(len(legs) ** len(rest))[:, None] // len(legs) ** np.arange(len(rest)) % len(legs)
    sums = [leg + (digits == k) @ rest + (phasors[0] if k == 0 else 0.0) for k, leg in enumerate(legs)]
    return [0, *(int(leg) for leg in digits[np.argmin(np.max(np.abs(sums), axis=0))])]
