"""The one door for scenario files: every fault of a file at once, each with line, path, rule, value and remedy."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel, ValidationError

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario import overrides as changes
from heatsim.scenario import tree as trees
from heatsim.scenario.model import Scenario
from heatsim.scenario.names import check_names
from heatsim.scenario.origin import Origin, below
from heatsim.scenario.outlines import overlaps
from heatsim.scenario.quantities import text
from heatsim.scenario.rooms import UNDERFOOT, SpaceText, ZoneText, deck_of
from heatsim.scenario.tree import Key, Spot, Tree, path_text

FORMAT = 1
"""The one version of the file format so far."""

MOST_ROOMS = 200
"""Zones, and spaces, in one file."""

_RULES = {
    "missing": "is missing",
    "extra_forbidden": "is not a key of this part",
    "string_type": "must be text",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "float_type": "must be a number",
    "bool_type": "must be true or false",
    "dict_type": "must be a mapping of names to values",
    "list_type": "must be a list",
    "model_type": "must be a mapping of keys to values",
    "finite_number": "must be a finite number",
    "union_tag_not_found": "needs its kind",
}
"""Words of our own for the commonest kinds of error."""


def read(path: str | Path, overrides: Sequence[str] = ()) -> Scenario:
    """Read, change and validate a scenario file.

    Parameters
    ----------
    path : str or Path
        The file.
    overrides : sequence of str
        Changes such as `zones.saloon.setpoint=23 degC`, validated like the file itself.

    Raises
    ------
    HeatsimError
        With every fault found, in the order of the file.
    """
    return anchored(validate(trees.load(path), overrides), Path(path).resolve().parent)


def anchored(scenario: Scenario, folder: Path) -> Scenario:
    """Paths of other files lead from the folder of the scenario; made absolute here, where it is known."""
    climate, equipment, report = scenario.climate, scenario.equipment, scenario.report
    if climate.weather_file is not None:
        climate = climate.model_copy(update={"weather_file": str(folder / climate.weather_file)})
    if equipment.catalogue is not None:
        equipment = equipment.model_copy(update={"catalogue": str(folder / equipment.catalogue)})
    if report.study is not None:
        report = report.model_copy(update={"study": str(folder / report.study)})
    return scenario.model_copy(update={"climate": climate, "equipment": equipment, "report": report})


def read_text(text: str, name: str = "scenario", overrides: Sequence[str] = ()) -> Scenario:
    """Read a scenario from text that is in memory; `name` stands for the file in messages."""
    return validate(trees.parse(trees.decode(text.encode(), name), name), overrides)


def validate(tree: Tree, overrides: Sequence[str] = ()) -> Scenario:
    """The scenario of a tree of plain values, or every fault found in it."""
    changed_tree, changed = changes.apply(tree, overrides)
    _require_format(changed_tree)
    _bound_rooms(changed_tree)
    faults: list[Fault] = []
    scenario: Scenario | None = None
    try:
        scenario = Scenario.model_validate(changed_tree.value)
    except ValidationError as error:
        faults = [_fault(details, changed_tree) for details in error.errors(include_url=False)]
    seen = {fault.path for fault in faults}
    faults += [fault for fault in check_names(changed_tree) if fault.path not in seen]
    if scenario is not None:
        faults += _overlapping(scenario, changed_tree)
    if faults or scenario is None:
        raise HeatsimError(*sorted((_blame(fault, changed) for fault in faults), key=lambda fault: fault.line))
    scenario.read_from(Origin(changed_tree.file, changed_tree.lines, tuple(changed)))
    return scenario


def _overlapping(scenario: Scenario, tree: Tree) -> list[Fault]:
    """Rooms that stand in one another on one deck; a bilge or tank lies below what is drawn."""
    rooms: list[tuple[str, str, ZoneText | SpaceText]] = [("zones", name, one) for name, one in scenario.zones.items()]
    rooms += [("spaces", name, one) for name, one in scenario.spaces.items() if one.use not in UNDERFOOT]
    groups = {name: group for group, name, _ in rooms}
    drawn = [(name, deck_of(one), one.outline.corners) for _, name, one in rooms if one.outline is not None]
    faults = []
    for name, other, common in overlaps(drawn):
        spot = (groups[name], name, "outline")
        rule = f'overlaps the outline of "{other}" on the same deck by {text(round(common, 2), "area")}'
        faults.append(Fault(rule, tree.file, tree.line(spot), path_text(spot), remedy="Move or shorten one of them"))
    return faults


def faults_of(error: ValidationError, tree: Tree | None = None, root: type[BaseModel] = Scenario) -> HeatsimError:
    """The same messages for a scenario that was built in Python, or for another kind of file."""
    place = Tree(None, {}, "") if tree is None else tree
    return HeatsimError(*(_fault(details, place, root) for details in error.errors(include_url=False)))


def _require_format(tree: Tree) -> None:
    if {"study", "boat"} <= set(tree.value):
        rule, remedy = "is a study, not a boat", f"Run it: heatsim study {tree.file} --out FOLDER"
        raise HeatsimError(Fault(rule, tree.file, tree.line(("study",)), "study", remedy=remedy))
    found = tree.value.get("format")
    if isinstance(found, bool) or found != FORMAT:
        rule = "the key format is missing" if found is None else "this format of scenario file is not known"
        value = "" if found is None else str(found)[:40]
        raise HeatsimError(
            Fault(rule, tree.file, tree.line(("format",)), "format", value, f"Write format: {FORMAT} at the top")
        )


def _bound_rooms(tree: Tree) -> None:
    for group in ("zones", "spaces"):
        rooms = tree.value.get(group)
        if isinstance(rooms, dict) and len(rooms) > MOST_ROOMS:
            rule = f"may hold at most {MOST_ROOMS} of them"
            remedy = "Join zones that are held alike"
            raise HeatsimError(Fault(rule, tree.file, tree.line((group,)), group, f"{len(rooms):,}", remedy))


def _fault(details: Any, tree: Tree, root: type[BaseModel] = Scenario) -> Fault:
    """Fault of one validation error; the parts of its location that are no keys of the file are left out."""
    spot, model, wanted = _spot(details["loc"], root)
    kind, context = details["type"], details.get("ctx", {})
    remedy = str(context.get("remedy", ""))
    rule = _RULES.get(kind) or _sentence(details["msg"])
    value = "" if kind in ("missing", "union_tag_not_found") else _short(details["input"])
    if kind == "extra_forbidden" and model is not None:
        remedy, value = _did_you_mean(str(spot[-1]), model.model_fields), ""
    elif kind == "union_tag_not_found":
        remedy = "Add kind: one of hull, bottom, deck, house, glass, bulkhead, sole"
    elif kind == "union_tag_invalid":
        rule, value, spot = "is not a kind of face", _short(details["input"].get("kind")), (*spot, "kind")
        remedy = "Known: hull, bottom, deck, house, glass, bulkhead, sole"
    elif kind == "model_type" and wanted is not None:
        remedy = _keys_of(wanted)
    elif kind == "missing":
        remedy = remedy or f"Add {spot[-1]}"
    return Fault(rule, tree.file, tree.line(spot), path_text(spot), value, remedy)


def _keys_of(model: type[BaseModel]) -> str:
    """The keys a part is made of, those it cannot do without first."""
    fields = model.model_fields
    needed = [key for key, field in fields.items() if field.is_required()]
    told = f"Needed: {', '.join(needed)}; " if needed else ""
    return f"{told}{'possible' if needed else 'Possible'}: {', '.join(key for key in fields if key not in needed)}"


def _sentence(message: str) -> str:
    rule = message.removeprefix("Value error, ").removeprefix("Input should ").rstrip(".")
    return "must " + rule if message.startswith("Input should ") else rule[:1].lower() + rule[1:]


def _short(value: object) -> str:
    if isinstance(value, (dict, list)) or value is None:
        return "a mapping" if isinstance(value, dict) else "a list" if isinstance(value, list) else "nothing"
    words = str(value) if len(str(value)) <= 60 else str(value)[:57] + "..."
    return words or '""'


def _did_you_mean(key: str, fields: Iterable[str]) -> str:
    close = difflib.get_close_matches(key, list(fields), 1, 0.55)
    return f'Did you mean "{close[0]}"?' if close else f"Known keys: {', '.join(fields)}"


def _blame(fault: Fault, changed: Iterable[Spot]) -> Fault:
    """A fault below a changed value is the change's, not the file's."""
    if not below(fault.path, map(path_text, changed)):
        return fault
    return Fault(fault.rule, changes.SOURCE, 0, fault.path, fault.value, fault.remedy)


def _spot(
    location: Sequence[Key], root: type[BaseModel]
) -> tuple[Spot, type[BaseModel] | None, type[BaseModel] | None]:
    """Path of an error in the file, the model that holds its last key, and the model that should stand there.

    The location walks through the models; where a list holds faces of several kinds it names the kind as well.
    """
    spot: list[Key] = []
    here: Any = root
    holder: type[BaseModel] | None = None
    for part in location:
        here = _bare(here)
        if part == "[key]":
            continue
        if isinstance(here, type) and issubclass(here, BaseModel):
            holder = here
            field = here.model_fields.get(str(part))
            spot.append(part)
            here = field.annotation if field else None
            continue
        if _is_union(here):
            tagged = [
                m for m in get_args(here) if isinstance(m, type) and issubclass(m, BaseModel) and _has_tag(m, part)
            ]
            here = tagged[0] if tagged else here
            continue
        spot.append(part)
        here = get_args(here)[-1] if get_args(here) else None
    here = _bare(here)
    return tuple(spot), holder, here if isinstance(here, type) and issubclass(here, BaseModel) else None


def _bare(annotation: Any) -> Any:
    while get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    if _is_union(annotation):
        rest = [part for part in get_args(annotation) if part is not type(None)]
        if len(rest) == 1:
            return _bare(rest[0])
    return annotation


def _is_union(annotation: Any) -> bool:
    return type(annotation).__name__ in ("UnionType", "_UnionGenericAlias", "Union")


def _has_tag(model: type[BaseModel], tag: Key) -> bool:
    field = model.model_fields.get("kind")
    return field is not None and tag in get_args(field.annotation)
