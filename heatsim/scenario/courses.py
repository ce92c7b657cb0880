"""Courses over the clock day as a file writes them: a constant, the name of a routine, or values by stretch.

A stretch is "22:00-07:00" (over midnight) or "08:00-12:00"; times fall on quarter-hours, because no time step of a
simulation may straddle an edge. Hours outside every stretch of a share are 0; a temperature must cover the whole day.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pydantic_core import CoreSchema, core_schema

from heatsim.scenario.quantities import EXAMPLES, parse, refuse, text
from heatsim.scenario.resolved import Routine

DAY = 1440
"""[min]"""
QUARTER = 15
"""[min] Edges fall on multiples of this."""
ROOM = "24 degC"
"""How a temperature of a room is written, in remedies and in the schema."""

_STRETCH = re.compile(r"\s*(\d{1,2}):(\d{2})\s*-\s*(\d{1,2}):(\d{2})\s*$")


@dataclass(frozen=True)
class CourseText:
    """A course as given: one of a constant, a routine's name, and stretches of (first minute, last minute, value)."""

    constant: float | None = None
    routine: str | None = None
    stretches: tuple[tuple[int, int, float], ...] = ()


def stretch_minutes(stretch: object) -> tuple[int, int]:
    """First and last minute of "22:00-07:00"; the last may be smaller than the first (over midnight)."""
    match = _STRETCH.match(stretch) if isinstance(stretch, str) else None
    if match is None:
        raise refuse("must be a stretch of the clock", 'Write for example "22:00-07:00"')
    first_hour, first_minute, last_hour, last_minute = map(int, match.groups())
    first, last = 60 * first_hour + first_minute, 60 * last_hour + last_minute
    if first_minute > 59 or last_minute > 59 or first >= DAY or last > DAY or first == last:
        raise refuse("must lie within 00:00-24:00 and last some time", 'Write for example "22:00-07:00"')
    if first % QUARTER or last % QUARTER:
        raise refuse("must begin and end on a quarter-hour", 'Write for example "22:15-07:00"')
    return first, last


def pieces(stretches: tuple[tuple[int, int, float], ...]) -> list[tuple[int, int, float]]:
    """Stretches cut at midnight and sorted; overlaps are refused."""
    cut: list[tuple[int, int, float]] = []
    for first, last, value in stretches:
        cut += [(first, last, value)] if first < last else [(first, DAY, value)] + ([(0, last, value)] if last else [])
    cut.sort()
    for (_, end, _a), (start, _, _b) in itertools.pairwise(cut):
        if start < end:
            clock = f"{start // 60:02d}:{start % 60:02d}"
            raise refuse(f"two stretches overlap at {clock}", "Let each hour stand in one stretch")
    return cut


def routine_of(name: str, stretches: tuple[tuple[int, int, float], ...], rest: float = 0.0) -> Routine:
    """The step function of stretches, `rest` outside them."""
    minutes: list[int] = [0]
    values: list[float] = [rest]

    def set_from(minute: int, value: float) -> None:
        if minutes[-1] == minute:
            values[-1] = value
        else:
            minutes.append(minute)
            values.append(value)

    for first, last, value in pieces(stretches):
        set_from(first, value)
        if last < DAY:
            set_from(last, rest)
    kept = [i for i in range(len(minutes)) if i == 0 or values[i] != values[i - 1]]
    return Routine(name, tuple(minutes[i] for i in kept), tuple(values[i] for i in kept))


def constant(name: str, value: float) -> Routine:
    """A course that never changes."""
    return Routine(name, (0,), (value,))


def at(routine: Routine, minute: int) -> float:
    """Value of a course at a minute of the day."""
    return next(v for m, v in zip(reversed(routine.minutes), reversed(routine.values), strict=True) if m <= minute)


def mean_of(routine: Routine) -> float:
    """Mean of a routine over the day."""
    ends = (*routine.minutes[1:], DAY)
    return sum(v * (b - a) for v, a, b in zip(routine.values, routine.minutes, ends, strict=True)) / DAY


def parse_shipped(course: str) -> tuple[tuple[int, int, float], ...]:
    """Stretches of the routines table: "07:00-08:00: 0.5; 18:00-20:00: 1"."""
    out = []
    for part in course.split(";"):
        stretch, value = part.rsplit(":", 1)
        out.append((*stretch_minutes(stretch), float(value)))
    return tuple(out)


@dataclass(frozen=True)
class Course:
    """Marks a model field as a course: of shares (0 to 1, names of routines allowed) or of a kind of quantity."""

    kind: str = "share"
    least: float = 0.0
    most: float = 1.0
    named: bool = True

    def read(self, value: object) -> CourseText:
        """The course of `value`, refused where it breaks a rule."""
        if isinstance(value, CourseText):
            return value
        if isinstance(value, dict):
            if not value:
                raise refuse("must hold at least one stretch of the clock", 'Write for example {"22:00-07:00": 1}')
            stretches = tuple((*stretch_minutes(key), self.number(item)) for key, item in value.items())
            cut = pieces(stretches)
            if self.kind != "share" and sum(last - first for first, last, _ in cut) != DAY:
                raise refuse("must cover the whole day", "Add the hours that are missing")
            return CourseText(stretches=stretches)
        if isinstance(value, str) and self.named and not re.match(r"\s*[-+.\d]", value):
            return CourseText(routine=value)
        if isinstance(value, (list, bool)) or value is None:
            raise refuse("must be a value, or a mapping from stretches of the clock to values", self.example())
        return CourseText(constant=self.number(value))

    def number(self, value: object) -> float:
        """One value of the course, within its bounds."""
        number = parse(value, self.kind)
        if not self.least <= number <= self.most:
            raise refuse(f"must lie between {text(self.least, self.kind)} and {text(self.most, self.kind)}")
        return number

    def example(self) -> str:
        """How such a course is written."""
        told = ", ".join(f'"{stretch}": {value}' for stretch, value in self.stretch_example().items())
        return f"Write for example {{{told}}}"

    def constant_example(self) -> str:
        """One value of it as a file has it."""
        return EXAMPLES[self.kind] if self.kind == "share" else ROOM

    def stretch_example(self) -> dict[str, object]:
        """A course by stretches: a temperature covers the whole day."""
        if self.kind == "share":
            return {"22:00-07:00": 1}
        return {"07:00-22:00": ROOM, "22:00-07:00": "22.5 degC"}

    def write(self, course: CourseText) -> object:
        """The value that reads back to `course`."""

        def one(number: float) -> object:
            return number if self.kind == "share" else text(number, self.kind, 15)

        if course.routine is not None:
            return course.routine
        if course.constant is not None:
            return one(course.constant)
        return {f"{a // 60:02d}:{a % 60:02d}-{b // 60:02d}:{b % 60:02d}": one(v) for a, b, v in course.stretches}

    def __get_pydantic_core_schema__(self, source: Any, handler: Callable[[Any], CoreSchema]) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self.read,
            serialization=core_schema.plain_serializer_function_ser_schema(self.write, when_used="unless-none"),
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: Any) -> dict[str, Any]:
        value: dict[str, Any] = {"type": ["string", "number"]} if self.kind == "share" else {"type": "string"}
        stretches = {
            "type": "object",
            "additionalProperties": value,
            "examples": [self.stretch_example()],
        }
        return {"description": f"a {self.kind}, or {self.kind}s by stretch of the clock", "anyOf": [value, stretches]}
