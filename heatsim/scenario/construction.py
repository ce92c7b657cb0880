"""Models of what the boat is made of: lay-ups and their frames, glazings, awnings, blinds."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from heatsim.scenario.fields import (
    Bearing,
    Conductivity,
    Density,
    Film,
    Length,
    Part,
    PositiveShare,
    Resistance,
    Share,
    ShareCourse,
    SpecificHeat,
    Text,
    Thickness,
    Tilt,
)
from heatsim.scenario.quantities import refuse


class LayerText(Part):
    """One layer: a material of the table, or its own numbers, or a bare resistance."""

    material: Text | None = None
    """Material of the table, such as PVC foam; air is a still gap."""
    thickness: Thickness | None = None
    """Thickness of the layer."""
    conductivity: Conductivity | None = None
    """Thermal conductivity, where no material of the table is named."""
    density: Density | None = None
    """Density, where no material of the table is named."""
    specific_heat: SpecificHeat | None = None
    """Specific heat, where no material of the table is named."""
    resistance: Resistance | None = None
    """A bare resistance that holds no heat, in place of all else."""

    @model_validator(mode="after")
    def _one_way(self) -> LayerText:
        if self.resistance is not None:
            if self.thickness or self.conductivity or self.density or self.specific_heat:
                raise refuse("a layer with a resistance holds nothing else but a name", "Remove the other keys")
            return self
        if self.thickness is None:
            raise refuse("a layer needs its thickness", "Add thickness: 20 mm, or give resistance: 0.18 m2 K/W")
        if self.material is None and None in (self.conductivity, self.density, self.specific_heat):
            raise refuse(
                "a layer without a material needs conductivity, density and specific_heat",
                "Name a material (heatsim list materials) or add the missing numbers",
            )
        return self


class MetalFrames(Part):
    """Metal frames welded to the outer plate: a web standing on it, with or without a flange."""

    material: Text
    """Metal of the table, such as aluminium."""
    spacing: Length
    """From frame to frame."""
    web: Thickness
    """Thickness of the web."""
    depth: Thickness
    """How far the web stands in from the plate."""
    flange: Thickness | None = None
    """Width of the flange."""
    flange_thickness: Thickness | None = None
    """Thickness of the flange."""


class Stringers(Part):
    """Timber or foam-cored members that replace the layers inside the outer skin over part of the area."""

    material: Text
    """Material of the table the members are made of, such as plywood."""
    spacing: Length
    """From member to member."""
    width: Thickness
    """Width along the shell."""
    depth: Thickness
    """How far they reach in from the outer skin."""


class LayUpText(Part):
    """Layers from inside to outside; at most one of frames, stringers and a stated factor for what bridges them."""

    layers: Annotated[list[LayerText], Field(min_length=1, max_length=20)]
    """Layers from inside to outside."""
    frames: MetalFrames | None = None
    """Metal frames."""
    stringers: Stringers | None = None
    """Timber or foam members."""
    bridging_factor: Annotated[float, Field(ge=1, le=3)] | None = None
    """U-value with frames over U-value without, such as 1.2, where the frames are not known."""

    @model_validator(mode="after")
    def _one_bridge(self) -> LayUpText:
        if sum(part is not None for part in (self.frames, self.stringers, self.bridging_factor)) > 1:
            raise refuse("a lay-up has one of frames, stringers and bridging_factor", "Keep the one you know best")
        return self


class AngleTable(Part):
    """Solar properties of a glazing by angle of incidence."""

    angles: list[Tilt]
    """Angles of incidence, rising from 0 deg to 90 deg."""
    transmittance: list[Share]
    """Share of the beam let through, at each angle."""
    outer_absorptance: list[Share]
    """Share of the beam taken up by the outer half, at each angle."""
    inner_absorptance: list[Share]
    """Share of the beam taken up by the inner half, at each angle."""
    diffuse_transmittance: Share
    """Share of even light let through."""
    diffuse_outer_absorptance: Share
    """Share of even light taken up by the outer half."""
    diffuse_inner_absorptance: Share
    """Share of even light taken up by the inner half."""
    back_reflectance: Share
    """Share of light from inside that is thrown back into the room."""

    @model_validator(mode="after")
    def _columns(self) -> AngleTable:
        columns = (self.transmittance, self.outer_absorptance, self.inner_absorptance)
        if len({len(self.angles), *map(len, columns)}) != 1:
            raise refuse("the columns of a window table must be of one length")
        rising = all(a < b for a, b in zip(self.angles, self.angles[1:], strict=False))
        if len(self.angles) < 2 or self.angles[0] != 0 or self.angles[-1] != 90 or not rising:
            raise refuse("the angles of a window table must rise from 0 deg to 90 deg")
        sums = [sum(row) for row in zip(*columns, strict=True)]
        sums.append(self.diffuse_transmittance + self.diffuse_outer_absorptance + self.diffuse_inner_absorptance)
        if max(sums) > 1 + 1e-9:
            raise refuse("transmittance and absorptances of a glazing may not add up to more than 1")
        return self


class GlazingText(Part):
    """A glazing by U-value and solar factor (tables by angle follow from them), or with its own table."""

    u_value: Film | None = None
    """U-value with standard films."""
    resistance: Resistance | None = None
    """Resistance from surface to surface, in place of a U-value."""
    g_value: PositiveShare | None = None
    """Solar factor at normal incidence: share of the sun on the glass that ends inside."""
    panes: Literal[1, 2] = 1
    """1 for a single or laminated pane, 2 for a sealed unit."""
    film: Text | None = None
    """Sun film on its inner surface, such as silver film. On tinted, laminated or sealed glass ask its maker first."""
    table: AngleTable | None = None
    """Solar properties by angle, where they are known."""
    outside_emissivity: PositiveShare | None = None
    """Long-wave emissivity of the outer surface."""
    inside_emissivity: PositiveShare | None = None
    """Long-wave emissivity of the inner surface."""

    @model_validator(mode="after")
    def _enough(self) -> GlazingText:
        if (self.u_value is None) == (self.resistance is None):
            raise refuse("a glazing has either u_value or resistance", "Give u_value: 5.6 W/(m2 K)")
        if self.g_value is None and self.table is None:
            raise refuse("a glazing needs g_value or a table by angle", "Give g_value: 0.75")
        if self.film is not None and self.table is not None:
            raise refuse("a glazing with a table of its own has its film in the table", "Remove film, or the table")
        return self


class AwningText(Part):
    """A sheet above faces: a fabric of the table or its own solar properties; when it is set."""

    fabric: Text | None = None
    """Fabric of the table, such as white canvas."""
    transmittance: Share | None = None
    """Share of sunlight that passes."""
    absorptance: Share | None = None
    """Share of sunlight taken up."""
    emissivity: Share | None = None
    """Long-wave emissivity of the fabric."""
    gap: Literal["open", "closed"] = "open"
    """open where the wind blows below it, closed where it is lashed down."""
    set: ShareCourse | None = None
    """When it is set: a routine, or hours."""
    tilt: Tilt | None = None
    """0 for level, 90 for a side curtain."""
    bearing: Bearing | None = None
    """Bearing on the boat the upper side of a sloping one looks to."""

    @model_validator(mode="after")
    def _known(self) -> AwningText:
        if self.fabric is None and (self.transmittance is None or self.absorptance is None):
            raise refuse("an awning needs a fabric, or transmittance and absorptance", "Add fabric: white canvas")
        if (
            self.transmittance is not None
            and self.absorptance is not None
            and self.transmittance + self.absorptance > 1
        ):
            raise refuse("transmittance and absorptance may not add up to more than 1")
        return self


class BlindText(Part):
    """An inside blind: a kind of the table or its own solar properties; when it is closed."""

    kind: Text | None = None
    """Blind of the table, such as light roller."""
    transmittance: Share | None = None
    """Share of sunlight that passes."""
    reflectance: Share | None = None
    """Share of sunlight thrown back."""
    closed: ShareCourse | None = None
    """When it is closed: a routine, or hours."""

    @model_validator(mode="after")
    def _known(self) -> BlindText:
        if self.kind is None and (self.transmittance is None or self.reflectance is None):
            raise refuse("a blind needs a kind, or transmittance and reflectance", "Add kind: light roller")
        if (
            self.transmittance is not None
            and self.reflectance is not None
            and self.transmittance + self.reflectance > 1
        ):
            raise refuse("transmittance and reflectance may not add up to more than 1")
        return self
