"""`report.html`: one page that opens anywhere, offline, and prints on paper; pictures, style and script are inside.

Everything a user wrote passes through the template's escaping; the numbers for the script stand as JSON in which no
tag can end. The page may load nothing: its policy allows its own style and script by their sums, and pictures that
are written into it.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from markupsafe import Markup

from heatsim.handover import day_chart
from heatsim.handover.headline import answers, capital
from heatsim.handover.page_sheets import for_page
from heatsim.handover.plan_view import plan_view
from heatsim.handover.record_sheets import Input, by_source
from heatsim.handover.results import MOST_RANGED, Results
from heatsim.handover.study_sheets import PICTURES as STUDY_PICTURES
from heatsim.handover.study_sheets import PREFIX, TABLES
from heatsim.handover.study_sheets import shown as shown_of_study
from heatsim.handover.tables import table
from heatsim.report.amounts import UnitSystem, difference, temperature
from heatsim.report.pictures import STYLE, label_of
from heatsim.report.plan_page import margins_line
from heatsim.report.power_pictures import STRIP as ELECTRICAL
from heatsim.report.running import CAUTION
from heatsim.scenario.resolved import Resolved
from heatsim.services.schedule import Schedule

IN_THE_PAGE = (
    "air", "seawater", "condensate", "electrical", "battery", "outdoor-air", "heating",
)  # fmt: skip
"""Schedules of services that the page shows; all of them stand in the workbook."""
KIND = "Cooling of a yacht: hand-over pack"
"""Over the name where the file gives the report no title."""
FULL = ("proof.png", "pulldown.png")
"""Pictures of many small ones, which take the width of the paper however high they are."""
STRIPS = (ELECTRICAL, "battery-night.png", "capacity.png")
"""Courses over the hours, which stand below a table and lose nothing where they are low."""
PICTURES = {
    "headings.png": "Block peak by bearing of the bow, north up",
    "layouts.png": "Layouts side by side: load and capacity of every zone, and power against the shore",
    "capacity.png": "Capacity of the chosen units against sea temperature, crossing their loads",
    "proof.png": "Air and humidity of every room over the proved days, and after switching off",
    "pulldown.png": "A baked boat pulled down by units of several sizes",
    "air-line.png": "One-line diagram of supply air",
    "sea-line.png": "One-line diagram of sea water",
    ELECTRICAL: "Power over the day against what shore, generator and inverter carry",
    "battery-night.png": "Charge of the battery over the night",
}
"""What each picture shows, for readers who do not see it."""


@dataclass(frozen=True)
class Picture:
    """A picture written into the page: what it shows, its data, its size in pixels."""

    name: str
    words: str
    uri: Markup
    width: int
    height: int


def report(
    found: Results, schedules: Mapping[str, Schedule], pictures: Mapping[str, bytes], inputs: Sequence[Input],
    version: str, system: UnitSystem,
) -> str:  # fmt: skip
    """The page as text.

    Parameters
    ----------
    schedules : mapping of name to Schedule
        All of the pack.
    pictures : mapping of file name to bytes
        PNG.
    inputs : sequence of Input
    version : str
    system : {"si", "us", "both"}
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    loads = day_chart.day_loads(found)
    style, script = (_text(name) for name in ("style.css", "script.js"))
    environment = Environment(
        loader=PackageLoader("heatsim.handover"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    context = {
        "sections": [(id, title) for id, title in SECTIONS if _present(id, found, system)],
        "name": found.resolved.name,
        "kind": found.scenario.report.title or KIND,
        "client": found.scenario.report.client,
        "place": place_line(found.resolved),
        "version": version,
        "inputs": inputs,
        "hash": found.loads.attrs["scenario_hash"],
        "overrides": json.loads(found.loads.attrs["overrides"]),
        "sizing_day": found.sizing_day,
        "answers": answers(found, system),
        "caution": CAUTION,
        "margins": capital(margins_line(found.resolved.terms, found.made.certainty, keyed=False)),
        "basis": basis_rows(found.resolved, system),
        "defaults": by_source(found),
        "ranged": len(found.resolved.zones) <= MOST_RANGED,
        "tables": {name: table(one, system, **_shown(name)) for name, one in for_page(found, schedules).items()},
        "schedules": schedules,
        "further": further(schedules),
        "services": [name for name in IN_THE_PAGE if name in schedules],
        "study": found.study,
        "study_tables": shown_of_study(list(schedules)),
        "elsewhere": [
            one.title for name, one in schedules.items() if name not in (*SHOWN, *IN_THE_PAGE, *STUDY_TABLES)
        ],
        "pictures": {name: _picture(name, content) for name, content in pictures.items()},
        "full": FULL,
        "strips": STRIPS,
        "verdicts": {ELECTRICAL: found.shore} if found.shore else {},
        "plan_view": plan_view(found, system),
        "both": system == "both",
        "blocks": [day_chart.drawing(one, system) for one in loads[: len(found.days)]],
        "zones": [day_chart.drawing(one, system) for one in loads[len(found.days) :]],
        "small": [day_chart.small_drawing(one, system) for one in loads[len(found.days) :]],
        "titles": [one.title for one in loads],
        "fills": day_chart.patterns(STYLE),
        "key": [(day_chart.swatch(name), label_of(name)) for name in _drawn(loads)],
        "load_key": day_chart.LOAD_KEY,
        "numbers": safe_json(day_chart.numbers(loads, system)),
        "style": Markup(style),
        "script": Markup(script),
        "policy": policy(style, script),
    }
    return environment.get_template("report.html").render(context)


SECTIONS = (
    ("answers", "Five answers"), ("basis", "What this rests on"), ("plan-view", "Plan view"),
    ("loads", "Loads, zone by zone"), ("days", "The day, by cause"),
    ("headings", "Rules of thumb, heading, what helps"),
    ("plant", "Plant: layouts and the choice"), ("proof", "Proof, minute by minute"),
    ("services", "Services and heating"), ("study", "Study"), ("checks", "Checks, findings, cautions"),
)  # fmt: skip
"""Every part of the page: the name its heading bears, and its title."""
MOST_ROWS = 12
"""Of a schedule of services in the page."""
SHOWN = (
    "loads", "block", "causes", "rules-of-thumb", "layouts", "margins", "units", "corrections", "one-unit-lost",
    "proof", "proof-boat", "installed", "installed-causes", "assumptions", "leverage", "levers", "checks", "findings",
    "cautions",
)  # fmt: skip
"""Schedules that have their own place in the page."""
STUDY_TABLES = tuple(name for _, name, _, _ in TABLES)


def further(schedules: Mapping[str, Schedule]) -> list[str]:
    """Cautions that stand beside no number of the page."""
    beside = {text for name in (*SHOWN, *IN_THE_PAGE) if name in schedules for text in schedules[name].cautions}
    return [str(text) for (text,) in schedules["cautions"].rows if text not in beside | {CAUTION}]


def _present(section: str, found: Results, system: UnitSystem) -> bool:
    """Whether a part is in the page: there is no proof of nothing."""
    if section == "study":
        return found.study is not None
    if section == "plan-view":
        return plan_view(found, system) is not None
    return found.proof is not None or section not in ("proof", "services")


def _shown(name: str) -> dict[str, Any]:
    """How much of a schedule the page shows."""
    options: dict[str, dict[str, Any]] = {
        "proof": {"most": 70},
        "loads": {"most": 70},
        "rules-of-thumb": {"most": 70},
        "layouts": {"without": ("sea water", "weight", "hot night")},
        "units": {"without": ("sensible aboard", "sensible load")},
        "corrections": {},
        "one-unit-lost": {"most": MOST_ROWS},
    }
    return options.get(name, {"most": MOST_ROWS, "notes": name not in (*IN_THE_PAGE, *STUDY_TABLES)})


def policy(style: str, script: str) -> str:
    """What the page may load and run: nothing but what is written into it."""
    sums = (base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in (style, script))
    style_sum, script_sum = sums
    return (
        f"default-src 'none'; img-src data:; style-src 'sha256-{style_sum}'; script-src 'sha256-{script_sum}'; "
        "base-uri 'none'; form-action 'none'"
    )


def safe_json(value: Any) -> Markup:
    """JSON that may stand in a script element: no tag, comment or line separator of scripts in it."""
    text = json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)


def place_line(resolved: Resolved) -> str:
    """Where and how she lies."""
    place = resolved.place
    headings = place.headings
    bow = (
        f"bow {headings[0]:.0f}°" if len(headings) == 1 else f"{place.heading_mode} headings, {len(headings)} simulated"
    )
    north, east = "NS"[place.latitude < 0], "EW"[place.longitude < 0]
    return (
        f"{place.name}, {abs(place.latitude):.2f}° {north} {abs(place.longitude):.2f}° {east}; {place.berth}; {bow}; "
        f"clock {place.timezone}"
    )


def basis_rows(resolved: Resolved, system: UnitSystem) -> list[dict[str, Any]]:
    """The design days: each value with whether it was given or taken."""
    taken = {default.path: default.source for default in resolved.defaults}
    rows = []
    for day in resolved.days:
        values = {
            "dry_bulb_max": temperature(day.dry_bulb_max, system), "daily_range": difference(day.daily_range, system),
            "dew_point": temperature(day.dew_point, system), "sea": temperature(day.sea, system),
            "wind": f"{day.wind:.1f} m/s" + ("" if system == "si" else f" ({day.wind / 0.514444:.0f} kn)"),
        }  # fmt: skip
        marked = {key: (text, taken.get(f"climate.{day.kind}.{key}", "")) for key, text in values.items()}
        rows.append({"day": day.kind, "date": day.date, "values": marked})
    return rows


def _drawn(loads: Sequence[day_chart.DayLoad]) -> list[str]:
    """Causes in any drawing, from the top of the stack down."""
    return [name for name in reversed(STYLE) if any(name in one.layers for one in loads)]


def _picture(name: str, content: bytes) -> Picture:
    words = PICTURES.get(name) or STUDY_PICTURES.get(name.removeprefix(PREFIX), name)
    width, height = (int.from_bytes(content[at : at + 4], "big") for at in (16, 20))  # of the PNG's first chunk
    uri = Markup("data:image/png;base64," + base64.b64encode(content).decode())
    return Picture(name, words, uri, width, height)


def _text(name: str) -> str:
    return (files("heatsim.handover") / "templates" / name).read_text(encoding="utf-8")
