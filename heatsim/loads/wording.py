"""Values of a resolved scenario in words: a number with its unit, a course by the clock, a part by what is in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

LONGEST = 90
"""[characters] What is longer is cut."""
NO_LIMIT = 1.0
"""A humidity limit above this is none."""

_SHARE = (100.0, "%")
_UNITS: dict[str, tuple[float, str]] = {
    **dict.fromkeys(
        ("thickness", "overhang", "overhang_gap", "fin_left", "fin_right", "fin_gap", "height", "width", "length",
         "altitude"), (1.0, "m"),
    ),
    **dict.fromkeys(("area", "floor_area", "furnishing_area"), (1.0, "m²")),
    **dict.fromkeys(
        ("tilt", "bearing", "latitude", "longitude", "headings", "elevation", "angles", "first_bearing",
         "last_bearing"), (1.0, "°"),
    ),
    **dict.fromkeys(
        ("dry_bulb_max", "dew_point", "sea", "cooling_setpoint", "heating_setpoint", "temperature"), (1.0, "°C"),
    ),
    **dict.fromkeys(("u_value", "bridge", "inside_film", "outside_film"), (1.0, "W/(m²·K)")),
    **dict.fromkeys(
        ("power", "total", "sensible", "cooling_limit", "heating_limit", "dehumidifying_limit"), (1.0, "W"),
    ),
    **dict.fromkeys(
        ("transmittance", "outer_absorptance", "inner_absorptance", "diffuse_transmittance",
         "diffuse_outer_absorptance", "diffuse_inner_absorptance", "back_reflectance", "reflectance", "absorptance",
         "inside_absorptance", "g_value", "deck", "quay", "deck_reflectance", "quay_reflectance", "sun_share",
         "furnishing_sun_share", "radiant_share", "latent_share", "humidity_limit", "clearness", "shelter", "weights",
         "cooling_on", "heating_on", "fan_on"), _SHARE,
    ),
    "count": (1.0, "persons"),
    "volume": (1.0, "m³"),
    "conductivity": (1.0, "W/(m·K)"),
    "density": (1.0, "kg/m³"),
    "specific_heat": (1.0, "J/(kg·K)"),
    "resistance": (1.0, "m²·K/W"),
    "furnishing_capacity": (1e-3, "kJ/K"),
    "sensible_slope": (1.0, "W/K"),
    "daily_range": (1.0, "K"),
    "wind": (1.0, "m/s"),
    "rate": (3600.0, "m³/h"),
}  # fmt: skip
"""Factor and unit by the last key of a path."""
_UNITS_BY_PART = {("moisture", "rate"): (3.6e6, "g/h"), ("foreground", "sea"): _SHARE}
"""The same where a key means something else within one part."""


def worded_pair(path: Sequence[str], first: Any, second: Any) -> tuple[str, str]:
    """Two differing values in words, with as many digits as it takes to tell them apart.

    Parameters
    ----------
    path : sequence of str
        Keys that lead to the value; its last ones say the unit.
    first, second : object
        Plain values as JSON knows them.
    """
    pair = ("", "")
    for digits in (4, 7, 12):
        pair = worded(path, first, digits), worded(path, second, digits)
        if pair[0] != pair[1]:
            break
    return _cut(pair[0]), _cut(pair[1])


def worded(path: Sequence[str], value: Any, digits: int = 4) -> str:
    """One value in words."""
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _number(path, float(value), digits)
    if isinstance(value, Mapping):
        return _course(path, value, digits) if is_course(value) else _part(path, value, digits)
    if isinstance(value, list):
        return _list(path, value, digits)
    return str(value)


def is_course(value: Any) -> bool:
    """Whether a mapping is a course over the clock day."""
    return isinstance(value, Mapping) and set(value) == {"name", "minutes", "values"}


def _number(path: Sequence[str], value: float, digits: int) -> str:
    key = path[-1] if path else ""
    if key.endswith("_limit") and (value == float("inf") or (key == "humidity_limit" and value > NO_LIMIT)):
        return "none"
    within = [by for (part, last), by in _UNITS_BY_PART.items() if last == key and part in path]
    factor, unit = within[0] if within else _UNITS.get(key, (1.0, ""))
    number = float(f"{value * factor:.{digits}g}") + 0.0  # no minus zero
    if abs(number) < 10.0**-digits:
        number = 0.0
    text = f"{number:.{digits}g}"
    return text + unit if unit == "°" else f"{text} {unit}".strip()


def _course(path: Sequence[str], course: Mapping[str, Any], digits: int) -> str:
    """`2 from 08:00, 0 from 20:00`, with the name a routine has."""
    minutes, values = course["minutes"], course["values"]
    if len(values) == 1:
        return worded(path, values[0], digits) + " all day"
    told = [f"{worded(path, v, digits)} from {m // 60:02d}:{m % 60:02d}" for m, v in zip(minutes, values, strict=True)]
    return ", ".join(told)


def _part(path: Sequence[str], part: Mapping[str, Any], digits: int) -> str:
    """What is in a part; zeros and what is not there are left out."""
    told = [
        f"{key.replace('_', ' ')} {worded([*path, key], value, digits)}"
        for key, value in part.items()
        if key not in ("name", "kind") and value is not None and value != 0 and value != []
    ]
    name = str(part.get("name") or part.get("kind") or "")
    return f"{name}: {', '.join(told)}" if name else ", ".join(told)


def _list(path: Sequence[str], items: list[Any], digits: int) -> str:
    if not items:
        return "none"
    if len(items) > 3 and all(isinstance(item, int | float) for item in items):
        first, last = worded(path, items[0], digits), worded(path, items[-1], digits)
        return f"{first} to {last} ({len(items)} values)"
    return "; ".join(worded(path, item, digits) for item in items)


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST else text[: LONGEST - 3].rstrip(" ,;") + "..."
