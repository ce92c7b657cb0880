"""Schedules of a plan: layouts side by side, chosen units with their corrections, one unit lost, and the proof."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import nan

from heatsim.equipment.layouts import Layout
from heatsim.equipment.plan import Plan
from heatsim.errors import Finding
from heatsim.handover.headline import way_out
from heatsim.handover.results import Results
from heatsim.handover.unit_sheets import corrections, fitted, money, units
from heatsim.handover.words import LAYOUTS, LIMITS
from heatsim.report.amounts import UnitSystem
from heatsim.report.plan_layouts import failures, nameplate, worst_zone, worth_text
from heatsim.report.plan_page import (
    CAUTIONS,
    CHECKED,
    INVENTED,
    choice_line,
    margins_line,
)  # fmt: skip
from heatsim.report.proof_page import FANS
from heatsim.report.shortfall_page import headline
from heatsim.services.schedule import (
    APPARENT,
    DIFFERENCE,
    ENERGY,
    HOURS,
    MASS,
    POWER,
    SHARE,
    TEMPERATURE,
    WATER_FLOW,
    Cell,
    Column,
    Schedule,
)  # fmt: skip

RUNS = {"settled": "", "full": " with everything running at full", "start: baked": "", "baked": "", "coast": ""}
"""How a reader calls the starts of a proof's runs; most findings say it themselves."""
KWH = 3.6e6
"""[J/kWh]"""


def plan_schedules(found: Results, system: UnitSystem) -> tuple[Schedule, ...]:
    """All schedules of a plan and its proof; what needs a chosen layout is left out where there is none."""
    made = found.made
    always = (layouts(made, system), margins(made), *installed(found, system))
    if made.chosen is None or found.proof is None:
        return always
    kept = [
        units(found, system),
        fitted(made, made.chosen),
        corrections(made, made.chosen),
        lost(made),
        proof(found),
        boat(found),
    ]
    if found.pulled is not None:
        kept.append(pull_down(found))
    return (*always, *(one for one in kept if one.rows))


def layouts(made: Plan, system: UnitSystem) -> Schedule:
    """Every layout a row."""
    rows: list[tuple[Cell, ...]] = []
    for one in made.layouts:
        name = LAYOUTS.get(one.name, one.name) + (" (chosen)" if one is made.chosen else "")
        if not one.possible:
            rows.append((name, None, *[None] * 13, f"cannot be built within the terms: {in_the_way(one, made)}"))
            continue
        day, night = one.energy or (nan, nan)
        rows.append((
            name, sum(offer.count for offer in one.offers) + (one.plant.count if one.plant else 0), nameplate(one),
            one.capacity, one.margin, one.worst_drift, one.running_apparent, one.start_apparent, one.power, one.weight,
            money(one.cost), day * KWH, night * KWH, one.sea_water,
            ", ".join(one.crowded) or "nowhere", failures(one, system),
        ))  # fmt: skip
    columns = (
        Column("layout"), Column("units"), Column("nameplate", POWER), Column("aboard", POWER),
        Column("least margin", SHARE), Column("no thermostat, off by", DIFFERENCE), Column("running", APPARENT),
        Column("largest start", APPARENT), Column("electric", POWER), Column("weight", MASS), Column("price"),
        Column("hot day", ENERGY), Column("hot night", ENERGY), Column("sea water", WATER_FLOW),
        Column("charge over limit in"), Column("proof"),
    )  # fmt: skip
    notes = [
        CHECKED,
        "Aboard: corrected for sea, air, ducts and fouling. No thermostat, off by: how far a room without one of its "
        "own strays from its setpoint. Prices are in the catalogue's own currency.",
    ]
    if made.chosen is None:
        notes.insert(0, "No layout can be built within these terms. " + way_out(made))
    else:
        why = choice_line(made, made.chosen).removeprefix(f"chosen: {made.chosen.name}, ")
        notes.insert(0, f"Chosen: {LAYOUTS.get(made.chosen.name, made.chosen.name)}, {why}.")
    notes.append(INVENTED if made.resolved.catalogue is None else "Units come from a catalogue of the boat's own.")
    return Schedule(
        "layouts", "Layouts side by side", columns, tuple(rows), tuple(notes), cautions=(CAUTIONS["shore"],)
    )


