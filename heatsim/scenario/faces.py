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
    width: Length
    overhang: Offset = 0.0
    overhang_gap: Offset = 0.0
    fin_left: Offset = 0.0
    fin_right: Offset = 0.0
    fin_gap: Offset = 0.0


class ForegroundText(Part):
    """Shares of what a face sees below the horizon; they sum to 1."""

    sea: Share = 0.0
    deck: Share = 0.0
    quay: Share = 0.0
    deck_reflectance: Share | None = None
    quay_reflectance: Share | None = None

    @model_validator(mode="after")
    def _whole(self) -> ForegroundText:
        if abs(self.sea + self.deck + self.quay - 1) > 1e-6:
            raise refuse("the shares of sea, deck and quay must sum to 1")
        return self


class _FaceText(Part):
    """What every face has; an inside film of its own replaces the law of convection."""

    name: Name | None = None
    area: Area
    tilt: Tilt | None = None
    inside_film: Film | None = None
    inside_emissivity: Share | None = None
    inside_absorptance: Share | None = None


class _Outdoors(_FaceText):
    """A face in the open: its direction, its colour and what shades it."""

    side: Side | None = None
    bearing: Bearing | None = None
    outside_film: Film | None = None
    emissivity: Share | None = None
    foreground: ForegroundText | None = None
    shade: ShadeText | None = None
    awning: Text | None = None

    @model_validator(mode="after")
    def _one_direction(self) -> _Outdoors:
        if self.side is not None and self.bearing is not None:
            raise refuse("a face has a side or a bearing, not both", "Keep one of them")
        return self


class SkinFace(_Outdoors):
    """Topsides above the waterline, a weather deck overhead, or the side of the house. Area without its glass."""

    kind: Literal["hull", "deck", "house"]
    lay_up: Text | None = None
    colour: Text | None = None
    absorptance: Share | None = None

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
    glazing: Text | None = None
    blind: BlindText | None = None
    cut_from: Name | None = None

    @model_validator(mode="after")
    def _direction(self) -> GlassFace:
        if self.side is None and self.bearing is None and not (self.tilt is not None and self.tilt == 0):
            raise refuse("a glass face needs its side or bearing", "Add side: port (a level hatch has tilt: 0 deg)")
        return self


class BottomFace(_FaceText):
    """Wetted hull: the sea beyond."""

    kind: Literal["bottom"]
    lay_up: Text | None = None


class BulkheadFace(_FaceText):
    """A partition to another zone or space, listed once, in either of the two."""

    kind: Literal["bulkhead"]
    beyond: Text
    lay_up: Text | None = None
    outside_film: Film | None = None


class SoleFace(_FaceText):
    """The floor, over the zone or space below it (or the sea)."""

    kind: Literal["sole"]
    beyond: Text
    lay_up: Text | None = None
    outside_film: Film | None = None


FaceText = Annotated[SkinFace | GlassFace | BottomFace | BulkheadFace | SoleFace, Field(discriminator="kind")]
