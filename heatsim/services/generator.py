"""The window a generator must lie in: least by running load and by start, most by the light load of the night.

Starts are judged by motor-starting apparent power: the starting kVA of a unit on top of what runs, by phase, must stay
within what the set gives at a stated voltage dip. The trade's rule, Btu/h over 6000, is printed beside.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from heatsim.equipment.plan import Plan
from heatsim.errors import Finding
from heatsim.scenario.electrics import HOUSEHOLD_FACTOR
from heatsim.services import sockets as at
from heatsim.services.draws import (
    COMMON,
    Draw,
    assumptions,
    draws,
    household,
    pumping,
    reactive_part,
    settled_runs,
)
from heatsim.services.schedule import ELECTRIC, Assumed, Cell, Column, Schedule, once

if TYPE_CHECKING:
    from heatsim.equipment.proof import Proof

Array = npt.NDArray[np.float64]

POWER_FACTOR = 0.8
"""[-] At which a set's kVA are rated over its kW (common practice, no source)."""
DERATING = 0.05
"""[-] Lost to a hot engine space where none is entered (assumed)."""
STARTING, DIP = 2.0, 0.30
"""[-] Motor-starting kVA over rated kVA, at a dip of 30 %, where the sheet is not entered (assumed)."""
RULE, RULE_WITH_OTHERS = 6000.0, 1.5
"""[Btu/h per kW], [-] The trade's rule, and its factor with other loads (common practice, no source)."""
BTU_PER_HOUR, TON = 0.29307107, 3516.853
"""[W] (NIST SP 811, appendix B.8)."""
LIGHT_NIGHT = (22, 7)
"""[h] Between which the light load is looked for where no silent night is entered (assumed)."""
CAUTION = (
    "A generator's exhaust kills: carbon monoxide gathers under awnings, in cockpits and in the boat beside. An alarm "
    "in every sleeping space; never run one from afar or unwatched while people sleep without."
)
STARTS = (
    ("in the best order", False, False),
    ("largest unit last", True, False),
    ("best order, soft starters", False, True),
    ("largest last, soft starters", True, True),
)


@dataclass(frozen=True)
class Window:
    """What a set must do, powers in W.

    `running` is its least rating by running load, `by_start` those by start (`STARTS`), `most` by the light load of the
    night; `rule` and `rule_with_others` what the trade's rule says.
    """

    running: float
    by_start: dict[str, float]
    most: float
    rule: float
    rule_with_others: float

    @property
    def least(self) -> float:
        """By running load and by start in the best order without soft starters. [W]"""
        return max(self.running, self.by_start[STARTS[0][0]])


def rule_of_thumb(cooling: float) -> tuple[float, float]:
    """The trade's rule for a cooling capacity in W: rating for air conditioning, and with other loads. [W]"""
    alone = cooling / BTU_PER_HOUR / RULE * 1e3
    return alone, RULE_WITH_OTHERS * alone


def highest_start(found: list[Draw], base: complex, worst: bool, soft: bool) -> float:
    """Highest apparent power of all starts: in the best order, or with each unit started last. [VA]"""
    order = at.start_order(found)
    if not worst:
        return max(at.peaks(order, base, soft), default=abs(base))
    whole = base + sum(complex(draw.active, draw.reactive) for draw in found)
    lasts = [abs(whole - complex(d.active, d.reactive) + complex(*d.starting) * at.start_share(d, soft)) for d in found]
    return max(lasts, default=abs(base))


def window(
    found: list[Draw], beside: float, night: float, cooling: float, *, derating: float = DERATING,
    starting: float = STARTING, least_share: float = 0.3,
) -> Window:  # fmt: skip
    """The window of a generator.

    Parameters
    ----------
    found : list of Draw
    beside, night : float
        Household at most, and the light load of a night, air conditioning included. [W]
    cooling : float
        Capacity aboard. [W]
    derating : float
        Lost to the site. [-]
    starting : float
        Motor-starting kVA over rated kVA. [-]
    least_share : float
        Of its rating that a set should carry. [-]
    """
    base = complex(beside, reactive_part(beside, HOUSEHOLD_FACTOR))
    running = (sum(draw.active for draw in found) + beside) / (1.0 - derating)
    by_start = {name: highest_start(found, base, worst, soft) / starting * POWER_FACTOR for name, worst, soft in STARTS}
    return Window(running, by_start, night / least_share, *rule_of_thumb(cooling))


