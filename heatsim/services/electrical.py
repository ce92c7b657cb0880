"""The electrical list: what units draw, how many run at once, what a shore socket carries, in which order they start.

Sockets at 80 % of their rating (common practice, no source) in every leg or phase at the lowest voltage of the dock;
what runs together is taken from the proof, minute by minute.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from heatsim.equipment.plan import Plan
from heatsim.equipment.selection import SAME_FREQUENCY
from heatsim.errors import Finding
from heatsim.scenario.electrics import HOUSEHOLD_FACTOR, LOWEST, Socket, carries, limit_of, lowest_of
from heatsim.services import sockets as at
from heatsim.services.draws import (
    COMMON,
    HANDLERS,
    Draw,
    assumptions,
    by_quarters,
    draws,
    household,
    pumping,
    reactive_part,
    settled_runs,
)
from heatsim.services.schedule import (
    APPARENT,
    CURRENT,
    ELECTRIC,
    ENERGY,
    POWER,
    SHARE,
    VOLTAGE,
    Assumed,
    Cell,
    Column,
    Schedule,
    once,
)

if TYPE_CHECKING:
    from heatsim.equipment.proof import Proof

SHORE_CAUTION = (
    "Shore power kills: earth, polarity, residual-current protection and breakers are a qualified electrician's work "
    "by local rules; never work on live circuits. Plugs that run warm are overloaded or loose, and burn."
)
START_CAUTION = (
    "A unit that cannot start draws its starting current until its protection opens: let units start one after the "
    "other, and none again within three minutes."
)
SHOWN = 3
"""Sets of units named for each socket."""


def loads(plan: Plan) -> Schedule:
    """Running and starting current of every unit, its pump and fan included, and their sum by phase."""
    found = draws(plan)
    rows: list[tuple[Cell, ...]] = []
    for draw in found:
        soft = draw.start * at.start_share(draw, True)
        rows.append((
            draw.tag, draw.name, " + ".join(draw.zones), draw.voltage, draw.phases, draw.active, draw.factor,
            draw.current, draw.start, soft if draw.soft else None, draw.pump,
        ))  # fmt: skip
    active, reactive = sum(d.active for d in found), sum(d.reactive for d in found)
    apparent = float(np.hypot(active, reactive))
    rows.append((
        "", "all running", "", None, None, active, active / max(apparent, 1e-9), None, None, None,
        sum(draw.pump for draw in found),
    ))  # fmt: skip
    notes = [
        f"All running take {apparent / 1e3:.1f} kVA; currents are those at the unit's rated voltage, in the air and at "
        "the sea of the plan, and rise as the voltage falls.",
        "Start: current of the compressor while its rotor stands; soft: with a soft starter, where one would help.",
    ]
    columns = (
        Column("tag"), Column("unit"), Column("serves"), Column("rated voltage", VOLTAGE), Column("phases"),
        Column("running", ELECTRIC), Column("power factor", SHARE), Column("running current", CURRENT),
        Column("start current", CURRENT), Column("soft start current", CURRENT), Column("of it pumps", ELECTRIC),
    )  # fmt: skip
    return Schedule(
        "electrical", "Electrical loads", columns, tuple(rows), tuple(notes), (), assumptions(plan), (SHORE_CAUTION,)
    )


def together(plan: Plan, proof: Proof) -> Schedule:
    """How much of it runs at once on each day of the proof, and what the day takes."""
    connected = sum(draw.active for draw in draws(plan))
    data, own = proof.data, plan.resolved.power.shore
    rows: list[tuple[Cell, ...]] = []
    findings: list[Finding] = []
    step = float(data.attrs["step"])
    for run in settled_runs(plan, proof):
        power = data["power"].values[run] + pumping(plan, proof, run)
        units = data["stage"].values[np.flatnonzero(data["unit_run"].values == run)] > 0.0
        most, minute = float(power.max()), int(power.argmax() * step / 60.0 + float(data["start_minute"].values[run]))
        whole = np.abs(by_quarters(plan, proof, run))
        day, largest, quarter = str(data["day"].values[run]), float(whole.max()), clock(int(whole.argmax()) / 4.0)
        rows.append((
            day, connected, most, most / connected, clock(minute / 60.0), int(units.sum(axis=0).max()), len(units),
            float(power.mean()), float(power.sum() * step), largest, quarter,
            None if own is None else largest / carries(own),
        ))  # fmt: skip
        if own is not None and largest > carries(own):
            hours = float((whole > carries(own)).sum()) / 4.0
            findings.append(Finding(
                "shore-small", f"supply.shore: {day} day", f"for {hours:g} h, most at {quarter}, units and household "
                "together ask for more than the socket carries without end: choose what waits",
                f"{largest / 1e3:.2f} kVA", f"{carries(own) / 1e3:.2f} kVA", "80 % of the rating: " + COMMON,
            ))  # fmt: skip
    columns = (
        Column("day"), Column("connected", ELECTRIC), Column("largest at once", ELECTRIC), Column("coincidence", SHARE),
        Column("at"), Column("units at once"), Column("of units"), Column("mean", ELECTRIC),
        Column("of the day", ENERGY), Column("with household", APPARENT), Column("from"),
        Column("of the shore socket", SHARE),
    )  # fmt: skip
    notes = (
        "From the minute-by-minute proof, each pump running while its unit does. Thermostats drift into step after "
        "a power cut: then everything starts at once unless something delays it.",
        "With household: the largest quarter of an hour of the day. Of the shore socket: of 80 % of its rating at the "
        "dock's lowest voltage, legs evenly loaded.",
    )
    assumed = list(assumptions(plan)[:1])
    if plan.resolved.power.other_load is None:
        assumed.append(Assumed("household beside the units", "lights and equipment of rooms by their routines"))
    return Schedule("coincidence", "What runs together", columns, tuple(rows), notes, tuple(findings), once(assumed))


def shore(plan: Plan) -> Schedule:
    """Which sets of units run on the boat's own socket, on others she meets, and on the usual ones."""
    every = draws(plan)
    beside, assumed = beside_units(plan)
    own = plan.resolved.power.shore
    known = [*([own] if own is not None else []), *plan.resolved.power.others]
    names = {socket.name for socket in known}
    every_socket = [*known, *(socket for socket in at.STANDARD if socket.name not in names)]
    rows, findings = [], []
    for socket in every_socket:
        row, found = _on(socket, every, beside, socket in known, socket is own)
        rows.append(row)
        findings += found
        if socket.lowest is None:
            assumed.append(Assumed("lowest voltage at the dock", f"{100 * LOWEST:.0f} % of the socket's", "assumed"))
    columns = (
        Column("socket"), Column("at the dock", VOLTAGE), Column("a leg carries", CURRENT), Column("whole plant"),
        Column("set that cools most"), Column("cooling", POWER), Column("of the plant", SHARE),
        Column("largest leg", CURRENT), Column("legs [A]"), Column("neutral", CURRENT), Column("start", CURRENT),
        Column("other sets"), Column("remark"),
    )  # fmt: skip
    notes = (
        f"A set is one to which no further unit can be added; among more than {at.MOST_TRIED} units only the best is "
        "looked for. Continuous current at most 80 % of the rating in every leg or phase at the dock's lowest voltage; "
        "legs add by phase, the search by magnitude. Chillers count with their air handlers only.",
        "Start: the largest current of a leg while the set is started in the best order of the starting list.",
    )
    return Schedule(
        "shore", "What a shore socket carries", columns, tuple(rows), notes, tuple(findings), once(assumed),
        (SHORE_CAUTION,),
    )  # fmt: skip


