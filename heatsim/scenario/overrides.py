"""Changes to single values of a file, written as `zones.saloon.setpoint=23 degC`."""

from __future__ import annotations

import copy
import re
from collections.abc import Sequence
from typing import Any

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario.tree import Key, Spot, Tree, parse, path_text

SOURCE = "--set"
"""What stands in a fault for the file."""


def apply(tree: Tree, overrides: Sequence[str]) -> tuple[Tree, dict[Spot, str]]:
    """A tree with the changes made, and the text of each change by its path.

    A path leads through keys and list positions; a list item that has a name may be called by it:
    `zones.saloon.faces[port windows].area=4 m2`. The last key may be new, the ones before it must exist (a top-level
    part may be new too).
    """
    if not overrides:
        return tree, {}
    value = copy.deepcopy(tree.value)
    changed: dict[Spot, str] = {}
    faults: list[Fault] = []
    for override in overrides:
        try:
            spot = _change(value, override)
        except HeatsimError as error:
            faults += error.faults
            continue
        changed[spot] = override
    if faults:
        raise HeatsimError(*faults)
    return Tree(value, tree.lines, tree.file), changed


def _change(root: Any, override: str) -> Spot:
    path, equals, text = override.partition("=")
    parts = split(path)
    if not equals or not parts:
        raise HeatsimError(
            Fault(
                "must be PATH=VALUE", SOURCE, value=override, remedy='Write for example zones.saloon.setpoint="23 degC"'
            )
        )
    new = parse("value: " + text.strip() if "\n" not in text else text, SOURCE).value.get("value")
    spot: list[Key] = []
    here = root
    for depth, part in enumerate(parts):
        last = depth == len(parts) - 1
        key = _key(here, part, path, tuple(spot))
        if last:
            here[key] = new
        elif isinstance(here, dict) and (key not in here or here[key] is None):
            here[key] = {}
        spot.append(key)
        here = here[key]
    return tuple(spot)


def split(path: str) -> list[str]:
    """Parts of `zones.saloon.faces[2].area`: zones, saloon, faces, [2], area."""
    parts: list[str] = []
    for piece in re.findall(r"\[[^\]]*\]|[^.\[\]]+", path.strip()):
        parts.append(piece.strip())
    return parts


def _key(here: Any, part: str, path: str, spot: Spot) -> Key:
    if part.startswith("["):
        if not isinstance(here, list):
            raise _missing(path, f"{path_text(spot)} is not a list")
        inner = part[1:-1].strip()
        if inner.isdigit() and int(inner) < len(here):
            return int(inner)
        named = [i for i, item in enumerate(here) if isinstance(item, dict) and item.get("name") == inner]
        if len(named) != 1:
            raise _missing(path, f"{path_text(spot)} has no item {inner}")
        return named[0]
    if not isinstance(here, dict):
        raise _missing(path, f"{path_text(spot)} has no keys")
    return part


def _missing(path: str, rule: str) -> HeatsimError:
    return HeatsimError(Fault(rule, SOURCE, path=path, remedy="See the paths that heatsim check lists"))
