"""A plain box in resolved form, for tests of everything that reads a resolved scenario.

Invented, not a boat: one room of 4 × 3 × 2 m with a deck, four sides and a window to each side that is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from heatsim.physics.glazing import angular_table
from heatsim.scenario import resolved as r

ALWAYS = r.Routine("always", (0,), (1.0,))
NEVER = r.Routine("never", (0,), (0.0,))
SEA_ONLY = r.Foreground(1.0, 0.0, 0.0, 0.5, 0.3)
GLASS = "clear single"


def constant(value: float) -> r.Routine:
    return r.Routine(f"{value:g}", (0,), (value,))


def plain_day(**changes: object) -> r.Day:
    day = r.Day("hot", 7, "2025-07-21", 35.0, 8.0, 22.0, 2.0, 26.0, None, 1.0)
    return replace(day, **changes)  # type: ignore[arg-type]


def plain_place(**changes: object) -> r.Place:
    place = r.Place("Testing Roads", 37.5, 24.9, 0.0, "Europe/Athens", "alongside", "fixed", (0.0,))
    return replace(place, **changes)  # type: ignore[arg-type]


def plain_glazing(name: str = GLASS, u_value: float = 5.7, g_value: float = 0.82, panes: int = 1) -> r.Glazing:
    return r.Glazing(name=name, u_value=u_value, g_value=g_value, **angular_table(u_value, g_value, panes)._asdict())


def plain_face(name: str, kind: str, bearing: float, tilt: float, area: float, **changes: object) -> r.Face:
    glass = kind == "glass"
    face = r.Face(
        name, "room", kind, area, r.OUTDOORS, bearing, tilt, None if glass else "foam sandwich",  # type: ignore[arg-type]
        GLASS if glass else None, 0.4, 0.9, SEA_ONLY,
    )  # fmt: skip
    return replace(face, **changes)  # type: ignore[arg-type]


def plain_zone(name: str = "room", **changes: object) -> r.Zone:
    control = r.Control(
        "air", constant(24.0), constant(18.0), ALWAYS, ALWAYS, float("inf"), float("inf"), 2.0, float("inf")
    )
    zone = r.Zone(name, False, "main", "saloon", 12.0, 2.0, 24.0, control, ALWAYS, 600e3, 24.0, 0.5, 10.0)
    return replace(zone, **changes)  # type: ignore[arg-type]


def plain_box(
    faces: Sequence[r.Face] | None = None,
    *,
    windows: Sequence[float] = (180.0,),
    place: r.Place | None = None,
    day: r.Day | None = None,
    **changes: object,
) -> r.Resolved:
    """One room, one day, one lay-up; a window of 1 m² on each of the bearings in `windows`."""
    sandwich = r.LayUp(
        "foam sandwich",
        (
            r.Layer("laminate", 0.003, 0.3, 1600.0, 1100.0),
            r.Layer("foam", 0.025, 0.035, 60.0, 1470.0),
            r.Layer("laminate", 0.004, 0.3, 1600.0, 1100.0),
        ),
    )
    if faces is None:
        sides = {0.0: 6.0, 90.0: 8.0, 180.0: 6.0, 270.0: 8.0}
        faces = [
            plain_face("deck", "deck", 0.0, 0.0, 12.0),
            plain_face("sole", "sole", 0.0, 180.0, 12.0, beyond=r.ADIABATIC, sun_share=1.0),
            *(plain_face(f"side {b:g}", "house", b, 90.0, a - (b in windows)) for b, a in sides.items()),
            *(plain_face(f"window {b:g}", "glass", b, 90.0, 1.0) for b in windows),
        ]
    box = r.Resolved(
        name="plain box",
        length=4.0,
        persons_aboard=0,
        place=place or plain_place(),
        days=(day or plain_day(),),
        weather_year=None,
        lay_ups=(sandwich,),
        glazings=(plain_glazing(),),
        awnings=(),
        zones=(plain_zone(),),
        faces=tuple(faces),
        flows=(),
        openings=(),
    )
    return replace(box, **changes)  # type: ignore[arg-type]