def in_the_way(layout: Layout, made: Plan) -> str:
    """Which limit to lift for a layout that cannot be built."""
    ways = [f"{LIMITS.get(one.limit, one.limit)} ({worth_text(one.worth, made)} without it)" for one in layout.relaxed]
    return "; ".join(ways) or "more than one limit, or no unit is large enough"


def margins(made: Plan) -> Schedule:
    """Margins declared, added up in one line."""
    terms = made.resolved.terms
    rows: list[tuple[Cell, ...]] = [(name, share) for name, share in terms.margins]
    rows.append(("all together", terms.margin - 1.0))
    columns = (Column("margin on the loads"), Column("share", SHARE))
    return Schedule("margins", "Margins", columns, tuple(rows), (margins_line(terms, made.certainty, keyed=False),))


def installed(found: Results, system: UnitSystem) -> tuple[Schedule, ...]:
    """What is fitted already: where each zone floats with it, and what each unit lacks and why."""
    lacking = found.lacking
    if lacking is None:
        return ()
    held, paused = lacking.held, found.made.paused
    rows: list[tuple[Cell, ...]] = [
        (name, held.air[name], held.operative[name], above, "cooling pauses" if name in paused else "")
        for name, above in sorted(held.above.items(), key=lambda item: -item[1])
    ]
    columns = (
        Column("zone"), Column("floats at, air", TEMPERATURE), Column("operative", TEMPERATURE),
        Column("above setpoint", DIFFERENCE), Column("remark"),
    )  # fmt: skip
    notes = [f"{headline(found.made, lacking, system)}."]
    if lacking.unserved:
        notes.append(f"Nothing installed serves {', '.join(lacking.unserved)}.")
    warned = (f"{', '.join(held.stressed)}: {CAUTIONS['heat']}",) if held.stressed else ()
    floats = Schedule("installed", "As she is fitted", columns, tuple(rows), tuple(notes), cautions=warned)
    causes: list[tuple[Cell, ...]] = [
        (gap.unit, ", ".join(gap.zones), gap.demand, gap.capacity, gap.lack, name, watts)
        for gap in lacking.gaps
        for name, watts in gap.causes
        if abs(watts) >= 0.5
    ]
    heads = (
        Column("unit"), Column("zones"), Column("asked for", POWER), Column("does aboard", POWER),
        Column("lacks", POWER), Column("cause"), Column("takes", POWER),
    )  # fmt: skip
    told = ("Lacks: below zero it is to spare. What the causes take adds up to it; below zero a cause helps.",)
    return floats, Schedule("installed-causes", "What fitted units lack, and why", heads, tuple(causes), told)


def lost(made: Plan) -> Schedule:
    """What becomes of the boat with each unit out of order."""
    rows: list[tuple[Cell, ...]] = []
    for held in sorted(made.lost, key=lambda one: -worst_zone(made, one)[1]):
        name, above = worst_zone(made, held)
        rows.append(
            (held.lost or "", name, above, held.air[name], held.operative[name], ", ".join(held.stressed) or None)
        )
    columns = (
        Column("unit out of order"), Column("worst zone"), Column("above setpoint", DIFFERENCE),
        Column("its air", TEMPERATURE), Column("operative", TEMPERATURE), Column("heat stress in"),
    )  # fmt: skip
    stressed = any(held.stressed for held in made.lost)
    return Schedule(
        "one-unit-lost", "One unit lost, the rest running", columns, tuple(rows),
        cautions=(CAUTIONS["heat"],) if stressed else (),
    )  # fmt: skip


