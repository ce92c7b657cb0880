"""What a study runs: its axes in order, every run's place on them, and the boat of each run.

Axes come in the order remedy, draw, those of the file, heading; each is there even where it has one value, so that the
shape of the results never hangs on the content.
"""

from __future__ import annotations

import copy
import hashlib
import itertools
import json
import os
from collections.abc import Sequence
from dataclasses import asdict, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError
from heatsim.scenario import overrides
from heatsim.scenario import tree as trees
from heatsim.scenario.days import resolve_days, resolve_weather_year
from heatsim.scenario.ledger import Ledger
from heatsim.scenario.model import Scenario
from heatsim.scenario.place import months, resolve_place
from heatsim.scenario.quantities import parse
from heatsim.scenario.reading import anchored, validate
from heatsim.scenario.resolve import resolve
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.surroundings import ClimateText, PlaceText
from heatsim.scenario.tree import Tree
from heatsim.study.axes import Axis
from heatsim.study.draws import Input, draw, inputs_of
from heatsim.study.file import (
    RemedyText,
    Scalar,
    Study,
    axis_path,
    axis_values,
    read_study,
    short_name,
    written,
)
from heatsim.study.ways import READY, WAYS

Array = npt.NDArray[np.float64]

AS_SHE_IS = "as she is"
HEADING, UNIT_LOST, NOTHING_LOST = "place.heading", "unit lost", "none"
OF_THE_WEATHER = ("place.region", "place.month", "place.marina_offset", "climate.")
"""Paths that change place, days and sea alone: boats that differ in these share their network."""
OF_EQUIPMENT = "equipment."
"""Beginning of paths that change what cools the boat and nothing of her loads."""
RUNS_AT_ONCE = 192
"""Days of runs in a chunk (assumed): enough to fill the batch, little enough to be lost without tears."""
Index = tuple[int, ...]


