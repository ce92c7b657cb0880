"""Courses of the file made into routines: a constant, a named routine of the file or the table, or stretches."""

from __future__ import annotations

from heatsim.scenario.courses import CourseText, constant, parse_shipped, routine_of
from heatsim.scenario.ledger import Ledger
from heatsim.scenario.model import Scenario
from heatsim.scenario.resolved import Routine
from heatsim.tables.loader import by_name


class Clock:
    """Looks routines up by name, the file's before the table's."""

    def __init__(self, scenario: Scenario) -> None:
        self._own = {name: self._plain(name, course) for name, course in scenario.routines.items()}

    def named(self, name: str) -> Routine:
        """The routine of a name that is known to exist."""
        if name in self._own:
            return self._own[name]
        return routine_of(name, parse_shipped(by_name("routines")[name]["course"]))

    def routine(self, path: str, given: CourseText) -> Routine:
        """The routine of a course; `path` names one that stands in line."""
        return self.named(given.routine) if given.routine is not None else self._plain(path, given)

    def share(self, path: str, given: CourseText | None, default: str, ledger: Ledger, source: str) -> Routine:
        """A course of shares, or the named default."""
        if given is None:
            return self.named(ledger.take(path, None, default, default, source))
        return self.routine(path, given)

    @staticmethod
    def _plain(name: str, given: CourseText) -> Routine:
        if given.constant is not None:
            return constant(name, given.constant)
        return routine_of(name, given.stretches)