def starting(plan: Plan) -> Schedule:
    """Units in the order in which the highest starting peak is least, with soft starters and without."""
    found = at.start_order(draws(plan))
    power, assumed = beside_units(plan)
    base = complex(power, reactive_part(power, HOUSEHOLD_FACTOR))
    plain, soft = at.peaks(found, base), at.peaks(found, base, soft=True)
    whole = base + sum(complex(draw.active, draw.reactive) for draw in found)
    rows: list[tuple[Cell, ...]] = []
    running = base
    for number, (draw, first, second) in enumerate(zip(found, plain, soft, strict=True), start=1):
        last = abs(whole - complex(draw.active, draw.reactive) + complex(*draw.starting))
        rows.append((number, draw.tag, draw.name, " + ".join(draw.zones), abs(running), first, second, last))
        running += complex(draw.active, draw.reactive)
    columns = (
        Column("order"), Column("tag"), Column("unit"), Column("serves"), Column("runs before", APPARENT),
        Column("at its start", APPARENT), Column("with soft starters", APPARENT), Column("started last", APPARENT),
    )  # fmt: skip
    findings, notes = [], [
        "Largest step first: of all orders this one has the least highest peak. Started last: with everything else "
        "running, the worst order for that unit.",
    ]  # fmt: skip
    transformer = plan.resolved.power.transformer
    if transformer is not None:
        found_inrush, source, finding = inrush(plan.resolved.power.shore, *transformer)
        notes.append(
            f"Apart from all starts: switching the {transformer[0] / 1e3:g} kVA transformer on takes a peak of about "
            f"{found_inrush:.0f} A for a few cycles, more or less by the moment of switching; it is no start of a unit."
        )
        if source is not None:
            assumed.append(source)
        findings += finding
    else:
        notes.append("No transformer is entered; one of 3 kVA and more can trip a dock's breaker by its inrush alone.")
    return Schedule(
        "starting", "Starting order", columns, tuple(rows), tuple(notes), tuple(findings),
        once([*assumptions(plan), *assumed]), (START_CAUTION,),
    )  # fmt: skip


