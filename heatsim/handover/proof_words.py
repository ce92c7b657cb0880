"""What the proof says in sentences: whether rooms hold, how damp they stay, and what to do about it."""

from __future__ import annotations

import xarray as xr

from heatsim.equipment.plan import HOLDS as STEADY
from heatsim.equipment.plan import Plan
from heatsim.equipment.summary import HOLDS
from heatsim.handover.results import Results
from heatsim.report.amounts import UnitSystem, difference
from heatsim.report.plan_layouts import failures

MANY_HOURS = 8.0
"""[h] Of a day above 65 % humidity from which a room is called damp (assumed: a night's sleep)."""
MOST_NAMED = 3
"""Rooms named in a sentence; the others are counted."""


def holding(found: Results, system: UnitSystem) -> tuple[bool, str]:
    """Whether the chosen layout holds by its proof, and the sentence that says by how much.

    Parameters
    ----------
    found : Results
        With a proof.
    system : {"si", "us", "both"}
    """
    settled = _settled(found)
    above = _worst(settled, "above_setpoint")
    days = " and ".join(map(str, settled["day"].values))
    ranked = sorted(above, key=lambda zone: -above[zone])
    run = f"Run minute by minute through the {days} day"
    limit = f"{difference(HOLDS, system)} is allowed"
    late = [zone for zone in ranked if above[zone] > HOLDS]
    if late:
        return False, f"{run}: above the setpoint in the worst hour by {_named(late, above, system)}; {limit}."
    if not found.made.holds:
        return False, f"{run}: {_lacking(found.made, system)}."
    if above[ranked[0]] < 0.05:
        return True, f"{run}, every room stays at its setpoint."
    return True, (
        f"{run}, {ranked[0]} strays farthest: {difference(above[ranked[0]], system)} above its setpoint in its worst "
        f"hour; {limit}."
    )


def damp_line(found: Results) -> str:
    """Which rooms stay damp, for how long, and what to do; empty where none does.

    A room is damp where its air is above 65 % humidity for `MANY_HOURS` of a day, or its coldest inside skin above
    80 % for an hour.
    """
    settled = _settled(found)
    air = {zone: hours for zone, hours in _worst(settled, "hours_above_65").items() if hours >= MANY_HOURS}
    skin = {zone: hours for zone, hours in _worst(settled, "hours_skin_above_80").items() if hours >= 1.0}
    if not air and not skin:
        return ""
    count, parts = len(settled["zone"]), []
    if air:
        most = max(_worst(settled, "hours_above_70").values())
        parts.append(
            f"above 65 % humidity in {_hours(air, count)}" + (f", up to {most:.0f} h above 70 %" if most >= 1.0 else "")
        )
    if skin:
        parts.append(f"coldest surfaces above 80 %, where mould grows if it lasts, in {_hours(skin, count)}")
    return f"Damp on the worst of these days: {'; '.join(parts)}. {remedy(found)}"


def remedy(found: Results) -> str:
    """What to do about damp rooms, with the file's keys."""
    terms = found.made.resolved.terms
    ways = ["outdoor air only while people are there"]
    if terms.fan == "continuous":
        ways.append("fans that pause with their compressors (equipment.fan: cycling)")
    if terms.damp_hours >= 24.0:
        ways.append("a limit that the choice must keep (equipment.most_damp_hours)")
    return f"What helps: {', or '.join(ways)}."


def _lacking(made: Plan, system: UnitSystem) -> str:
    """What else than its temperatures a plan does not keep: its terms, or its loads where control is ideal."""
    assert made.chosen is not None
    assert made.held is not None
    if made.chosen.failures:
        return failures(made.chosen, system)
    short = [f"{name} {difference(k, system)}" for name, k in made.held.above.items() if k > STEADY]
    return f"cooled without a pause, rooms would still be above their setpoint: {', '.join(short)}"


def _settled(found: Results) -> xr.Dataset:
    assert found.proof is not None
    assert found.made.chosen is not None
    return found.proof.of(found.made.chosen.name, "settled")


def _worst(settled: xr.Dataset, figure: str) -> dict[str, float]:
    """A figure of every room on its worst day."""
    return {str(zone): float(settled[figure].values[:, z].max()) for z, zone in enumerate(settled["zone"].values)}


def _named(zones: list[str], above: dict[str, float], system: UnitSystem) -> str:
    said = ", ".join(f"{difference(above[zone], system)} in {zone}" for zone in zones[:MOST_NAMED])
    rest = len(zones) - MOST_NAMED
    return said + (f" and less in {rest} more" if rest > 0 else "")


def _hours(hours: dict[str, float], rooms: int) -> str:
    """How many rooms, and the hours of those that have most."""
    ranked = sorted(hours, key=lambda zone: -hours[zone])
    named = ", ".join(f"{zone} {hours[zone]:.0f} h" for zone in ranked[:MOST_NAMED])
    of = f"all {rooms} rooms" if len(ranked) == rooms else f"{len(ranked)} of {rooms} rooms"
    return f"{of} ({'most ' if len(ranked) > MOST_NAMED else ''}{named})"
