"""Schedules of the chosen units: what each does aboard, what a yard makes room for, and from nameplate to capacity."""

from __future__ import annotations

from math import isfinite

from heatsim.equipment.capacity import findings
from heatsim.equipment.layouts import Layout
from heatsim.equipment.plan import Plan, chain, plant_chain
from heatsim.equipment.selection import SLEEPING
from heatsim.handover.headline import capital
from heatsim.handover.proof_words import holding
from heatsim.handover.results import Results
from heatsim.report.amounts import UnitSystem
from heatsim.report.plan_page import CAUTIONS, charge_lines
from heatsim.services.schedule import BORE, CURRENT, MASS, POWER, SHARE, VOLTAGE, Cell, Column, Schedule

ALLOWED = "allowed, dB(A)"


def units(found: Results, system: UnitSystem) -> Schedule:
    """The chosen units: what each serves, carries and takes, and how loud it is."""
    made, chosen = found.made, found.made.chosen
    assert chosen is not None
    limit = made.resolved.terms.cabin_noise
    rows: list[tuple[Cell, ...]] = []
    nights = {id(offer.by_night) for offer in chosen.offers}
    for one in chosen.duties:
        night = id(one) in nights
        allowed = limit if isfinite(limit) and any(_sleeps(made, zone) for zone in one.zones) else None
        rows.append((
            ", ".join(one.zones), "the same, by night" if night else one.unit.model, one.count,
            one.count * chain(made, one)[0].total, one.total, one.demand.total, one.sensible, one.demand.sensible,
            one.margin, one.power, one.unit.refrigerant, _known(one.unit.noise), allowed, 0.0 if night else one.weight,
            None if night else money(one.cost),
        ))  # fmt: skip
    if chosen.plant is not None:
        plant = chosen.plant
        plate = plant.count * plant_chain(made, plant.unit)[0].total
        rows.append((
            "plant: all air handlers", plant.unit.model, plant.count, plate,
            plant.capacity, plant.demand, None, None, plant.capacity / plant.demand - 1.0, plant.power,
            plant.unit.refrigerant, _known(plant.unit.noise), None, plant.weight, money(plant.cost),
        ))  # fmt: skip
    columns = [
        Column("zones"), Column("unit"), Column("count"), Column("nameplate", POWER), Column("aboard", POWER),
        Column("load", POWER), Column("sensible aboard", POWER), Column("sensible load", POWER),
        Column("margin", SHARE), Column("electric", POWER), Column("refrigerant"), Column("noise, dB(A)"),
        Column(ALLOWED), Column("weight", MASS), Column("price"),
    ]  # fmt: skip
    if not isfinite(limit):
        at = [column.head for column in columns].index(ALLOWED)
        columns, rows = columns[:at] + columns[at + 1 :], [row[:at] + row[at + 1 :] for row in rows]
    notes = [capital(holding(found, system)[1]), *(capital(line) + "." for line in charge_lines(made))]
    if isfinite(limit):
        notes.append(
            f"Noise: no unit that serves a sleeping cabin is louder than the {limit:g} dB(A) allowed there, by its "
            "catalogue; one without a figure there passes, and ducts and grilles add theirs."
        )
    told = tuple(
        finding for unit in {one.unit.model: one.unit for one in chosen.duties}.values() for finding in findings(unit)
    )
    return Schedule(
        "units", "Chosen units", tuple(columns), tuple(rows), tuple(notes), told,
        cautions=(CAUTIONS["placing"], CAUTIONS["sea"], CAUTIONS["refrigerant"]),
    )  # fmt: skip


def fitted(made: Plan, chosen: Layout) -> Schedule:
    """What a yard makes room and cables for: each unit's size, weight, noise, mains and charge, by its catalogue."""
    parts = [(", ".join(one.zones), one.unit, one.count) for one in chosen.offers]
    parts += [
        (name, one.unit, one.count) for name, one in (("plant", chosen.plant), ("outdoor air", chosen.treated)) if one
    ]
    rows: list[tuple[Cell, ...]] = [
        (
            zones, unit.model, count, unit.kind, *map(_known, unit.size), _known(unit.weight), _known(unit.noise),
            unit.voltage, unit.phases, unit.running_current, _known(unit.start_current), unit.refrigerant,
            round(1e3 * unit.charge) if unit.charge > 0.0 else None,
        )
        for zones, unit, count in parts
    ]  # fmt: skip
    columns = (
        Column("zones"), Column("unit"), Column("count"), Column("kind"), Column("longest side", BORE),
        Column("second side", BORE), Column("height", BORE), Column("weight of one", MASS), Column("noise, dB(A)"),
        Column("mains", VOLTAGE), Column("phases"), Column("rated current", CURRENT), Column("start", CURRENT),
        Column("refrigerant"), Column("charge, g"),
    )  # fmt: skip
    notes = (
        "As the catalogue has them, one unit; empty: it does not say. Room for filters, hoses, drains and hands comes "
        "on top. Currents aboard, with pumps: sheet Electrical loads; breakers and cables by the electrician.",
    )
    return Schedule("units-to-fit", "Units to fit", columns, tuple(rows), notes, cautions=(CAUTIONS["placing"],))


def _sleeps(made: Plan, zone: str) -> bool:
    return next(one.use for one in made.resolved.zones if one.name == zone) in SLEEPING


def _known(value: float) -> float | None:
    """A figure of the catalogue, None where it is silent."""
    return value if isfinite(value) and value > 0.0 else None


def money(price: float) -> int | None:
    """A price in whole money, None where the catalogue is silent."""
    return round(price) if isfinite(price) else None


def corrections(made: Plan, chosen: Layout) -> Schedule:
    """The chain of corrections of each chosen unit, step by step."""
    rows: list[tuple[Cell, ...]] = []
    chains = [(", ".join(one.zones), one.unit.model, chain(made, one)) for one in chosen.duties]
    if chosen.plant is not None:
        chains.append(("plant", chosen.plant.unit.model, plant_chain(made, chosen.plant.unit)))
    for zones, model, steps in chains:
        rows += [(zones, model, step.name, step.factor, step.total, step.source) for step in steps]
    columns = (
        Column("zones"), Column("unit"), Column("step"), Column("factor"), Column("capacity after it", POWER),
        Column("source"),
    )  # fmt: skip
    notes = ("One unit of each kind, from its nameplate to what it does aboard on the design days.",)
    return Schedule("corrections", "From nameplate to capacity aboard", columns, tuple(rows), notes)
