"""Capacity and power of a unit at other seas and other air, against a plain vapour-compression cycle."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from heatsim.equipment.capacity import Conditions, operate, rated
from heatsim.equipment.catalogue import Unit, UnitText, to_unit
from heatsim.physics import coil, moist_air

FAMILY = "vapour-compression cycle"

SOURCE = "plain cycle with CoolProp properties: isentropic work over 0.65, clearance 4 %, 5 K superheat and subcooling"
WITHIN = 0.3
"""[% per K] A third of the width of the trade's own range (power +1.5 to +2.5 % per K; common practice, no source)."""
KELVIN = 273.15


def _unit(fluid: str) -> Unit:
    row = {
        "refrigerant": fluid,
        "model": "Plain 12", "kind": "self-contained", "total_capacity": "12 kBtu/h", "sensible_capacity": "8.6 kBtu/h",
        "airflow": "400 cfm", "power": "1.15 kW", "voltage": "230 V", "rating": "warm sea",
    }  # fmt: skip
    return to_unit(UnitText.model_validate(row))


def _machine(fluid: str, evaporating: float, condensing: float) -> tuple[float, float]:
    """Cooling and work of a machine of one cubic metre swept a second. [W]"""
    from CoolProp.CoolProp import PropsSI

    low, high = (PropsSI("P", "T", t + KELVIN, "Q", 1, fluid) for t in (evaporating, condensing))
    h1, d1, s1 = (PropsSI(x, "T", evaporating + KELVIN + 5.0, "P", low, fluid) for x in "HDS")
    h2, h3 = PropsSI("H", "S", s1, "P", high, fluid), PropsSI("H", "T", condensing + KELVIN - 5.0, "P", high, fluid)
    moved = d1 * (1.0 - 0.04 * ((high / low) ** (1.0 / 1.15) - 1.0))
    return moved * (h1 - h3), moved * (h2 - h1) / 0.65


def _cycle(unit: Unit, fluid: str, T: float, w: float, sea: float) -> tuple[float, float]:
    """The same coil and condenser with this machine: cooling of the coil and work. [W]"""
    from scipy.optimize import brentq

    m = rated(unit)
    size = unit.gross / _machine(fluid, m.evaporating, m.condensing)[0]
    work_size = unit.compressor_power / _machine(fluid, m.evaporating, m.condensing)[1]
    resistance = 1.0 / m.water_rate + m.condenser_resistance

    def at(evaporating: float) -> tuple[float, float]:
        def short(condensing: float) -> float:
            q, p = _machine(fluid, evaporating, condensing)
            return sea + resistance * (size * q + work_size * p) - condensing

        q, p = _machine(fluid, evaporating, brentq(short, sea + 0.1, 68.0))
        return size * q, work_size * p

    def balance(evaporating: float) -> float:
        heat = at(evaporating)[0]
        surface = evaporating + m.surface_resistance * heat
        behind = coil.leaving(T, w, surface, m.bypass)
        return float(m.flow * coil.heat(T, w, behind, np.asarray(surface))[0]) - heat

    return at(brentq(balance, 0.0, 18.0))


def _ratio(dry: float, wet: float) -> float:
    """Humidity ratio at dry and wet bulb."""
    from scipy.optimize import brentq

    return float(brentq(lambda w: float(moist_air.wet_bulb(dry, w)) - wet, 1e-4, 0.03))


@pytest.mark.parametrize("fluid", ["R410A", "R32", "R134a"])
def test_slopes(sheet: Any, fluid: str) -> None:
    """Per kelvin of sea and of wet bulb about the rating, in steps of 4 and 3 K."""
    pytest.importorskip("CoolProp")
    unit, T = _unit(fluid), 26.7
    base, wetter = _ratio(T, 19.4), _ratio(T, 22.4)

    def ours(w: float, sea: float) -> tuple[float, float]:
        done = operate(unit, Conditions(T, w, sea))
        return float(done.coil_heat), float(done.compressor_power)

    density = moist_air.dry_air_density(T, wetter) / moist_air.dry_air_density(T, base)
    assert density == pytest.approx(1.0, abs=0.01)  # the cycle keeps the mass flow of the rating
    for what, span, a, b in (
        ("sea", 4.0, (base, 29.4), (base, 33.4)),
        ("wet bulb", 3.0, (base, 29.4), (wetter, 29.4)),
    ):
        theirs = [_cycle(unit, fluid, T, *point) for point in (a, b)]
        mine = [ours(*point) for point in (a, b)]
        for i, quantity in enumerate(("capacity", "power")):
            published, found = (100.0 * np.log(x[1][i] / x[0][i]) / span for x in (theirs, mine))
            sheet.value(
                f"{quantity} by {what}, {fluid}", published, found, within=WITHIN,
                because="a third of the width of the trade's own range", source=SOURCE, unit="% per K",
                confidence="formula",
            )  # fmt: skip
