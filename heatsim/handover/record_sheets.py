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
from heatsim.handover.words import readable, said
from heatsim.loads.check import kind_of
from heatsim.report.plan_page import CAUTIONS
from heatsim.report.running import CAUTION
from heatsim.report.tables import same_use
from heatsim.services.schedule import POWER, Cell, Column, Schedule

CLOSES = 1e-9
"""[-] Of the peak, within which every hourly balance of heat and moisture closes (the data set's contract)."""
BILLIONTH = "a billionth of the largest"
ALWAYS = (
    "Flooding: dedicated seacocks, double clips, inspected hoses; close them when leaving; a high-water alarm aboard.",
    "Never leave children, elderly people or animals in a closed cabin that depends on a machine to stay cool; plan "
    "for the day the generator or the pump stops.",
    "Standing water breeds germs and mould: trays, filters and intakes drain, and wet insulation is replaced.",
    "Ducts and grilles must not defeat fire divisions, escape hatches or fixed gas protection; galley and dryer ducts "
    "stay apart, for grease and lint burn.",
)
"""Customary in the trade; those that belong to a number stand beside it."""

MOST_APART = 2
"""Values of one kind that the page lists apart."""
URGENT = (
    "not-held", "shore-small", "generator-small", "start-trips", "trips-on-strainer", "air-from-machinery",
    "carbon-dioxide-danger", "inverter-small", "battery-short", "heating-short", "outdoor-air-short", "sump-weak",
)  # fmt: skip
"""Codes of findings that an owner must hear first."""
GENERAL = ("heat-stress-shut", "unattended")
"""Codes of findings that hold for any boat left alone in summer."""


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
        span = f"{readable(default.low)} to {readable(default.high)}" if default.low and default.high else ""
        groups.setdefault(
            (kind_of(default.path), readable(default.value), readable(same_use(default.source)), span), []
        ).append(default.path)
    rows: list[tuple[Cell, ...]] = []
    for (kind, value, source, span), paths in groups.items():
        key = paths[0] if len(paths) == 1 else kind
        rows.append(("default", said(key), len(paths), value, span or None, source, key))
    for schedule in found.schedules:
        rows += [
            (schedule.title, one.what, 1, readable(one.value), None, readable(one.source), None)
            for one in schedule.assumptions
        ]
    columns = (
        Column("of"), Column("what"), Column("times"), Column("value"), Column("range"), Column("source"),
        Column("in the file"),
    )  # fmt: skip
    notes = (
        "Default: not given in the scenario. Others were assumed for the schedule named, where nothing was entered. "
        "Rounded to three figures: resolved.yaml has all of them.",
    )
    return Schedule("assumptions", "Assumptions", columns, tuple(rows), notes)


def by_source(found: Results) -> list[tuple[str, list[str]]]:
    """The scenario's defaults gathered under their sources, one text for a kind: what, for how many values, the values.

    Of many values of a kind only the first are named; the sheet of assumptions has all.
    """
    gathered: dict[str, dict[str, list[tuple[str, int, str]]]] = {}
    for of, what, count, value, _, source, key in assumptions(found).rows:
        if of == "default":
            kinds = gathered.setdefault(str(source), {})
            kinds.setdefault(kind_of(str(key)), []).append((str(what), int(count or 0), str(value)))
    return [
        (source, [text for kind, some in kinds.items() for text in _gathered(kind, some)])
        for source, kinds in gathered.items()
    ]


def _gathered(kind: str, some: list[tuple[str, int, str]]) -> list[str]:
    if len(some) <= MOST_APART:
        return [f"{what}{f' ({count} times)' if count > 1 else ''}: {value}" for what, count, value in some]
    values = list(dict.fromkeys(value for _, _, value in some))
    rest = len(values) - MOST_APART
    shown = ", ".join(values[:MOST_APART]) + (f" and {rest} other values" if rest > 0 else "")
    return [f"{said(kind)} ({sum(count for _, count, _ in some)} times): {shown}"]


def leverage(found: Results) -> Schedule:
    """How far the block load moves over the range of each kind of default, largest first."""
    rows = tuple(
        (
            said(item.path), item.count, readable(item.low), readable(item.high), item.at_low, item.at_high, item.path,
        )
        for item in found.checked.leverage
    )  # fmt: skip
    columns = (
        Column("not given"), Column("values"), Column("from"), Column("to"), Column("load changes, from", POWER),
        Column("load changes, to", POWER), Column("in the file"),
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
        ("heat in and out of every room, every hour", _rest(heat), BILLIONTH, _verdict(heat <= CLOSES)),
        ("moisture in and out of every room, every hour", _rest(moisture), BILLIONTH, _verdict(moisture <= CLOSES)),
        (
            "the sun's noon by the boat's clock, worked out in two ways",
            f"{_clock(by_clock.noon)}, {_clock(by_clock.noon_by_series)}; {by_clock.highest:.0f}° high", "3 min apart",
            _verdict(by_clock.agrees),
        ),
        ("sunrise and sunset by the boat's clock", f"{_clock(by_clock.sunrise)}, {_clock(by_clock.sunset)}", "", ""),
    ]  # fmt: skip
    if found.proof is not None and found.made.chosen is not None:
        settled = found.proof.of(found.made.chosen.name, "settled")
        rest = float(abs(settled["energy_residual"]).max())
        rows.append(
            ("heat given to the sea, by its parts, in the proof", _rest(rest), BILLIONTH, _verdict(rest <= CLOSES))
        )
    columns = (Column("check"), Column("found"), Column("limit"), Column("verdict"))
    return Schedule("checks", "Checks", columns, tuple(rows))


def _rest(share: float) -> str:
    """What a balance leaves over, of the largest amount in it."""
    return "nothing is left over" if share <= CLOSES else f"{share:.1e} is left over"


def _verdict(good: bool) -> str:
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
        (
            of, code, _together(said(one.path) for one in some), message,
            _together(readable(one.value) for one in some), readable(limit), source,
        )
        for (of, code, message, limit, source), some in sorted(alike.items(), key=lambda item: _rank(item[0][1]))
    )  # fmt: skip
    columns = (
        Column("of"), Column("code"), Column("where"), Column("what"), Column("value"), Column("limit"),
        Column("source"),
    )  # fmt: skip
    return Schedule("findings", "Findings", columns, rows)


def _rank(code: str) -> int:
    """Where a finding stands among the others: what fails first, what nobody told after it, what always holds last."""
    if code in URGENT:
        return URGENT.index(code)
    return len(URGENT) + (2 if code in GENERAL else 1 if code.endswith("-unknown") else 0)


def _together(texts: Iterable[str]) -> str:
    """Each text once, one after the other."""
    return "; ".join(dict.fromkeys(texts))


def all_cautions(given: Iterable[Schedule]) -> Schedule:
    """Every caution once, the general one first."""
    texts = [CAUTION, *CAUTIONS.values(), *(text for one in given for text in one.cautions), *ALWAYS]
    rows = tuple((text,) for text in dict.fromkeys(texts))
    return Schedule("cautions", "Cautions", (Column("caution"),), rows)
