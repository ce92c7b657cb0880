"""The names nobody can guess, one line each with its source: regions, lay-ups, glazings, routines, units and more."""

from __future__ import annotations

from collections.abc import Mapping

from heatsim.physics.frames import u_value
from heatsim.scenario.regions import region_codes
from heatsim.scenario.shell import resistance, shipped_layers
from heatsim.tables import loader

Row = Mapping[str, str]

_PLAIN = {
    "routines": ("routines", {"routine": "routine", "course": "course", "source": "source"}),
    "glazings": (
        "glazings",
        {
            "glazing": "glazing",
            "U W/(m2 K)": "u_value_W_per_m2_K",
            "g": "g_value",
            "panes": "panes",
            "source": "source",
        },
    ),
    "activities": (
        "activities",
        {"activity": "activity", "total W": "total_W", "sensible W at 24 degC": "sensible_24C_W", "source": "source"},
    ),
    "materials": (
        "materials",
        {
            "material": "material",
            "W/(m K)": "conductivity_W_per_m_K",
            "kg/m3": "density_kg_per_m3",
            "J/(kg K)": "specific_heat_J_per_kg_K",
            "source": "source",
        },
    ),
    "colours": (
        "colours",
        {"colour": "colour", "absorptance": "absorptance", "emissivity": "emissivity", "source": "source"},
    ),
    "uses": (
        "uses",
        {
            "use": "use",
            "setpoint degC": "setpoint_C",
            "berths": "berths",
            "lights W/m2": "lights_W_per_m2",
            "source": "source",
        },
    ),
    "fabrics": (
        "awnings",
        {"fabric": "fabric", "transmittance": "transmittance", "absorptance": "absorptance", "source": "source"},
    ),
    "films": (
        "films",
        {
            "film": "film",
            "transmittance on 6 mm clear": "transmittance",
            "reflectance": "reflectance",
            "source": "source",
        },
    ),
    "blinds": (
        "blinds",
        {"blind": "blind", "transmittance": "transmittance", "reflectance": "reflectance", "source": "source"},
    ),
}

LISTS = (*_PLAIN, "regions", "lay-ups", "units")
"""What can be listed."""


def rows(what: str, word: str | None = None) -> tuple[list[str], list[list[str]]]:
    """Heads and lines of one list, narrowed to lines that hold a word.

    Parameters
    ----------
    what : str
        One of `LISTS`.
    word : str, optional
        Text that a line must hold, in any case of letters; a harbour stands for its region.
    """
    if what == "regions":
        heads, lines = _regions()
    elif what == "lay-ups":
        heads, lines = _lay_ups()
    elif what == "units":
        heads, lines = _units()
    else:
        table, columns = _PLAIN[what]
        heads, lines = list(columns), [[row[key] for key in columns.values()] for row in loader.rows(table)]
    if word:
        of_harbour = region_codes(word) if what == "regions" else ()
        lines = [line for line in lines if word.lower() in " ".join(line).lower() or line[0] in of_harbour]
    return heads, lines


def _regions() -> tuple[list[str], list[list[str]]]:
    lines = []
    for code in dict.fromkeys(row["region"] for row in loader.rows("regions")):
        months = [row for row in loader.rows("regions") if row["region"] == code]
        hot = max(months, key=lambda row: float(row["design_db_C"]))
        source = f"air {hot['src_air']}; design {hot['src_design_db']}; dew {hot['src_dp']}; sea {hot['src_sst_max']}"
        lines.append(
            [code, hot["name"], hot["month"], hot["design_db_C"], hot["design_dp_C"], hot["sst_max_C"], source]
        )
    return ["code", "region", "hottest month", "design degC", "dew point degC", "sea degC", "source"], lines


def _lay_ups() -> tuple[list[str], list[list[str]]]:
    lines = []
    for row in loader.rows("lay_ups"):
        value = u_value(resistance(shipped_layers(row["lay_up"])))
        lines.append([row["lay_up"], row["layers"], f"{value:.2f}", row["source"]])
    return ["lay-up", "layers from inside", "U W/(m2 K)", "source"], lines


def _units() -> tuple[list[str], list[list[str]]]:
    lines = [
        [row["unit"], row["kind"] or "?", row["question"] or f"{row['factor']}", row["source"]]
        for row in loader.rows("units")
    ]
    return ["unit", "kind", "factor to SI, or the question it raises", "source"], lines
