"""The study file: which boat, what changes from run to run, and what is kept.

An axis goes over one value of the scenario by its path, or by one of the short names below. Values are written as in
the scenario file, units included, and are validated there.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationError

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario import tree as trees
from heatsim.scenario.fields import Name, Part, Text
from heatsim.scenario.quantities import EXAMPLES, Quantity, kind_of, parse, refuse, text
from heatsim.scenario.reading import faults_of
from heatsim.scenario.resolved import DayKind
from heatsim.scenario.tree import Tree
from heatsim.tables.loader import rows

Scalar = str | int | float | bool

SHORT = {
    "region": "place.region",
    "month": "place.month",
    "heading": "place.heading",
    "marina offset": "place.marina_offset",
    "lay": "place.berth",
    "hull colour": "yacht.hull_colour",
    "deck colour": "yacht.deck_colour",
    "material": "yacht.material",
    "persons": "yacht.persons",
    "catalogue": "equipment.catalogue",
}
"""What axes may be called instead of the path they go over."""
MOST_VALUES = 100_000
MOST_DRAWS = 100_000


def _axis(given: object) -> object:
    """Values of an axis: a list, `all`, or from, to and step with their units."""
    if given == "all":
        return given
    if isinstance(given, list):
        if not given:
            raise refuse("an axis needs at least one value")
        for item in given:
            if not isinstance(item, str | int | float | bool):
                raise refuse("each value of an axis is one number or text", 'Write for example ["22 degC", "24 degC"]')
        if len({str(item) for item in given}) < len(given):
            raise refuse("a value stands twice")
        return given
    if isinstance(given, dict):
        return _steps(given)
    raise refuse("must be a list of values, all, or from, to and step", "Write for example [1, 2, 3]")


def _steps(given: Mapping[str, object]) -> list[Scalar]:
    if set(given) != {"from", "to", "step"}:
        raise refuse("a range has from, to and step", "Write for example {from: 0 deg, to: 315 deg, step: 45 deg}")
    ends = [given[key] for key in ("from", "to", "step")]
    if all(isinstance(end, int | float) and not isinstance(end, bool) for end in ends):
        kind, (first, last, step) = "", (float(end) for end in ends)  # type: ignore[arg-type]
    else:
        kind = kind_of(given["from"])
        if not kind:
            raise refuse("needs numbers and their unit", f'Write for example "{EXAMPLES["angle"]}"')
        first, last = parse(given["from"], kind), parse(given["to"], kind)
        step = parse(given["step"], "temperature difference" if kind == "temperature" else kind)
    if step <= 0.0 or last < first or (last - first) / step > MOST_VALUES:
        raise refuse("a range goes up from its first value to its last by a step above zero")
    values = [first + i * step for i in range(int((last - first) / step + 1e-9) + 1)]
    if not kind:
        return [int(value) if value == int(value) else value for value in values]
    return [text(value, kind) for value in values]


class RemedyText(Part):
    """Something that could be done to the boat: changes of her file, or one of the ready ones, and its price."""

    name: Name
    """What it is called in results."""
    set: dict[str, Scalar] = Field(default_factory=dict)
    """Values of the scenario it changes, by path."""
    change: Text | None = None
    """A ready change, such as white decks or 25 mm foam inside."""
    price: Annotated[float, Field(ge=0)] | None = None
    """What it costs, in any currency."""


class DrawsText(Part):
    """What nobody knows exactly: inputs drawn from their ranges, all together, by a Latin hypercube."""

    count: Annotated[int, Field(ge=2, le=MOST_DRAWS)]
    """How many draws."""
    seed: Annotated[int, Field(ge=0, le=2**63 - 1)] = 1
    """Of the random numbers; the same seed draws the same."""
    of: dict[str, dict[str, Any]] = Field(default_factory=dict)
    """Paths and how each is spread: uniform, normal, triangular or among."""
    defaults: bool = False
    """Draw every default that has a range, between its ends, most often near the value taken."""
    leave: list[Text] = Field(default_factory=list)
    """Defaults that are not drawn, by the beginning of their path."""


class Study(Part):
    """A study file."""

    format: Literal[1]
    """Version of the file format: 1."""
    study: Text
    """What the study is called."""
    boat: Text
    """The scenario file, from the folder of the study file."""
    days: Annotated[list[DayKind], Field(min_length=1)] | None = None
    """Which days each run has: hot, humid, typical. Leave it out for a boat with a weather file."""
    leave_out: list[Text] = Field(default_factory=list)
    """Paths of the boat's file that the study leaves to their defaults, such as climate.hot."""
    set: dict[str, Scalar] = Field(default_factory=dict)
    """Values of the scenario that are changed in every run, by path."""
    axes: dict[str, Annotated[list[Scalar] | Literal["all"], BeforeValidator(_axis)]] = Field(default_factory=dict)
    """What is varied: a path or a short name, and its values."""
    remedies: list[RemedyText] = Field(default_factory=list)
    """What could be done; each is tried alone, beside the boat as she is."""
    combine: Literal["alone", "also together", "every"] = "alone"
    """Which remedies meet: each alone, also all of them together, or every combination."""
    draws: DrawsText | None = None
    """Draws of what is uncertain."""
    units: Literal["none", "installed", "planned"] = "none"
    """Whose capacity the runs are held against: none, what is installed, or a plan for the boat as she is."""
    step: Annotated[float, Quantity("time", least=60, most=3600)] = 1800.0
    """Step of the solver."""
    keep: Literal["hours", "results"] = "results"
    """Whether the hours of every run are kept, or only what is made of them."""
    causes: Literal["none", "peak day", "monthly"] = "none"
    """Of weather years: the load by cause on each room's peak day, or summed by the month."""


def read_study(path: str | Path) -> tuple[Study, Tree]:
    """Read and validate a study file.

    Raises
    ------
    HeatsimError
        With every fault found.
    """
    tree = trees.load(path)
    try:
        study = Study.model_validate(tree.value)
    except ValidationError as error:
        raise faults_of(error, tree, Study) from None
    names = [remedy.name for remedy in study.remedies]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        line = tree.line(("remedies",))
        raise HeatsimError(Fault("two remedies have one name", tree.file, line, "remedies", twice[0]))
    return study, tree


def axis_path(name: str) -> str:
    """The path an axis goes over."""
    return SHORT.get(name, name)


def short_name(path: str) -> str:
    """What an axis over a path is called in results."""
    return next((name for name, one in SHORT.items() if one == path), path)


def axis_values(name: str, given: list[Scalar] | Literal["all"]) -> list[Scalar]:
    """The values of an axis, with `all` written out.

    Raises
    ------
    HeatsimError
        Where `all` has no meaning for it.
    """
    if given != "all":
        return given
    path = axis_path(name)
    if path == "place.region":
        return list(dict.fromkeys(row["region"] for row in rows("regions")))
    if path == "place.month":
        return list(range(1, 13))
    if path == "place.heading":
        return [f"{bearing} deg" for bearing in range(0, 360, 15)]
    raise HeatsimError(Fault("only region, month and heading know all their values", path=f"axes.{name}", value="all"))


def written(path: str, value: Scalar) -> str:
    """A change as `--set` takes it."""
    return f"{path}={json.dumps(value, ensure_ascii=False)}"
