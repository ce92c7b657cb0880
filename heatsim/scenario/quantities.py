"""Quantities: text with a unit in the file, a plain SI number (temperatures in °C) inside.

The closed list of units is `tables/units.csv`. A quantity knows its kind, so that a temperature is never read as a
temperature difference, and units that mean two things on board are answered with a question.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from heatsim.tables.loader import rows

_NUMBER = re.compile(
    r"\s*([+-]?(?:\d+(?:[ _,]\d{3})+|\d+)(?:\.\d+)?(?:[eE][+-]?\d+)?|[+-]?\.\d+)\s*(.*?)\s*$", re.DOTALL
)

EXAMPLES = {
    "length": "7 m",
    "area": "24 ft2",
    "volume": "30 m3",
    "temperature": "35 degC",
    "temperature difference": "4 K",
    "power": "12 kBtu/h",
    "flow": "8 L/s",
    "air changes": "0.5 1/h",
    "power per area": "5 W/m2",
    "film or u-value": "5.6 W/(m2 K)",
    "resistance": "0.18 m2 K/W",
    "conductivity": "0.04 W/(m K)",
    "density": "80 kg/m3",
    "specific heat": "1470 J/(kg K)",
    "capacity per area": "50 kJ/(K m2)",
    "heat capacity": "200 kJ/K",
    "angle": "90 deg",
    "speed": "8 kn",
    "time": "30 min",
    "moisture rate": "200 g/h",
    "voltage": "230 V",
    "current": "32 A",
    "frequency": "50 Hz",
    "energy": "20 kWh",
    "charge": "400 Ah",
    "mass": "35 kg",
    "pressure": "100 Pa",
    "sound level": "45 dB(A)",
    "share": "55 %",
}
"""How a quantity of each kind is written, used in remedies and in the schema."""
SMALL_EXAMPLES = {
    "length": "20 mm",
    "area": "2.5 mm2",
    "air changes": "0.5 1/h",
    "flow": "8 L/h",
    "speed": "2 kn",
    "angle": "5 deg",
    "volume": "20 L",
}
"""The same for fields whose bounds leave the usual example out."""
BARE = ("share", "sound level")
"""Kinds whose number says all without a unit: one scale each."""


PRINTED_UNITS = {
    "flow": "m3/h",
    "air changes": "1/h",
    "capacity per area": "kJ/(K m2)",
    "moisture rate": "g/h",
    "energy": "kWh",
    "charge": "Ah",
    "share": "%",
}
"""The unit a value is printed in, where the SI unit is not what people say."""


@dataclass(frozen=True)
class Unit:
    """One row of the units table: SI value = number · factor + offset; `question` where the unit means two things."""

    kind: str
    factor: float
    offset: float
    question: str


@cache
def unit_list() -> dict[str, Unit]:
    """Every unit by its spelling."""
    return {
        row["unit"]: Unit(row["kind"], float(row["factor"] or 0), float(row["offset"] or 0), row["question"])
        for row in rows("units")
    }


@cache
def printed_unit(kind: str) -> str:
    """The spelling of the unit that values of a kind are printed in."""
    if kind in PRINTED_UNITS:
        return PRINTED_UNITS[kind]
    return next(
        name for name, unit in unit_list().items() if unit.kind == kind and unit.factor == 1 and not unit.offset
    )


def refuse(rule: str, remedy: str = "") -> PydanticCustomError:
    """An error for a model field: the rule that was broken and what to write instead."""
    return PydanticCustomError("scenario", "{rule}", {"rule": rule, "remedy": remedy})


def parse(text: object, kind: str) -> float:
    """SI value of a text such as "24 ft2"; shares and sound levels may stand without a unit.

    Parameters
    ----------
    text : object
        What the file holds; anything but text is refused (a bare number too, except for the kinds in `BARE`).
    kind : str
        Kind of quantity as in the units table.

    Returns
    -------
    float
        Value in SI (temperatures in °C, angles in degrees).
    """
    example = f'Write for example "{EXAMPLES[kind]}"'
    if kind in BARE and isinstance(text, (int, float)) and not isinstance(text, bool):
        return _finite(float(text))
    if not isinstance(text, str):
        kind_of_value = (
            "a number without a unit" if isinstance(text, (int, float)) and not isinstance(text, bool) else ""
        )
        raise refuse(
            f"must be {_article(kind)} with its unit{', not ' + kind_of_value if kind_of_value else ''}", example
        )
    match = _NUMBER.match(text)
    if match is None:
        raise refuse(f"must be {_article(kind)}: a number and its unit", example)
    digits = match.group(1)
    if match.group(2).startswith(",") or ("," in digits and not re.fullmatch(r"[+-]?\d{1,3}(,\d{3})+(\.\d+)?", digits)):
        raise refuse("a comma may only part thousands (12,000)", "Write a point for decimals")
    number = _finite(float(re.sub(r"[ _,]", "", digits)))
    name = match.group(2)
    if not name:
        if kind in BARE:
            return number
        raise refuse(f"must be {_article(kind)} with its unit, not a number without a unit", example)
    unit = unit_list().get(name)
    if unit is None:
        close = difflib.get_close_matches(name, [n for n, u in unit_list().items() if u.kind == kind], 1, 0.5)
        raise refuse(f'"{name}" is not a known unit', f'Did you mean "{close[0]}"?' if close else example)
    if unit.question:
        raise refuse(
            f'"{name}" can be read in two ways: {unit.question.split("?")[0]}?', unit.question.split("? ", 1)[1]
        )
    if unit.kind != kind:
        raise refuse(f'must be {_article(kind)}; "{name}" is a unit of {unit.kind}', example)
    return as_written(number * unit.factor + unit.offset)  # 75 mm is 0.075 m, not 0.07500000000000001


def kind_of(text: object) -> str:
    """Kind of a quantity by its unit, "" for anything but a number and its unit."""
    match = _NUMBER.match(text) if isinstance(text, str) else None
    unit = unit_list().get(match.group(2)) if match else None
    return "" if unit is None or unit.question else unit.kind


def text(value: float, kind: str, digits: int = 12) -> str:
    """A quantity written in the unit it is printed in; reads back to the same number within its digits."""
    name = printed_unit(kind)
    unit = unit_list()[name]
    return f"{(value - unit.offset) / unit.factor:.{digits}g} {name}"


def as_written(value: float) -> float:
    """An amount as it reads back from the fifteen digits it is written with."""
    return float(f"{value:.15g}")


def _finite(number: float) -> float:
    if not math.isfinite(number):
        raise refuse("must be a finite number")
    return number


def _article(kind: str) -> str:
    return ("an " if kind[0] in "aeiou" else "a ") + kind


@dataclass(frozen=True)
class Quantity:
    """Marks a model field as a quantity of one kind within bounds, both given in SI.

    `above` and `below` exclude their value; `least` and `most` include it. `word`, where there is one, stands for
    `word_value` in the file.
    """

    kind: str
    above: float = -math.inf
    least: float = -math.inf
    most: float = math.inf
    below: float = math.inf
    word: str = ""
    word_value: float = math.nan

    def read(self, value: object) -> float:
        """SI value of `value`, refused outside the bounds."""
        if self.word and value == self.word:
            return self.word_value
        number = self.si(value)
        if not (self.above < number < self.below and self.least <= number <= self.most):
            raise refuse(f"must lie {self.range_text()}")
        return number

    def si(self, value: object) -> float:
        """SI value of `value`, before its bounds."""
        return parse(value, self.kind)

    def range_text(self) -> str:
        """The bounds in words, in the SI unit of the kind."""
        low = max(self.above, self.least)
        high = min(self.below, self.most)
        if math.isinf(high):
            return ("above " if self.above == low else "at or above ") + text(low, self.kind)
        if math.isinf(low):
            return ("below " if self.below == high else "at or below ") + text(high, self.kind)
        return f"between {text(low, self.kind)} and {text(high, self.kind)}"

    def example(self) -> str:
        """How such a quantity is written, within its bounds."""
        usual = EXAMPLES[self.kind]
        try:
            self.read(usual)
        except PydanticCustomError:
            return SMALL_EXAMPLES.get(self.kind, usual)
        return usual

    def write(self, value: float) -> str:
        """The text that reads back to `value`."""
        return self.word if self.word and value == self.word_value else text(value, self.kind, 15)

    def __get_pydantic_core_schema__(self, source: Any, handler: Callable[[Any], CoreSchema]) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self.read,
            serialization=core_schema.plain_serializer_function_ser_schema(self.write, when_used="unless-none"),
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: Any) -> dict[str, Any]:
        allowed = f"a {self.kind} with its unit"
        if not (math.isinf(max(self.above, self.least)) and math.isinf(min(self.below, self.most))):
            allowed += f", {self.range_text()}"
        form: dict[str, Any] = {"description": allowed, "examples": [self.example()]}
        if self.word:
            form["examples"].append(self.word)
        form["type"] = ["string", "number"] if self.kind in BARE else "string"
        return form
