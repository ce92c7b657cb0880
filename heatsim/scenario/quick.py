"""A quick zone turned into faces: a box by deck level, length, beam, height and share of glass.

Below: hull sides above the waterline, bottom below it, a sole over a bilge of the zone's own with the sea under it.
On the main deck and above: house sides with their glass, the deck overhead, a sole that exchanges nothing unless the
zone or space below is named. A room that its outline draws has the sides, bulkheads, deck and sole that `drawn` found.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from heatsim.scenario.drawn import Drawn
from heatsim.scenario.faces import BottomFace, BulkheadFace, GlassFace, Side, SkinFace, SoleFace
from heatsim.scenario.ledger import ASSUMED, COMMON, Ledger
from heatsim.scenario.planes import AnyFace
from heatsim.scenario.quantities import as_written, text
from heatsim.scenario.resolved import ADIABATIC, OUTDOORS, SEA
from heatsim.scenario.rooms import QuickText, SpaceText

ABOVE_WATER = 0.6
"""Share of a lower-deck side above the waterline, assumed (0.3 to 0.9)."""
GLASS_SHARES = {"lower": 0.05, "main": 0.35, "upper": 0.45, "bridge": 0.45}
"""Share of glass in the weather sides by deck level, common practice, no source."""
INNER: tuple[Side, ...] = ("bow", "starboard", "stern", "port")
USUAL_SIDES: list[Side] = ["port", "starboard"]
NARROW = "both sides outside, though narrower than half the boat"
"""Remark on usual sides that the box is hardly wide enough for."""
BILGE_HEIGHT = 0.3
"""[m] Mean height of a bilge under the sole, assumed."""
SLIVER = 0.05
"""Share of a drawn room's sole that is no deck or sole of its own: bulkheads, rounded corners (assumed)."""
BOTTOM_FACTOR = 1.1
"""Area of wetted hull under a bilge over the sole's, assumed."""


@dataclass(frozen=True)
class Expanded:
    """Size and faces of a quick zone, the path where each field of each face is set, and its own bilge."""

    deck: str
    floor_area: float
    height: float
    volume: float
    faces: list[AnyFace]
    paths: list[dict[str, str]]
    bilge: SpaceText | None


def expand(
    name: str,
    given: QuickText,
    partitions: float,
    ledger: Ledger,
    *,
    space: bool = False,
    boat_beam: float | None = None,
    boat_length: float | None = None,
    drawn: Drawn | None = None,
) -> Expanded:
    """Faces of one quick zone or space.

    `partitions` is the area of bulkheads to it listed one by one [m²], `boat_beam` and `boat_length` those of the boat
    [m], `drawn` what its outline gives it where that is its size. A space has no glass and stands on the bottom itself,
    unless it is said otherwise.
    """
    path = f"{'spaces' if space else 'zones'}.{name}.quick"
    if boat_length is not None and given.length is not None and given.length > boat_length:
        value, remedy = text(given.length, "length", 4), "Correct one of them"
        rule = f"a room is no longer than its boat of {text(boat_length, 'length', 4)}"
        ledger.refuse(f"{path}.length", rule, value, remedy)
    box = _Box(name, given, ledger, path, space, drawn)
    narrow = boat_beam is not None and given.beam is not None and given.beam < 0.5 * boat_beam
    box.sides(f"{ASSUMED}: {NARROW}" if narrow and not space else ASSUMED)
    box.ends(partitions)
    box.overhead()
    bilge = box.under()
    return Expanded(
        given.deck, box.floor, given.height, as_written(box.floor * given.height), box.faces, box.paths, bilge
    )