def proof(found: Results) -> Schedule:
    """The proof by zone and day."""
    assert found.proof is not None
    assert found.made.chosen is not None
    name = found.made.chosen.name
    settled, baked, full, coast = (found.proof.of(name, start) for start in ("settled", "baked", "full", "coast"))
    rows: list[tuple[Cell, ...]] = []
    for i, day in enumerate(map(str, settled["day"].values)):
        for z, zone in enumerate(map(str, settled["zone"].values)):

            def at(figure: str, part: object = settled, i: int = i, z: int = z) -> float:
                return float(part[figure].values[i, z])  # type: ignore[index]

            rows.append((
                day, zone, at("above_setpoint"), at("degree_hours"), at("float_temperature", full),
                at("hours_above_60"), at("hours_above_65"), at("hours_above_70"), at("hours_skin_above_80"),
                at("cycles"), at("run_fraction"), _reached(at("pull_down", baked)),
                _reached(at("pull_down_humidity", baked)), _reached(at("coast_down", coast)),
            ))  # fmt: skip
    columns = (
        Column("day"), Column("zone"), Column("above setpoint", DIFFERENCE), Column("degree hours, K h"),
        Column("floats at, full capacity", TEMPERATURE), Column("above 60 %", HOURS), Column("above 65 %", HOURS),
        Column("above 70 %", HOURS), Column("skins above 80 %", HOURS), Column("starts, 1/h"), Column("runs", SHARE),
        Column("baked to setpoint", HOURS), Column("and to 60 %", HOURS), Column("27 °C after switch-off", HOURS),
    )  # fmt: skip
    notes = (
        "Minute by minute with thermostats, starts and wet coils. Above setpoint: worst hourly mean. Floats at: "
        "highest hourly air with everything running at full. Hours above a humidity count in the room, above 80 % at "
        "its coldest skin. Baked: the boat closed and off, everything started in the afternoon.",
    )
    return Schedule(
        "proof", "Proof by zone", columns, tuple(rows), notes, tuple(_retold(name, one) for one in found.proof.cautions)
    )


def _retold(layout: str, finding: Finding) -> Finding:
    """A finding of the proof without the words for runs: where it is found is a day and a room."""
    where = finding.path.removeprefix(f"{layout}, ")
    for run, words in RUNS.items():
        where = where.removesuffix(run) + words if where.endswith(run) else where.replace(f", {run}: ", f"{words}, ")
    return replace(finding, path=where)


def boat(found: Results) -> Schedule:
    """What the whole boat takes on the proved days."""
    assert found.proof is not None
    assert found.made.chosen is not None
    settled = found.proof.of(found.made.chosen.name, "settled")
    rows: list[tuple[Cell, ...]] = []
    for i, day in enumerate(map(str, settled["day"].values)):
        one = settled.isel(run=i)
        figures = ("energy", "fuel", "peak_current", "peak_start_current", "condensate")
        energy, *rest = (float(one[name]) for name in figures)
        rows.append((day, energy * KWH, *rest))
    columns = (
        Column("day"), Column("electric", ENERGY), Column("by generator, L"), Column("running at most, A"),
        Column("with a start, A"), Column("condensate, L"),
    )  # fmt: skip
    return Schedule(
        "proof-boat", "What the proved days take", columns, tuple(rows),
        (f"Fans {FANS[found.made.resolved.terms.fan]}.",),
    )  # fmt: skip


def pull_down(found: Results) -> Schedule:
    """A baked boat pulled down by the chosen size and by others."""
    assert found.pulled is not None
    pulled = found.pulled
    rows: list[tuple[Cell, ...]] = []
    for i, name in enumerate(map(str, pulled["candidate"].values)):
        for d, day in enumerate(map(str, pulled["day"].values)):
            times: Sequence[float | None] = [
                _reached(float(pulled[figure].values[i, d]))
                for figure in ("boat_pull_down", "boat_pull_down_humidity", "all_pull_down")
            ]
            rows.append((name, day, float(pulled["capacity"].values[i]), *times, str(pulled["models"].values[i])))
    columns = (
        Column("size"), Column("day"), Column("capacity", POWER), Column("mean air at setpoint", HOURS),
        Column("and at 60 %", HOURS), Column("every room has been there", HOURS), Column("units"),
    )  # fmt: skip
    notes = ("Empty: not reached within the day. Sizes: the next of each unit's kind in the catalogue.",)
    return Schedule("pull-down", "Baked boat pulled down, by size", columns, tuple(rows), notes)


def _reached(hours: float) -> float | None:
    return hours if hours < 1e6 else None
