"""Amounts as a person reads them: SI, US or both, rounded to what the number is worth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

UnitSystem = Literal["si", "us", "both"]

BTU_PER_HOUR = 0.29307107
"""[W] One Btu(IT)/h (NIST SP 811, appendix B.8)."""
SQUARE_FOOT = 0.09290304
"""[m²] (NIST SP 811)."""
POUND = 0.45359237
"""[kg] (NIST SP 811)."""
POUND_PER_HOUR = POUND / 3600.0
"""[kg/s] (NIST SP 811)."""

CUBIC_FOOT_PER_MINUTE = 4.719474e-4
"""[m³/s] (NIST SP 811)."""


@dataclass(frozen=True)
class Quantity:
    """How one kind of amount is shown: heading and number in each system."""

    si_unit: str
    us_unit: str
    si_factor: float
    us_factor: float
    digits: int = 2
    us_digits: int = 0


POWER = Quantity("kW", "Btu/h", 1e-3, 1.0 / BTU_PER_HOUR)
FLUX = Quantity("W/m²", "Btu/h·ft²", 1.0, SQUARE_FOOT / BTU_PER_HOUR, 0)
AIR_FLOW = Quantity("L/s", "cfm", 1e3, 1.0 / CUBIC_FOOT_PER_MINUTE, 0)
MASS = Quantity("kg", "lb", 1.0, 1.0 / POUND, 0)
AREA = Quantity("m²", "ft²", 1.0, 1.0 / SQUARE_FOOT, 1)


def temperature(value: float, system: UnitSystem) -> str:
    """A temperature in °C, °F or both."""
    si, us = f"{value:.1f} °C", f"{value * 1.8 + 32.0:.0f} °F"
    return {"si": si, "us": us, "both": f"{si} ({us})"}[system]


def difference(value: float, system: UnitSystem) -> str:
    """A difference of temperatures in K, °F or both."""
    si, us = f"{value:.1f} K", f"{value * 1.8:.0f} °F"
    return {"si": si, "us": us, "both": f"{si} ({us})"}[system]


def units(quantity: Quantity, system: UnitSystem) -> list[str]:
    """The columns one amount takes."""
    return {"si": [quantity.si_unit], "us": [quantity.us_unit], "both": [quantity.si_unit, quantity.us_unit]}[system]


def show(value: float, quantity: Quantity, system: UnitSystem) -> list[str]:
    """The amount in those columns; US powers to the nearest hundred, as the trade writes them."""
    si = f"{value * quantity.si_factor:.{quantity.digits}f}"
    number = value * quantity.us_factor
    us = f"{round(number, -2):,.0f}" if quantity is POWER else f"{number:,.{quantity.us_digits}f}"
    return {"si": [si], "us": [us], "both": [si, us]}[system]


def phrase(value: float, quantity: Quantity, system: UnitSystem) -> str:
    """The amount with its unit in running text."""
    parts = [
        f"{text} {unit}" for text, unit in zip(show(value, quantity, system), units(quantity, system), strict=True)
    ]
    return parts[0] if len(parts) == 1 else f"{parts[0]} ({parts[1]})"