def generator(plan: Plan, proof: Proof) -> Schedule:
    """The window, the set aboard in it, and the trade's rule with the reason for the gap."""
    found, given = list(draws(plan)), plan.resolved.power.generator
    assumed = list(assumptions(plan))
    beside = plan.resolved.power.other_load
    if beside is None:
        beside = float(household(plan.resolved).max())
        assumed.append(Assumed("household at most", f"{beside / 1e3:.1f} kW, lights and equipment of the rooms"))
    derating, starting, dip = _of_set(plan, assumed)
    share = 0.3 if given is None else given.least_share
    night = night_load(plan, proof)
    cooling = sum(draw.cooling for draw in found)
    w = window(found, beside, night, cooling, derating=derating, starting=starting, least_share=share)
    active = sum(draw.active for draw in found)
    rows: list[tuple[Cell, ...]] = [
        ("all units running", active, "at the sea and air of the plan, pumps and fans included"),
        ("household beside them", beside, "at its most"),
        ("least by running load", w.running, f"{100 * derating:.0f} % lost to the site"),
    ]
    for name, power in w.by_start.items():
        rows.append((f"least by start: {name}", power, f"{starting:.2g} × its kVA at a dip of {100 * dip:.0f} %"))
    rows += [
        ("light load of a night", night, "mean of the proof's night, household and pumps included"),
        ("most by light load", w.most, f"that load is {100 * share:.0f} % of it"),
        ("trade's rule", w.rule, "Btu/h over 6000, " + COMMON),
        ("trade's rule with other loads", w.rule_with_others, "1.5 times, " + COMMON),
    ]
    if given is not None:
        rows.append(("set aboard", given.power, "as entered"))
    notes = [
        reason(w, active, cooling, beside),
        "The light load is that of the lighter of the proved design nights: a mild night is lighter still, and the "
        "most then less.",
    ]
    assumed.append(Assumed("power factor of the set's rating and of the household",
                           f"{POWER_FACTOR:g} and {HOUSEHOLD_FACTOR:g}"))  # fmt: skip
    if w.least > w.most:
        soft = "soft starters on what is large, " if w.by_start[STARTS[0][0]] > w.running else ""
        notes.append(f"No set does both: {soft}two sets that share the load, or a bank by night.")
    columns = (Column("what"), Column("power", ELECTRIC), Column("by"))
    return Schedule(
        "generator", "Generator", columns, tuple(rows), tuple(notes), tuple(_findings(plan, w)), once(assumed),
        (CAUTION,),
    )  # fmt: skip


def reason(w: Window, active: float, cooling: float, beside: float) -> str:
    """Why the trade's rule and the window differ, in one sentence."""
    start = w.by_start[STARTS[0][0]]
    decides = "its running load" if w.running >= start else "the start of its largest unit"
    return (
        f"The trade's rule asks for {1e-3 * w.rule / (cooling / TON):.1f} kW a ton where these units take "
        f"{1e-3 * active / (cooling / TON):.1f} kW running; the rest is meant for starts. Here {decides} decides, and "
        f"{beside / 1e3:.1f} kW of household stand by themselves: least {w.least / 1e3:.1f} kW against the rule's "
        f"{w.rule / 1e3:.1f} and, with other loads, {w.rule_with_others / 1e3:.1f} kW."
    )


def night_load(plan: Plan, proof: Proof) -> float:
    """Lightest mean load of the proof's nights, pumps and household included. [W]"""
    given, data = plan.resolved.power, proof.data
    begins, ends = LIGHT_NIGHT if given.battery is None else (given.battery.night_begins, given.battery.night_ends)
    step = float(data.attrs["step"])
    minute = (np.arange(data.sizes["time"]) * step / 60.0).astype(int)
    by_minute = household(plan.resolved) if given.night_load is None else np.full(1440, given.night_load)
    means = []
    for run in settled_runs(plan, proof):
        clock = (minute + int(data["start_minute"].values[run])) % 1440
        dark = in_night(clock / 60.0, begins, ends)
        power = data["power"].values[run] + pumping(plan, proof, run) + by_minute[clock]
        means.append(float(power[dark].mean()))
    return min(means, default=0.0)


def in_night(hour: Array, begins: int, ends: int) -> npt.NDArray[np.bool_]:
    """Whether hours of the clock lie between two of them, over midnight where that is how they stand."""
    return (hour >= begins) & (hour < ends) if begins < ends else (hour >= begins) | (hour < ends)


def _of_set(plan: Plan, assumed: list[Assumed]) -> tuple[float, float, float]:
    """Derating, motor-starting kVA over rated kVA and its dip, of the set's sheet or assumed."""
    given = plan.resolved.power.generator
    derating = None if given is None else given.derating
    if derating is None:
        derating = DERATING
        assumed.append(Assumed("rating lost to the site", f"{100 * DERATING:.0f} %"))
    dip = DIP if given is None or given.dip is None else given.dip
    if given is None or given.starting is None:
        assumed.append(
            Assumed("motor-starting kVA of the set", f"{STARTING:g} × its kVA at a dip of {100 * dip:.0f} %")
        )
        return derating, STARTING, dip
    return derating, given.starting / (given.power / POWER_FACTOR), dip


def _findings(plan: Plan, w: Window) -> list[Finding]:
    given, found = plan.resolved.power.generator, []
    path = "supply.generator"
    if w.least > w.most:
        found.append(
            Finding(
                "generator-window", path, "the least set that starts and carries everything is under-loaded by night",
                f"least {w.least / 1e3:.1f} kW", f"most {w.most / 1e3:.1f} kW", COMMON,
            )
        )  # fmt: skip
    if given is None:
        return found
    if given.power < w.least:
        what = "cannot start its units in the best order without soft starters"
        if given.power < w.running:  # no starter helps there
            what = "cannot carry all units and the household at its most: something must wait"
        found.append(
            Finding(
                "generator-small", path, f"the set {what}", f"{given.power / 1e3:.1f} kW", f"{w.least / 1e3:.1f} kW"
            )
        )
    if given.power > w.most:
        found.append(
            Finding(
                "generator-large", path, "the night's load is too light for the set: it carbons up",
                f"{given.power / 1e3:.1f} kW", f"{w.most / 1e3:.1f} kW", COMMON + ": 30–40 % of its rating",
            )
        )  # fmt: skip
    return found
