"""Remedies on the units themselves: cleaning, water, air, mains, one unit more; what each adds in capacity and kelvins.

Each is a change to what the scenario says of the units fitted; they are worked out anew and the boat is simulated at
their new limits. Nothing is estimated by a factor.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from heatsim.equipment.catalogue import Unit
from heatsim.equipment.holding import Reruns
from heatsim.equipment.layouts import Layout, aboard
from heatsim.equipment.needs import Needs, demand_of, own
from heatsim.equipment.remedies import Remedy
from heatsim.equipment.selection import DIRECT, Bench, Offer
from heatsim.scenario.resolved import Resolved
from heatsim.scenario.terms import Installed, Terms

EXTRA = "an extra unit"
EXTRA_CAUTION = (
    "Add it under existing and plan again: shore supply, sea water and refrigerant in the room are checked there. It "
    "takes its air from the room it stands in, never from an engine, generator, battery or petrol space."
)


def cleaned(terms: Terms, units: Sequence[Unit]) -> Terms:
    """Condensers free of growth and scale."""
    return replace(terms, fouling=0.0)


def watered(terms: Terms, units: Sequence[Unit]) -> Terms:
    """All the sea water that units are rated with."""
    return replace(terms, water_flow=max(terms.water_flow, 1.0))


def aired(terms: Terms, units: Sequence[Unit]) -> Terms:
    """All the air that units are rated with."""
    return replace(terms, installed=tuple(replace(one, air_flow=1.0) for one in terms.installed))


def powered(terms: Terms, units: Sequence[Unit]) -> Terms:
    """Mains of the units' own frequency, where that is higher."""
    return replace(terms, frequency=max([terms.frequency, *(unit.frequency for unit in units)]))


CHANGES: dict[str, tuple[Callable[[Terms, Sequence[Unit]], Terms], str]] = {
    "condensers cleaned": (
        cleaned,
        "Descaling acid burns and gives off gas: gloves, goggles, air, closed seacocks; flush before it runs again.",
    ),
    "full sea water flow": (
        watered, "Close the seacock before a strainer or hose is opened: one left open sinks the boat.",
    ),
    "return grille, filter and ducts cleared": (
        aired, "Switch the unit off at its breaker before hands reach its fan; let ducts take air from rooms only.",
    ),
    "mains of the units' own frequency": (
        powered, "A converter or generator is sized and connected by an electrician, for starts as well.",
    ),
}  # fmt: skip
"""What may be done to units aboard, its change, and the caution that travels with it."""


def upkeep(resolved: Resolved, heading: float, n: Needs, units: Sequence[Unit], layout: Layout) -> list[Remedy]:
    """Every remedy on units that adds capacity, with what it adds and the kelvins of the boat's worst zone.

    Parameters
    ----------
    heading : float
        True bearing of the bow. [°]
    n : Needs
    units : of the catalogue
    layout : Layout
        What is installed now, of `layouts.aboard`.
    """
    reruns = Reruns(resolved, heading)
    above = reruns.hold(layout).above
    worst = max(above, key=above.__getitem__)
    fitted = [offer.unit for offer in layout.offers]
    changed = [(name, change(resolved.terms, fitted), caution) for name, (change, caution) in CHANGES.items()]
    more = _one_more(resolved.terms, n, units, layout)
    if more is not None:
        with_it = replace(resolved.terms, installed=(*resolved.terms.installed, more))
        changed.append((f"{EXTRA}: {more.model} for {' + '.join(more.zones)}", with_it, EXTRA_CAUTION))
    found = []
    for name, terms, caution in changed:
        if terms == resolved.terms:
            continue
        then = aboard(replace(resolved, terms=terms), n, units)
        gained = then.capacity - layout.capacity
        if gained > 0.0:
            found.append(Remedy(name, gained, above[worst] - reruns.hold(then).above[worst], caution))
    return found


def _one_more(terms: Terms, n: Needs, units: Sequence[Unit], layout: Layout) -> Installed | None:
    """The smallest unit for what the weakest one lacks, or for a zone that nothing serves; None where none lacks."""
    served = {zone for offer in layout.offers for zone in offer.zones}
    bare = [zone for zone in n.zones if zone not in served]
    weakest = max(layout.offers, key=_lack, default=None)
    if weakest is not None and _lack(weakest) > 0.0:
        names, wanted = weakest.zones, _lack(weakest)
    elif bare:
        names = (bare[0],)
        wanted = own(n, n.of(names)[0]).total
    else:
        return None
    zones = n.of(names)
    bench = Bench(units, n, terms)
    demand = demand_of(n, zones)
    offers = [bench.offer(unit, zones, demand) for unit in bench.units if unit.kind in DIRECT]
    able = [offer for offer in offers if offer.total >= wanted]
    if not able:
        return None
    unit = min(able, key=lambda offer: offer.total).unit
    return Installed(EXTRA, names, unit.gross - unit.fan_power, unit.model)


def _lack(offer: Offer) -> float:
    return offer.demand.total - offer.total
