"""Grilles by the speed in their free area, the gross area beside it; noise by that speed; the way back for air.

Noise by the trade's table of speeds for a noise criterion (NC, the handbook's curves): an estimate of ±5, of air at the
grille alone. What the unit itself makes in the room stands in its catalogue; a bend close before a grille or a damper
in its neck adds more than the estimate's width.
"""

from __future__ import annotations

from heatsim.equipment.plan import Plan
from heatsim.errors import Finding
from heatsim.scenario.services import GrilleText
from heatsim.services.ducts import STATIC, System, findings, free_area, sleeping, system
from heatsim.services.outdoor_ducts import outdoor_ducts
from heatsim.services.schedule import (
    AIR_FLOW,
    BORE,
    FACE_SPEED,
    FREE_AREA,
    LENGTH,
    POWER,
    PRESSURE,
    SHARE,
    SPEED,
    TEMPERATURE,
    Assumed,
    Cell,
    Column,
    Schedule,
    once,
)
from heatsim.services.surroundings import Around
from heatsim.services.units import all_working, given

FREE_SHARE = 0.5
"""[-] Open share of an ordinary louvre (common practice, no source: 30–60 %)."""
NOISE = {"supply": ((27.5, 1.97), (32.5, 2.35), (37.5, 2.73), (42.5, 3.11)), "return": ((27.5, 2.36), (37.5, 3.28))}
"""[NC], [m/s] Middle of a band of noise criterion and of its speeds in the free area (common practice, no source:
supply NC 25–30 at 350–425 fpm, 30–35 at 425–500, 35–40 at 500–575, 40–45 at 575–650; return 420–510, 600–690)."""
QUIETEST, LOUDEST = 20.0, 45.0
"""[NC] Beyond which the table says no more."""
MOST_NOISE = {True: 30.0, False: 40.0}
"""[NC] In a sleeping cabin, and elsewhere (assumed; hotel rooms 25–35 in handbooks)."""
SIZING = {True: 27.5, False: 35.0}
"""[NC] For which grilles that nobody entered are sized, a step below the most (assumed)."""
DOOR_SPEED = 1.0
"""[m/s] Through a door's undercut or grille (common practice, no source: 0.8–1.0)."""
ROOM_SPEED = 1e-6


def speed_for(noise: float, kind: str) -> float:
    """Speed in the free area at a noise criterion. [m/s]"""
    (n1, v1), (n2, v2) = NOISE[kind][0], NOISE[kind][-1]
    return v1 + (noise - n1) * (v2 - v1) / (n2 - n1)


def noise_of(speed: float, kind: str) -> float:
    """Noise criterion at a speed in the free area, by the same line. [NC]"""
    (n1, v1), (n2, v2) = NOISE[kind][0], NOISE[kind][-1]
    return n1 + (speed - v1) * (n2 - n1) / (v2 - v1)


def noise_text(noise: float) -> str:
    """As honest as the table: a number with its width, or beyond it."""
    if noise < QUIETEST:
        return f"below {QUIETEST:.0f}"
    return f"above {LOUDEST:.0f}" if noise > LOUDEST else f"{noise:.0f} ± 5"


def air_systems(plan: Plan, around: dict[str, Around]) -> tuple[tuple[System, ...], tuple[Assumed, ...]]:
    """Every duty of the plan with its ducts and grilles, and what was assumed."""
    works = all_working(plan)
    free, assumed = _free_areas(plan)
    taken: set[str] = set()
    made = []
    for work in works:
        one, more = system(plan, work, free, around, taken)
        made.append(one)
        assumed += more
    return tuple(made), once(assumed)


def _free_areas(plan: Plan) -> tuple[dict[tuple[str, str], float], list[Assumed]]:
    """Free area of supply and return grilles of each zone: as entered, else what keeps them quiet."""
    entered = given(plan).grilles
    free: dict[tuple[str, str], float] = {}
    assumed = []
    moved: dict[str, float] = {}
    for work in all_working(plan):
        for zone in work.offer.zones:
            flow = work.offer.share(zone) * work.offer.count * work.flow
            moved[zone] = max(moved.get(zone, 0.0), flow)
    for zone, flow in moved.items():
        for kind in ("supply", "return"):
            own = [one for one in entered if one.zone == zone and one.kind == kind]
            free[zone, kind] = sum(free_area(one, FREE_SHARE) for one in own)
            if not own:
                free[zone, kind] = flow / speed_for(SIZING[sleeping(plan, zone)], kind)
                assumed.append(Assumed(f"{kind} grille of {zone}", f"sized for NC {SIZING[sleeping(plan, zone)]:g}"))
            elif any(one.free_share is None for one in own):
                assumed.append(Assumed(f"free share of {kind} grilles of {zone}", f"{100 * FREE_SHARE:.0f} %",
                                       "common practice, no source: 30–60 %"))  # fmt: skip
    return free, assumed


