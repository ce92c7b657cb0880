"""Who is where: persons stated per zone, and the rest of those aboard shared out so that nobody is counted twice.

Zones without `people` share the persons that stated zones leave over: by night (23 to 7) by berths, by day by the
weight of their use. Shares are fractions of persons, because the peak hour of one zone must not invent guests.
"""

from __future__ import annotations

from heatsim.scenario.clock import Clock
from heatsim.scenario.courses import DAY, QUARTER, at
from heatsim.scenario.ledger import COMMON, Ledger
from heatsim.scenario.model import Scenario
from heatsim.scenario.resolved import People, Routine
from heatsim.scenario.rooms import PeopleText, ZoneText
from heatsim.tables.loader import by_name

NIGHT = (23 * 60, 7 * 60)
"""[min] First and last minute of the night of the default routines."""

AREA_PER_PERSON = 2.0
"""[m²] Of sole in day spaces: ISO 7547:2002, 4.5 (saloons); who finds no room there is taken as on deck."""

Slots = list[float]


def persons_aboard(scenario: Scenario, ledger: Ledger) -> int:
    """Persons stated, or all berths taken."""
    berths = sum(int(by_name("uses")[zone.use]["berths"]) for zone in scenario.zones.values())
    default = max(berths, 2)
    return ledger.take(
        "yacht.persons", scenario.yacht.persons, default, str(default), "all berths of the zones taken, at least 2"
    )


def resolve_people(scenario: Scenario, persons: int, clock: Clock, ledger: Ledger) -> dict[str, tuple[People, ...]]:
    """Persons of every zone."""
    stated = {
        name: tuple(_stated(f"zones.{name}.people[{i}]", group, clock, ledger) for i, group in enumerate(zone.people))
        for name, zone in scenario.zones.items()
        if zone.people is not None
    }
    silent = {name: zone for name, zone in scenario.zones.items() if zone.people is None}
    left = [
        max(persons - sum(_present(group, slot) for groups in stated.values() for group in groups), 0.0)
        for slot in _slots()
    ]
    found = dict(stated)
    for name, zone in silent.items():
        found[name] = _shared(name, zone, silent, left, ledger)
    return found


def peak_count(people: tuple[People, ...]) -> float:
    """Most persons at once; counts change when a routine does."""
    moments = {minute for group in people for minute in group.routine.minutes}
    return max((sum(_present(group, moment) for group in people) for moment in moments), default=0.0)


def hourly_total(people: dict[str, tuple[People, ...]]) -> list[tuple[int, float]]:
    """Persons in all zones at every quarter-hour: (minute, count)."""
    return [(slot, sum(_present(group, slot) for groups in people.values() for group in groups)) for slot in _slots()]


def _slots() -> range:
    return range(0, DAY, QUARTER)


def _present(group: People, minute: int) -> float:
    return group.count * at(group.routine, minute)


def _is_night(minute: int) -> bool:
    return minute >= NIGHT[0] or minute < NIGHT[1]


def _stated(path: str, given: PeopleText, clock: Clock, ledger: Ledger) -> People:
    routine = clock.share(f"{path}.routine", given.routine, "always", ledger, COMMON)
    return _people(given.count, given.activity, routine)


def _people(count: float, activity: str, routine: Routine) -> People:
    row = by_name("activities")[activity]
    return People(
        count=count,
        activity=activity,
        total=float(row["total_W"]),
        sensible=float(row["sensible_24C_W"]),
        sensible_slope=float(row["sensible_slope_W_per_K"]),
        radiant_share=float(row["radiant_share"]),
        routine=routine,
    )


def _floor(zone: ZoneText) -> float:
    floor = None if zone.quick is None else zone.quick.floor
    return floor or zone.sole_area or 0.0


def _weight(zone: ZoneText, column: str) -> float:
    return float(by_name("uses")[zone.use][column])


def _shared(name: str, zone: ZoneText, silent: dict[str, ZoneText], left: Slots, ledger: Ledger) -> tuple[People, ...]:
    """The share of one silent zone, by night and by day."""
    out = []
    for night, column, activity in (
        (True, "berths", "asleep"),
        (False, "day_weight", by_name("uses")[zone.use]["day_activity"]),
    ):
        used = column if any(_weight(other, column) for other in silent.values()) else "berths"
        total = sum(_weight(other, used) for other in silent.values())
        if not total or not _weight(zone, used):
            continue
        share = _weight(zone, used) / total
        most_here = _weight(zone, "berths") if used == "berths" else _floor(zone) / AREA_PER_PERSON
        values = [
            min(share * left[i], most_here) if _is_night(slot) == night else 0.0 for i, slot in enumerate(_slots())
        ]
        most = max(values)
        if most > 0:
            out.append(
                _people(most, activity, _steps(f"{name} by {'night' if night else 'day'}", [v / most for v in values]))
            )
    shown = " and ".join(f"{group.count:.2g} {group.activity}" for group in out) or "none"
    ledger.take(
        f"zones.{name}.people", None, None, shown, COMMON + ": persons aboard shared by berths at night, by use by day"
    )
    return tuple(out)


def _steps(name: str, values: Slots) -> Routine:
    kept = [i for i in range(len(values)) if i == 0 or values[i] != values[i - 1]]
    return Routine(name, tuple(i * QUARTER for i in kept), tuple(values[i] for i in kept))
