"""The battery night: how long a bank carries the air conditioning, and what it then still holds.

Peukert's law, with the hours at which a capacity is rated: t = H (C/(I H))^n. Without H it is a known misuse and is
refused. A current below the rated one gives no more than the rated capacity (on the safe side). Through a night of
changing current each minute takes charge by its own rate, I (I/I_H)^(n-1), which leaves out that a rested lead bank
gives some of it back. The nominal voltage stands for that under load.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf, log

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario.electrics import Storage
from heatsim.services.schedule import Assumed

Array = npt.NDArray[np.float64]

COMMON = "common practice, no source"
PEUKERT = {"lead": 1.25, "lithium": 1.03}
"""[-] Exponent where none is given (common practice, no source: 1.1–1.4 and 1.02–1.05)."""
DEPTH = {"lead": 0.5, "lithium": 0.8}
"""[-] Deepest discharge that spares a bank (common practice, no source)."""
COLD = {"lead": 0.008, "lithium": 0.003}
"""[1/K] Of its capacity that a bank lacks for each kelvin below 25 °C (common practice, no source: lead 0.6–1 %)."""
RATED_AT = 25.0
"""[°C] (common practice, no source)."""
HOURS = {"lead": 20.0, "lithium": 5.0}
"""[h] Of the rating where a lithium bank gives none (common practice, no source)."""
VOLTAGE = 24.0
"""[V] Where none is given (assumed)."""
EFFICIENCY, IDLE = 0.90, 0.01
"""[-] Of an inverter at work, and of its rating what it takes while it is on (common practice, no source)."""
CHARGING = {"lead": 0.85, "lithium": 0.97}
"""[-] Of the charge put in that is stored (common practice, no source)."""
CHARGE_RATE = {"lead": 0.1, "lithium": 0.2}
"""[1/h] Of the capacity that chargers give where none are entered (assumed)."""
ACCEPTS = 0.8
"""[-] State of charge from which a lead bank takes less and less (common practice, no source)."""
FULL = {"lead": 0.98, "lithium": 1.0}
"""[-] State of charge that counts as full after a recharge (assumed)."""
HOUR = 3600.0


@dataclass(frozen=True)
class Bank:
    """A bank: amperes-hours at the rate of `hours`, exponent, volts; what may be taken out as share of its capacity.

    `warmth` is its capacity at its temperature over the rated one.
    """

    capacity: float
    hours: float
    exponent: float
    voltage: float
    usable: float = 1.0
    kind: str = "lead"
    warmth: float = 1.0

    @property
    def rated_current(self) -> float:
        """Current that empties it in its rated hours. [A]"""
        return self.capacity / self.hours

    @property
    def energy(self) -> float:
        """When full, at its rated current and temperature. [J]"""
        return self.capacity * HOUR * self.voltage

    def toll(self, current: Array) -> Array:
        """Charge that leaves it over the charge that is delivered, at least 1, by current. [-]"""
        return np.asarray(np.maximum(current / self.rated_current, 1.0) ** (self.exponent - 1.0) / self.warmth)

    def lasts(self, current: float, share: float = 1.0) -> float:
        """Hours at a steady current until a share of it is used. [h]"""
        if current <= 0.0:
            return inf
        return share * self.capacity / (current * float(self.toll(np.asarray(current))))

    def delivers(self, current: float) -> float:
        """Share of the rated capacity that comes out at a steady current, to a flat bank. [-]"""
        return 1.0 / float(self.toll(np.asarray(current)))


@dataclass(frozen=True)
class Inverter:
    """Rating [W], efficiency at work, and what it takes while it is on [W]."""

    rating: float
    efficiency: float = EFFICIENCY
    idle: float = 0.0


@dataclass(frozen=True)
class Night:
    """A silent night in steps of `step` seconds from `begins` on.

    `load`, `drawn` (time,) W on the alternating and on the bank's side; `charge` (time + 1,) share of the capacity
    left; `stopped` hours after the beginning at which the usable part was used up, None where it lasts. Energies in J:
    `stored_drop` = `delivered` + `bank_loss`, and `delivered` + `solar_used` = `served` + `inverter_loss` + `idle`.
    """

    begins: float
    step: float
    load: Array
    drawn: Array
    charge: Array
    stopped: float | None
    served: float
    inverter_loss: float
    idle: float
    solar_used: float
    solar_spilled: float
    delivered: float
    bank_loss: float
    stored_drop: float

    @property
    def hours(self) -> float:
        """Length of the night. [h]"""
        return len(self.load) * self.step / HOUR


def peukert_hours(capacity: float, current: float, exponent: float, hours: float | None) -> float:
    """Hours at a steady current, to a flat bank. [h]

    Parameters
    ----------
    capacity : float
        [A h] at the rate of `hours`.
    current : float
        [A]
    exponent : float
        [-]
    hours : float or None
        Over which the capacity is rated. [h]

    Raises
    ------
    HeatsimError
        Without `hours`: t = C/Iⁿ is short by a factor of two and more.
    """
    if hours is None:
        raise HeatsimError(
            Fault(
                "a bank's capacity is the one of a rate: Peukert's law without its hours gives a wrong time",
                path="supply.battery.hours", value=f"{capacity:g} Ah", remedy="Add hours: 20, as on the data sheet",
            )
        )  # fmt: skip
    return float(hours * (capacity / (current * hours)) ** exponent)


def peukert_exponent(currents: tuple[float, float], hours: tuple[float, float]) -> float:
    """Exponent by two tests of one bank: log(t₂/t₁) / log(I₁/I₂). [-]"""
    return log(hours[1] / hours[0]) / log(currents[0] / currents[1])


def bank_of(given: Storage) -> tuple[Bank, tuple[Assumed, ...]]:
    """The bank of a file, and what was taken where it says nothing."""
    kind, assumed = given.kind, []

    def taken(value: float | None, usual: float, what: str, shown: str, source: str = COMMON) -> float:
        if value is None:
            assumed.append(Assumed(what, shown, source))
        return usual if value is None else value

    voltage = taken(given.voltage, VOLTAGE, "voltage of the bank", f"{VOLTAGE:g} V", "assumed")
    hours = taken(given.hours, HOURS[kind], "hours of the bank's rating", f"{HOURS[kind]:g} h", "assumed")
    exponent = taken(given.peukert, PEUKERT[kind], f"Peukert's exponent, {kind}", f"{PEUKERT[kind]:g}")
    depth = taken(given.depth, DEPTH[kind], f"depth that spares a {kind} bank", f"{100 * DEPTH[kind]:.0f} %")
    temperature = taken(given.temperature, RATED_AT, "temperature of the bank", f"{RATED_AT:g} °C", "assumed")
    lack = COLD[kind] * max(RATED_AT - temperature, 0.0)
    if lack > 0.0:
        assumed.append(Assumed(f"capacity of a cold {kind} bank", f"−{100 * COLD[kind]:g} % per K below 25 °C", COMMON))
    charge = given.capacity if given.capacity is not None else (given.energy or 0.0) / voltage
    usable = max(min(depth, 1.0 - given.reserve), 0.0)
    return Bank(charge / HOUR, hours, exponent, voltage, usable, kind, 1.0 - lack), tuple(assumed)


def inverter_of(given: Storage, load: Array) -> tuple[Inverter, tuple[Assumed, ...]]:
    """The inverter of a file; one for the largest load where it has none."""
    assumed = []
    rating = given.inverter
    if rating is None:
        rating = 500.0 * float(np.ceil(max(float(load.max(initial=0.0)), 1.0) / 500.0))
        assumed.append(Assumed("inverter", f"{rating / 1e3:g} kW, for the largest load of the night"))
    efficiency, idle = given.efficiency, given.idle
    if efficiency is None:
        efficiency = EFFICIENCY
        assumed.append(Assumed("efficiency of the inverter", f"{100 * EFFICIENCY:.0f} %", COMMON))
    if idle is None:
        idle = IDLE * rating
        assumed.append(Assumed("what the inverter takes while it is on", f"{idle:.0f} W, 1 % of its rating", COMMON))
    return Inverter(rating, efficiency, idle), tuple(assumed)


def night(
    bank: Bank, inverter: Inverter, load: Array, step: float, *, begins: float = 22.0, solar: Array | None = None
) -> Night:
    """Run a bank through a night of loads until it ends or its usable part is used.

    Parameters
    ----------
    load : (time,) array
        On the inverter's alternating side. [W]
    step : float
        [s]
    begins : float
        Hour of the clock of the first step. [h]
    solar : (time,) array, optional
        What panels give the bank. [W]
    """
    sun = np.zeros_like(load) if solar is None else solar
    taken = load / inverter.efficiency + inverter.idle
    net = (taken - sun) / bank.voltage  # A, positive out of the bank
    out, into = np.maximum(net, 0.0), np.maximum(-net, 0.0)
    leaves = out * bank.toll(out) * step / HOUR  # A h
    kept = CHARGING[bank.kind]
    enters = into * kept * step / HOUR
    charge, floor, whole = [1.0], 1.0 - bank.usable, bank.capacity
    stopped, ran, stored = None, np.zeros_like(load), np.zeros_like(load)
    for i in range(len(load)):
        state, down = charge[-1], leaves[i] / whole
        if stopped is not None:
            charge.append(state)
            continue
        if state - down < floor - 1e-12:
            part = (state - floor) / down
            ran[i], stopped = part, (i + part) * step / HOUR
            charge.append(floor)
            continue
        ran[i] = 1.0
        stored[i] = min(1.0, (1.0 - (state - down)) * whole / enters[i]) if enters[i] > 0.0 else 0.0
        charge.append(state - down + stored[i] * enters[i] / whole)
    volts = bank.voltage * step
    charged = stored * into * volts
    delivered = float((ran * out).sum() * volts - charged.sum())
    drop = (1.0 - charge[-1]) * bank.energy
    spilled = (ran * into * volts - charged).sum()
    return Night(
        begins=begins,
        step=step,
        load=load * ran,
        drawn=taken * ran,
        charge=np.array(charge),
        stopped=stopped,
        served=float((ran * load).sum() * step),
        inverter_loss=float((ran * load).sum() * step * (1.0 / inverter.efficiency - 1.0)),
        idle=float(ran.sum() * step * inverter.idle),
        solar_used=float((ran * sun).sum() * step - spilled),
        solar_spilled=float(spilled),
        delivered=delivered,
        bank_loss=float((ran * out * (bank.toll(out) - 1.0)).sum() * volts + (1.0 - kept) * charged.sum()),
        stored_drop=drop,
    )


def lasting(bank: Bank, inverter: Inverter, load: Array, step: float) -> float:
    """Hours that the usable part lasts when a night's load goes on and on. [h]"""
    taken = (load / inverter.efficiency + inverter.idle) / bank.voltage
    mean = float((taken * bank.toll(taken)).mean())
    one = len(load) * step / HOUR
    whole = int(bank.usable * bank.capacity / max(mean, 1e-9) / one)
    left = bank.usable * bank.capacity - whole * mean * one
    sums = np.concatenate([[0.0], np.cumsum(taken * bank.toll(taken)) * step / HOUR])
    return whole * one + float(np.interp(left, sums, np.arange(len(sums)) * step / HOUR))


