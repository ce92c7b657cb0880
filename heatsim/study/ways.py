"""Ways of using a boat that a study may compare with cooling her all day: away, by open hatches, at night alone.

Each is a ready change like the remedies', and stands on their axis; its kilowatt hours, damp hours and hours within the
band answer whether it will do.
"""

from __future__ import annotations

from dataclasses import replace

from heatsim.equipment.remedies import ALWAYS, CHANGES, Change
from heatsim.scenario.resolved import OUTDOORS, Control, Flow, Resolved, Routine

AWAY_SETPOINT = 30.0
"""[°C] Of a boat that nobody lives in (common practice, no source: 28–32); her humidity limit stays."""
OPEN_HATCHES = 15.0 / 3600.0
"""[1/s] Air changes with hatches and doors open and a wind scoop set (assumed; a breeze gives 10 to 30 an hour)."""
NIGHT = Routine("nights", (0, 420, 1260), (1.0, 0.0, 1.0))
"""From nine in the evening to seven (assumed)."""
BURSTS = Routine("night bursts", (0, 180, 270, 1260, 1380), (0.0, 1.0, 0.0, 1.0, 0.0))
"""From nine to eleven in the evening, and from three to half past four (assumed)."""
NEVER = Routine("never", (0,), (0.0,))


def away(resolved: Resolved) -> Resolved:
    """Nobody aboard, cooled to keep her dry and no more."""
    setpoint = Routine("away", (0,), (AWAY_SETPOINT,))
    zones = tuple(
        replace(zone, people=(), control=zone.control and replace(zone.control, cooling_setpoint=setpoint))
        for zone in resolved.zones
    )
    return replace(resolved, zones=zones)


def open_hatches(resolved: Resolved) -> Resolved:
    """No cooling; hatches and doors open."""
    flows = tuple(
        Flow(f"{zone.name}: open hatches", "fresh_air", OUTDOORS, zone.name, OPEN_HATCHES * zone.volume, ALWAYS)
        for zone in resolved.zones
        if zone.control is not None
    )
    return replace(_cooled(resolved, NEVER), flows=(*resolved.flows, *flows))


def nights(resolved: Resolved) -> Resolved:
    """Cooled all night and not by day."""
    return _cooled(resolved, NIGHT)


def bursts(resolved: Resolved) -> Resolved:
    """Cooled for two stretches of the night."""
    return _cooled(resolved, BURSTS)


def _cooled(resolved: Resolved, on: Routine) -> Resolved:
    def switched(control: Control | None) -> Control | None:
        return None if control is None else replace(control, cooling_on=on)

    return replace(resolved, zones=tuple(replace(zone, control=switched(zone.control)) for zone in resolved.zones))


WAYS: dict[str, tuple[Change, str]] = {
    "away": (away, "Close the seacocks of units that nobody watches; a boat left running can flood or burn."),
    "hatches open": (open_hatches, "Hatches that stand open let in rain and thieves; not under way."),
    "cooled all night": (nights, "A generator beside sleepers: a carbon monoxide alarm in every cabin."),
    "cooled in night bursts": (bursts, "A generator beside sleepers: a carbon monoxide alarm in every cabin."),
}
"""Every way: its name, its change, and the caution that travels with it."""
READY: dict[str, tuple[Change, str]] = {**CHANGES, **WAYS}
"""Every change a study file may name."""