def ducts(plan: Plan, systems: tuple[System, ...], assumed: tuple[Assumed, ...], around: dict[str, Around]) -> Schedule:
    """Ducts run by run, those of fresh-air units last."""
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    for made in systems:
        for one in made.runs:
            rows.append((
                one.zone, made.work.label, one.name, one.run.bore, one.run.length, one.run.bends, one.flow,
                one.flow * _count(made, one.zone) / max(made.plan_of(one.zone), 1e-9), one.run.speed(one.flow),
                one.run.gradient(one.flow), one.drop, one.insulation, one.gain, one.supply,
            ))  # fmt: skip
        found += findings(plan, made)
    outdoor, more, taken = outdoor_ducts(plan, around)
    rows += outdoor
    found += more
    assumed = (*assumed, *taken)
    columns = (
        Column("zone"), Column("unit"), Column("run"), Column("bore", BORE), Column("length", LENGTH), Column("bends"),
        Column("flow", AIR_FLOW), Column("of plan", SHARE), Column("speed", SPEED), Column("friction Pa/m"),
        Column("drop", PRESSURE), Column("insulation", BORE), Column("gain", POWER),
        Column("at grille", TEMPERATURE),
    )  # fmt: skip
    notes: tuple[str, ...] = (
        "Flows with the ducts as entered: all runs of a unit see one plenum pressure, which is the drop of each with "
        "its grille; the fan's pressure falls with the square of its flow from twice its static when shut, and a fan "
        "that would move more than rated is turned down. Drops are with the grille, against the external static "
        f"of {systems[0].available if systems else STATIC:.0f} Pa.",
        "The trade takes one size up beyond 3 m, wyes and not tees, and counts 14 % of the air for each further bend "
        "(common practice, no source).",
    )
    if outdoor:
        apart = "Outdoor air comes in runs of its own, shown without their grilles: a damper in each sets its flow."
        notes = (*notes, apart)
    return Schedule("ducts", "Ducts", columns, tuple(rows), notes, tuple(found), assumed)


def _count(made: System, zone: str) -> int:
    return sum(one.zone == zone for one in made.runs)


def grilles(plan: Plan, systems: tuple[System, ...], around: dict[str, Around]) -> Schedule:
    """Supply and return grilles of each zone: fitted, wanted, speed, noise, and what they do wrong."""
    entered = given(plan).grilles
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    assumed: list[Assumed] = []
    for made in systems:
        for zone in made.work.offer.zones:
            for kind in ("supply", "return"):
                own = [one for one in entered if one.zone == zone and one.kind == kind]
                quiet = sleeping(plan, zone)
                flow = made.flow(zone)
                free = sum(free_area(one, FREE_SHARE) for one in own)
                share = free / sum(one.gross_area for one in own) if own else FREE_SHARE
                ask = flow / speed_for(SIZING[quiet], kind) / share
                speed = flow / free if own else speed_for(SIZING[quiet], kind)
                rows.append((
                    zone, kind, flow, sum(one.gross_area for one in own) if own else None, ask, share,
                    ask * share if not own else free, speed, noise_text(noise_of(speed, kind)),
                ))  # fmt: skip
                if not own:
                    assumed.append(Assumed(f"free share of the {kind} grille of {zone}", f"{100 * FREE_SHARE:.0f} %",
                                           "common practice, no source: 30–60 %"))  # fmt: skip
                if noise_of(speed, kind) > MOST_NOISE[quiet] + ROOM_SPEED:
                    found.append(Finding(
                        "grille-loud", f"zones.{zone}", f"its {kind} grilles are small for the air and whistle: "
                        f"{1e4 * ask:.0f} cm² gross would keep them quiet",
                        f"{speed:.1f} m/s, NC {noise_text(noise_of(speed, kind))}",
                        f"{speed_for(MOST_NOISE[quiet], kind):.1f} m/s", "common practice, no source",
                    ))  # fmt: skip
                found += [one for grille in own for one in _misplaced(grille, zone)]
        found += _way_back(made, entered)
    found += _sweats(systems, around)
    columns = (
        Column("zone"), Column("kind"), Column("flow", AIR_FLOW), Column("gross fitted", FREE_AREA),
        Column("gross wanted", FREE_AREA), Column("free share", SHARE), Column("free", FREE_AREA),
        Column("free-area speed", FACE_SPEED), Column("noise NC"),
    )  # fmt: skip
    notes = (
        "Speeds are in the free area; noise is of air at the grille alone, ± 5 (common practice, no source), and the "
        "unit's own comes on top.",
        "The trade's least gross areas, 70 in² (452 cm²) supply and 140 in² (903 cm²) return for each 12 kBtu/h, give "
        "4.2 and 2.1 m/s on the gross area: twice that in the free area of an ordinary louvre, which is heard.",
    )
    cautions = (
        "The return of a self-contained unit belongs in the room it cools, sealed off from engine, generator, battery "
        "and bilge spaces: carbon monoxide and fuel vapour are drawn in with its air.",
    )
    return Schedule("grilles", "Grilles", columns, tuple(rows), notes, tuple(found), once(assumed), cautions)


