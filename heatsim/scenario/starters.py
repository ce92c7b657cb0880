"""Starter scenarios: commented files by kind and length of boat, in quick zones, and the shipped demo boats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from heatsim.errors import Fault, HeatsimError

DEMOS = ("tern-24", "dunlin-11", "skua-38")
"""The shipped demo boats, all invented."""
REGION = "CYC"
"""Region of a starter where none is asked for: the code of a row of the regions table."""
SHORTEST, LONGEST = 6.0, 60.0
"""[m] Boats that the starters' proportions fit."""


@dataclass(frozen=True)
class StarterZone:
    """One quick zone of a starter: its size as shares of length and beam, height in metres."""

    name: str
    use: str
    deck: str
    length: float
    beam: float
    height: float
    glass: float
    sides: str
    extra: Sequence[str] = ()
    least: float = 0.0


BUNK = (2.0, 1.2)
"""[m] Least length and width of a cabin: a bunk for two, common practice, no source."""
BEAM = {"motor": 0.27, "sail": 0.32, "multihull": 0.52}
"""Beam over length, common practice, no source."""

_ZONES = {
    "motor": (
        StarterZone("forward cabin", "cabin", "lower", 0.17, 0.6, 2.0, 0.06, "port, starboard"),
        StarterZone(
            "owner cabin", "owner cabin", "lower", 0.18, 0.85, 2.1, 0.12, "port, starboard", ("above: saloon",), 13
        ),
        StarterZone("crew cabin", "crew cabin", "lower", 0.12, 0.5, 2.0, 0.03, "port", (), 20),
        StarterZone("saloon", "saloon", "main", 0.26, 0.75, 2.1, 0.4, "port, starboard, stern"),
        StarterZone("galley", "galley", "main", 0.1, 0.5, 2.1, 0.25, "port", (), 13),
        StarterZone("wheelhouse", "wheelhouse", "main", 0.12, 0.65, 2.1, 0.5, "bow, port, starboard", (), 15),
        StarterZone(
            "sky lounge", "sky lounge", "upper", 0.2, 0.55, 2.1, 0.5, "port, starboard, stern", ("below: saloon",), 26
        ),
    ),
    "sail": (
        StarterZone("forward cabin", "cabin", "lower", 0.22, 0.5, 1.85, 0.05, "port, starboard"),
        StarterZone("saloon", "saloon", "lower", 0.3, 0.8, 1.95, 0.1, "port, starboard"),
        StarterZone("aft cabin", "cabin", "lower", 0.22, 0.45, 1.85, 0.05, "port, stern"),
        StarterZone("second aft cabin", "cabin", "lower", 0.22, 0.45, 1.85, 0.05, "starboard, stern", (), 13),
    ),
    "multihull": (
        StarterZone("saloon", "saloon", "main", 0.32, 0.55, 2.0, 0.5, "bow, port, starboard, stern"),
        StarterZone("port forward cabin", "cabin", "lower", 0.28, 0.2, 1.95, 0.08, "port, starboard"),
        StarterZone("port aft cabin", "cabin", "lower", 0.28, 0.2, 1.95, 0.08, "port, starboard"),
        StarterZone("starboard forward cabin", "cabin", "lower", 0.28, 0.2, 1.95, 0.08, "port, starboard"),
        StarterZone("starboard aft cabin", "owner cabin", "lower", 0.28, 0.2, 1.95, 0.08, "port, starboard"),
    ),
}


def starter(kind: str, length: float, region: str = REGION) -> str:
    """A commented scenario in quick zones.

    Parameters
    ----------
    kind : str
        motor, sail or multihull.
    length : float
        Length of the boat. [m]
    region : str
        Code of the region she lies in.

    Raises
    ------
    HeatsimError
        For another kind, or a length no starter fits.
    """
    if kind not in _ZONES:
        raise HeatsimError(Fault("is not a kind of boat", value=kind, remedy=f"Known: {', '.join(_ZONES)}"))
    if not SHORTEST <= length <= LONGEST:
        bounds = f"must lie between {SHORTEST:g} m and {LONGEST:g} m for a starter"
        raise HeatsimError(
            Fault(bounds, path="length", value=f"{length:g} m", remedy="Start from the nearest and edit")
        )
    beam = BEAM[kind] * length
    zones = [zone for zone in _ZONES[kind] if length >= zone.least]
    names = [zone.name for zone in zones]
    berths = 2 * sum("cabin" in zone.use for zone in zones)
    body = "\n".join(_zone_text(zone, length, beam, names) for zone in zones)
    told = "A starter: every size below is a guess from the boat's length. Measure and replace, largest glass first."
    return framed(kind, length, f"{length:g} m", berths, body, told, region)


def framed(kind: str, length: float, written: str, persons: int, zones: str, told: str, region: str = REGION) -> str:
    """Text of a scenario file about the text of its zones.

    Parameters
    ----------
    kind : {"motor", "sail", "multihull"}
    length : float
        Of the boat [m]; the beam is guessed from it.
    written : str
        The same as it stands in the file.
    persons : int
    zones : str
    told : str
        Where the zones come from: the file's first remark.
    region : str
        Code of the region she lies in.
    """
    beam = f"{BEAM[kind] * length:.1f}"
    head = _HEAD.format(told=told, kind=kind, length=written, beam=beam, persons=persons, region=f"{region:<15}")
    return head + zones + _TAIL


