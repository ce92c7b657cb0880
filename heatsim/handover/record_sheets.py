"""What the numbers rest on: assumptions with value and source, what moves them, findings, checks, cautions, inputs."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from heatsim.errors import Finding
from heatsim.handover.load_sheets import residuals
from heatsim.handover.results import Results
from heatsim.handover.sun_check import SunCheck, sun_check
from heatsim.loads.check import kind_of
from heatsim.report.plan_page import CAUTIONS
from heatsim.report.running import CAUTION
from heatsim.report.tables import same_use
from heatsim.services.schedule import POWER, Cell, Column, Schedule

CLOSES = 1e-9
"""[-] Of the peak, within which every hourly balance of heat and moisture closes (the data set's contract)."""
ALWAYS = (
    "Flooding: dedicated seacocks, double clips, inspected hoses; close them when leaving; a high-water alarm aboard.",
    "Never leave children, elderly people or animals in a closed cabin that depends on a machine to stay cool; plan "
    "for the day the generator or the pump stops.",
    "Standing water breeds germs and mould: trays, filters and intakes drain, and wet insulation is replaced.",
    "Ducts and grilles must not defeat fire divisions, escape hatches or fixed gas protection; galley and dryer ducts "
    "stay apart, for grease and lint burn.",
)
"""Customary in the trade; those that belong to a number stand beside it."""


@dataclass(frozen=True)
class Input:
    """A file that the numbers were made from: what it is, its name, the sha256 of its content."""

    what: str
    name: str
    sha256: str


def inputs(found: Results, file: Path) -> tuple[Input, ...]:
    """The files a pack is made from."""
    files = [("scenario", file)]
    if found.resolved.catalogue is not None:
        files.append(("catalogue", Path(found.resolved.catalogue)))
    return tuple(Input(what, one.name, _sha256(one)) for what, one in files)


def _sha256(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()


def record_schedules(found: Results, given: Iterable[Schedule]) -> tuple[Schedule, ...]:
    """All schedules about the numbers; `given` are those of the boat, whose findings and cautions are gathered."""
    given = tuple(given)
    kept = (
        assumptions(found), leverage(found), remedies(found), checks(found), all_findings(found, given),
        all_cautions(given),
    )  # fmt: skip
    return tuple(one for one in kept if one.rows)


def assumptions(found: Results) -> Schedule:
    """Every value that nobody gave: the scenario's defaults, one line for the same value of the same kind, then what
    the schedules assumed."""
    groups: dict[tuple[str, str, str, str], list[str]] = {}
    for default in found.resolved.defaults:
        span = f"{default.low} to {default.high}" if default.low and default.high else ""
        groups.setdefault((kind_of(default.path), default.value, same_use(default.source), span), []).append(
            default.path
        )
    rows: list[tuple[Cell, ...]] = [
        ("default", paths[0] if len(paths) == 1 else kind, len(paths), value, span or None, source)
        for (kind, value, source, span), paths in groups.items()
    ]
    for schedule in found.schedules:
        rows += [(schedule.title, one.what, 1, one.value, None, one.source) for one in schedule.assumptions]
    columns = (
        Column("of"), Column("what"), Column("times"), Column("value"), Column("range"), Column("source"),
    )  # fmt: skip
    notes = (
        "Default: not given in the scenario. Others were assumed for the schedule named, where nothing was entered.",
    )
    return Schedule("assumptions", "Assumptions", columns, tuple(rows), notes)


def by_source(found: Results) -> list[tuple[str, list[tuple[str, int, str]]]]:
    """The scenario's defaults gathered under their sources: what, for how many values, the value."""
    gathered: dict[str, list[tuple[str, int, str]]] = {}
    for of, what, count, value, _, source in assumptions(found).rows:
        if of == "default":
            gathered.setdefault(str(source), []).append((str(what), int(count or 0), str(value)))
    return list(gathered.items())


def leverage(found: Results) -> Schedule:
    """How far the block load moves over the range of each kind of default, largest first."""
    rows = tuple(
        (item.path, item.count, item.low, item.high, item.at_low, item.at_high) for item in found.checked.leverage
    )
    columns = (
        Column("default"), Column("values"), Column("from"), Column("to"), Column("load changes, from", POWER),
        Column("load changes, to", POWER),
    )  # fmt: skip
    notes = (f"The {found.checked.day} day simulated at both ends of each range; empty: that end is refused.",)
    return Schedule("leverage", "What to find out next", columns, rows, notes)


def remedies(found: Results) -> Schedule:
    """What takes load away, each simulated."""
    rows = tuple((one.name, one.power, one.caution) for one in found.remedies)
    columns = (Column("change"), Column("takes off the block load", POWER), Column("caution"))
    notes = ("Each alone; their sum is less than its parts: what one keeps out, another cannot.",)
    return Schedule("levers", "What takes load away", columns, rows, notes)


def sun(found: Results) -> SunCheck:
    """The sun held against the clock on the first day."""
    return sun_check(found.resolved.place, found.resolved.days[0])


def checks(found: Results) -> Schedule:
    """What the run says about itself."""
    heat, moisture = residuals(found)
    by_clock = sun(found)
    rows: list[tuple[Cell, ...]] = [
        ("heat balance of every hour", f"{heat:.1e} of the peak", "1e-9", _said(heat <= CLOSES)),
        ("moisture balance of every hour", f"{moisture:.1e} of the peak", "1e-9", _said(moisture <= CLOSES)),
        (
            "sun highest, by position and by longitude, clock and equation of time",
            f"{_clock(by_clock.noon)}, {_clock(by_clock.noon_by_series)}; {by_clock.highest:.0f}° high", "3 min apart",
            _said(by_clock.agrees),
        ),
        ("sunrise and sunset by the boat's clock", f"{_clock(by_clock.sunrise)}, {_clock(by_clock.sunset)}", "", ""),
    ]  # fmt: skip
    if found.proof is not None and found.made.chosen is not None:
        settled = found.proof.of(found.made.chosen.name, "settled")
        rest = float(abs(settled["energy_residual"]).max())
        rows.append(("heat to the sea in the proof", f"{rest:.1e} of the day's", "", ""))
    columns = (Column("check"), Column("found"), Column("limit"), Column("verdict"))
    return Schedule("checks", "Checks", columns, tuple(rows))


def _said(good: bool) -> str:
    return "holds" if good else "DOES NOT HOLD"


def _clock(hours: float) -> str:
    if hours != hours:
        return "never"
    minutes = round(hours * 60.0)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def all_findings(found: Results, given: Iterable[Schedule]) -> Schedule:
    """Every finding once: of the description, of the run, of units, proof and schedules."""
    told = [("scenario", one) for one in found.checked.findings]
    told += [("loads", Finding(**item)) for item in json.loads(found.loads.attrs["findings"])]
    for schedule in given:
        told += [(schedule.title, one) for one in schedule.findings]
    seen: dict[Finding, str] = {}
    for of, one in told:
        seen.setdefault(one, of)
    alike: dict[tuple[str, str, str, str, str], list[Finding]] = {}
    for one, of in seen.items():
        alike.setdefault((of, one.code, one.message, one.limit, one.source), []).append(one)
    rows = tuple(
        (of, code, _together(one.path for one in some), message, _together(one.value for one in some), limit, source)
        for (of, code, message, limit, source), some in alike.items()
    )
    columns = (
        Column("of"), Column("code"), Column("where"), Column("what"), Column("value"), Column("limit"),
        Column("source"),
    )  # fmt: skip
    return Schedule("findings", "Findings", columns, rows)


def _together(texts: Iterable[str]) -> str:
    """Each text once, one after the other."""
    return "; ".join(dict.fromkeys(texts))


def all_cautions(given: Iterable[Schedule]) -> Schedule:
    """Every caution once, the general one first."""
    texts = [CAUTION, *CAUTIONS.values(), *(text for one in given for text in one.cautions), *ALWAYS]
    rows = tuple((text,) for text in dict.fromkeys(texts))
    return Schedule("cautions", "Cautions", (Column("caution"),), rows)
