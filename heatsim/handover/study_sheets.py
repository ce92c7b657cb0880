"""A finished study in the pack: its tables as schedules, its pictures beside them, read from the folder it lies in.

Nothing is simulated again: `study.json` and the pictures are those that `heatsim study` wrote.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from heatsim.errors import Fault, HeatsimError
from heatsim.report.studying import FILE
from heatsim.services.schedule import DIFFERENCE, POWER, SHARE, TEMPERATURE, Cell, Column, Schedule

LARGEST = 20_000_000
"""[bytes] Of a table or picture."""
PNG = b"\x89PNG\r\n\x1a\n"
PREFIX = "study-"
PICTURES = {
    "regions.png": "Peak of the block and electricity by region and month",
    "headings.png": "Peak of the block by bearing of the bow",
    "duration.png": "Load duration: hours in which the load is at least as large",
    "waterfall.png": "From the boat as she is to what is left, remedy by remedy",
    "certainty.png": "Share of draws whose peak stays below a size",
    "tornado.png": "What moves the block's peak, input by input",
}
"""Pictures of a study in the order they are shown, and what each shows."""
KINDS: Mapping[str, tuple[str, str | None]] = {
    "region": ("region", None), "month": ("month", None), "peak": ("peak of the block", POWER),
    "per_day": ("kWh electrical, typical day", None), "fuel": ("fuel, L a week", None),
    "margin": ("capacity over peak", SHARE), "float_temperature": ("floats at, full capacity", TEMPERATURE),
    "damp_hours": ("h above 65 %, typical day", None),
}  # fmt: skip
OF_REMEDIES: Mapping[str, tuple[str, str | None]] = {
    "remedy": ("remedy", None), "peak": ("off the peak", POWER), "mean_peak": ("off the mean of peaks", POWER),
    "float_temperature": ("cooler at full capacity", DIFFERENCE), "season": ("kWh saved, months studied", None),
    "price": ("price", None),
}  # fmt: skip
OF_WAYS: Mapping[str, tuple[str, str | None]] = {
    "way": ("way", None), "energy": ("kWh electrical", None), "damp_hours": ("h above 65 %", None),
    "band_hours": ("h within the band", None), "warmest": ("warmest air", TEMPERATURE),
}  # fmt: skip
OF_DRAWS: Mapping[str, tuple[str, str | None]] = {
    "room": ("room", None), "p50": ("P50", POWER), "p90": ("P90", POWER), "p99": ("P99", POWER),
}  # fmt: skip
OF_INPUTS: Mapping[str, tuple[str, str | None]] = {
    "input": ("input", None), "correlation": ("rank correlation", None), "low": ("lowest tenth", POWER),
    "high": ("highest tenth", POWER),
}  # fmt: skip
DANGERS = (
    "Awnings are struck before wind and must not hide exits or lights; film can crack tinted, laminated, sealed or "
    "plastic panes; foam must meet the fire class of the space and needs a vapour barrier."
)
"""Of the remedies that studies try."""
TABLES = (
    ("by_place", "study-places", "Study: by place and month", KINDS),
    ("remedies", "study-remedies", "Study: what each remedy brings", OF_REMEDIES),
    ("ways", "study-ways", "Study: ways of using her", OF_WAYS),
    ("certainty", "study-certainty", "Study: peaks over the draws", OF_DRAWS),
    ("sensitivity", "study-inputs", "Study: what moves the peak", OF_INPUTS),
)
"""Tables of a study: the key they have there, and their name, title and columns here."""


@dataclass(frozen=True)
class FinishedStudy:
    """What a pack shows of a study: title, one line on its size, tables, pictures by file name."""

    title: str
    told: str
    schedules: tuple[Schedule, ...]
    pictures: dict[str, bytes]


def finished_study(folder: Path, boat: str) -> FinishedStudy:
    """The study in a folder.

    Parameters
    ----------
    folder : Path
        As given to `heatsim study --out`.
    boat : str
        Whose pack it is.

    Raises
    ------
    HeatsimError
        Where no study has been finished there, or one of another boat.
    """
    content = _content(folder)
    title, of, runs = (content.get(key) for key in ("title", "boat", "runs"))
    if not (isinstance(title, str) and isinstance(of, str) and isinstance(runs, int)):
        raise _fault("holds no study that heatsim wrote", folder)
    if of != boat:
        raise _fault(f'is a study of "{of}", not of "{boat}"', folder, "Name a study of this boat, or leave it out")
    axes: Any = content.get("axes")
    listed = axes.items() if isinstance(axes, dict) else ()
    sizes = [f"{len(values)} {name}" for name, values in listed if isinstance(values, list) and len(values) > 1]
    told = f"{title}: {' × '.join(sizes) or 'one run'}, {runs:,} runs. Peaks are the worst heading of its design days."
    schedules = [
        one for key, name, head, kinds in TABLES if (one := _schedule(content.get(key), name, head, kinds, told))
    ]
    return FinishedStudy(title, told, tuple(schedules), _pictures(folder))


def _content(folder: Path) -> dict[str, Any]:
    file = folder / FILE
    try:
        if file.stat().st_size > LARGEST:
            raise _fault("holds tables too large for a pack", folder)
        content = json.loads(file.read_text(encoding="utf-8"))
    except OSError:
        remedy = "Name the folder that heatsim study wrote to, with its run finished"
        raise _fault("holds no finished study", folder, remedy) from None
    except (ValueError, RecursionError):
        raise _fault("holds no study that heatsim wrote", folder) from None
    if not isinstance(content, dict):
        raise _fault("holds no study that heatsim wrote", folder)
    return content


def _fault(rule: str, folder: Path, remedy: str = "") -> HeatsimError:
    return HeatsimError(Fault(rule, path="report.study", value=str(folder)[-60:], remedy=remedy))


def _schedule(
    records: Any, name: str, title: str, kinds: Mapping[str, tuple[str, str | None]], told: str
) -> Schedule | None:
    """Rows of one table, its known columns in their order; None where there are none."""
    if not isinstance(records, list) or not records or not all(isinstance(one, dict) for one in records):
        return None
    keys = [key for key in kinds if any(_cell(one.get(key)) is not None for one in records)]
    rows = tuple(tuple(_cell(one.get(key)) for key in keys) for one in records)
    if not keys:
        return None
    cautions = (DANGERS,) if kinds is OF_REMEDIES else ()
    return Schedule(name, title, tuple(Column(*kinds[key]) for key in keys), rows, (told,), cautions=cautions)


def _cell(value: Any) -> Cell:
    if isinstance(value, str):
        return value[:200]
    number = isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
    return value if number else None


def _pictures(folder: Path) -> dict[str, bytes]:
    found: dict[str, bytes] = {}
    for name in PICTURES:
        file = folder / name
        if file.is_file() and file.stat().st_size <= LARGEST:
            content = file.read_bytes()
            if content.startswith(PNG):
                found[PREFIX + name] = content
    return found


def shown(schedules: Sequence[str]) -> list[str]:
    """Names of a study's tables among those of a pack."""
    return [name for _, name, _, _ in TABLES if name in schedules]
