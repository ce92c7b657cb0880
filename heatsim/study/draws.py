"""Draws of uncertain inputs by a Latin hypercube: each input's range is cut into as many equally likely parts as there
are draws, and each part is drawn from once (McKay, Beckman and Conover, Technometrics 21, 1979; by scipy.stats.qmc).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.loads.check import kind_of as kind_of_path
from heatsim.scenario.quantities import kind_of, parse, text
from heatsim.scenario.resolved import DefaultUsed
from heatsim.study.file import DrawsText, Scalar, written

Array = npt.NDArray[np.float64]

CUT = 3.0
"""[standard deviations] Beyond which a normal input is cut off (assumed): a wall of negative thickness helps nobody."""
PARTS = {"uniform": 2, "normal": 2, "triangular": 3}
"""How many numbers each distribution is given."""


@dataclass(frozen=True)
class Input:
    """One uncertain input: the paths it is written to, the kind of its quantity ("" for plain numbers), and its spread.

    `numbers` are those of the distribution in SI; `choices` the values of one that is taken from a list.
    """

    name: str
    paths: tuple[str, ...]
    kind: str
    spread: str
    numbers: tuple[float, ...]
    choices: tuple[Scalar, ...] = ()
    whole: bool = False

    def values(self, u: Array) -> Array:
        """Values in SI at shares (draw,) of the distribution; of choices, their number."""
        from scipy import stats

        if self.spread == "among":
            return np.minimum(np.floor(u * len(self.choices)), len(self.choices) - 1.0)
        if self.spread == "normal":
            mean, deviation = self.numbers
            return np.asarray(stats.truncnorm.ppf(u, -CUT, CUT, mean, deviation))
        low, high = self.numbers[0], self.numbers[-1]
        if self.spread == "uniform" or high == low:
            return low + u * (high - low)
        mode = (self.numbers[1] - low) / (high - low)
        return np.asarray(stats.triang.ppf(u, mode, low, high - low))

    def extremes(self) -> tuple[float, ...]:
        """The least and the largest value it can take in SI, or the number of each choice."""
        if self.spread == "among":
            return tuple(float(i) for i in range(len(self.choices)))
        ends = self.values(np.array([0.0, 1.0]))
        return float(ends[0]), float(ends[1])

    def changes(self, value: float) -> list[str]:
        """What one draw changes in the file."""
        shown: Scalar
        if self.spread == "among":
            shown = self.choices[int(value)]
        elif self.whole:
            shown = round(value)
        else:
            shown = text(value, self.kind, 15) if self.kind else float(value)
        return [written(path, shown) for path in self.paths]


def draw(inputs: Sequence[Input], given: DrawsText) -> Array:
    """All draws, (draw, input) in SI; the same for the same seed."""
    from scipy.stats import qmc

    sampler = qmc.LatinHypercube(len(inputs), **{_seed_name(): np.random.default_rng(given.seed)})
    shares = sampler.random(given.count)
    return np.stack([one.values(shares[:, i]) for i, one in enumerate(inputs)], axis=1)


def _seed_name() -> str:
    """What scipy calls the source of random numbers: `rng` from 1.15 on."""
    from inspect import signature

    from scipy.stats import qmc

    return "rng" if "rng" in signature(qmc.LatinHypercube.__init__).parameters else "seed"


def inputs_of(given: DrawsText, defaults: Sequence[DefaultUsed], days: Sequence[str] | None = None) -> list[Input]:
    """Every uncertain input: those of the study file, then the defaults of the boat where the file asks for them.

    A kind of default (`zones.*.infiltration`) is one input, high or low in all rooms alike: what is guessed wrong in
    one room is guessed wrong in the next. Defaults of days (`days`, where given) that are not run are left alone.

    Raises
    ------
    HeatsimError
        Naming each spread that cannot be understood.
    """
    inputs: list[Input] = []
    faults: list[Fault] = []
    for path, spread in given.of.items():
        try:
            inputs.append(_input(path, spread))
        except HeatsimError as error:
            faults += error.faults
    if faults:
        raise HeatsimError(*faults)
    if given.defaults:
        named = {path for one in inputs for path in one.paths}
        inputs += _of_defaults([d for d in defaults if d.path not in named and _drawn(d, given.leave, days)])
    if not inputs:
        raise HeatsimError(
            Fault("there is nothing to draw", path="draws",
                  remedy="Give of: {PATH: {uniform: [LOW, HIGH]}}, or defaults: true")
        )  # fmt: skip
    return inputs


def _drawn(default: DefaultUsed, leave: Sequence[str], days: Sequence[str] | None) -> bool:
    if not default.low or not default.high or default.low == default.high:
        return False
    if any(default.path.startswith(start) or kind_of_path(default.path).startswith(start) for start in leave):
        return False
    parts = default.path.split(".")
    return days is None or parts[0] != "climate" or len(parts) < 3 or parts[1] in days


def _of_defaults(defaults: Sequence[DefaultUsed]) -> list[Input]:
    groups: dict[tuple[str, str, str, str], list[DefaultUsed]] = {}
    for one in defaults:
        groups.setdefault((kind_of_path(one.path), one.low, one.value, one.high), []).append(one)
    inputs = []
    for (name, low, value, high), members in groups.items():
        kind = kind_of(value)
        try:
            ends = tuple(_number(part, kind) for part in (low, value, high))
        except (ValueError, HeatsimError):
            continue
        if not ends[0] <= ends[1] <= ends[2]:
            continue
        several = sum(other[0] == name for other in groups) > 1
        shown = f"{name} ({value})" if several else name
        inputs.append(Input(shown, tuple(one.path for one in members), kind, "triangular", ends))
    return inputs


def _input(path: str, spread: Mapping[str, Any]) -> Input:
    where = f"draws.of.{path}"
    known = (*PARTS, "among")
    if len(spread) != 1 or next(iter(spread)) not in known:
        raise HeatsimError(
            Fault("needs one of " + ", ".join(known), path=where, value=", ".join(map(str, spread)) or "nothing",
                  remedy="Write for example {uniform: [20 degC, 24 degC]}")
        )  # fmt: skip
    name, given = next(iter(spread.items()))
    if not isinstance(given, list) or not all(isinstance(item, str | int | float | bool) for item in given):
        raise HeatsimError(Fault(f"{name} is given by a list", path=where, remedy="Write for example [1, 2]"))
    if name == "among":
        if len(given) < 2:
            raise HeatsimError(Fault("among needs at least two values", path=where))
        return Input(path, (path,), "", name, (), tuple(given))
    if len(given) != PARTS[name]:
        raise HeatsimError(Fault(f"{name} takes {PARTS[name]} values", path=where, value=str(len(given))))
    kind = kind_of(given[0])
    try:
        numbers = tuple(
            _number(item, "temperature difference" if kind == "temperature" and name == "normal" and i else kind)
            for i, item in enumerate(given)
        )
    except ValueError as error:
        raise HeatsimError(Fault(f"cannot be read: {error}", path=where, value=str(given))) from None
    rising = numbers[1] > 0.0 if name == "normal" else all(low < high for low, high in pairwise(numbers))
    if not rising:
        rule = "needs a standard deviation above zero" if name == "normal" else "needs rising values"
        raise HeatsimError(Fault(rule, path=where, value=str(given)))
    whole = not kind and all(isinstance(item, int) and not isinstance(item, bool) for item in given)
    return Input(path, (path,), kind, name, numbers, whole=whole)


def _number(given: object, kind: str) -> float:
    return parse(given, kind) if kind else float(given)  # type: ignore[arg-type]
