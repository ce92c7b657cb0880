"""Faces resolved: direction, lay-up, colour and foreground of every plane, with where each default would be set."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from heatsim.scenario.clock import Clock
from heatsim.scenario.faces import BEARINGS, BottomFace, BulkheadFace, GlassFace, ShadeText, SkinFace, SoleFace
from heatsim.scenario.ledger import ASSUMED, COMMON, Ledger
from heatsim.scenario.model import Scenario
from heatsim.scenario.place import berth_row
from heatsim.scenario.quantities import text
from heatsim.scenario.resolved import ADIABATIC, GLASS_EMISSIVITY, OUTDOORS, SEA, Face, FaceKind, Foreground, Shade
from heatsim.scenario.rooms import SunShares
from heatsim.scenario.shell import GlassBuild, resolve_blind
from heatsim.tables.loader import by_name, rows

AnyFace = SkinFace | GlassFace | BottomFace | BulkheadFace | SoleFace
Where = Callable[[str], str]

TILTS = {"hull": 90.0, "house": 90.0, "glass": 90.0, "deck": 0.0, "bottom": 135.0, "bulkhead": 90.0, "sole": 180.0}
"""[deg] Tilt of a face by kind where none is given."""
QUAY_REFLECTANCE = 0.30
"""Concrete and light stone, handbook 0.2-0.35 (from memory)."""
USUAL_GAP = 0.1
"""[m] Air between a window and a pane in front of it, where nothing is said."""
SOLE_SUN, FURNISHING_SUN = 0.5, 0.3
"""Shares of transmitted sun that land on the sole and on furnishings; the rest by area. Assumed."""


class Planes:
    """Resolves faces one by one; the boat's colours, material and glazing stand behind those of a face."""

    def __init__(self, scenario: Scenario, clock: Clock, ledger: Ledger) -> None:
        self.scenario = scenario
        self.clock = clock
        self.ledger = ledger
        self.surroundings = berth_row(scenario)["foreground"]
        self.glass: dict[str, GlassBuild] = {}

    def face(self, room: str, deck: str, index: int, given: AnyFace, where: Where) -> Face:
        """One face of a zone or space; `where` names the path of a field of it."""
        label = given.name or f"{given.kind} {index + 1}"
        kind: FaceKind = given.kind
        skin = given if isinstance(given, (SkinFace, GlassFace)) else None
        absorptance, emissivity = self._colour(skin) if skin else (0.0, 0.9)
        tilt = self.ledger.take(f"faces of kind {kind}: tilt", given.tilt, TILTS[kind], f"{TILTS[kind]:g} deg", ASSUMED)
        return Face(
            name=f"{room}: {label}",
            zone=room,
            kind=kind,
            area=given.area,
            beyond=OUTDOORS if skin else SEA if isinstance(given, BottomFace) else getattr(given, "beyond", SEA),
            bearing=self._bearing(given),
            tilt=tilt,
            lay_up=None if isinstance(given, GlassFace) else self._lay_up(given, where),
            glazing=self._glass(given, where) if isinstance(given, GlassFace) else None,
            absorptance=absorptance,
            emissivity=emissivity,
            foreground=self._foreground(skin, deck, tilt) if skin else Foreground(1.0, 0.0, 0.0, 0.0, 0.0),
            inside_absorptance=0.6 if given.inside_absorptance is None else given.inside_absorptance,
            inside_emissivity=0.9 if given.inside_emissivity is None else given.inside_emissivity,
            inside_film=given.inside_film,
            outside_film=getattr(given, "outside_film", None),
            shade=_shade(skin.shade) if skin and skin.shade else None,
            awning=skin.awning if skin else None,
            blind=resolve_blind(where("blind"), given.blind, self.clock, self.ledger)
            if isinstance(given, GlassFace) and given.blind
            else None,
        )

    def material(self) -> str:
        """Material of the boat."""
        return self.ledger.take("yacht.material", self.scenario.yacht.material, "cored GRP", "cored GRP", COMMON)

    def default_lay_up(self, kind: str) -> str:
        """The usual lay-up of a kind of face in the boat's material."""
        wanted = f"{self.material()}:{kind}"
        for row in rows("lay_ups"):
            if wanted in row["default_for"]:
                return row["lay_up"]
        raise KeyError(wanted)

    def _lay_up(self, given: AnyFace, where: Where) -> str:
        stated: str | None = getattr(given, "lay_up", None)
        if stated is not None:
            return stated
        default = self.default_lay_up(given.kind)
        if isinstance(given, BulkheadFace) and given.beyond == ADIABATIC:
            return default
        return self.ledger.take(
            where("lay_up"), None, default, default, "lay-ups table: " + by_name("lay_ups")[default]["source"]
        )

    def _glass(self, given: GlassFace, where: Where) -> str:
        """Name of the glazing with its film and what stands in front of it; how it is built is kept under that name."""
        glazing = self._glazing(given)
        film, front, gap = given.film, None, 0.0
        if film is None and glazing in self.scenario.glazings:
            film = self.scenario.glazings[glazing].film
        if given.in_front is not None:
            front = given.in_front.glazing
            source = ASSUMED + ": beyond 25 mm depth changes nothing (ISO 6946)"
            gap = self.ledger.quantity(where("in_front.gap"), given.in_front.gap, USUAL_GAP, "length", source)
        build = GlassBuild(glazing, film, front, gap)
        self.glass[build.name] = build
        return build.name

    def _glazing(self, given: GlassFace) -> str:
        if given.glazing is not None:
            return given.glazing
        return self.ledger.take(
            "yacht.glazing",
            self.scenario.yacht.glazing,
            "single clear 10 mm",
            "single clear 10 mm",
            COMMON,
            "dark privacy 10 mm",
            "single clear 6 mm",
        )

    def _colour(self, given: SkinFace | GlassFace) -> tuple[float, float]:
        if isinstance(given, GlassFace):
            return 0.0, GLASS_EMISSIVITY if given.emissivity is None else given.emissivity
        if given.absorptance is not None:
            return given.absorptance, 0.9 if given.emissivity is None else given.emissivity
        row = by_name("colours")[given.colour or self.yacht_colour(given.kind)]
        return float(row["absorptance"]), float(row["emissivity"]) if given.emissivity is None else given.emissivity

    def yacht_colour(self, kind: str) -> str:
        """Colour of the boat's hull, house or deck."""
        key = f"{kind}_colour"
        default = "cream" if kind == "deck" else "white"
        given: str | None = getattr(self.scenario.yacht, key)
        return self.ledger.take(
            f"yacht.{key}", given, default, default, COMMON, "white", "teak" if kind == "deck" else "dark blue"
        )

    def _bearing(self, given: AnyFace) -> float:
        if not isinstance(given, (SkinFace, GlassFace)):
            return 0.0
        if given.bearing is not None:
            return given.bearing % 360.0
        return BEARINGS[given.side] if given.side is not None else 0.0

    def _foreground(self, given: SkinFace | GlassFace, deck: str, tilt: float) -> Foreground:
        quay = self.scenario.place.ground_reflectance
        quay = self.ledger.quantity(
            "place.ground_reflectance",
            quay,
            QUAY_REFLECTANCE,
            "share",
            "concrete and light stone (from memory)",
            0.2,
            0.35,
        )
        own = given.foreground
        if own is not None:
            deck_reflectance = (
                self._deck_reflectance() if own.deck_reflectance is None and own.deck else own.deck_reflectance or 0.0
            )
            return Foreground(
                own.sea,
                own.deck,
                own.quay,
                deck_reflectance,
                quay if own.quay_reflectance is None else own.quay_reflectance,
            )
        level = foreground_level(given.kind, tilt, deck)
        row = next(r for r in rows("foregrounds") if r["foreground"] == self.surroundings and r["kind"] == level)
        sea, own_deck, shore = (float(row[key]) for key in ("sea", "deck", "quay"))
        shown = f"sea {sea:.0%}, own deck {own_deck:.0%}, quay {shore:.0%}"
        self.ledger.take(
            f"faces at {level} level: foreground", None, None, shown, "foregrounds table: " + row["source"]
        )
        return Foreground(sea, own_deck, shore, self._deck_reflectance() if own_deck else 0.0, quay)

    def _deck_reflectance(self) -> float:
        return 1.0 - float(by_name("colours")[self.yacht_colour("deck")]["absorptance"])


