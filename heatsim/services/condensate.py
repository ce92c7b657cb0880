"""Condensate: litres an hour at full capacity and a day as proved, drains that must fall at heel and trim, the sump.

Litres an hour are what the coil takes out of the air it is planned for, running without a pause. Litres a day are what
the proof's units really drained, shared out by what each unit's rooms lost.
"""

from __future__ import annotations

from math import sin

import numpy as np

from heatsim.equipment.plan import Plan
from heatsim.equipment.proof import Proof
from heatsim.equipment.selection import Offer
from heatsim.errors import Finding
from heatsim.scenario.services import DrainText
from heatsim.services.air import TON
from heatsim.services.schedule import BORE, LENGTH, SHARE, SMALL_FLOW, VOLUME, Assumed, Cell, Column, Schedule, once
from heatsim.services.units import chosen, given, working

FALL = 0.02
"""[-] Least fall of a drain, heel and trim included (common practice, no source: 1/4 in per foot)."""
HEEL, TRIM = 0.0873, 0.0349
"""[rad] Working heel 5° and trim 2° (assumed)."""
BORE_USUAL, SUMP = 0.019, 2e-3
"""[m], [m³] (assumed)."""
SUMP_FACTOR = 4.0
"""[-] Of a sump pump over the most that drains into it (assumed)."""
STARTS = 10.0
"""[1/h] Most starts of a sump pump's switch (assumed)."""
WATER = 998.0
"""[kg/m³] At 20 °C (textbook)."""
STANDING = (
    "Standing water breeds bacteria, Legionella among them, and mould: trays and sumps run empty, are cleaned with the "
    "filters, and never lie in the way of supply air."
)


def condensate(plan: Plan, proof: Proof) -> tuple[Schedule, Schedule]:
    """Condensate of every unit, and its drains."""
    return units_schedule(plan, proof), drains_schedule(plan)


def hourly(plan: Plan, offer: Offer) -> float:
    """What all units of an offer drain at full capacity, the larger of day and night rooms. [m³/s]"""
    return max(duty.count * float(working(plan, duty).done.condensate) for duty in offer.duties) / WATER


def daily(plan: Plan, proof: Proof) -> tuple[dict[str, float], ...]:
    """What every unit drains on each proved day, by what its rooms lost; together what the boat drained. [m³]"""
    layout = chosen(plan)
    part = proof.of(layout.name)
    found: tuple[dict[str, float], ...] = tuple({} for _ in layout.offers)
    zones = [str(zone) for zone in part["zone"].values]
    for run in range(part.sizes["run"]):
        day = str(part["day"].values[run])
        removed = np.maximum(part["vapour_removed"].values[run], 0.0)
        by_unit = np.array([sum(removed[zones.index(zone)] for zone in offer.covered) for offer in layout.offers])
        drained = float(part["condensate"].values[run]) / 1e3
        shares = by_unit / by_unit.sum() if by_unit.sum() > 0.0 else np.zeros(len(by_unit))
        for own, share in zip(found, shares, strict=True):
            own[day] = drained * float(share)
    return found


def units_schedule(plan: Plan, proof: Proof) -> Schedule:
    """Litres an hour and a day."""
    layout = chosen(plan)
    by_day = daily(plan, proof)
    days = list(dict.fromkeys(day for own in by_day for day in own))
    rows: list[tuple[Cell, ...]] = []
    for offer, own in zip(layout.offers, by_day, strict=True):
        flow, work = hourly(plan, offer), working(plan, offer)
        total = float(work.done.total) * offer.count
        sensible = float(work.done.sensible) * offer.count
        rows.append((
            " + ".join(offer.covered), work.label, sensible / total if total > 0.0 else None, flow,
            flow / max(total, 1.0) * TON, *(own[day] for day in days),
        ))  # fmt: skip
    whole = sum(hourly(plan, offer) for offer in layout.offers)
    rows.append(("all", "", None, whole, None, *(sum(own[day] for own in by_day) for day in days)))
    columns = (
        Column("serves"), Column("unit"), Column("sensible share", SHARE), Column("running flat out", SMALL_FLOW),
        Column("per 12 kBtu/h", SMALL_FLOW), *(Column(f"{day} day", VOLUME) for day in days),
    )  # fmt: skip
    notes = (
        "A day: as the proof's units drained, re-evaporation from wet coils taken off; a coil for outdoor air counts "
        "with the rooms it serves. By the trade 1.0, 1.5, 2.1 and 2.6 L/h for each 12 kBtu/h at sensible "
        "shares of 0.8, 0.7, 0.6 and 0.5 (common practice, no source).",
    )
    return Schedule("condensate", "Condensate", columns, tuple(rows), notes, (), (), (STANDING,))


