"""Findings on what a boat is built of: glass and lay-ups outside their families, teak as light as paint."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.errors import Finding
from heatsim.physics.frames import u_value
from heatsim.scenario.quantities import text
from heatsim.scenario.resolved import LayUp, Resolved
from heatsim.scenario.shell import resistance

HIGHEST_GLASS_GAIN = 0.9
"""Share of the sun on its plane that any glass lets in: EN 410 gives 0.87 for 3 mm clear float."""
LIGHT = 0.5
"""Solar absorptance below which no teak is, new or weathered (0.60-0.75, from memory)."""
FAMILIES = {
    "hull": (0.25, 4.5),
    "house": (0.25, 4.5),
    "deck": (0.25, 4.0),
    "bottom": (0.25, 8.0),
    "bulkhead": (0.25, 6.0),
    "sole": (0.2, 5.0),
}
"""[W/(m²·K)] U-values met on boats by kind of face: trade ranges from 75 mm of foam to bare laminate."""


def construction_findings(resolved: Resolved) -> Iterator[Finding]:
    """Findings on the glazings and lay-ups of a boat."""
    for glazing in resolved.glazings:
        if glazing.g_value > HIGHEST_GLASS_GAIN:
            yield Finding(
                "glass-gain-high",
                f"glazings.{glazing.name}.g_value",
                "the glass lets in more of the sun on its plane than any glass can",
                shown(glazing.g_value, "share"),
                shown(HIGHEST_GLASS_GAIN, "share"),
                "EN 410, 3 mm clear float 0.87",
            )
        if not 0.4 <= glazing.u_value <= 7.0:
            yield Finding(
                "u-value-out-of-family",
                f"glazings.{glazing.name}.u_value",
                "the U-value is outside what glass has",
                shown(glazing.u_value, "film or u-value"),
                "0.4 to 7 W/(m2 K)",
                "EN 673",
            )
    yield from _skins(resolved)


def _skins(resolved: Resolved) -> Iterator[Finding]:
    """Each lay-up once for every kind of face: its U-value; and teak that was left as light as paint."""
    seen: set[tuple[str, str]] = set()
    pale: set[str] = set()
    lay_ups: dict[str, LayUp] = {lay_up.name: lay_up for lay_up in resolved.lay_ups}
    for face in resolved.faces:
        if face.lay_up is None:
            continue
        lay_up = lay_ups[face.lay_up]
        teak = "teak" in lay_up.name.lower() or "teak" in lay_up.layers[-1].material
        if face.kind == "deck" and teak and face.absorptance < LIGHT and lay_up.name not in pale:
            pale.add(lay_up.name)
            yield Finding(
                "teak-light",
                f"zones.{face.zone}.faces[{face.name.removeprefix(face.zone + ': ')}].colour",
                "the deck is laid with teak, yet as light as paint; give colour: teak, here or as yacht.deck_colour",
                shown(face.absorptance, "share"),
                shown(LIGHT, "share"),
                "weathered teak 0.60-0.75 (from memory)",
            )
        if (face.lay_up, face.kind) in seen:
            continue
        seen.add((face.lay_up, face.kind))
        through = 1.0 / (1.0 / resistance(lay_up.layers) + lay_up.bridge)
        value, (low, high) = u_value(through), FAMILIES[face.kind]
        if not low <= value <= high:
            yield Finding(
                "u-value-out-of-family",
                f"lay_ups.{lay_up.name}",
                f"the U-value is unusual for a {face.kind}",
                shown(value, "film or u-value"),
                f"{low:g} to {high:g} W/(m2 K)",
                "trade ranges, common practice, no source",
            )


def shown(value: float, kind: str) -> str:
    """An amount as a finding prints it, to three digits."""
    return text(float(f"{value:.3g}"), kind)
