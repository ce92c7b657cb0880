"""What the boat is made of, resolved: lay-ups with their bridges, glazings with tables by angle, awnings, blinds."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from heatsim.errors import Fault, HeatsimError
from heatsim.physics import frames
from heatsim.scenario.clock import Clock
from heatsim.scenario.construction import AwningText, BlindText, GlazingText, LayerText, LayUpText
from heatsim.scenario.ledger import ASSUMED, Ledger
from heatsim.scenario.model import Scenario
from heatsim.scenario.resolved import GLASS_EMISSIVITY, Awning, Blind, Glazing, Layer, LayUp
from heatsim.tables.loader import by_name

if TYPE_CHECKING:
    from heatsim.physics.glazing import Glass

METAL = 5.0
"""[W/(m·K)] Above this a member counts as metal: parallel area would miss its spreading."""

FILMS = 1.0 / frames.FILM_OUTSIDE + 1.0 / frames.FILM_INSIDE
"""[m²·K/W] Both standard films together."""

_AIR_GAP = (
    (0.0, 0.0),
    (0.005, 0.11),
    (0.007, 0.13),
    (0.010, 0.15),
    (0.015, 0.17),
    (0.025, 0.18),
    (0.050, 0.18),
    (10.0, 0.18),
)
"""[m], [m²·K/W] Unventilated air layer, horizontal heat flow: ISO 6946:2017 table 8 (from memory)."""


def air_gap_resistance(thickness: float) -> float:
    """Resistance of an unventilated air layer with high emissivities. [m²·K/W]"""
    for (a, low), (b, high) in itertools.pairwise(_AIR_GAP):
        if thickness <= b:
            return low + (high - low) * (thickness - a) / (b - a)
    return _AIR_GAP[-1][1]


def resistance(layers: tuple[Layer, ...]) -> float:
    """Of layers in series, skin to skin. [m²·K/W]"""
    return sum(layer.thickness / layer.conductivity for layer in layers)


def resolve_lay_up(name: str, scenario: Scenario, ledger: Ledger) -> LayUp:
    """A lay-up of the file, or of the table."""
    given = scenario.lay_ups.get(name)
    if given is None:
        return LayUp(name, shipped_layers(name))
    layers = tuple(_layer(layer) for layer in given.layers)
    return LayUp(name, layers, _bridge(name, given, layers, ledger))


def shipped_layers(name: str) -> tuple[Layer, ...]:
    """Layers of a lay-up of the table, from inside to outside."""
    return tuple(_shipped_layer(part.strip()) for part in by_name("lay_ups")[name]["layers"].split(";"))


def material_layer(material: str, thickness: float) -> Layer:
    """A layer of a material of the table, or of air."""
    if material == "air":
        return Layer("air", thickness, thickness / air_gap_resistance(thickness), 0.0, 0.0)
    row = by_name("materials")[material]
    numbers = (float(row[key]) for key in ("conductivity_W_per_m_K", "density_kg_per_m3", "specific_heat_J_per_kg_K"))
    return Layer(material, thickness, *numbers)


def _shipped_layer(text: str) -> Layer:
    match = re.fullmatch(r"(.+) (\d+(?:\.\d+)?) mm", text)
    if match is None:
        raise ValueError(f"lay_ups table: layer {text!r} is not MATERIAL THICKNESS mm")
    return material_layer(match.group(1), float(match.group(2)) / 1000)


def _layer(given: LayerText) -> Layer:
    if given.resistance is not None:
        return Layer(given.material or "resistance", 0.001, 0.001 / given.resistance, 0.0, 0.0)
    assert given.thickness is not None
    known = by_name("materials").get(given.material or "")
    if known is None and given.material != "air":
        assert given.conductivity is not None
        return Layer(
            given.material or "own numbers",
            given.thickness,
            given.conductivity,
            given.density or 0.0,
            given.specific_heat or 0.0,
        )
    base = material_layer(given.material or "air", given.thickness)
    return Layer(
        base.material,
        given.thickness,
        given.conductivity or base.conductivity,
        base.density if given.density is None else given.density,
        base.specific_heat if given.specific_heat is None else given.specific_heat,
    )


def _bridge(name: str, given: LayUpText, layers: tuple[Layer, ...], ledger: Ledger) -> float:
    clear = resistance(layers)
    if given.bridging_factor is not None:
        return frames.bridge_of_factor(clear, given.bridging_factor)
    member = given.frames or given.stringers
    if member is None:
        return 0.0
    path = f"lay_ups.{name}.{'frames' if given.frames else 'stringers'}"
    conductivity = float(by_name("materials")[member.material]["conductivity_W_per_m_K"])
    over, cover = split_at_depth(layers, member.depth)
    if given.frames is not None:
        if conductivity < METAL:
            ledger.refuse(
                f"{path}.material",
                "metal frames are made of metal",
                member.material,
                "Use stringers: for timber and foam",
            )
            return 0.0
        web = given.frames
        psi = frames.frame_transmittance(
            conductivity,
            layers[-1].thickness,
            web.spacing,
            web.web,
            web.depth,
            web.flange or 0.0,
            web.flange_thickness or web.web,
            resistance(cover),
            clear,
        )
        return frames.bridge_of_frames(clear, psi, web.spacing)
    if conductivity >= METAL:
        remedy = "Use frames: with spacing, web, depth and flange"
        ledger.refuse(
            f"{path}.material", "metal is not taken by parallel area: it spreads heat", member.material, remedy
        )
        return 0.0
    assert given.stringers is not None
    through = clear - resistance(over) + member.depth / conductivity
    return frames.bridge_of_timber(clear, through, min(given.stringers.width / member.spacing, 1.0))


def split_at_depth(layers: tuple[Layer, ...], depth: float) -> tuple[tuple[Layer, ...], tuple[Layer, ...]]:
    """Layers (or parts of them) within a depth inside the outer skin, and those that cover it towards the room."""
    over: list[Layer] = []
    cover: list[Layer] = []
    left = depth
    for layer in reversed(layers[:-1]):
        inside = min(left, layer.thickness)
        left -= inside
        if inside > 0:
            over.append(Layer(layer.material, inside, layer.conductivity, layer.density, layer.specific_heat))
        if layer.thickness - inside > 1e-12:
            rest = layer.thickness - inside
            cover.append(Layer(layer.material, rest, layer.conductivity, layer.density, layer.specific_heat))
    return tuple(over), tuple(cover)


@dataclass(frozen=True)
class GlassBuild:
    """A glazing by name, the film on it, and the glazing in front of it with the depth of air between [m]."""

    glazing: str
    film: str | None = None
    front: str | None = None
    gap: float = 0.0

    @property
    def name(self) -> str:
        """What it is called; no name in a file holds a comma, so every build has its own."""
        film = f", {self.film}" if self.film else ""
        return self.glazing + film + (f", {self.gap * 1000:g} mm behind {self.front}" if self.front else "")


def resolve_glazing(build: GlassBuild, scenario: Scenario) -> Glazing:
    """A glazing of the file or of the table, as it is built, with its angular table."""
    from heatsim.physics import glazing as optics

    given = _glazing_text(build.glazing, scenario)
    outside = _emissivity(given.outside_emissivity)
    inside = _emissivity(given.inside_emissivity)
    if given.table is not None and build.film is None and build.front is None:
        return _own_table(build.name, given, outside, inside)
    glass = _fitted(build.glazing, given)
    if build.film is not None:
        row = by_name("films")[build.film]
        film = optics.film_of_sheet(float(row["transmittance"]), float(row["reflectance"]))
        glass = glass._replace(film=film)
    front = None
    if build.front is not None:
        outer = _glazing_text(build.front, scenario)
        outside, front = _emissivity(outer.outside_emissivity), _fitted(build.front, outer)
    table = optics.tabulated(glass, front, air_gap_resistance(build.gap))
    plain = build.film is None and front is None and given.g_value is not None
    return Glazing(
        name=build.name,
        u_value=_u_value(given, table.resistance) if plain else 1.0 / (FILMS + table.resistance),
        g_value=given.g_value if plain and given.g_value is not None else optics.solar_factor(table),
        outside_emissivity=outside,
        inside_emissivity=inside,
        **table._asdict(),
    )


def _emissivity(given: float | None) -> float:
    return given or GLASS_EMISSIVITY


def _glazing_text(name: str, scenario: Scenario) -> GlazingText:
    """The data sheet of a glazing, of the file or of the table."""
    given = scenario.glazings.get(name)
    if given is not None:
        return given
    row = by_name("glazings")[name]
    return GlazingText.model_construct(
        u_value=float(row["u_value_W_per_m2_K"]), g_value=float(row["g_value"]), panes=int(row["panes"])
    )


def _u_value(given: GlazingText, through: float) -> float:
    return given.u_value or 1.0 / (FILMS + through)


def _through(given: GlazingText) -> float:
    """Resistance from surface to surface. [m²·K/W]"""
    return given.resistance or max(1.0 / _u_value(given, 0.0) - FILMS, 1e-4)


def _fitted(name: str, given: GlazingText) -> Glass:
    """What follows from a data sheet; a table of its own cannot be taken apart into panes."""
    from heatsim.physics.glazing import fit_glass

    path = f"glazings.{name}"
    if given.g_value is None or given.table is not None:
        rule = "a glazing with a table of its own takes no film, and nothing stands in front of it or behind it"
        raise HeatsimError(Fault(rule, path=f"{path}.table", remedy="Give u_value and g_value instead"))
    try:
        return fit_glass(_u_value(given, _through(given)), given.g_value, given.panes, resistance=_through(given))
    except HeatsimError as error:
        raise HeatsimError(*(replace(fault, path=f"{path}.g_value") for fault in error.faults)) from None


def _own_table(name: str, given: GlazingText, outside: float, inside: float) -> Glazing:
    own, through = given.table, _through(given)
    assert own is not None
    u_value = _u_value(given, through)
    inward = own.outer_absorptance[0] * u_value / frames.FILM_OUTSIDE + own.inner_absorptance[0] * (
        1.0 - u_value / frames.FILM_INSIDE
    )
    return Glazing(
        name,
        u_value,
        through,
        given.g_value or own.transmittance[0] + inward,
        tuple(own.angles),
        tuple(own.transmittance),
        tuple(own.outer_absorptance),
        tuple(own.inner_absorptance),
        own.diffuse_transmittance,
        own.diffuse_outer_absorptance,
        own.diffuse_inner_absorptance,
        own.back_reflectance,
        outside,
        inside,
    )


def resolve_awning(name: str, given: AwningText, clock: Clock, ledger: Ledger) -> Awning:
    """An awning with its fabric's properties and its hours."""
    row = (
        by_name("awnings")[given.fabric]
        if given.fabric
        else {"transmittance": "0", "absorptance": "0", "emissivity": "0.9"}
    )
    when = clock.share(f"awnings.{name}.set", given.set, "awning out by day", ledger, ASSUMED)
    own = {key: getattr(given, key) for key in ("transmittance", "absorptance", "emissivity")}
    values = {key: float(row[key]) if own[key] is None else own[key] for key in own}
    return Awning(
        name,
        values["transmittance"],
        values["absorptance"],
        values["emissivity"],
        given.gap == "open",
        when,
        given.tilt or 0.0,
        given.bearing or 0.0,
    )


def resolve_blind(path: str, given: BlindText, clock: Clock, ledger: Ledger) -> Blind:
    """A blind with its properties and its hours."""
    row = by_name("blinds")[given.kind] if given.kind else {"transmittance": "0", "reflectance": "0"}
    transmittance = float(row["transmittance"]) if given.transmittance is None else given.transmittance
    reflectance = float(row["reflectance"]) if given.reflectance is None else given.reflectance
    return Blind(
        transmittance, reflectance, clock.share(f"{path}.closed", given.closed, "blinds by sun", ledger, ASSUMED)
    )
