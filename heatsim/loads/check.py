"""`check`: what a scenario rests on before anyone believes its numbers.

Defaults with their sources and their leverage (how far the block load moves over the range of each), findings from the
description and from a first run, and the trade's rules of thumb beside.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from heatsim.errors import Fault, Finding, HeatsimError
from heatsim.loads.line import Line, Stretch, make_line, one_blas_thread, solve_days
from heatsim.scenario.model import Scenario
from heatsim.scenario.plausibility import findings as described
from heatsim.scenario.reading import validate
from heatsim.scenario.resolve import resolve
from heatsim.scenario.resolved import DefaultUsed, Resolved
from heatsim.scenario.thumb import ThumbRule, rules
from heatsim.scenario.tree import Tree, load
from heatsim.solve.base import Mode

if TYPE_CHECKING:
    import numpy.typing as npt

COARSE_STEP = 900.0
"""[s] Step of the leverage runs: differences between runs of the same step are what counts."""
GLASS_CEILING = 0.9
"""[-] Glass gain above this share of the sun on its plane is impossible (common practice, no source)."""


CODES = (
    "plain-clock", "weak-climate", "no-design-day", "dew-point-above-air",
    "dew-point-high", "wet-bulb-high", "too-many-persons", "net-extract", "air-from-machinery",
    "no-outdoor-air", "little-fresh-air", "no-heating", "setpoint-low", "setpoints-cross", "open-enclosure",
    "volume-mismatch", "sole-too-large", "glass-larger-than-wall", "glass-gain-high", "u-value-out-of-family",
    "crowded", "equipment-heavy", "teak-light", "machinery-cooled", "sides-assumed",
    "glass-gain", "at-limit", "weather-gap", "weather-clock", "weather-closure", "weather-empty-column",
    "weather-filled", "weather-bounds", "weather-strange-hours", "weather-sky-light", "weather-far", "sea-weak",
    "unit-too-good", "unit-unrated", "not-held", "heat-stress", "heat-stress-shut", "unattended",
    "log-short", "log-season", "log-gap",
    "air-short", "no-suction", "intake-unknown", "intake-near", "duct-loud", "static-short", "unbalanced", "duct-gain",
    "duct-sweats", "grille-loud", "grille-sweats", "no-return-path", "return-through-locker", "sensor-in-supply",
    "supply-at-return", "pump-dry", "pump-depth-unknown", "pump-weak", "water-starved", "water-fast", "air-lock",
    "trips-on-strainer", "freezes", "too-many-on-pump", "loop-small", "pipe-sweats", "pipe-narrow", "drain-uphill",
    "drain-unknown", "sump-weak",
    "shore-small", "start-trips", "socket-mismatch", "inrush-trips", "generator-window", "generator-small",
    "generator-large", "voltage-drop", "start-dip", "battery-short", "inverter-small", "inverter-start",
    "reverse-cycle-stops", "heating-short", "outdoor-air-short", "carbon-dioxide", "carbon-dioxide-danger",
)  # fmt: skip
"""Codes of every finding there is."""


@dataclass(frozen=True)
class Leverage:
    """How far one kind of default moves the block load: at its low and at its high end [W], and how many values."""

    path: str
    count: int
    low: str
    high: str
    at_low: float
    at_high: float

    @property
    def span(self) -> float:
        """Distance between the extremes, the unchanged block load among them at zero. [W]"""
        return max(self.at_low, self.at_high, 0.0) - min(self.at_low, self.at_high, 0.0)


@dataclass(frozen=True)
class Check:
    """What `check` found. `block` is the block load of the first day, `zones` its peak by zone [W]."""

    name: str
    defaults: tuple[DefaultUsed, ...]
    findings: tuple[Finding, ...]
    thumb: tuple[ThumbRule, ...]
    block: float
    zones: dict[str, float]
    day: str
    leverage: tuple[Leverage, ...]

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "name": self.name,
            "day": self.day,
            "block_W": self.block if self.block == self.block else None,
            "zone_peak_W": self.zones,
            "defaults": [asdict(default) for default in self.defaults],
            "findings": [asdict(finding) for finding in self.findings],
            "rules_of_thumb": [asdict(rule) for rule in self.thumb],
            "leverage": [asdict(item) for item in self.leverage],
        }


def check(
    file: str | Path,
    overrides: Sequence[str] = (),
    *,
    leverage: bool = True,
    progress: Callable[[str, float], None] | None = None,
) -> Check:
    """Read a scenario file and say what it rests on.

    Parameters
    ----------
    file : str or Path
    overrides : sequence of str
        As for `read`.
    leverage : bool
        Also run the boat at both ends of every default's range.
    progress : callable, optional

    Raises
    ------
    HeatsimError
        With every fault of the file.
    """
    from heatsim.scenario.reading import read

    scenario = read(file, overrides)
    resolved = resolve(scenario)
    found = list(described(resolved))
    if resolved.weather_year is not None:
        from heatsim.climate.years import whole_year

        found += whole_year(resolved)[0].findings
    if not resolved.days:
        return Check(resolved.name, resolved.defaults, tuple(found), rules(resolved), float("nan"), {}, "year", ())
    line, stretch = _first_run(resolved)
    total, block = _counted(line, stretch)
    found += simulated_findings(line, stretch)
    items: tuple[Leverage, ...] = ()
    if leverage:
        items = _leverage(load(file), overrides, resolved, float(block.max()), progress)
    at = int(np.unravel_index(int(block.argmax()), block.shape)[0])
    peaks = dict(zip(line.zones, total[at].max(axis=0).tolist(), strict=True))
    cooled = {zone.name for zone in resolved.zones if zone.control is not None}
    return Check(
        resolved.name, resolved.defaults, tuple(found), rules(resolved), float(block.max()),
        {name: peak for name, peak in peaks.items() if name in cooled}, resolved.days[0].kind, items,
    )  # fmt: skip


def known_codes(codes: Sequence[str]) -> None:
    """Refuse codes that no finding has (a misspelt one would never fail a run); "any" stands for all.

    Raises
    ------
    HeatsimError
    """
    faults = []
    for code in codes:
        if code != "any" and code not in CODES:
            close = difflib.get_close_matches(code, CODES, 1, 0.4)
            remedy = f'Did you mean "{close[0]}"?' if close else "Known: any, " + ", ".join(CODES)
            faults.append(Fault("is not the code of a finding", path="--fail-on", value=code, remedy=remedy))
    if faults:
        raise HeatsimError(*faults)


def simulated_findings(line: Line, stretch: Stretch) -> list[Finding]:
    """What only a run shows: glass that gains more than the sun gives, zones that cannot hold.

    The inward shares of absorbed sun are those of EN 410 with the standard films, U/25 outside and 1 − U/7.7 inside.
    """
    found = []
    sun = stretch.sun
    for i, face in enumerate(line.resolved.faces):
        if face.glazing is None or face.beyond != "outdoors":
            continue
        glazing = next(g for g in line.resolved.glazings if g.name == face.glazing)
        incident = float(sun.incident[..., i].sum())
        gain = float(
            sun.transmitted[..., i].sum()
            + glazing.u_value / 25.0 * sun.outer_absorbed[..., i].sum()
            + (1.0 - glazing.u_value / 7.7) * sun.inner_absorbed[..., i].sum()
        )
        if incident > 0.0 and gain > GLASS_CEILING * incident:
            found.append(
                Finding(
                    "glass-gain", f"faces.{face.name}", "glass takes in more of the sun than glass can",
                    f"{gain / incident:.2f} of the sun on its plane", f"{GLASS_CEILING}", "common practice, no source",
                )
            )  # fmt: skip
    spent = stretch.heat.mode == Mode.LIMIT_COOL
    for i, name in enumerate(line.zones):
        share = float(spent[..., i].mean(axis=1).max())
        if share > 0.0:
            found.append(
                Finding(
                    "at-limit", f"zones.{name}", "the equipment's limit is reached, the zone floats above its setpoint",
                    f"{24.0 * share:.1f} h a day", "0 h", "",
                )
            )  # fmt: skip
    return found


def _first_run(resolved: Resolved) -> tuple[Line, Stretch]:
    from heatsim.climate.days import design_weather

    with one_blas_thread():
        line = make_line(resolved, (design_weather(resolved, resolved.days[0], COARSE_STEP),))
        return line, solve_days(line, np.asarray(resolved.place.headings, dtype=float))[0]


def _counted(line: Line, stretch: Stretch) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Hourly total cooling of zones (heading, hour, zone) and of the block (heading, hour), without recovery. [W]"""
    from heatsim.loads.paths import recovering_steps
    from heatsim.loads.peaks import ENTERING_SHARE
    from heatsim.physics.moist_air import EVAPORATION

    per_hour = round(3600.0 / stretch.weather.step)
    removed = np.maximum(-stretch.heat.heat, 0.0) + np.maximum(-stretch.moisture.heat, 0.0) * EVAPORATION
    runs, steps, zones = removed.shape
    total, share = (
        values.reshape(runs, steps // per_hour, per_hour, zones).mean(axis=2)
        for values in (removed, recovering_steps(stretch))
    )
    apart = share > ENTERING_SHARE
    return np.where(apart, 0.0, total), np.where(apart.any(axis=-1), 0.0, total.sum(axis=-1))


def _leverage(
    tree: Tree, overrides: Sequence[str], resolved: Resolved, block: float,
    progress: Callable[[str, float], None] | None,
) -> tuple[Leverage, ...]:  # fmt: skip
    """Run the first day at both ends of every kind of default, the worst heading alone."""
    groups: dict[str, list[DefaultUsed]] = {}
    for default in resolved.defaults:
        if default.low and default.high:
            groups.setdefault(kind_of(default.path), []).append(default)
    items = []
    for done, (kind, defaults) in enumerate(groups.items()):
        varied = [d for d in defaults if not _other_day(d.path, resolved)]
        ends = [
            _block(tree, [*overrides, *(f"{d.path}={getattr(d, side)}" for d in varied)], resolved) - block
            for side in ("low", "high")
            if varied
        ]
        if ends and not np.isnan(ends).any():
            items.append(Leverage(kind, len(defaults), defaults[0].low, defaults[0].high, *ends))
        if progress is not None:
            progress("leverage", (done + 1) / len(groups))
    return tuple(sorted(items, key=lambda item: -item.span))


def kind_of(path: str) -> str:
    """The kind of a default's path, the same for all zones, faces and so on: `zones.*.infiltration`."""
    return re.sub(r"\[\d+\]", "[*]", re.sub(r"^(zones|spaces|glazings|awnings)\.[^.]+", r"\1.*", path))


def _other_day(path: str, resolved: Resolved) -> bool:
    """Whether a climate value belongs to a day that the leverage run does not simulate."""
    days = {"hot", "humid", "typical"} - {resolved.days[0].kind}
    return any(path.startswith(f"climate.{day}.") for day in days)


def _block(tree: Tree, overrides: Sequence[str], resolved: Resolved) -> float:
    """Block load of the first day with changes; NaN where a change is refused (a bound beyond what the file allows)."""
    try:
        changed: Scenario = validate(tree, overrides)
        new = resolve(changed)
    except HeatsimError:
        return float("nan")
    new = replace(new, days=new.days[:1], place=replace(new.place, headings=resolved.place.headings))
    line, stretch = _first_run(new)
    return float(_counted(line, stretch)[1].max())
