"""How the amounts of schedules are shown: the trade's units in each system, rounded to what the number is worth."""

from __future__ import annotations

from math import isfinite

from heatsim.report.amounts import AIR_FLOW, AREA, FLUX, POUND, POWER, Quantity, UnitSystem, show, units
from heatsim.services import schedule as kinds
from heatsim.services.schedule import Cell, Column

US_GALLON = 3.785411784e-3
"""[m³] (NIST SP 811)."""
FOOT, INCH = 0.3048, 0.0254
"""[m] (NIST SP 811)."""
INCH_OF_WATER = 249.08891
"""[Pa] Conventional (NIST SP 811)."""

SHOWN = {
    kinds.POWER: POWER,
    kinds.ELECTRIC: Quantity("kW", "kW", 1e-3, 1e-3, 2, 2),
    kinds.AIR_FLOW: AIR_FLOW,
    kinds.WATER_FLOW: Quantity("L/min", "US gal/min", 6e4, 60.0 / US_GALLON, 1, 1),
    kinds.SMALL_FLOW: Quantity("L/h", "US gal/h", 3.6e6, 3600.0 / US_GALLON, 1, 2),
    kinds.SPEED: Quantity("m/s", "ft/s", 1.0, 1.0 / FOOT, 1, 1),
    kinds.FACE_SPEED: Quantity("m/s", "fpm", 1.0, 60.0 / FOOT, 1, 0),
    kinds.PRESSURE: Quantity("Pa", "in w.g.", 1.0, 1.0 / INCH_OF_WATER, 0, 2),
    kinds.HEAD: Quantity("m", "ft", 1.0, 1.0 / FOOT, 1, 1),
    kinds.AREA: AREA,
    kinds.FLUX: FLUX,
    kinds.LENGTH: Quantity("m", "ft", 1.0, 1.0 / FOOT, 2, 1),
    kinds.BORE: Quantity("mm", "in", 1e3, 1.0 / INCH, 0, 2),
    kinds.FREE_AREA: Quantity("cm²", "in²", 1e4, 1.0 / INCH**2, 0, 0),
    kinds.VOLUME: Quantity("L", "US gal", 1e3, 1.0 / US_GALLON, 0, 0),
    kinds.ROOM: Quantity("m³", "ft³", 1.0, 1.0 / FOOT**3, 1, 0),
    kinds.MASS: Quantity("kg", "lb", 1.0, 1.0 / POUND, 1, 1),
    kinds.SHARE: Quantity("%", "%", 100.0, 100.0, 0, 0),
    kinds.CURRENT: Quantity("A", "A", 1.0, 1.0, 1, 1),
    kinds.VOLTAGE: Quantity("V", "V", 1.0, 1.0, 0, 0),
    kinds.APPARENT: Quantity("kVA", "kVA", 1e-3, 1e-3, 2, 2),
    kinds.ENERGY: Quantity("kWh", "kWh", 1.0 / 3.6e6, 1.0 / 3.6e6, 1, 1),
    kinds.HOURS: Quantity("h", "h", 1.0, 1.0, 1, 1),
    kinds.DIFFERENCE: Quantity("K", "°F", 1.0, 1.8, 1, 0),
}
"""Every kind but a temperature, which has an offset."""
TEMPERATURE = Quantity("°C", "°F", 1.0, 1.8, 1, 0)
NOTHING = "–"


def heads(column: Column, system: UnitSystem) -> list[str]:
    """The heads a column takes, unit below."""
    if column.quantity is None:
        return [column.head]
    return [f"{column.head}\n{unit}" for unit in _units(column.quantity, system)]


def cells(column: Column, cell: Cell, system: UnitSystem) -> list[str]:
    """A cell as the text of those columns."""
    if column.quantity is None:
        if isinstance(cell, float):
            return [f"{cell:.3g}" if isfinite(cell) else NOTHING]
        return [NOTHING if cell is None else str(cell)]
    wide = len(_units(column.quantity, system))
    if isinstance(cell, str):
        return [cell] * wide
    if cell is None or not isfinite(cell):
        return [NOTHING] * wide
    if column.quantity == kinds.TEMPERATURE:
        texts = {"si": [f"{cell:.1f}"], "us": [f"{1.8 * cell + 32.0:.0f}"]}
        return texts["si"] + texts["us"] if system == "both" else texts[system]
    return show(float(cell), SHOWN[column.quantity], system)[:wide]


def amounts(column: Column, value: float, system: UnitSystem) -> list[tuple[float, int]]:
    """A number in the units of those columns, and how many decimals it is worth."""
    assert column.quantity is not None
    if column.quantity == kinds.TEMPERATURE:
        found = {"si": [(value, 1)], "us": [(1.8 * value + 32.0, 0)]}
        return found["si"] + found["us"] if system == "both" else found[system]
    shown = SHOWN[column.quantity]
    both = (value * shown.si_factor, shown.digits), (value * shown.us_factor, shown.us_digits)
    found = {"si": [both[0]], "us": [both[1]], "both": list(both)}
    return found[system][: len(_units(column.quantity, system))]


def _units(kind: str, system: UnitSystem) -> list[str]:
    """Units of a kind, once where both systems share it."""
    quantity = TEMPERATURE if kind == kinds.TEMPERATURE else SHOWN[kind]
    return list(dict.fromkeys(units(quantity, system)))