INRUSH = 10.0
"""[-] Peak of a transformer's inrush over its rated current (common practice, no source: 8–15)."""


def inrush(socket: Socket | None, power: float, given: float | None) -> tuple[float, Assumed | None, list[Finding]]:
    """Peak of a transformer's inrush on a socket [A], what was assumed, and whether the dock's breaker may open."""
    volts = 230.0 if socket is None else socket.voltage * (sqrt(3.0) if socket.phases == 3 else 1.0)
    peak = given if given is not None else INRUSH * sqrt(2.0) * power / volts
    assumed = None if given is not None else Assumed("inrush of the transformer", f"{INRUSH:g} × rated", COMMON)
    found = []
    if socket is not None and peak > at.TRIPS * sqrt(2.0) * socket.current:
        found.append(
            Finding(
                "inrush-trips", "supply.transformer",
                "switching the transformer on may open the dock's breaker although nothing runs: fit an inrush limiter",
                f"{peak:.0f} A", f"{at.TRIPS * sqrt(2.0) * socket.current:.0f} A",
                "IEC 60898-1 type C, from memory",
            )
        )  # fmt: skip
    return peak, assumed, found


def beside_units(plan: Plan) -> tuple[float, list[Assumed]]:
    """What else draws on a socket for hours: as entered, else the mean of lights and equipment of the rooms. [W]"""
    given = plan.resolved.power.other_load
    if given is not None:
        return given, []
    mean = float(household(plan.resolved).mean())
    return mean, [Assumed("household beside the units", f"{mean / 1e3:.2f} kW, mean of lights and equipment of rooms")]


def clock(hour: float) -> str:
    """An hour of the clock as HH:MM."""
    minutes = round(hour * 60.0) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _on(
    socket: Socket, every: Sequence[Draw], beside: float, known: bool, own: bool
) -> tuple[tuple[Cell, ...], list[Finding]]:
    """A row of the socket schedule, and findings where it is the boat's own or one that she meets."""
    few = len(every) <= at.MOST_TRIED
    sets = [one for one in at.sets(every, socket, beside) if cools([every[i] for i in one], every)] if few else []
    placed = (
        at.best_set(every, socket, beside) if not few else at.place(every, sets[0], socket, beside) if sets else None
    )
    if placed is not None and not cools([every[i] for i in placed.loads], every):
        placed = None
    whole = sum(draw.cooling for draw in every)
    remark = _remark(socket, every)
    path = "supply.shore" if own else f"supply.other_sockets: {socket.name}"
    limit = limit_of(socket)
    if placed is None:
        row: tuple[Cell, ...] = (
            socket.name, lowest_of(socket), limit, "no", "none", 0.0, 0.0, None, "", None, None, "", remark,
        )  # fmt: skip
        return row, _small(path, "nothing that cools runs on it", 0.0) if known else []
    loads = placed.loads
    cooling = sum(every[i].cooling for i in loads)
    complete = len(loads) == len(every)
    start = _start_current([every[i] for i in loads], placed, loads, socket)
    others = [f"{_tags(every, one)} ({sum(every[i].cooling for i in one) / whole:.0%})" for one in sets[1:SHOWN]]
    more = f", {len(sets) - SHOWN} more" if len(sets) > SHOWN else ""
    row = (
        socket.name, lowest_of(socket), limit, "yes" if complete else "no",
        "all" if complete and not few else _tags(every, loads), cooling, cooling / max(whole, 1e-9), placed.largest,
        " / ".join(f"{abs(leg):.1f}" for leg in placed.legs), abs(placed.neutral) if len(placed.legs) > 1 else None,
        start, ", ".join(others) + more, remark,
    )  # fmt: skip
    findings = []
    if known and not complete:
        findings += _small(path, f"it runs {_tags(every, loads)} together, not the whole plant", cooling / whole)
    if known and start > at.TRIPS * socket.current * socket.count:
        findings.append(
            Finding(
                "start-trips", path, "a start may open the dock's breaker: soft starters, or smaller units",
                f"{start:.0f} A", f"{at.TRIPS * socket.current * socket.count:.0f} A",
                "IEC 60898-1 type C, from memory",
            )
        )  # fmt: skip
    if known and remark:
        findings.append(Finding("socket-mismatch", path, remark, socket.name))
    return row, findings