class Design:
    """A study with its boat: every run can be asked for by its index along the axes.

    Parameters
    ----------
    study : Study
    boat : Tree
        The boat's file, as read.
    folder : Path
        Where paths of the boat's file lead from.
    drawn : (draw, input) array, optional
        Draws made earlier; made here unless given, or where they are of other inputs.
    """

    def __init__(self, study: Study, boat: Tree, folder: Path, drawn: Array | None = None) -> None:
        self.study, self.folder = study, folder
        self._read: set[str] = set()
        self.tree = _prepared(study, boat)
        self.base = self._resolve(validate(self.tree))
        self.remedies = _combinations(study)
        self.inputs: tuple[Input, ...] = ()
        self.drawn = np.zeros((1, 0))
        if study.draws is not None:
            days = None if study.days is None else list(study.days)
            found = inputs_of(study.draws, self.base.defaults, days)
            self.inputs = tuple(one for one in found if self._settable(one, study))
            kept = drawn is not None and drawn.shape == (study.draws.count, len(self.inputs))
            self.drawn = drawn if drawn is not None and kept else draw(self.inputs, study.draws)
        self.axes = self._axes()
        self.shape = tuple(len(axis.values) for axis in self.axes)
        self._boats: dict[tuple[str, ...], tuple[Scenario, Resolved]] = {}
        self._check_values()

    @classmethod
    def read(cls, path: str | Path, drawn: Array | None = None) -> Design:
        """The study of a file, with its boat's.

        Raises
        ------
        HeatsimError
            With every fault of the study file, then of the boat's, then of values of axes that the boat cannot have.
        """
        study, tree = read_study(path)
        place = Path(path).resolve().parent / study.boat
        if not place.is_file():
            raise HeatsimError(
                Fault("names a scenario file that does not exist", tree.file, tree.line(("boat",)), "boat", study.boat,
                      "Check the path; it leads from the folder of the study file")
            )  # fmt: skip
        return cls(study, trees.load(place), place.parent, drawn)

    @property
    def days(self) -> tuple[str, ...]:
        """Kinds of day each run has; "year" alone for a weather file."""
        return ("year",) if self.base.weather_year is not None else tuple(day.kind for day in self.base.days)

    @property
    def rooms(self) -> tuple[str, ...]:
        """Conditioned zones in order."""
        return tuple(zone.name for zone in self.base.zones if zone.control is not None)

    @property
    def runs(self) -> int:
        """How many runs there are, headings counted."""
        return int(np.prod(self.shape))

    @cached_property
    def chunk(self) -> Index:
        """How many values of each axis one chunk holds; hangs on the file alone."""
        room = max(1, RUNS_AT_ONCE // len(self.days)) if self.days != ("year",) else YEARS_AT_ONCE
        lengths = []
        for size in reversed(self.shape):
            length = min(size, max(1, room))
            length = -(-size // -(-size // length))  # as even as may be
            lengths.append(length)
            room //= length
        return tuple(reversed(lengths))

    def chunks(self) -> list[tuple[slice, ...]]:
        """Every chunk in order."""
        starts = [range(0, size, length) for size, length in zip(self.shape, self.chunk, strict=True)]
        return [
            tuple(slice(s, min(s + n, size)) for s, n, size in zip(start, self.chunk, self.shape, strict=True))
            for start in itertools.product(*starts)
        ]

    def headings(self, part: slice) -> tuple[float, ...]:
        """True bearings of the bow of a stretch of the last axis. [°]"""
        return tuple(_bearing(value) for value in self.axes[-1].values[part])

    def case(self, index: Index, headings: tuple[float, ...]) -> tuple[tuple[str, ...], Resolved]:
        """The boat of one index along all axes but the heading, and what tells her network from others'."""
        remedies = self.remedies[index[0]]
        changes = [change for axis, i in zip(self.axes[1:-1], index[1:], strict=True) for change in axis.changes[i]]
        changes += _set_by(remedies)
        weather = tuple(change for change in changes if change.startswith(OF_THE_WEATHER))
        own = tuple(change for change in changes if not change.startswith(OF_THE_WEATHER))
        ready = tuple(remedy.change for remedy in remedies if remedy.change is not None)
        scenario, boat = self._boat(own, ready)
        placed = self._placed(scenario, boat, weather)
        place = replace(placed.place, headings=headings, heading_mode="fixed" if len(headings) == 1 else "worst")
        network = (*(change for change in own if not change.startswith(OF_EQUIPMENT)), *ready)
        return network, replace(placed, place=place)

    def fitted(self, index: Index) -> tuple[str, ...]:
        """What an index along all axes but the heading changes of the equipment."""
        chosen = zip(self.axes[1:-1], index[1:], strict=True)
        changes = [change for axis, i in chosen for change in axis.changes[i]]
        return tuple(c for c in (*changes, *_set_by(self.remedies[index[0]])) if c.startswith(OF_EQUIPMENT))

    def fittings(self) -> list[tuple[str, ...]]:
        """Every such change there is."""
        touched = [any(c.startswith(OF_EQUIPMENT) for some in axis.changes for c in some) for axis in self.axes[1:-1]]
        sizes = [n if use else 1 for n, use in zip(self.shape[:-1], (True, *touched), strict=True)]
        return list(dict.fromkeys(self.fitted(index) for index in np.ndindex(*sizes)))

    def lost(self, index: Index) -> str:
        """Which unit is out of order at an index along all axes but the heading."""
        for axis, i in zip(self.axes[:-1], index, strict=True):
            if axis.name == UNIT_LOST:
                return str(axis.values[i])
        return NOTHING_LOST

    @property
    def ways(self) -> tuple[str, ...]:
        """Values of the first axis that are ways of using the boat, not remedies."""
        names = {remedy.name for remedy in self.study.remedies if remedy.change in WAYS}
        return tuple(str(value) for value in self.axes[0].values if names & set(str(value).split(" + ")))

    def files(self) -> dict[str, str]:
        """Other files the results hang on, of every value of an axis too, and the hash of each one's content."""
        named = ((os.path.relpath(file, self.folder), file) for file in sorted(self._read))
        return {name: hashlib.sha256(Path(file).read_bytes()).hexdigest() for name, file in named}

    def resolved_hash(self) -> str:
        """Of everything the results hang on: study, boat, draws, weather file and catalogue."""
        digest = hashlib.sha256()
        for part in (self.study.model_dump(mode="json"), self.tree.value, asdict(self.base.terms)):
            digest.update(json.dumps(part, sort_keys=True, default=str).encode())
        digest.update(np.ascontiguousarray(self.drawn).tobytes())
        digest.update(json.dumps(self.files(), sort_keys=True).encode())
        return digest.hexdigest()

    def _boat(self, own: tuple[str, ...], ready: tuple[str, ...]) -> tuple[Scenario, Resolved]:
        key = (*own, "+", *ready)
        if key not in self._boats:
            if len(self._boats) >= MOST_BOATS:
                self._boats.clear()
            scenario = validate(self.tree, own) if own else self._scenario
            boat = self._resolve(scenario)
            for name in ready:
                boat = READY[name][0](boat) or boat
            self._boats[key] = scenario, boat
        return self._boats[key]

    @cached_property
    def _scenario(self) -> Scenario:
        return validate(self.tree)

    def _resolve(self, scenario: Scenario) -> Resolved:
        boat = resolve(anchored(scenario, self.folder))
        year = boat.weather_year
        self._read.update(file for file in (boat.catalogue, year.path if year is not None else None) if file)
        return boat

    def _placed(self, scenario: Scenario, boat: Resolved, weather: tuple[str, ...]) -> Resolved:
        """The boat in another place, month or weather; nothing else is resolved again."""
        if not weather:
            return boat
        value = {key: self.tree.value.get(key) or {} for key in ("place", "climate")}
        changed, _ = overrides.apply(Tree(value, self.tree.lines, self.tree.file), weather)
        moved = anchored(
            scenario.model_copy(
                update={
                    "place": PlaceText.model_validate(changed.value["place"]),
                    "climate": ClimateText.model_validate(changed.value["climate"]),
                }
            ),
            self.folder,
        )
        ledger = Ledger()
        place = resolve_place(moved, ledger)
        days = resolve_days(moved, place, months(moved, ledger), ledger)
        year = resolve_weather_year(moved, ledger, self.folder)
        ledger.close()
        return replace(boat, place=place, days=days, weather_year=year)

    def _settable(self, one: Input, study: Study) -> bool:
        """Whether a file may state these defaults (those of a quick zone's own bilge it cannot)."""
        if study.draws is not None and one.name in study.draws.of:
            return True
        try:
            validate(self.tree, one.changes(one.numbers[1] if len(one.numbers) == 3 else one.numbers[0]))
        except HeatsimError:
            return False
        return True

    def _axes(self) -> tuple[Axis, ...]:
        names = [" + ".join(remedy.name for remedy in combined) or AS_SHE_IS for combined in self.remedies]
        axes = [Axis("remedy", tuple(names), ((),) * len(names))]
        numbers = range(len(self.drawn))
        changes = tuple(
            tuple(c for one, value in zip(self.inputs, self.drawn[n], strict=True) for c in one.changes(float(value)))
            for n in numbers
        )
        axes.append(Axis("draw", tuple(numbers), changes))
        heading: Axis | None = None
        paths: set[str] = set()
        for written_name, given in self.study.axes.items():
            path = axis_path(written_name)
            if path in paths:
                raise HeatsimError(Fault("two axes go over one value", path=f"axes.{written_name}", value=path))
            paths.add(path)
            name, values = short_name(path), axis_values(written_name, given)
            made = Axis(name, tuple(values), tuple((written(path, value),) for value in values))
            if name == UNIT_LOST:
                axes.append(replace(made, changes=((),) * len(values)))
            elif path == HEADING:
                heading = replace(made, name="heading", changes=((),) * len(values))
            else:
                axes.append(made)
        if heading is None:
            own = tuple(f"{bearing:g} deg" for bearing in self.base.place.headings)
            heading = Axis("heading", own, ((),) * len(own))
        return (*axes, heading)

    def _check_values(self) -> None:
        """Refuse values of axes and remedies that the boat cannot have, before anything is run."""
        faults: list[Fault] = []

        def tried(path: str, changes: Sequence[str]) -> None:
            try:
                self.case_of(changes)
            except HeatsimError as error:
                faults.extend(replace(one, file="", line=0, path=f"{path}: {one.path}") for one in error.faults)

        for axis in self.axes[2:-1]:
            for changes in axis.changes:
                tried(f"axes.{axis.name}", changes)
        for remedy in self.study.remedies:
            path = f"remedies.{remedy.name}"
            ready = remedy.change
            if ready is not None and ready not in READY:
                known = "Ready: " + ", ".join(READY)
                faults.append(Fault("is not a ready change", path=path, value=ready, remedy=known))
            elif ready is not None and READY[ready][0](self.base) is None:
                faults.append(Fault("changes nothing on this boat", path=path, value=ready, remedy="Leave it out"))
            elif ready is None and not remedy.set:
                faults.append(Fault("changes nothing", path=path, remedy="Give set: or change:"))
            tried(path, _set_by([remedy]))
        given = self.study.draws.of if self.study.draws is not None else {}
        for one in self.inputs:
            if any(path.startswith(OF_EQUIPMENT) for path in one.paths):
                rule, advice = "changes no load; units are planned once, not draw by draw", "Make it an axis"
                faults.append(Fault(rule, path=f"draws.of.{one.name}", remedy=advice))
            for value in one.extremes() if one.name in given else ():
                tried("draws.of", one.changes(value))
        if self.study.units == "installed" and not self.base.terms.installed:
            advice = "Give equipment.existing in the boat's file"
            faults.append(Fault("nothing is installed", path="units", remedy=advice))
        if len(set(self.days)) < len(self.days):
            advice = "Leave place.months out of the boat's file and make month an axis"
            faults.append(Fault("has several days of one kind in each run", path="boat", remedy=advice))
        if self.study.causes != "none" and self.days != ("year",):
            advice = "heatsim loads gives those of design days"
            faults.append(Fault("are kept of weather years", path="causes", value=self.study.causes, remedy=advice))
        if self.days == ("year",) and any(axis.name == "month" for axis in self.axes):
            faults.append(Fault("a weather year has all months", path="axes.month", remedy="Leave it out"))
        try:
            self.headings(slice(None))
        except HeatsimError as error:
            faults += error.faults
        if faults:
            raise HeatsimError(*faults)

    def case_of(self, changes: Sequence[str]) -> Resolved:
        """The boat with some changes, resolved whole."""
        return self._resolve(validate(self.tree, changes))


YEARS_AT_ONCE = 16
"""Weather years in a chunk (assumed); a month of 16 of them takes 0.3 GB on a boat of 320 nodes (by its arrays)."""
MOST_BOATS = 64
"""Boats kept in memory; they are resolved again when asked for again."""


def _bearing(value: Scalar) -> float:
    """A heading of the file. [°]"""
    try:
        return parse(value, "angle") % 360.0
    except ValueError as error:
        raise HeatsimError(Fault(f"{error}", path="place.heading", value=str(value))) from None


def _prepared(study: Study, boat: Tree) -> Tree:
    """The boat's file with what the study leaves out, changes and asks for in every run."""
    value = copy.deepcopy(boat.value)
    faults = []
    for path in study.leave_out:
        parts = overrides.split(path)
        here: Any = value
        for part in parts[:-1]:
            here = here.get(part) if isinstance(here, dict) else None
        if not isinstance(here, dict) or here.pop(parts[-1], None) is None:
            faults.append(Fault("the boat's file has nothing there", path=f"leave_out: {path}", remedy="Leave it away"))
    if faults:
        raise HeatsimError(*faults)
    changes = [written(axis_path(path), given) for path, given in study.set.items()]
    if study.days is not None:
        changes.append(written("climate.days", list(study.days)))  # type: ignore[arg-type]
    changed, _ = overrides.apply(Tree(value, boat.lines, boat.file), changes)
    return changed


def _set_by(remedies: Sequence[RemedyText]) -> list[str]:
    """Changes of the file that remedies make."""
    return [written(path, value) for remedy in remedies for path, value in remedy.set.items()]


def _combinations(study: Study) -> tuple[tuple[RemedyText, ...], ...]:
    """What is done to the boat along the first axis, nothing first."""
    every = study.remedies
    if study.combine == "every":
        return tuple(c for size in range(len(every) + 1) for c in itertools.combinations(every, size))
    alone = [(one,) for one in every]
    together = [tuple(every)] if study.combine == "also together" and len(every) > 1 else []
    return ((), *alone, *together)
