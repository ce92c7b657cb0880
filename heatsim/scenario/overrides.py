"""Changes to single values of a file, written as `zones.saloon.setpoint=23 degC`."""

from __future__ import annotations

import copy
import difflib
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario.tree import Key, Spot, Tree, parse, path_text
from heatsim.tables.loader import names as table_names

SOURCE = "--set"
"""What stands in a fault for the file."""
NAMED = {
    "zones": "zone", "spaces": "space", "lay_ups": "lay-up", "glazings": "glazing", "awnings": "awning",
    "routines": "routine",
}  # fmt: skip
"""The parts of a file whose keys are names its author chose, and what one entry is called."""


def apply(tree: Tree, overrides: Sequence[str]) -> tuple[Tree, dict[Spot, str]]:
    """A tree with the changes made, and the text of each change by its path.

    A path leads through keys and list positions; a list item that has a name may be called by it:
    `zones.saloon.faces[port windows].area=4 m2`. A key that may stand in a part may be new; a zone, a space or an item
    of a list may not, and a lay-up, glazing, awning or routine only whole and where something names it.
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
    faults += _unused(tree.value, value, changed)
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
        if depth == 1 and isinstance(here, dict) and key not in here and _must_exist(parts):
            raise HeatsimError(_unknown(parts[0], str(key), here))
        if last:
            here[key] = new
        elif isinstance(here, dict) and (key not in here or here[key] is None):
            here[key] = {}
        spot.append(key)
        here = here[key]
    return tuple(spot)


def _must_exist(parts: Sequence[str]) -> bool:
    """Whether the second key of a path has to stand in the file already."""
    return parts[0] in NAMED and (len(parts) > 2 or parts[0] in ("zones", "spaces"))


def _unknown(group: str, name: str, known: Iterable[str], more: str = "") -> Fault:
    """A fault for the name of an entry that does not exist, with the nearest one that does."""
    rule = f"the file has no {NAMED[group]} of this name{more}"
    return Fault(rule, SOURCE, path=f"{group}.{name}", remedy=_nearest(name, known, f"{NAMED[group]}s"))


def _nearest(name: str, known: Iterable[str], what: str) -> str:
    choices = [str(item) for item in known]
    close = difflib.get_close_matches(name, choices, 1, 0.5)
    if close:
        return f'Did you mean "{close[0]}"?'
    more = " ..." if len(choices) > 6 else ""
    return f"Known: {', '.join(choices[:6])}{more}" if choices else f"There are no {what}"


def _unused(before: Any, after: Any, changed: Iterable[Spot]) -> Iterator[Fault]:
    """Faults of new entries that would change nothing, because nothing names them: misspellings most likely."""
    new = [(str(spot[0]), str(spot[1])) for spot in changed if len(spot) == 2 and spot[0] in NAMED]
    new = [(group, name) for group, name in new if not (isinstance(b := before.get(group), dict) and name in b)]
    said = set(_texts(after)) if new else set()
    for group, name in new:
        if name not in said and name not in _shipped(group):
            yield _unknown(group, name, before.get(group) or (), ", and nothing names a new one")


def _shipped(group: str) -> tuple[str, ...]:
    """Names that come with the program, which a file may give its own content."""
    return table_names(group) if group in ("lay_ups", "glazings", "routines") else ()


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, (dict, list)):
        for item in value.values() if isinstance(value, dict) else value:
            yield from _texts(item)


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
            items = [str(item["name"]) for item in here if isinstance(item, dict) and "name" in item]
            rule = f"{path_text(spot)} has {'no' if not named else 'more than one'} item {inner}"
            numbers = f"Give a number from 0 to {len(here) - 1}" if here else "The list is empty"
            raise _missing(path, rule, numbers if named or not items else _nearest(inner, items, "items"))
        return named[0]
    if not isinstance(here, dict):
        raise _missing(path, f"{path_text(spot)} has no keys")
    return part


def _missing(path: str, rule: str, remedy: str = "See the paths that heatsim check lists") -> HeatsimError:
    return HeatsimError(Fault(rule, SOURCE, path=path, remedy=remedy))
