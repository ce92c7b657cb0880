"""Models of the faces that bound a zone or space, told apart by their `kind`."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from heatsim.scenario.construction import BlindText
from heatsim.scenario.fields import Area, Bearing, Film, Length, Name, Offset, Part, Share, Text, Tilt
from heatsim.scenario.quantities import refuse

Side = Literal["bow", "starboard", "stern", "port"]
BEARINGS: dict[str, float] = {"bow": 0.0, "starboard": 90.0, "stern": 180.0, "port": 270.0}
"""[deg] Bearings on the boat of the four sides."""


class ShadeText(Part):
    """Overhang above and fins beside a face, by geometry."""

    height: Length
    """Height of the opening."""
    width: Length
    """Width of the opening."""
    overhang: Offset = 0.0
    """How far the overhang stands out."""
    overhang_gap: Offset = 0.0
    """From the head of the opening up to the overhang."""
    fin_left: Offset = 0.0
    """How far the fin on the left stands out, seen from outside."""
    fin_right: Offset = 0.0
    """How far the fin on the right stands out, seen from outside."""
    fin_gap: Offset = 0.0
    """From the side of the opening to the fin."""


class ForegroundText(Part):
    """Shares of what a face sees below the horizon; they sum to 1."""

    sea: Share = 0.0
    """Share of open water."""
    deck: Share = 0.0
    """Share of the boat's own deck."""
    quay: Share = 0.0
    """Share of quay, yard or neighbour boat."""
    deck_reflectance: Share | None = None
    """Solar reflectance of that deck."""
    quay_reflectance: Share | None = None
    """Solar reflectance of quay or neighbour."""

    @model_validator(mode="after")
    def _whole(self) -> ForegroundText:
        if abs(self.sea + self.deck + self.quay - 1) > 1e-6:
            raise refuse("the shares of sea, deck and quay must sum to 1")
        return self


class InFront(Part):
    """A pane or clear curtain in front of a window, parallel to it, with still air between."""

    glazing: Text
    """Glazing of the outer pane, such as clear vinyl curtain 1 mm (heatsim list glazings)."""
    gap: Length | None = None
    """Depth of the air between."""


class _FaceText(Part):
    """What every face has; an inside film of its own replaces the law of convection."""

    name: Name | None = None
    """What the face is called, unique in its zone."""
    area: Area
    """Area of the face in its own plane."""
    tilt: Tilt | None = None
    """0 faces up, 90 upright, 180 faces down; above 90 for flared topsides."""
    inside_film: Film | None = None
    """Convection inside, in place of the law."""
    inside_emissivity: Share | None = None
    """Long-wave emissivity of the inside skin."""
    inside_absorptance: Share | None = None
    """Share of sunlight in the room that the inside skin takes up."""


class _Outdoors(_FaceText):
    """A face in the open: its direction, its colour and what shades it."""

    side: Side | None = None
    """Side of the boat the face looks to."""
    bearing: Bearing | None = None
    """Bearing on the boat the face looks to: 0 bow, 90 starboard, 180 stern, 270 port."""
    outside_film: Film | None = None
    """Convection outside, in place of the law by wind."""
    emissivity: Share | None = None
    """Long-wave emissivity of the outside skin."""
    foreground: ForegroundText | None = None
    """What the face sees below the horizon."""
    shade: ShadeText | None = None
    """Overhang and fins beside it."""
    awning: Text | None = None
    """Name of the awning above it."""

    @model_validator(mode="after")
    def _one_direction(self) -> _Outdoors:
        if self.side is not None and self.bearing is not None:
            raise refuse("a face has a side or a bearing, not both", "Keep one of them")
        return self


class SkinFace(_Outdoors):
    """Topsides above the waterline, a weather deck overhead, or the side of the house. Area without its glass."""

    kind: Literal["hull", "deck", "house"]
    """hull: topsides; deck: weather-exposed overhead; house: side of the superstructure."""
    lay_up: Text | None = None
    """Lay-up, of the table or of this file (heatsim list lay-ups)."""
    colour: Text | None = None
    """Colour of the outside skin, such as white."""
    absorptance: Share | None = None
    """Share of sunlight the outside skin takes up, in place of a colour."""

    @model_validator(mode="after")
    def _one_colour(self) -> SkinFace:
        if self.colour is not None and self.absorptance is not None:
            raise refuse("a face has a colour or an absorptance, not both", "Keep one of them")
        if self.kind != "deck" and self.side is None and self.bearing is None:
            raise refuse(f"a {self.kind} face needs its side or bearing", "Add side: port")
        return self


class GlassFace(_Outdoors):
    """Portlight, window, windscreen or hatch; `cut_from` names the face of this zone whose area includes it."""

    kind: Literal["glass"]
    """glass: portlight, window, windscreen or hatch."""
    glazing: Text | None = None
    """Glazing, of the table or of this file (heatsim list glazings)."""
    film: Text | None = None
    """Sun film on its inner surface, such as silver film. On tinted, laminated or sealed glass ask its maker first."""
    in_front: InFront | None = None
    """Pane or closed clear curtain in front of it, such as the clears of an enclosed bridge before a windscreen."""
    blind: BlindText | None = None
    """Blind on the inside."""
    cut_from: Name | None = None
    """Face of the same zone whose area includes this glass."""

    @model_validator(mode="after")
    def _direction(self) -> GlassFace:
        if self.side is None and self.bearing is None and not (self.tilt is not None and self.tilt == 0):
            raise refuse("a glass face needs its side or bearing", "Add side: port (a level hatch has tilt: 0 deg)")
        return self


class BottomFace(_FaceText):
    """Wetted hull: the sea beyond."""

    kind: Literal["bottom"]
    """bottom: wetted hull, the sea beyond."""
    lay_up: Text | None = None
    """Lay-up, of the table or of this file (heatsim list lay-ups)."""


class BulkheadFace(_FaceText):
    """A partition to another zone or space, listed once, in either of the two."""

    kind: Literal["bulkhead"]
    """bulkhead: partition to another zone or space."""
    beyond: Text
    """Zone or space on the other side, or adiabatic."""
    lay_up: Text | None = None
    """Lay-up, of the table or of this file (heatsim list lay-ups)."""
    outside_film: Film | None = None
    """Convection on the far side, in place of the law."""


class SoleFace(_FaceText):
    """The floor, over the zone or space below it (or the sea)."""

    kind: Literal["sole"]
    """sole: the floor."""
    beyond: Text
    """Zone or space below it, sea, or adiabatic."""
    lay_up: Text | None = None
    """Lay-up, of the table or of this file (heatsim list lay-ups)."""
    outside_film: Film | None = None
    """Convection on the far side, in place of the law."""


FaceText = Annotated[SkinFace | GlassFace | BottomFace | BulkheadFace | SoleFace, Field(discriminator="kind")]