def cools(found: Sequence[Draw], every: Sequence[Draw]) -> bool:
    """Whether loads that run together cool anything: a plant's chillers do with their air handlers, not without."""
    handled = any(draw.name == HANDLERS for draw in found) or not any(draw.name == HANDLERS for draw in every)
    return handled and any(draw.cooling > 0.0 for draw in found)


def _small(path: str, message: str, share: float) -> list[Finding]:
    return [
        Finding(
            "shore-small", path, message + ": choose before the breaker does", f"{share:.0%} of the cooling", "100 %",
            "80 % of the rating for hours: " + COMMON,
        )
    ]  # fmt: skip


def _start_current(found: Sequence[Draw], placed: at.Placed, loads: Sequence[int], socket: Socket) -> float:
    """Largest current of a leg while a set starts in its best order. [A]"""
    legs_of = dict(zip(loads, placed.leg, strict=True))
    by_draw = {draw.tag: legs_of[i] for i, draw in zip(loads, found, strict=True)}
    carried = [placed.legs[k] for k in range(len(placed.legs))]
    for draw in found:
        carried = _added(carried, draw, by_draw[draw.tag], socket, -1.0)
    worst = max(abs(leg) for leg in carried)
    for draw in at.start_order(found):
        then = _added(carried, draw, by_draw[draw.tag], socket, 1.0, starts=True)
        worst = max(worst, *(abs(leg) for leg in then))
        carried = _added(carried, draw, by_draw[draw.tag], socket, 1.0)
    return worst


def _added(
    legs: Sequence[complex], draw: Draw, leg: int | None, socket: Socket, sign: float, starts: bool = False
) -> list[complex]:
    """Legs with a load added or taken off; while it starts, a motor draws by its impedance, less on a low voltage."""
    view = at.seen(draw, socket)
    running = view.current * complex(draw.active, -draw.reactive) / max(draw.apparent, 1e-9)
    share = lowest_of(socket) / socket.voltage
    if starts:
        active, reactive = draw.starting
        running = view.current * complex(active, -reactive) / max(draw.apparent, 1e-9) * share**2
    return [one + sign * running if leg is None or k == leg else one for k, one in enumerate(legs)]


def _tags(every: Sequence[Draw], loads: Sequence[int]) -> str:
    return "+".join(every[i].tag for i in loads)


def _remark(socket: Socket, every: Sequence[Draw]) -> str:
    """What does not fit between units and a socket."""
    views = [at.seen(draw, socket) for draw in every]
    said = []
    if any(abs(draw.frequency - socket.frequency) > SAME_FREQUENCY for draw in every):
        said.append(f"units for {every[0].frequency:.0f} Hz on {socket.frequency:.0f} Hz: ask their maker")
    if any(view.transformer and view.possible for view in views):
        stepped = [d.tag for d, v in zip(every, views, strict=True) if v.transformer and v.possible]
        said.append(f"{'all' if len(stepped) == len(every) else '+'.join(stepped)} through a transformer")
    if any(not view.possible for view in views):
        tags = "+".join(d.tag for d, v in zip(every, views, strict=True) if not v.possible)
        said.append(f"three phases for {tags}")
    return "; ".join(said)