def foreground_level(kind: str, tilt: float, deck: str) -> str:
    """Which row of the foregrounds table a face in the open sees: that of decks, of topsides or of house sides."""
    if tilt < 45.0:
        return "deck"
    return "hull" if kind == "hull" or (kind == "glass" and deck == "lower") else "house"


def cut_glass(room: str, given: list[AnyFace], faces: list[Face], where: Where, ledger: Ledger) -> list[Face]:
    """Faces less the glass that is cut from them."""
    out = {face.name: face for face in faces}
    for index, (text_face, face) in enumerate(zip(given, faces, strict=True)):
        if not isinstance(text_face, GlassFace) or text_face.cut_from is None:
            continue
        wall = out.get(f"{room}: {text_face.cut_from}")
        if wall is None or wall.kind == "glass":
            ledger.refuse(
                where(f"[{index}].cut_from"),
                "names no opaque face of this zone",
                text_face.cut_from,
                "Give that face a name",
            )
        elif face.area >= wall.area:
            ledger.refuse(
                where(f"[{index}].area"),
                f"is larger than the face it is cut from ({text(wall.area, 'area')} left)",
                text(face.area, "area"),
                "Check both areas",
            )
        else:
            out[wall.name] = replace(wall, area=wall.area - face.area)
    return list(out.values())


def share_sun(faces: list[Face], given: SunShares | None, furnished: bool) -> tuple[list[Face], float]:
    """Faces with the share of transmitted sun that each inside skin receives, and the share of the furnishings.

    The sole's share goes by area over all soles, the rest by area over the other opaque skins; where a zone lacks one
    of the three, the others take its part. The shares sum to 1.
    """
    sole, furnishings = (given.sole, given.furnishings) if given else (SOLE_SUN, FURNISHING_SUN)
    furnishings = furnishings if furnished or given else 0.0
    soles = sum(face.area for face in faces if face.kind == "sole")
    others = sum(face.area for face in faces if face.kind not in ("sole", "glass"))
    parts = {"sole": sole if soles else 0.0, "other": 1.0 - sole - furnishings if others else 0.0}
    if not soles and not others:
        return faces, 1.0
    total = parts["sole"] + parts["other"] + furnishings
    if total <= 0:
        parts, total = {"sole": 1.0 if soles else 0.0, "other": 0.0 if soles else 1.0}, 1.0
    shared = [
        replace(
            face,
            sun_share=0.0
            if face.kind == "glass"
            else (parts["sole"] * face.area / soles if face.kind == "sole" else parts["other"] * face.area / others)
            / total,
        )
        for face in faces
    ]
    return shared, furnishings / total


def _shade(given: ShadeText) -> Shade:
    return Shade(
        given.height, given.width, given.overhang, given.overhang_gap, given.fin_left, given.fin_right, given.fin_gap
    )