def drains_schedule(plan: Plan) -> Schedule:
    """Drains with their fall upright and at working heel or trim, and the sump's duty."""
    said, layout = given(plan).drains, chosen(plan)
    heel, trim = (HEEL if said.heel is None else said.heel * np.pi / 180.0,
                  TRIM if said.trim is None else said.trim * np.pi / 180.0)  # fmt: skip
    assumed = [Assumed(what, text) for is_given, what, text in (
        (said.heel, "working heel", "5°"), (said.trim, "working trim", "2°")) if is_given is None]  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    found: list[Finding] = []
    sump, unknown = 0.0, []
    for offer in layout.offers:
        serves, flow = " + ".join(offer.covered), hourly(plan, offer)
        own = [one for one in said.runs if one.serves in offer.covered]
        for one in own:
            upright, worst = one.drop / one.length, _worst_fall(one, heel, trim)
            sump += flow if one.ends == "sump" else 0.0
            bore = BORE_USUAL if one.bore is None else one.bore
            if one.bore is None:
                assumed.append(Assumed(f"drain of {serves}", f"{1e3 * BORE_USUAL:.0f} mm bore"))
            rows.append((serves, flow, one.length, one.drop, one.lies, upright, worst, bore, one.ends))
            if worst < FALL:
                found.append(_uphill(one, serves, worst, max(heel, 0.0) if one.lies == "athwart" else trim))
        if not own:
            sump += flow
            rows.append((serves, flow, None, None, "not stated", None, None, None, "not stated"))
            unknown.append(serves)
    if unknown:
        found.append(Finding(
            "drain-unknown", "services.drains", f"nobody said where the water of {'; '.join(unknown)} goes: it needs a "
            f"fall of {100.0 * FALL:.0f} % all the way, at working heel and trim too", "not given",
            f"{100.0 * FALL:.0f} %", "common practice, no source",
        ))  # fmt: skip
    volume = SUMP if said.sump_volume is None else said.sump_volume
    if said.sump_volume is None:
        assumed.append(Assumed("water between the sump's switch points", f"{1e3 * SUMP:.0f} L"))
    wanted = SUMP_FACTOR * sump
    rows.append(("sump", sump, None, None, "", None, None, None, f"pump of {3.6e6 * wanted:.0f} L/h or more"))
    starts = sump / volume * 3600.0
    if said.sump_pump is not None and said.sump_pump < wanted:
        found.append(Finding("sump-weak", "services.drains.sump_pump", "it hardly keeps up with what drains into it",
                             f"{3.6e6 * said.sump_pump:.0f} L/h", f"{3.6e6 * wanted:.0f} L/h", "assumed"))  # fmt: skip
    if starts > STARTS:
        found.append(Finding("sump-weak", "services.drains.sump_volume", "its switch works too often: a larger sump",
                             f"{starts:.0f} starts an hour", f"{STARTS:.0f}", "assumed"))  # fmt: skip
    columns = (
        Column("serves"), Column("running flat out", SMALL_FLOW), Column("length", LENGTH), Column("drop", LENGTH),
        Column("lies"), Column("fall", SHARE), Column("at heel or trim", SHARE), Column("bore", BORE), Column("ends"),
    )  # fmt: skip
    notes = (
        f"The sump takes what is not said to end elsewhere, {starts:.1f} starts an hour at {1e3 * volume:.1f} L; its "
        f"pump is {SUMP_FACTOR:g} times the most that drains into it, at its lift.",
        "A trap that dries out lets bilge air be drawn in; a drain above the waterline needs a swan neck against seas.",
    )
    return Schedule(
        "drains", "Condensate drains", columns, tuple(rows), notes, tuple(found), once(assumed), (STANDING,)
    )


def _worst_fall(one: DrainText, heel: float, trim: float) -> float:
    """Fall with the boat heeled or trimmed against the drain. [-]"""
    return one.drop / one.length - sin(heel if one.lies == "athwart" else trim)


def _uphill(one: DrainText, serves: str, worst: float, angle: float) -> Finding:
    wanted = (FALL + sin(angle)) * one.length
    what = "runs uphill" if worst < 0.0 else "hardly falls"
    return Finding(
        "drain-uphill", f"services.drains.{serves}",
        f"at {np.degrees(angle):.0f}° of {'heel' if one.lies == 'athwart' else 'trim'} it {what} and the tray spills: "
        f"a drop of {1e3 * wanted:.0f} mm over its length, or drains to both sides",
        f"{100.0 * worst:.1f} %", f"{100.0 * FALL:.0f} %", "common practice, no source",
    )  # fmt: skip
