"""From the scenario file's content to the resolved scenario: every default taken, noted, and in SI."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from heatsim.errors import HeatsimError
from heatsim.scenario.clock import Clock
from heatsim.scenario.courses import mean_of
from heatsim.scenario.days import resolve_days, resolve_weather_year
from heatsim.scenario.drawn import drawn
from heatsim.scenario.electrics import resolve_power
from heatsim.scenario.fittings import Fittings, Size, size_of
from heatsim.scenario.ledger import COMMON, Ledger
from heatsim.scenario.model import Scenario
from heatsim.scenario.occupancy import persons_aboard, resolve_people
from heatsim.scenario.place import months, resolve_place
from heatsim.scenario.planes import Planes, Where, cut_glass, share_sun
from heatsim.scenario.quick import Expanded, expand
from heatsim.scenario.resolved import OUTDOORS, Face, Flow, Opening, People, Resolved, Zone
from heatsim.scenario.rooms import SpaceText, ZoneText
from heatsim.scenario.shell import resolve_awning, resolve_glazing, resolve_lay_up
from heatsim.scenario.terms import resolve_terms


def resolve(scenario: Scenario, folder: str | Path = ".") -> Resolved:
    """Resolve a scenario.

    Parameters
    ----------
    scenario : Scenario
        As read, or built in Python.
    folder : str or Path
        From where relative paths (weather file, catalogue) lead.

    Raises
    ------
    HeatsimError
        Where parts that are each allowed do not fit together.
    """
    try:
        return _resolved(scenario, Path(folder))
    except HeatsimError as error:
        origin = scenario.origin
        raise error if origin is None else origin.placed(error) from None


def _resolved(scenario: Scenario, folder: Path) -> Resolved:
    ledger = Ledger()
    clock = Clock(scenario)
    place = resolve_place(scenario, ledger)
    days = resolve_days(scenario, place, months(scenario, ledger), ledger)
    weather_year = resolve_weather_year(scenario, ledger, folder)
    persons = persons_aboard(scenario, ledger)
    people = resolve_people(scenario, persons, clock, ledger)
    rooms = _Rooms(scenario, clock, ledger, people)
    rooms.build()
    flows = (*rooms.flows, *_stated_flows(scenario, clock, ledger))
    openings = _openings(scenario, clock, ledger)
    lay_ups = dict.fromkeys(face.lay_up for face in rooms.faces if face.lay_up)
    glazings = dict.fromkeys(face.glazing for face in rooms.faces if face.glazing)
    used = {face.awning for face in rooms.faces}
    resolved_lay_ups = tuple(resolve_lay_up(name, scenario, ledger) for name in lay_ups)
    awnings = tuple(resolve_awning(n, a, clock, ledger) for n, a in scenario.awnings.items() if n in used)
    catalogue = scenario.equipment.catalogue
    return Resolved(
        name=scenario.yacht.name,
        length=scenario.yacht.length,
        persons_aboard=persons,
        place=place,
        days=days,
        weather_year=weather_year,
        lay_ups=resolved_lay_ups,
        glazings=tuple(resolve_glazing(rooms.planes.glass[name], scenario) for name in glazings),
        awnings=awnings,
        zones=tuple(rooms.zones),
        faces=tuple(rooms.faces),
        flows=flows,
        openings=openings,
        defaults=ledger.close(),
        catalogue=None if catalogue is None else str((Path(folder) / catalogue).resolve()),
        basis=scenario.basis,
        terms=resolve_terms(scenario, _household(rooms.zones)),
        power=resolve_power(scenario),
        services=scenario.services,
    )


def _household(zones: Sequence[Zone]) -> float:
    """Lights and equipment of the rooms on the mean of the day. [W]"""
    return sum(gain.power * mean_of(gain.routine) for zone in zones if not zone.is_space for gain in zone.gains)


def partition_areas(scenario: Scenario) -> dict[str, float]:
    """Area of the bulkheads listed one by one at each zone or space. [m²]"""
    areas: dict[str, float] = {}
    for name, room in {**scenario.zones, **scenario.spaces}.items():
        for face in room.faces:
            for end in (name, face.beyond) if face.kind == "bulkhead" else ():
                areas[end] = areas.get(end, 0.0) + face.area
    return areas


class _Rooms:
    """Builds zones and spaces one after the other, with the faces and outside air of each."""

    def __init__(self, scenario: Scenario, clock: Clock, ledger: Ledger, people: dict[str, tuple[People, ...]]) -> None:
        self.scenario, self.people, self.ledger = scenario, people, ledger
        self.planes = Planes(scenario, clock, ledger)
        self.fittings = Fittings(clock, ledger)
        self.partitions, self.drawn = partition_areas(scenario), drawn(scenario)
        self.always = clock.named("always")
        self.zones: list[Zone] = []
        self.faces: list[Face] = []
        self.flows: list[Flow] = []

    def build(self) -> None:
        spaces: list[tuple[str, SpaceText, str]] = [(n, s, f"spaces.{n}") for n, s in self.scenario.spaces.items()]
        for name, given in self.scenario.zones.items():
            partitions = self.partitions.get(name, 0.0)
            quick = None
            if given.quick is not None:
                quick = expand(
                    name, given.quick, partitions, self.ledger, boat_beam=self.scenario.yacht.beam,
                    boat_length=self.scenario.yacht.length, drawn=self.drawn.get(name),
                )  # fmt: skip
            self._zone(name, given, quick)
            if quick is not None and quick.bilge is not None:
                spaces.append((f"{name} bilge", quick.bilge, f"zones.{name}.quick"))
        for name, space, path in spaces:
            self._space(name, space, path)

    def _zone(self, name: str, given: ZoneText, quick: Expanded | None) -> None:
        size = size_of(given, f"zones.{name}", self.ledger) if quick is None else _box_size(quick, given)
        faces = self._faces(name, given, size.deck, f"zones.{name}", quick)
        faces, furnishing_share = share_sun(faces, given.sun_shares, given.furnishing_capacity != 0)
        if given.sun_shares is None and any(face.kind == "glass" for face in faces):
            self.ledger.take(f"zones.{name}.sun_shares", None, None, "{sole: 50 %, furnishings: 30 %}", "assumed")
        people = self.people[name]
        self.faces += faces
        self.zones.append(self.fittings.zone(name, given, size, people, furnishing_share))
        fresh = self.fittings.fresh_air(f"zones.{name}", given, people)
        if fresh > 0:
            self.flows.append(Flow(f"{name}: fresh air", "fresh_air", OUTDOORS, name, fresh, self.always))
        self._infiltration(name, given, size, f"zones.{name}")

    def _space(self, name: str, given: SpaceText, path: str) -> None:
        quick = None
        if given.quick is not None:
            quick = expand(
                name, given.quick, self.partitions.get(name, 0.0), self.ledger, space=True, drawn=self.drawn.get(name)
            )
        size = size_of(given, path, self.ledger) if quick is None else _box_size(quick, given)
        faces = self._faces(name, given, size.deck, path, quick)
        faces, furnishing_share = share_sun(faces, None, given.furnishing_capacity != 0)
        self.faces += faces
        self.zones.append(self.fittings.space(name, given, size, furnishing_share, path))
        if given.temperature is None:
            self._infiltration(name, given, size, path)

    def _infiltration(self, name: str, given: ZoneText | SpaceText, size: Size, path: str) -> None:
        leak = self.fittings.infiltration(path, given, size.volume)
        if leak > 0:
            self.flows.append(Flow(f"{name}: infiltration", "infiltration", OUTDOORS, name, leak, self.always))

    def _faces(
        self, name: str, given: ZoneText | SpaceText, deck: str, path: str, quick: Expanded | None
    ) -> list[Face]:
        own = [
            self.planes.face(name, deck, i, face, _under(f"{path}.faces[{i}]")) for i, face in enumerate(given.faces)
        ]
        own = cut_glass(name, list(given.faces), own, lambda part: f"{path}.faces{part}", self.ledger)
        if quick is not None:
            for i, (face, paths) in enumerate(zip(quick.faces, quick.paths, strict=True)):
                own.append(self.planes.face(name, deck, i, face, _mapped(paths, path)))
        return own


def _box_size(quick: Expanded, given: ZoneText | SpaceText) -> Size:
    return Size(quick.deck, quick.floor_area, quick.height, given.volume or quick.volume)


def _under(path: str) -> Where:
    return lambda field: f"{path}.{field}"


def _mapped(paths: dict[str, str], path: str) -> Where:
    return lambda field: paths.get(field, f"{path}.quick.{field}")


def _stated_flows(scenario: Scenario, clock: Clock, ledger: Ledger) -> tuple[Flow, ...]:
    out = []
    for i, flow in enumerate(scenario.flows):
        kind = "extract" if flow.target == OUTDOORS else "fresh_air" if flow.source == OUTDOORS else "transfer"
        routine = clock.share(f"flows[{i}].routine", flow.routine, "always", ledger, COMMON)
        name = flow.name or f"{flow.source} to {flow.target}"
        out.append(Flow(name, kind, flow.source, flow.target, flow.rate, routine))  # type: ignore[arg-type]
    return tuple(out)


def _openings(scenario: Scenario, clock: Clock, ledger: Ledger) -> tuple[Opening, ...]:
    out = []
    for i, given in enumerate(scenario.openings):
        first, second = (given.first, given.second) if given.first != OUTDOORS else (given.second, given.first)
        out.append(
            Opening(
                name=given.name or f"{given.kind} {first} to {second}",
                kind=given.kind,
                first=first,
                second=second,
                width=given.width,
                height=given.height or 0.0,
                length=given.length or 0.0,
                wind_coefficient=0.025 if given.wind_coefficient is None else given.wind_coefficient,
                routine=clock.routine(f"openings[{i}].open", given.open),
            )
        )
    return tuple(out)