class _Box:
    def __init__(
        self, name: str, given: QuickText, ledger: Ledger, path: str, space: bool, drawn: Drawn | None
    ) -> None:
        self.name, self.given, self.ledger, self.path, self.space = name, given, ledger, path, space
        self.drawn = drawn
        self.faces: list[AnyFace] = []
        self.paths: list[dict[str, str]] = []
        self.floor = as_written(given.floor if drawn is None else drawn.floor)  # type: ignore[arg-type]

    def add(self, face: AnyFace, lay_up: str = "side_lay_up", colour: str = "side_colour") -> None:
        self.faces.append(face)
        self.paths.append({"lay_up": f"{self.path}.{lay_up}", "colour": f"{self.path}.{colour}"})

    def sides(self, source: str) -> None:
        """Weather sides and their glass; below, the part under water as bottom. `source` is that of usual sides."""
        given, lower = self.given, self.given.deck == "lower"
        areas, facing = self.around(source)
        dry = 1.0
        if lower:
            dry = self.ledger.quantity(
                f"{self.path}.above_water", given.above_water, ABOVE_WATER, "share", ASSUMED, 0.3, 0.9
            )
        share = self.glass(dry * sum(areas.values()))
        for side, area in areas.items():
            glass = share * area * dry
            kind = "hull" if lower else "house"
            if area * dry - glass > 1e-9:
                self.add(
                    SkinFace.model_construct(
                        kind=kind,
                        name=f"{side} side",
                        **facing[side],
                        area=as_written(area * dry - glass),
                        lay_up=given.side_lay_up,
                        colour=given.side_colour,
                        awning=None if lower else given.awning,
                    )
                )
            if glass > 1e-9:
                self.add(
                    GlassFace.model_construct(
                        kind="glass",
                        name=f"{side} glass",
                        **facing[side],
                        area=as_written(glass),
                        glazing=given.glazing,
                        film=given.film,
                        awning=None if lower else given.awning,
                    )
                )
            if area * (1 - dry) > 1e-9:
                self.add(
                    BottomFace.model_construct(
                        kind="bottom",
                        name=f"{side} below water",
                        area=as_written(area * (1 - dry)),
                        tilt=100.0,
                        lay_up=given.bottom_lay_up,
                    ),
                    "bottom_lay_up",
                )

    def around(self, source: str) -> tuple[dict[str, float], dict[str, dict[str, Any]]]:
        """Areas of weather sides by name, and which way each faces. [m²]"""
        given, height = self.given, self.given.height
        if self.drawn is not None:
            outside = self.drawn.outside
            return (
                {one.name: one.length * height for one in outside},
                {one.name: {"bearing": as_written(one.bearing)} for one in outside},
            )
        sides = self.ledger.take(f"{self.path}.sides", given.sides, USUAL_SIDES, "[port, starboard]", source)
        return {side: self.along(side) * height for side in sides}, {side: {"side": side} for side in sides}

    def along(self, side: str) -> float:
        """Length of a side of the box. [m]"""
        length = self.given.length if side in ("port", "starboard") else self.given.beam
        return length or 0.0

    def glass(self, weather: float) -> float:
        """Share of glass in sides of this area above the water. [m²]"""
        given, path = self.given, f"{self.path}.glass_share"
        if given.glass_area is not None:
            if given.glass_area > weather:
                rule = f"glass of {text(as_written(given.glass_area), 'area', 4)} is larger than the sides it stands in"
                told = f"these are {text(weather, 'area', 4)} above the water: check sizes and sides"
                self.ledger.refuse(f"{self.path}.glass_area", rule, remedy=told[:1].upper() + told[1:])
                return 1.0
            return given.glass_area / weather
        if self.space:
            return self.ledger.take(path, given.glass_share, 0.0, "0 %", ASSUMED)
        default = GLASS_SHARES[given.deck]
        return self.ledger.quantity(
            path, given.glass_share, default, "share", COMMON, default / 2, min(2 * default, 0.8)
        )

    def ends(self, listed: float) -> None:
        """Bulkheads to neighbours drawn; other inner sides less the partitions listed have the same temperature beyond,
        so that they only store heat.
        """
        weather = USUAL_SIDES if self.given.sides is None else self.given.sides
        inner = sum(self.along(side) for side in INNER if side not in weather)
        if self.drawn is not None:
            inner = self.drawn.inner
            for other, length in self.drawn.beside.items():
                wall = as_written(length * self.given.height)
                self.add(
                    BulkheadFace.model_construct(kind="bulkhead", name=f"to {other}", area=wall, beyond=other), "sides"
                )
        area = as_written(inner * self.given.height - listed)
        if area > 1e-9:
            face = BulkheadFace.model_construct(kind="bulkhead", name="inner partitions", area=area, beyond=ADIABATIC)
            self.add(face, "sides")

    def overhead(self) -> None:
        """The deck above, or the face to the zone above where that zone does not list it."""
        open_area = self.floor
        if self.drawn is not None and self.given.above is None:
            for other, area in self.drawn.above.items():
                self.ceiling(other, as_written(area))
            open_area = as_written(self.floor - self.drawn.covered - sum(self.drawn.above.values()))
            if open_area <= SLIVER * self.floor:
                return
        above = self.ledger.take(f"{self.path}.above", self.given.above, OUTDOORS, "outdoors", ASSUMED)
        if above == OUTDOORS:
            self.add(
                SkinFace.model_construct(
                    kind="deck",
                    name="overhead",
                    area=open_area,
                    lay_up=self.given.deck_lay_up,
                    colour=self.given.deck_colour,
                    awning=self.given.awning,
                ),
                "deck_lay_up",
                "deck_colour",
            )
        else:
            self.ceiling(above, self.floor)

    def ceiling(self, above: str, area: float) -> None:
        """The face to a room above."""
        self.add(
            BulkheadFace.model_construct(
                kind="bulkhead", name="overhead" if self.drawn is None else f"overhead to {above}", area=area,
                beyond=above, tilt=0.0, lay_up=self.given.deck_lay_up or "deck between zones",
            ),
            "deck_lay_up",
        )  # fmt: skip

    def under(self) -> SpaceText | None:
        """The sole; below, over a bilge of its own, which is returned."""
        own = f"{self.name} bilge"
        lower = self.given.deck == "lower"
        below = self.given.below
        sole = self.floor
        if self.drawn is not None and below is None:
            for other, area in self.drawn.below.items():
                self.stands_on(other, as_written(area), f"sole over {other}")
            sole = as_written(self.floor - self.drawn.carried - sum(self.drawn.below.values()))
            if sole <= SLIVER * self.floor:
                return None
        if self.space and lower and below is None:
            self.ledger.take(f"{self.path}.below", None, SEA, SEA, ASSUMED)
            self.add(self.bottom(), "bottom_lay_up")
            return None
        if below is None:
            below = self.ledger.take(
                f"{self.path}.below", None, own if lower else ADIABATIC, own if lower else ADIABATIC, ASSUMED
            )
        if below == OUTDOORS:
            self.overhang(sole)
            return None
        self.stands_on(below, sole, "sole")
        if not (lower and below == own):
            return None
        return SpaceText.model_construct(
            use="bilge", deck="lower", floor_area=self.floor, height=BILGE_HEIGHT, faces=[self.bottom()]
        )

    def overhang(self, area: float) -> None:
        """The sole of a room that hangs over open air or over the water, such as a bridge deck between two hulls."""
        face = SkinFace.model_construct(
            kind="hull", name="sole over open air", area=area, bearing=0.0, tilt=180.0, lay_up=self.given.sole_lay_up,
            colour=self.given.side_colour,
        )  # fmt: skip
        self.add(face, "sole_lay_up")

    def stands_on(self, below: str, area: float, name: str) -> None:
        """The sole over something."""
        face = SoleFace.model_construct(
            kind="sole", name=name, area=area, beyond=below, lay_up=self.given.sole_lay_up
        )  # fmt: skip
        self.add(face, "sole_lay_up")

    def bottom(self) -> BottomFace:
        """Wetted hull under the sole."""
        return BottomFace.model_construct(
            kind="bottom", name="bottom", area=as_written(self.floor * BOTTOM_FACTOR), tilt=160.0,
            lay_up=self.given.bottom_lay_up,
        )  # fmt: skip
