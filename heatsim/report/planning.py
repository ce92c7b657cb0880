"""What `heatsim plan` does: layouts side by side, the chosen one, then plan.json and pictures."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatsim.equipment.capacity import findings
from heatsim.equipment.layouts import Layout
from heatsim.equipment.logbook import Log, read_log
from heatsim.equipment.overlay import overlay
from heatsim.equipment.plan import Plan, chain, plant_chain
from heatsim.equipment.readings import diagnoses
from heatsim.equipment.selection import Offer
from heatsim.equipment.shortfall import shortfall
from heatsim.errors import Fault, HeatsimError
from heatsim.report.amounts import UnitSystem
from heatsim.report.log_page import PICTURE as LOG_PICTURE
from heatsim.report.log_page import as_json as log_json
from heatsim.report.log_page import log_drawing, print_overlay
from heatsim.report.output import json_value, refuse, staged
from heatsim.report.plan_layouts import nameplate
from heatsim.report.plan_page import CAUTIONS, charges, print_plan
from heatsim.report.plan_pictures import PICTURES, plan_drawings
from heatsim.report.proof_page import as_json, print_proof, proved
from heatsim.report.proof_pictures import PROOF_PICTURES, proof_drawings
from heatsim.report.readings_page import as_json as readings_json
from heatsim.report.readings_page import print_diagnoses
from heatsim.report.services import files as service_files
from heatsim.report.services import print_schedules, serve
from heatsim.report.shortfall_page import as_json as shortfall_json
from heatsim.report.shortfall_page import print_shortfall
from heatsim.report.worker import Worker, result_or_here
from heatsim.scenario.resolved import HOUR_BY_HOUR, Resolved

if TYPE_CHECKING:
    from rich.console import Console

    from heatsim.equipment.capacity import Step
    from heatsim.equipment.holding import Held
    from heatsim.scenario.model import Scenario

FILE = "plan.json"


def run_plan(
    file: Path,
    out: Path | None,
    changes: Sequence[str],
    units: UnitSystem | None,
    *,
    force: bool,
    pictures: bool,
    proof: bool,
    remedies: bool = False,
    services: bool = False,
    log: Path | None = None,
    console: Console | None,
    emit: Callable[[dict[str, Any]], None] | None,
) -> None:
    """Plan the equipment of a scenario file, print the choice, write it into `out`.

    `units` None takes those of the file's `report` part; `proof` runs the chosen units minute by minute; `remedies`
    simulates what would help a boat whose installed units fall short; `services` makes the yard's schedules of the
    chosen layout; `log` is laid over what is installed.
    """
    from heatsim.report.pictures import prepare_drawing
    from heatsim.scenario.reading import read
    from heatsim.scenario.resolve import resolve
    from heatsim.study.certainty import sure_plan

    scenario = read(file, changes)
    plannable(scenario, file)
    system: UnitSystem = units or scenario.report.units
    pictures = pictures and out is not None
    if out is not None:
        drawn = (*PICTURES, *([LOG_PICTURE] if log is not None else []), *(PROOF_PICTURES if proof else ()))
        refuse(out, [FILE, *(drawn if pictures else ()), *(service_files(pictures) if services else ())], force)
    resolved = resolve(scenario)
    read_in = None if log is None else _logged(log, resolved)
    with Worker(pictures) as worker:
        worker.submit(prepare_drawing)
        made = sure_plan(file, changes, resolved)
        drawings = plan_drawings(made, system) if pictures else []
        begun = [worker.submit(drawing.png) for drawing in drawings]
        if console is not None:
            with suppress(BrokenPipeError, SystemExit):  # a closed pipe ends the table, not the run
                print_plan(console, made, system)
        summary = summarise(made) | {"overrides": list(changes)}
        if made.resolved.terms.installed:
            lacking = shortfall(made, with_remedies=remedies)
            summary["why_she_falls_short"] = json_value(shortfall_json(made, lacking))
            if console is not None:
                with suppress(BrokenPipeError, SystemExit):
                    print_shortfall(console, made, lacking, system)
            if diagnosed := diagnoses(made):
                summary["readings"] = json_value(readings_json(diagnosed))
                if console is not None:
                    with suppress(BrokenPipeError, SystemExit):
                        print_diagnoses(console, diagnosed, system)
        if read_in is not None:
            laid = overlay(made, read_in)
            summary["log"] = json_value(log_json(laid))
            if console is not None:
                with suppress(BrokenPipeError, SystemExit):
                    print_overlay(console, laid, system)
            if pictures:
                drawings.append(log_drawing(laid, made.resolved.name, system))
                begun.append(worker.submit(drawings[-1].png))
        run = proved(made) if proof else None
        if run is not None:
            if pictures:
                shown = proof_drawings(made, *run, system)
                drawings += shown
                begun += [worker.submit(drawing.png) for drawing in shown]
            summary["proof"] = as_json(made, *run)
            if console is not None:
                with suppress(BrokenPipeError, SystemExit):
                    print_proof(console, made, *run, system)
        served = serve(made) if services and made.chosen is not None else None
        if served is not None:
            if pictures:
                shown = served.drawings(system)
                drawings += shown
                begun += [worker.submit(drawing.png) for drawing in shown]
            summary["services"] = served.as_json()
            if console is not None:
                with suppress(BrokenPipeError, SystemExit):
                    print_schedules(console, made, served.schedules, system)
        if emit is not None:
            emit(summary)
        if out is None:
            return
        with staged(out, force) as work:
            if served is not None:
                served.write(work, system, summary.pop("services") | {"overrides": list(changes)})
            (work / FILE).write_text(json.dumps(summary, indent=1, allow_nan=False), encoding="utf-8")
            for drawing, future in reversed(list(zip(drawings, begun, strict=True))):  # the worker begins at the front
                (work / drawing.file).write_bytes(result_or_here(future, drawing.png))
    if console is not None and not console.quiet:
        console.print(f"written to {out}: " + ", ".join(sorted(p.name for p in out.iterdir() if p.is_file())))


def _logged(log: Path, resolved: Resolved) -> Log:
    """A log of a boat that has something installed to lay it over."""
    from heatsim.climate.weather import clock

    if not resolved.terms.installed:
        raise HeatsimError(
            Fault(
                "a log is laid over the units a boat has", path="equipment.existing", remedy="Add the units fitted, "
                "such as equipment: existing: [{name: saloon unit, zones: [saloon], capacity: 16 kBtu/h}]",
            )
        )  # fmt: skip
    zones = [zone.name for zone in resolved.zones if zone.temperature is None]
    cooled = {zone.name for zone in resolved.zones if zone.control is not None}
    units = [one.name for one in resolved.terms.installed if cooled & set(one.zones)]
    return read_log(log, zones, units, clock(resolved.place.timezone))


def plannable(scenario: Scenario, file: Path) -> None:
    """Refuse what no plan is made of: another basis, or a year, whose hours are not design days."""
    if scenario.basis != HOUR_BY_HOUR:
        raise HeatsimError(
            Fault(
                "equipment is planned from hourly loads", str(file), path="basis", value=scenario.basis,
                remedy="Leave basis out; its loads by the ship standard come with heatsim loads",
            )
        )  # fmt: skip
    if scenario.climate.weather_file is not None:
        raise HeatsimError(
            Fault(
                "equipment is planned on design days, not on a weather year", str(file), path="climate.weather_file",
                value=str(scenario.climate.weather_file), remedy="Leave weather_file out for heatsim plan",
            )
        )  # fmt: skip


def summarise(made: Plan) -> dict[str, Any]:
    """A plan as plain JSON values, SI with the unit in each name; what is not known or without limit is null."""
    n, terms = made.needs, made.resolved.terms
    limits = {
        "objective": terms.objective,
        "margins": dict(terms.margins),
        "shore_VA": terms.shore,
        "generator_W": terms.generator,
        "frequency_Hz": terms.frequency,
        "apart": terms.apart,
        "together": terms.together,
        "group_size": terms.group_size,
        "largest_size_m": terms.largest,
        "largest_oversize": terms.largest_oversize,
        "largest_drift_K": terms.largest_drift,
        "cabin_noise_dBA": terms.cabin_noise,
        "fouling": terms.fouling,
        "water_flow": terms.water_flow,
        "duct_gain": terms.duct_gain,
        "cabin_one_unit_lost_degC": terms.cabin_one_lost,
        "most_damp_hours": terms.damp_hours,
        "fan": terms.fan,
    }
    needed = {
        name: {
            "peak_W": n.total[..., i].max(), "sensible_peak_W": n.sensible[..., i].max(),
            "heating_W": n.heating[i], "entering_air_degC": n.temperature[i],
        }
        for i, name in enumerate(n.zones)
    }  # fmt: skip
    units = {} if made.chosen is None else {offer.unit.model: offer.unit for offer in made.chosen.offers}
    value = {
        "title": made.resolved.name,
        "catalogue": made.resolved.catalogue or "shipped with heatsim: invented units and prices",
        "terms": limits,
        "certainty": None if made.certainty is None else vars(made.certainty),
        "needs": {"block_W": n.block, "sea_degC": n.sea, "zones": needed, "heat_and_cold_hours": n.heat_and_cold},
        "layouts": [_layout(made, layout) for layout in made.layouts],
        "chosen": None if made.chosen is None else made.chosen.name,
        "units": [] if made.chosen is None else [_offer(made, offer) for offer in made.chosen.duties],
        "plant": _plant(made),
        "heading_deg": made.heading,
        "holds": made.holds,
        "cooling_pauses": made.paused,
        "all_running": None if made.held is None else _held(made.held),
        "one_lost": [_held(held) for held in made.lost],
        "findings": [vars(finding) for unit in units.values() for finding in findings(unit)],
        "cautions": list(CAUTIONS),
    }
    plain: dict[str, Any] = json_value(value)
    return plain


def _layout(made: Plan, layout: Layout) -> dict[str, Any]:
    choice = layout.choice
    able = layout.possible
    return {
        "name": layout.name,
        "possible": able,
        "units": sum(offer.count for offer in layout.offers),
        "chillers": layout.plant.count if layout.plant else 0,
        "fresh_air_units": layout.treated.count if layout.treated else 0,
        "nameplate_W": nameplate(layout) if able else None,
        "corrected_W": layout.capacity if able else None,
        "margin": layout.margin if able else None,
        "drift_K": layout.drifts,
        "sea_water_m3_per_s": layout.sea_water if able else None,
        "hot_day_kWh": None if layout.energy is None else {"day": layout.energy[0], "night": layout.energy[1]},
        "not_held": None if layout.failures is None else [vars(one) for one in layout.failures],
        "choices_cut": layout.cut,
        "running_W": layout.power if able else None,
        "running_VA": layout.running_apparent if able else None,
        "starting_VA": layout.start_apparent if able else None,
        "weight_kg": layout.weight if able else None,
        "price": layout.cost if able else None,
        "charge_over_limit": layout.crowded,
        "zones_not_carried": layout.short,
        "proved_best": None if choice is None else choice.optimal,
        "gap": None if choice is None else choice.gap,
        "offers_considered": None if choice is None else choice.considered,
        "stands_in_the_way": [vars(one) for one in layout.relaxed],
    }


def _offer(made: Plan, offer: Offer) -> dict[str, Any]:
    return {
        "zones": offer.zones,
        "model": offer.unit.model,
        "count": offer.count,
        "the_same_by_night": None if offer.by_night is None else offer.by_night.zones,
        "air_shares": list(offer.demand.shares),
        "demand_W": offer.demand.total,
        "sensible_demand_W": offer.demand.sensible,
        "corrected_W": offer.total,
        "sensible_corrected_W": offer.sensible,
        "margin": offer.margin,
        "running_W": offer.power,
        "running_A": offer.current,
        "charge": charges(made.resolved, offer),
        "one_unit": _links(chain(made, offer)),
    }


def _plant(made: Plan) -> dict[str, Any] | None:
    if made.chosen is None or made.chosen.plant is None:
        return None
    plant = made.chosen.plant
    return {
        "model": plant.unit.model,
        "count": plant.count,
        "demand_W": plant.demand,
        "corrected_W": plant.capacity,
        "running_W": plant.power,
        "smallest_stage": plant.smallest_stage,
        "loop_water_m3": plant.loop,
        "one_unit": _links(plant_chain(made, plant.unit)),
    }


def _links(steps: Sequence[Step]) -> list[dict[str, Any]]:
    return [{"step": s.name, "capacity_W": s.total, "factor": s.factor, "source": s.source} for s in steps]


def _held(held: Held) -> dict[str, Any]:
    return {
        "lost": held.lost,
        "highest_air_degC": held.air,
        "highest_operative_degC": held.operative,
        "above_setpoint_K": held.above,
        "heat_stress": held.stressed,
    }
