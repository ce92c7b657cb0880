"""Where a scenario was read: what is found wrong after reading is said with its file and line too."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario.overrides import SOURCE
from heatsim.scenario.tree import Spot, path_text

_LAST = re.compile(r"(\.[^.\[]*|\[[^\[]*)$")


@dataclass(frozen=True)
class Origin:
    """The file of a scenario, the lines of its parts, and the parts that were changed by `--set`."""

    file: str = field(compare=False)
    lines: Mapping[Spot, int] = field(compare=False, repr=False)
    changed: tuple[Spot, ...] = field(compare=False)

    def placed(self, error: HeatsimError) -> HeatsimError:
        """The same faults, each with the file and the line of the deepest part of its path that the file has."""
        lines = {path_text(spot): line for spot, line in self.lines.items()}
        return HeatsimError(*(self._placed(fault, lines) for fault in error.faults))

    def _placed(self, fault: Fault, lines: Mapping[str, int]) -> Fault:
        if fault.file or not fault.path:
            return fault
        if below(fault.path, map(path_text, self.changed)):
            return replace(fault, file=SOURCE)
        path = fault.path
        while path not in lines:
            shorter = _LAST.sub("", path)
            if shorter == path:
                return replace(fault, file=self.file)
            path = shorter
        return replace(fault, file=self.file, line=lines[path])


def below(path: str, changed: Iterable[str]) -> bool:
    """Whether a path is one of those that were changed, or lies below it."""
    return any(path == one or path.startswith((one + ".", one + "[")) for one in changed)
