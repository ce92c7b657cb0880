"""The book of defaults: every value the file did not give, with its source and the range a survey might find."""

from __future__ import annotations

from typing import TypeVar

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario.quantities import parse, text
from heatsim.scenario.resolved import DefaultUsed

ASSUMED = "assumed"
COMMON = "common practice, no source"

T = TypeVar("T")


class Ledger:
    """Collects defaults as they are taken, once per path, and faults found while resolving."""

    def __init__(self) -> None:
        self._defaults: dict[str, DefaultUsed] = {}
        self._faults: list[Fault] = []

    def take(self, path: str, given: T | None, default: T, shown: str, source: str, low: str = "", high: str = "") -> T:
        """`given`, or `default` after noting it."""
        if given is not None:
            return given
        self._defaults.setdefault(path, DefaultUsed(path, shown, source, low, high))
        return default

    def quantity(
        self,
        path: str,
        given: float | None,
        default: float,
        kind: str,
        source: str,
        low: float | None = None,
        high: float | None = None,
    ) -> float:
        """`take` for a quantity: default and range in SI. What is printed is what is used, to its last digit."""
        ends = ["" if end is None else text(end, kind) for end in (low, high)]
        shown = text(default, kind)
        return self.take(path, given, parse(shown, kind), shown, source, *ends)

    def refuse(self, path: str, rule: str, value: str = "", remedy: str = "") -> None:
        """Note a fault; `close` raises all of them."""
        self._faults.append(Fault(rule, path=path, value=value, remedy=remedy))

    def close(self) -> tuple[DefaultUsed, ...]:
        """The defaults in the order they were taken; raises the faults, if any."""
        if self._faults:
            raise HeatsimError(*self._faults)
        return tuple(self._defaults.values())
