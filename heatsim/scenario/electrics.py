"""The power aboard, resolved: sockets, generator, bank, panels, in SI; None where the file does not say.

What a schedule takes where nothing was said is assumed there, and listed with it.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from math import sqrt
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from heatsim.scenario.model import Scenario
    from heatsim.scenario.power import Generator, Shore


CONTINUOUS = 0.8
"""[-] Of a shore socket's rating that may be drawn without end (common practice, no source: 24 A of 30 A)."""
LOWEST = 0.9
"""[-] Of a socket's voltage at the end of a long quay where the dock states none (assumed; EN 50160: 90 %)."""
HOUSEHOLD_FACTOR = 0.95
"""[-] Power factor of lights and household (assumed)."""
PUMP_FACTOR = 0.7
"""[-] Of a small pump's motor (assumed)."""


@dataclass(frozen=True)
class Socket:
    """A shore socket: volts between outer conductors, amperes of each, how many at once; `lowest` volts at the dock."""

    name: str
    voltage: float
    current: float
    phases: int = 1
    legs: int = 1
    frequency: float = 50.0
    count: int = 1
    lowest: float | None = None


@dataclass(frozen=True)
class GeneratorSet:
    """A generator: rating [W], least share to run at, share lost to the site, motor-starting VA at a voltage dip."""

    power: float
    least_share: float = 0.3
    frequency: float = 50.0
    derating: float | None = None
    starting: float | None = None
    dip: float | None = None


@dataclass(frozen=True)
class Storage:
    """A bank as its file states it: energy [J] or capacity [C], volts, hours of its rating, limits, inverter, night."""

    kind: Literal["lithium", "lead"] = "lithium"
    energy: float | None = None
    capacity: float | None = None
    voltage: float | None = None
    hours: float | None = None
    peukert: float | None = None
    reserve: float = 0.3
    depth: float | None = None
    temperature: float | None = None
    inverter: float | None = None
    efficiency: float | None = None
    idle: float | None = None
    charger: float | None = None
    night_begins: int = 22
    night_ends: int = 7


@dataclass(frozen=True)
class PowerAboard:
    """All of it; `solar` is the panels' peak power [W] and efficiency, `transformer` its VA and peak inrush [A]."""

    shore: Socket | None = None
    others: tuple[Socket, ...] = ()
    transformer: tuple[float, float | None] | None = None
    generator: GeneratorSet | None = None
    battery: Storage | None = None
    solar: tuple[float, float | None] | None = None
    other_load: float | None = None
    night_load: float | None = None


OF_STORAGE = tuple(field.name for field in fields(Storage))
NO_POWER = PowerAboard()
"""What a boat has whose file says nothing of power."""


def resolve_power(scenario: Scenario) -> PowerAboard:
    """Power aboard of a scenario."""
    given = scenario.supply
    transformer, solar, generator, battery = given.transformer, given.solar, given.generator, given.battery
    return PowerAboard(
        shore=None if given.shore is None else _socket(given.shore),
        others=tuple(_socket(one) for one in given.other_sockets),
        transformer=None if transformer is None else (transformer.power, transformer.inrush),
        generator=None if generator is None else _set(generator),
        battery=None if battery is None else Storage(**{name: getattr(battery, name) for name in OF_STORAGE}),
        solar=None if solar is None else (solar.peak_power, solar.efficiency),
        other_load=given.other_load,
        night_load=given.night_load,
    )


def legs_of(socket: Socket) -> int:
    """Conductors that carry current: phases, or legs."""
    return 3 if socket.phases == 3 else socket.legs


def lowest_of(socket: Socket) -> float:
    """Lowest voltage at the dock. [V]"""
    return LOWEST * socket.voltage if socket.lowest is None else socket.lowest


def limit_of(socket: Socket) -> float:
    """Continuous current of a leg, of all sockets together. [A]"""
    return CONTINUOUS * socket.current * socket.count


def carries(socket: Socket) -> float:
    """Apparent power at 80 % of the rating and the dock's lowest voltage, all legs evenly loaded. [VA]"""
    return limit_of(socket) * lowest_of(socket) * {1: 1.0, 2: 1.0, 3: sqrt(3.0)}[legs_of(socket)]


def described(socket: Socket) -> str:
    """A socket as docks write it, such as "120/240 V 50 A"."""
    volts = f"{socket.voltage / 2.0:.0f}/{socket.voltage:.0f}" if socket.legs == 2 else f"{socket.voltage:.0f}"
    count, phases = f"{socket.count} × " if socket.count > 1 else "", " three-phase" if socket.phases == 3 else ""
    return f"{count}{volts} V {socket.current:.0f} A{phases}"


def _socket(shore: Shore) -> Socket:
    socket = Socket(
        "", shore.voltage, shore.current, shore.phases, shore.legs, shore.frequency, shore.sockets, shore.lowest_voltage
    )
    return replace(socket, name=shore.name or described(socket))


def _set(given: Generator) -> GeneratorSet:
    starting = None if given.starting_kva is None else 1e3 * given.starting_kva
    return GeneratorSet(given.power, given.least_share, given.frequency, given.derating, starting, given.dip)