def demo(name: str) -> str:
    """Text of a shipped demo boat."""
    if name not in DEMOS:
        raise HeatsimError(Fault("is not a demo boat", value=name, remedy=f"Known: {', '.join(DEMOS)}"))
    package = Path(__file__).parent.parent
    for folder in (package / "demo", package.parent / "scenarios"):
        file = folder / f"{name}.yaml"
        if file.is_file():
            return file.read_text(encoding="utf-8")
    raise HeatsimError(Fault("is missing from this installation", value=name, remedy="Install the package again"))


def write_starter(
    file: Path, *, kind: str, length: str, region: str = REGION, demo: str | None = None, force: bool = False
) -> None:
    """Write a starter or a demo boat to a file, which must not exist unless `force` is set.

    `length` is text with a unit, `region` a code.
    """
    write_new(file, _demo_or_starter(kind, length, region, demo).encode(), force=force)


def write_new(file: Path, content: bytes, *, force: bool) -> None:
    """Write a file in one go; one that exists is replaced only where `force` is set.

    Raises
    ------
    HeatsimError
        Where it exists, or cannot be written.
    """
    if file.exists() and (not force or not file.is_file()):
        raise HeatsimError(
            Fault("exists already", str(file), remedy="Choose another name, or add --force to replace it")
        )
    try:
        draft = file.with_name(file.name + ".part")
        draft.write_bytes(content)
        draft.replace(file)
    except OSError as error:
        raise HeatsimError(Fault(f"cannot be written ({(error.strerror or 'error').lower()})", str(file))) from None


def _demo_or_starter(kind: str, length: str, region: str, name: str | None) -> str:
    if name is not None:
        return demo(name)
    return starter(kind, metres_of(length), region)


def metres_of(length: str) -> float:
    """Length of a boat from a text with its unit. [m]"""
    from pydantic_core import PydanticCustomError

    from heatsim.scenario.quantities import parse

    try:
        return parse(length, "length")
    except PydanticCustomError as error:
        remedy = str((error.context or {}).get("remedy", ""))
        raise HeatsimError(Fault(error.message(), path="length", value=length, remedy=remedy)) from None


def _zone_text(zone: StarterZone, length: float, beam: float, names: list[str]) -> str:
    extra = [line for line in zone.extra if line.split(": ")[1] in names]
    least = BUNK if "cabin" in zone.use else (0.0, 0.0)
    sides = max(zone.length * length, least[0]), max(zone.beam * beam, least[1])
    size = f"length: {sides[0]:.1f} m, beam: {sides[1]:.1f} m, height: {zone.height:g} m"
    lines = [
        f"  {zone.name}:",
        f"    use: {zone.use}",
        "    quick:",
        f"      deck: {zone.deck}",
        *(f"      {part}" for part in size.split(", ")),
        f"      glass_share: {zone.glass:g}      # share of glass in the sides below",
        f"      sides: [{zone.sides}]",
        *(f"      {part}" for part in extra),
    ]
    return "\n".join(lines) + "\n"


_HEAD = """\
# yaml-language-server: $schema=heatsim.schema.json     (write it with: heatsim schema > heatsim.schema.json)
# {told}
# Then: heatsim check FILE (what was assumed, and what matters most), heatsim loads FILE --out OUT
format: 1

yacht:
  name: My boat
  kind: {kind}
  length: {length}
  beam: {beam} m
  persons: {persons}              # all aboard; zones without people of their own share them
  material: cored GRP     # cored GRP, solid GRP, aluminium, steel or timber
  hull_colour: white
  house_colour: white
  deck_colour: cream      # heatsim list lay-ups, glazings, routines ... shows what has a name
  glazing: single clear 10 mm

place:
  region: {region} # heatsim list regions; or latitude: 36.4 deg and longitude: 25.4 deg
  month: 8
  berth: alongside        # alongside, stern-to, anchor, mooring, yard, under way
  heading: worst          # worst (all round), or how the bow lies: 135 deg, south-east

# climate:                # what you know better than the region's row goes here
#   hot: {{dry_bulb_max: 35 degC, daily_range: 8 K, dew_point: 22 degC, sea: 29 degC}}

zones:                    # quick zones: boxes; a full zone lists its faces instead, see the demo boats
"""

_TAIL = """
# What a zone may also say (heatsim schema lists everything):
#     cooling_limit: 3 kW        # sensible; then loads tells the temperature the zone floats at, and why
#     fresh_air: 50 m3/h
# and one of its faces: awning, blind, overhang, lay_up, glazing, colour. A whole year instead of days:
# climate: {weather_file: somewhere.epw}
# Bulkheads between zones, doors, extracts, an engine space below the sole and awnings refine this:
# spaces:
#   engine space: {use: engine space, temperature: 45 degC}
# flows:
#   - {source: galley, target: outdoors, rate: 200 m3/h, routine: cooking}
# openings:
#   - {kind: door, first: saloon, second: outdoors, width: 0.8 m, height: 1.9 m, open: {"08:00-22:00": 0.05}}
"""