def _misplaced(one: GrilleText, zone: str) -> list[Finding]:
    path, found = f"zones.{zone}", []
    if one.through == "locker":
        found.append(Finding(
            "return-through-locker", path, "air goes back through a locker: what is stowed there shuts it, and starves "
            "the coil until it ices", "through: locker", "through: room", "common practice, no source",
        ))  # fmt: skip
    told = f"blows_at: {one.blows_at}", "blows_at: free", "common practice, no source"
    if one.kind == "supply" and one.blows_at == "sensor":
        found.append(Finding(
            "sensor-in-supply", path, "the thermostat's sensor feels the supply air and stops the unit before the room "
            "is cool", *told,
        ))  # fmt: skip
    if one.kind == "supply" and one.blows_at == "return":
        found.append(Finding(
            "supply-at-return", path, "supply air goes straight back to the unit: it ices, the room stays warm", *told,
        ))  # fmt: skip
    return found


def _way_back(made: System, entered: list[GrilleText]) -> list[Finding]:
    """How air of a shared unit comes back from rooms whose doors are shut."""
    zones = made.work.offer.zones
    returns = {one.zone for one in entered if one.kind == "return"}
    shut = [zone for zone in zones if zone not in returns and made.flow(zone) > 0.0]
    if len(zones) == 1 or not shut:
        return []
    openings = ", ".join(f"{zone} {1e4 * made.flow(zone) / DOOR_SPEED:.0f} cm²" for zone in shut)
    return [Finding(
        "no-return-path", f"unit of {made.work.name}", "rooms share it and no return grille of theirs is stated: with "
        f"doors shut their air needs free openings through doors or bulkheads: {openings}",
        "not given", f"{DOOR_SPEED:g} m/s through an opening", "common practice, no source: 0.8–1.0 m/s",
    )]  # fmt: skip


def _sweats(systems: tuple[System, ...], around: dict[str, Around]) -> list[Finding]:
    """A grille takes the temperature of the air that leaves it."""
    wet = [
        (around[one.zone].dew_point - one.supply, one.zone, one)
        for made in systems for one in made.runs
        if one.zone in around and one.supply < around[one.zone].dew_point
    ]  # fmt: skip
    if not wet:
        return []
    _, zone, worst = max(wet, key=lambda found: found[0])
    zones = dict.fromkeys(name for _, name, _ in wet)
    return [Finding(
        "grille-sweats", "services.grilles", f"in {', '.join(zones)} the supply air, and a metal grille with it, "
        f"is colder than the room's dew point in its dampest hours (worst in {zone}): wooden or plastic louvres, drier "
        "rooms, or more air", f"{worst.supply:.1f} °C", f"{around[zone].dew_point:.1f} °C",
        "dew point exceeded in a tenth of the proved day",
    )]  # fmt: skip
