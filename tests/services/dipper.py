"""One small boat, planned and proved once, whose services tests then change without planning again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from heatsim.equipment.plan import Plan
    from heatsim.equipment.proof import Proof

DIPPER = """\
format: 1
yacht: {name: Dipper, length: 9 m, persons: 4}
place: {region: CYC, month: 8, berth: alongside, heading: 90 deg}
climate: {days: [hot]}
zones:
  saloon:
    use: saloon
    setpoint: 24 degC
    fresh_air: 60 m3/h
    quick: {deck: main, length: 3 m, beam: 2.5 m, height: 2 m}
  cabin:
    use: cabin
    setpoint: 24 degC
    fresh_air: 40 m3/h
    quick: {deck: main, length: 2 m, beam: 2 m, height: 2 m}
spaces:
  locker: {use: lazarette, temperature: 45 degC}
flows:
  - {name: hood, source: saloon, target: outdoors, rate: 150 m3/h, routine: {"12:00-13:00": 1}}
equipment:
  group_size: 1
  existing: [{name: settee unit, zones: [saloon, cabin], capacity: 12 kBtu/h}]
"""
"""Invented."""


@pytest.fixture(scope="session")
def planned() -> Plan:
    """The plan of an invented boat of 9 m with two rooms, and one old unit for both."""
    from heatsim.equipment.plan import plan
    from heatsim.scenario.reading import read_text
    from heatsim.scenario.resolve import resolve

    return plan(resolve(read_text(DIPPER)))


@pytest.fixture(scope="session")
def proof(planned: Plan) -> Proof:
    """Its chosen units from settled starts."""
    from heatsim.report.services import settled_proof

    return settled_proof(planned)


@pytest.fixture(scope="session")
def fitted(planned: Plan) -> Callable[..., Plan]:
    """The same plan with other services, given as in a file, and another layout, by its name, where one is named."""
    from heatsim.scenario.services import Services

    def make(layout: str | None = None, **services: Any) -> Plan:
        other = replace(planned.resolved, services=Services.model_validate(services))
        found = replace(planned, resolved=other)
        if layout is None:
            return found
        return replace(found, chosen=next(one for one in planned.layouts if one.name == layout and one.possible))

    return make
