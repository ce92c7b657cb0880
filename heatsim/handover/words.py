"""Keys and values of a scenario file in a designer's words, for readers who never open the file."""

from __future__ import annotations

import re
from contextlib import suppress
from typing import Any

from heatsim.equipment.layouts import ABOARD, CENTRAL, DAY_NIGHT, EACH, GROUPS, ONE, TREATED
from heatsim.errors import HeatsimError
from heatsim.scenario.quantities import unit_list
from heatsim.scenario.tree import parse

FIELDS = {
    "dry_bulb_max": "hottest air", "daily_range": "daily range of the air", "dew_point": "dew point",
    "sea": "sea", "wind": "wind", "clearness": "clearness of the sky", "timezone": "clock", "month": "month",
    "berth": "berth", "heading": "heading", "marina_offset": "basin warmer than the open sea by",
    "ground_reflectance": "sun thrown back by the quay", "lay_up": "layers of faces", "routine": "hours",
    "setpoint": "temperature held", "heating_setpoint": "temperature held when heating",
    "humidity_limit": "highest humidity allowed", "fresh_air": "outdoor air", "infiltration": "air through leaks",
    "furnishing_capacity": "heat that furnishings hold", "moisture_factor": "moisture that furnishings hold",
    "people": "persons", "lights": "lights", "equipment": "equipment", "moisture": "vapour set free",
    "cooling": "hours of cooling", "heating": "hours of heating", "fan": "hours of fans", "controlled": "held by",
    "sun_shares": "where the sun falls inside", "tilt": "tilt", "foreground": "what they look at",
    "above": "above it", "below": "below it", "above_water": "sides above water", "glass_share": "glass of its sides",
    "sides": "sides outdoors", "bottom_lay_up": "layers of the bottom", "deck_lay_up": "layers of the deck",
    "side_lay_up": "layers of the sides", "sole_lay_up": "layers of the sole", "floor_area": "sole area",
    "cabin_noise": "noise in sleeping cabins", "shore": "shore power", "generator": "generator",
}  # fmt: skip
"""Fields whose name alone says too little."""
HOLDERS = {"zones": "", "spaces": "other spaces", "flows": "flows of air", "openings": "doors and openings"}
"""Whose a field is where no room is named; rooms need no word."""
LAYOUTS = {
    ONE: "one unit for all rooms", EACH: "a unit for every room", GROUPS: "units shared by groups of rooms",
    CENTRAL: "chilled water from a central plant", TREATED: "chilled water, outdoor air treated apart",
    DAY_NIGHT: "units that change over between day and night rooms", ABOARD: "the units fitted already",
}  # fmt: skip
"""Layouts as an owner calls them."""
LIMITS = {
    "largest_oversize": "how far a unit may be too large", "largest_drift": "how far rooms without a thermostat drift",
    "largest_size": "the largest size of a unit", "cabin_noise": "the noise allowed in sleeping cabins",
    "shore supply": "shore power", "apart": "the rooms kept on units apart", "together": "the rooms kept on one unit",
    "generator": "the generator", "margins": "the margins on the loads",
}  # fmt: skip
"""Limits of a plan."""
SIGNS = {"deg": "°", "degC": "°C", "degF": "°F", "1/h": "changes/h"}
_UNITS = "|".join(sorted((re.escape(name) for name in unit_list() if name), key=len, reverse=True))
_AMOUNT = re.compile(rf"(?<![\w.:])(-?\d+(?:\.\d+)?)(?:( ?)({_UNITS}))?(?![\w/°]|\.\d|:\d)")
_PLACED = re.compile(r"^(zones|spaces|flows|openings|awnings|glazings)(?:\.([^.\[]+))?(.*)$")
_FACES = re.compile(r"^faces (?:of kind (\w+)|at (\w+) level): (\w+)$")


def said(path: str) -> str:
    """A path of the file in words: what, and of which room or day.

    Parameters
    ----------
    path : str
        Such as `climate.hot.dew_point`, `zones.*.fresh_air`, `zones.saloon.faces[2].lay_up`; what is none of the file
        is given back.
    """
    shared = _FACES.match(path)
    if shared:
        kind, level, field = shared.groups()
        return f"{_field(field)}, {kind} faces" if kind else f"{_field(field)}, faces at {level} level"
    if path.startswith("climate."):
        _, day, *rest = path.split(".")
        return f"{_field(rest[-1])}, {day} day" if rest else _field(day)
    placed = _PLACED.match(path)
    if placed:
        group, name, inside = placed.groups()
        parts = [part for part in re.sub(r"\[[^]]*\]", "", inside).split(".") if part and part != "quick"]
        of = HOLDERS.get(group, group) if name in (None, "*") else name
        if not parts:
            return of
        inner = f" of {_field(parts[-2])}" if len(parts) > 1 and parts[-2] != "faces" else ""
        return f"{_field(parts[-1])}{inner}" + (f", {of}" if of else "")
    entered = re.match(r"^(?:services|supply|equipment|place|yacht)\.(?:[\w]+\.)*([\w ]+)(.*)$", path)
    return _field(entered[1]) + entered[2].replace(":", ",", 1) if entered else path


def _field(name: str) -> str:
    return FIELDS.get(name, name.replace("_", " "))


def readable(value: str) -> str:
    """A value of the file as it is said: no brackets or keys, three figures, units as they are printed."""
    text = value
    if value[:1] in ("[", "{"):
        with suppress(HeatsimError):
            text = _told(parse(f"value: {value}", "").value["value"])
    return _AMOUNT.sub(_amount, text)


def _told(value: Any) -> str:
    """A mapping or list in words."""
    if isinstance(value, list):
        return ", ".join(map(_told, value)) or "none"
    if not isinstance(value, dict):
        return str(value)
    parts = []
    for key, one in value.items():
        if key == "latent_share" and one == 0:
            continue
        bare = key in ("name", "power", "power_per_area", "count", "activity", "kind")
        parts.append(_told(one) if bare else f"hours: {_told(one)}" if key == "routine" else f"{key} {_told(one)}")
    return ", ".join(parts)


def _amount(found: re.Match[str]) -> str:
    number, gap, unit = found.groups()
    if unit is None and "." not in number:
        return found[0]
    text = number if len(number.replace(".", "").strip("-0")) <= 3 else f"{float(number):.3g}"
    if "e" in text:
        text = f"{float(number):.0f}"
    if unit is None:
        return text
    sign = SIGNS.get(unit) or re.sub(r"(?<=[a-z])2", "²", re.sub(r"(?<=[a-z])3", "³", unit))
    return f"{text}{'' if sign == '°' else gap or ' ' if unit != '%' else gap}{sign}"
