"""heatsim: hour-by-hour heat and moisture loads of yachts, zone by zone, for sizing their air conditioning.

Public names are loaded on first use, so that `import heatsim` stays light.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_PUBLIC = {
    "read": "heatsim.scenario.reading",
    "resolve": "heatsim.scenario.resolve",
    "check": "heatsim.loads.check",
    "simulate": "heatsim.loads.simulate",
    "simulate_many": "heatsim.loads.simulate",
    "peaks": "heatsim.loads.peaks",
    "ship_standard": "heatsim.loads.ship_standard",
    "plan": "heatsim.equipment.plan",
    "run_study": "heatsim.study.run",
    "open_study": "heatsim.study.run",
    "pack": "heatsim.handover.packing",
    "load_duration": "heatsim.loads.peaks",
    "HeatsimError": "heatsim.errors",
    "Fault": "heatsim.errors",
    "Finding": "heatsim.errors",
    "Scenario": "heatsim.scenario.model",
    "Resolved": "heatsim.scenario.resolved",
}

__all__ = ["__version__", *_PUBLIC]


def __getattr__(name: str) -> Any:
    if name in _PUBLIC:
        return getattr(import_module(_PUBLIC[name]), name)
    raise AttributeError(f"module 'heatsim' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
