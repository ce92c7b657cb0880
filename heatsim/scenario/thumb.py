"""The trade's rules of thumb, by volume and by deck level, to stand beside a simulated load.

Both are common practice without a source: they know neither hour nor sun, and stand here for comparison only.
"""

from __future__ import annotations

from dataclasses import dataclass

from heatsim.scenario.resolved import Resolved, Zone
from heatsim.scenario.rooms import DeckLevel
from heatsim.tables.loader import by_name

BTU_PER_H = 0.29307107017222
"""[W] NIST SP 811 appendix B.8 (international table)."""
CUBIC_FOOT = 0.3048**3
SQUARE_FOOT = 0.3048**2

VOLUME_FACTORS = {"sunny": (16.0, 19.0), "ordinary": (14.0, 14.0), "after sunset": (10.0, 12.0)}
"""[Btu/(h·ft³)] By how a space is used; common practice, no source."""
AREA_FACTORS: dict[DeckLevel, float] = {"lower": 60.0, "main": 90.0, "upper": 120.0, "bridge": 120.0}
"""[Btu/(h·ft²)] By deck level; common practice, no source."""


@dataclass(frozen=True)
class ThumbRule:
    """Cooling loads of one zone (or of the boat) by the two rules [W]; `kind` says which volume factor was taken."""

    zone: str
    kind: str
    volume_low: float
    volume_high: float
    area: float


def volume_rule(volume: float, factor: float) -> float:
    """Cooling load by volume.

    Parameters
    ----------
    volume : float
        Of the space. [m³]
    factor : float
        [Btu/(h·ft³)]

    Returns
    -------
    float
        [W]
    """
    return volume / CUBIC_FOOT * factor * BTU_PER_H


def area_rule(area: float, factor: float) -> float:
    """Cooling load by sole area; `factor` in Btu/(h·ft²), result in W."""
    return area / SQUARE_FOOT * factor * BTU_PER_H


def rules(resolved: Resolved) -> tuple[ThumbRule, ...]:
    """Both rules for every conditioned zone, and their sums for the boat as the last one."""
    found = [_of_zone(zone) for zone in resolved.zones if zone.control is not None]
    return (
        *found,
        ThumbRule(
            "boat",
            "sum",
            sum(rule.volume_low for rule in found),
            sum(rule.volume_high for rule in found),
            sum(rule.area for rule in found),
        ),
    )


def _of_zone(zone: Zone) -> ThumbRule:
    kind = kind_of(zone)
    low, high = VOLUME_FACTORS[kind]
    factor = AREA_FACTORS.get(zone.deck, AREA_FACTORS["main"])  # type: ignore[call-overload]
    return ThumbRule(
        zone.name,
        kind,
        volume_rule(zone.volume, low),
        volume_rule(zone.volume, high),
        area_rule(zone.floor_area, factor),
    )


def kind_of(zone: Zone) -> str:
    """Which volume factor fits: cabins below are used after sunset, wheelhouses and upper decks stand in the sun."""
    if zone.deck == "lower" and float(by_name("uses")[zone.use]["berths"]):
        return "after sunset"
    return "sunny" if zone.use in ("wheelhouse", "sky lounge") or zone.deck in ("upper", "bridge") else "ordinary"
