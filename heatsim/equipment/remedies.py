"""Named changes to a boat, ranked by what they buy back in kilowatts of block load and kelvins of her warmest zone.

Each is a change to the resolved scenario, simulated like the boat herself; nothing is estimated by a factor. The values
behind each are those a yard would fit: the tables' fabrics and films, clean white paint, 25 mm of closed-cell foam.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from heatsim.equipment.holding import Reruns
from heatsim.equipment.layouts import Layout
from heatsim.loads.ship_standard import SINGLE_FROM
from heatsim.physics.glazing import Film, film_of_sheet, fit_glass, tabulated
from heatsim.scenario.resolved import OUTDOORS, Awning, Blind, Face, Glazing, Layer, Resolved, Routine
from heatsim.tables.loader import by_name

ALWAYS = Routine("always", (0,), (1.0,))
WHITE = 0.25
"""[-] Absorptance of clean white paint (handbook 0.20–0.30, from memory)."""
FOAM = Layer("closed-cell foam", 0.025, 0.035, 35.0, 1450.0)
"""25 mm of closed-cell foam (ISO 10456 family values)."""


@dataclass(frozen=True)
class Remedy:
    """What a change does: block load and warmest zone before and after, and the caution that belongs to it.

    `power` [W] bought back from the block's peak; `kelvin` by which the zone farthest above its setpoint comes down,
    NaN where no equipment is given.
    """

    name: str
    power: float
    kelvin: float
    caution: str


Change = Callable[[Resolved], Resolved | None]


def remedies(resolved: Resolved, heading: float, layout: Layout | None = None) -> list[Remedy]:
    """Every remedy that changes something, the one that buys back most first.

    Parameters
    ----------
    heading : float
        True bearing of the bow at which they are compared. [°]
    layout : Layout, optional
        Equipment at whose limits zones float; without it only powers are compared.
    """
    base = Reruns(resolved, heading)
    load, above = base.block(), None if layout is None else base.hold(layout).above
    found = []
    for name, (change, caution) in CHANGES.items():
        changed = change(resolved)
        if changed is None:
            continue
        there = Reruns(changed, heading)
        kelvin = float("nan")
        if layout is not None and above is not None:
            worst = max(above, key=above.__getitem__)
            kelvin = above[worst] - there.hold(layout).above[worst]
        found.append(Remedy(name, load - there.block(), kelvin, caution))
    return sorted(found, key=lambda one: -one.power)


def _faces(resolved: Resolved, chosen: Callable[[Face], bool], change: Callable[[Face], Face]) -> Resolved | None:
    """The boat with some faces changed, None where there are none."""
    if not any(chosen(face) for face in resolved.faces):
        return None
    return replace(resolved, faces=tuple(change(face) if chosen(face) else face for face in resolved.faces))


def _sunny(face: Face, *kinds: str) -> bool:
    return face.kind in kinds and face.beyond == OUTDOORS


def awning(resolved: Resolved) -> Resolved | None:
    """White canvas, open to the wind, over every bare weather deck by day."""
    row = by_name("awnings")["white canvas"]
    passed, absorbed, emissivity = (float(row[name]) for name in ("transmittance", "absorptance", "emissivity"))
    by_day = Routine("by day", (0, 480, 1200), (0.0, 1.0, 0.0))
    sheet = Awning("remedy awning", passed, absorbed, emissivity, True, by_day)
    changed = _faces(
        resolved, lambda f: _sunny(f, "deck") and f.awning is None and f.glazing is None,
        lambda f: replace(f, awning=sheet.name),
    )  # fmt: skip
    return None if changed is None else replace(changed, awnings=(*changed.awnings, sheet))


def film(resolved: Resolved) -> Resolved | None:
    """The neutral film of the table on all glass that has none."""
    row = by_name("films")["neutral film"]
    sheet = film_of_sheet(float(row["transmittance"]), float(row["reflectance"]))
    filmed = {one.name: _filmed(one, sheet) for one in resolved.glazings}
    filmed = {name: one for name, one in filmed.items() if one is not None}
    if not filmed:
        return None
    return replace(resolved, glazings=tuple(filmed.get(one.name) or one for one in resolved.glazings))


def _filmed(glazing: Glazing, sheet: Film) -> Glazing | None:
    from heatsim.errors import HeatsimError

    panes = 1 if glazing.u_value >= SINGLE_FROM else 2
    try:
        glass = fit_glass(glazing.u_value, glazing.g_value, panes, resistance=glazing.resistance)
    except HeatsimError:
        return None
    table = tabulated(glass._replace(film=sheet))
    if table.transmittance[0] >= 0.98 * glazing.transmittance[0]:
        return None
    return replace(glazing, **table._asdict())


def blinds(resolved: Resolved) -> Resolved | None:
    """Light rollers, closed all day, on windows that have none."""
    row = by_name("blinds")["light roller"]
    blind = Blind(float(row["transmittance"]), float(row["reflectance"]), ALWAYS)
    return _faces(
        resolved, lambda f: f.glazing is not None and f.beyond == OUTDOORS and f.blind is None,
        lambda f: replace(f, blind=blind),
    )  # fmt: skip


def white_decks(resolved: Resolved) -> Resolved | None:
    """Weather decks and tops painted white."""
    return _faces(
        resolved, lambda f: _sunny(f, "deck") and f.glazing is None and f.absorptance > WHITE,
        lambda f: replace(f, absorptance=WHITE),
    )  # fmt: skip


def white_sides(resolved: Resolved) -> Resolved | None:
    """Topsides and house sides painted white."""
    return _faces(
        resolved, lambda f: _sunny(f, "hull", "house") and f.absorptance > WHITE,
        lambda f: replace(f, absorptance=WHITE),
    )  # fmt: skip


def insulation(resolved: Resolved) -> Resolved | None:
    """25 mm of closed-cell foam inside every deck, topside and house side of a cooled zone."""
    cooled = {zone.name for zone in resolved.zones if zone.control is not None}
    names = {
        face.lay_up
        for face in resolved.faces
        if face.zone in cooled and _sunny(face, "deck", "hull", "house") and face.lay_up is not None
    }
    if not names:
        return None
    thicker = {
        one.name: replace(one, name=f"{one.name} with foam", layers=(FOAM, *one.layers))
        for one in resolved.lay_ups
        if one.name in names
    }
    changed = _faces(
        resolved, lambda f: f.zone in cooled and f.lay_up in names and _sunny(f, "deck", "hull", "house"),
        lambda f: replace(f, lay_up=thicker[f.lay_up].name),  # type: ignore[index]
    )  # fmt: skip
    return None if changed is None else replace(changed, lay_ups=(*changed.lay_ups, *thicker.values()))


CHANGES: dict[str, tuple[Change, str]] = {
    "awning over bare decks": (awning, "Strike it before wind; it must not hide exits or lights."),
    "neutral film on glass": (
        film, "Absorbed heat can crack tinted, laminated, sealed or plastic panes: the glazier's word first.",
    ),
    "light blinds closed": (blinds, "They take the view; a windscreen under way must stay clear."),
    "white decks": (white_decks, "White decks dazzle and throw light onto windows above; keep them non-skid."),
    "white topsides and house": (white_sides, "Prepare and prime as the paint's maker says; masts and antennas apart."),
    "25 mm foam inside": (
        insulation, "Foam must meet the fire class of the space; without a vapour barrier water condenses behind it.",
    ),
}  # fmt: skip
"""Every remedy: its name, its change, and the caution that travels with it."""
