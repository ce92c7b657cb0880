"""What the boat is made of, resolved: lay-ups with their bridges, glazings with tables by angle, awnings, blinds."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

from heatsim.errors import HeatsimError
from heatsim.physics import frames
from heatsim.scenario.clock import Clock
from heatsim.scenario.construction import AwningText, BlindText, GlazingText, LayerText, LayUpText
from heatsim.scenario.ledger import ASSUMED, Ledger
from heatsim.scenario.model import Scenario
from heatsim.scenario.resolved import Awning, Blind, Glazing, Layer, LayUp
from heatsim.tables.loader import by_name

METAL = 5.0
"""[W/(m·K)] Above this a member counts as metal: parallel area would miss its spreading."""

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


def resolve_glazing(name: str, scenario: Scenario) -> Glazing:
    """A glazing of the file, or of the table, with its angular table."""
    given = scenario.glazings.get(name)
    if given is None:
        row = by_name("glazings")[name]
        given = GlazingText.model_construct(
            u_value=float(row["u_value_W_per_m2_K"]),
            resistance=None,
            g_value=float(row["g_value"]),
            panes=int(row["panes"]),
            table=None,
            outside_emissivity=None,
            inside_emissivity=None,
        )
    films = 1.0 / frames.FILM_OUTSIDE + 1.0 / frames.FILM_INSIDE
    u_value = given.u_value or 1.0 / (films + (given.resistance or 0.0))
    through = given.resistance or max(1.0 / u_value - films, 1e-4)
    emissivities = (given.outside_emissivity or 0.84, given.inside_emissivity or 0.84)
    if given.table is not None:
        own = given.table
        inward = own.outer_absorptance[0] * u_value / frames.FILM_OUTSIDE + own.inner_absorptance[0] * (
            1.0 - u_value / frames.FILM_INSIDE
        )
        g_value = given.g_value or own.transmittance[0] + inward
        return Glazing(
            name,
            u_value,
            through,
            g_value,
            tuple(own.angles),
            tuple(own.transmittance),
            tuple(own.outer_absorptance),
            tuple(own.inner_absorptance),
            own.diffuse_transmittance,
            own.diffuse_outer_absorptance,
            own.diffuse_inner_absorptance,
            own.back_reflectance,
            *emissivities,
        )
    from heatsim.physics.glazing import angular_table

    assert given.g_value is not None
    try:
        table = angular_table(u_value, given.g_value, given.panes, resistance=through)
    except HeatsimError as error:
        raise HeatsimError(*(replace(fault, path=f"glazings.{name}.g_value") for fault in error.faults)) from None
    return Glazing(
        name,
        u_value,
        table.resistance,
        given.g_value,
        table.angles,
        table.transmittance,
        table.outer_absorptance,
        table.inner_absorptance,
        table.diffuse_transmittance,
        table.diffuse_outer_absorptance,
        table.diffuse_inner_absorptance,
        table.back_reflectance,
        *emissivities,
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