def lasting_energy(bank: Bank, inverter: Inverter, load: Array, step: float, solar: Array) -> float:
    """Energy that a bank of this kind must hold to last a night, everything else as it is. [J]"""
    low, high = bank.capacity, bank.capacity
    while night(replace(bank, capacity=high), inverter, load, step, solar=solar).stopped is not None:
        low, high = high, 2.0 * high
    while high - low > 0.01 * high:
        middle = 0.5 * (low + high)
        ends = night(replace(bank, capacity=middle), inverter, load, step, solar=solar).stopped is not None
        low, high = (middle, high) if ends else (low, middle)
    return replace(bank, capacity=high).energy


def recharge_hours(bank: Bank, missing: float, charger: float) -> float:
    """Hours of shore or generator to charge a bank again. [h]

    Parameters
    ----------
    missing : float
        Share of the capacity that is to be put back.
    charger : float
        Direct-current power. [W]

    Notes
    -----
    Lithium takes the whole current to the end; lead takes it up to 80 % and then less in proportion to what is missing,
    and counts as full at 98 %.
    """
    rate = charger / bank.voltage * CHARGING[bank.kind] / bank.capacity  # 1/h
    if rate <= 0.0 or missing <= 0.0:
        return inf if missing > 0.0 else 0.0
    if bank.kind == "lithium":
        return missing / rate
    bulk = max(missing - (1.0 - ACCEPTS), 0.0) / rate
    begins, ends = min(missing, 1.0 - ACCEPTS), 1.0 - FULL["lead"]
    return bulk + (1.0 - ACCEPTS) / rate * log(max(begins / ends, 1.0))


def charger_of(given: Storage, bank: Bank) -> tuple[float, tuple[Assumed, ...]]:
    """Direct-current power of the chargers. [W]"""
    if given.charger is not None:
        return given.charger, ()
    power = CHARGE_RATE[bank.kind] * bank.capacity * bank.voltage
    return power, (Assumed("chargers", f"{power / 1e3:.1f} kW, C/{1 / CHARGE_RATE[bank.kind]:.0f}", "assumed"),)
