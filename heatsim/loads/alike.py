"""Which boats of a study are alike: in all that their networks are made of, or in what lies outside.

Draws of setpoints, persons and appliances leave the networks as they are; draws of insulation, outer films and drivers
from the sun.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import fields, replace

import numpy as np
import numpy.typing as npt

from heatsim.loads.line import Line
from heatsim.network.base import Network
from heatsim.scenario.resolved import Control, Resolved, Zone

OUTSIDE = "faces", "glazings", "awnings"
"""Of a boat: what the sun falls on."""
NOT_OF_THE_NETWORK = (
    "name", "days", "weather_year", "persons_aboard", "defaults", "catalogue", "basis", "terms", "power",
    "services", "zones",
)  # fmt: skip
"""Of a boat; of the zones see `_zone_of_network`."""


def of_networks(boat: Resolved) -> Hashable:
    """All of a boat that her networks are made of where she shares her class of climate (`Nominal.shared`)."""
    rest = tuple(getattr(boat, one.name) for one in fields(boat) if one.name not in (*NOT_OF_THE_NETWORK, "place"))
    return rest, _place(boat), tuple(_zone_of_network(zone, bool(boat.openings)) for zone in boat.zones)


def _zone_of_network(zone: Zone, has_doors: bool) -> Hashable:
    inside = ("control", "people", "gains", "moisture", "temperature")
    rest = tuple(getattr(zone, one.name) for one in fields(zone) if one.name not in inside)
    return (
        rest, zone.temperature is None, _control_of_network(zone.control, has_doors),
        tuple(people.radiant_share for people in zone.people),
        tuple((gain.kind, gain.latent_share, gain.radiant_share) for gain in zone.gains),
        tuple(source.name for source in zone.moisture),
    )  # fmt: skip


def _control_of_network(control: Control | None, has_doors: bool) -> Hashable:
    """What thermostats read, whether humidity is held, and what doors are linearised at (`reference_difference`)."""
    if control is None:
        return None
    setpoint = float(np.mean(control.cooling_setpoint.values)) if has_doors else 0.0
    return control.controlled, control.humidity_limit <= 1.0, setpoint


def alike_outside(one: Line, other: Line) -> bool:
    """Whether two boats in the same weathers have the same sun, regimes and outer films, so that all their drivers but
    those of the inside are the same.
    """
    if one.heat is other.heat and one.moisture is other.moisture:
        return True
    if any(getattr(one.resolved, name) != getattr(other.resolved, name) for name in OUTSIDE):
        return False
    same = [_place(one.resolved) == _place(other.resolved), _drivers(one.heat) == _drivers(other.heat)]
    same += [_drivers(one.moisture) == _drivers(other.moisture), one.heat.notes.keys() == other.heat.notes.keys()]
    if not all(same):
        return False
    mine, theirs = vars(one.regimes), vars(other.regimes)
    pairs: list[tuple[npt.ArrayLike, npt.ArrayLike]] = list(
        zip(one.regimes.numbers, other.regimes.numbers, strict=True)
    )
    pairs += [(one.heat.notes[name], other.heat.notes[name]) for name in one.heat.notes]
    pairs += [(mine[name], theirs[name]) for name in ("wind", "opening", "awning", "blind", "air_density")]
    return all(np.array_equal(a, b, equal_nan=True) for a, b in pairs)


def _place(boat: Resolved) -> object:
    return replace(boat.place, headings=(), heading_mode="fixed")


def _drivers(network: Network) -> list[tuple[str, tuple[int, ...]]]:
    return [(driver.kind, driver.of) for driver in network.drivers]
