"""ISO 10456 and its like: what the shipped materials conduct, weigh and store, as a scenario resolves them."""

from __future__ import annotations

from functools import cache

import pytest
from validation.sheet import Sheet

import heatsim
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolved import Layer

FAMILY = "materials"
STANDARD, GUIDE = "EN ISO 10456:2007, table 3", "CIBSE Guide A, table 3.37"
TABLE: dict[str, tuple[tuple[float, float, float], str, str]] = {
    "copper": ((380, 8900, 380), STANDARD, "seen"),
    "aluminium": ((160, 2800, 880), STANDARD, "seen"),
    "steel": ((50, 7800, 450), STANDARD, "seen"),
    "stainless steel": ((17, 7900, 460), STANDARD, "seen"),
    "rigid PVC": ((0.17, 1390, 900), STANDARD, "seen"),
    "hardwood": ((0.18, 700, 1600), STANDARD, "seen"),
    "softwood": ((0.13, 500, 1600), STANDARD, "seen"),
    "glass": ((1.00, 2500, 750), STANDARD, "seen"),
    "acrylic": ((0.20, 1050, 1500), STANDARD, "seen"),
    "polycarbonate": ((0.20, 1200, 1200), STANDARD, "seen"),
    "plywood": ((0.13, 500, 1600), STANDARD, "from memory"),
    "polyurethane foam": ((0.028, 30, 1470), GUIDE, "seen"),
    "phenolic foam": ((0.040, 30, 1400), GUIDE, "seen"),
    "carpet": ((0.06, 160, 2500), GUIDE, "seen"),
}
"""Conductivity W/(m·K), density kg/m³, specific heat J/(kg·K), where they are printed, and how sure that is."""
RANGES = {
    "teak": ((0.16, 0.18), (630, 680)),
    "balsa": ((0.050, 0.066), (100, 180)),
    "mineral wool": ((0.035, 0.040), (10, 200)),
    "GRP": ((0.20, 0.35), (1500, 1700)),
}
"""Textbook ranges of conductivity and density, from memory."""
LAMINATE = "Hand lay-up of boats holds less glass than the laminate of the standard; 0.40 is shipped as dense GRP"


@cache
def _resolved() -> dict[str, Layer]:
    """Every material as one layer of a lay-up, through the scenario's one door."""
    wanted = [*TABLE, *RANGES, "dense GRP"]
    lines = "\n".join(f"  of {name}: {{layers: [{{material: {name}, thickness: 10 mm}}]}}" for name in wanted)
    faces = ", ".join(f"{{kind: deck, area: 1 m2, lay_up: of {name}}}" for name in wanted)
    text = f"""format: 1
yacht: {{name: Test, length: 10 m, kind: motor}}
place: {{region: BVI, month: 7, berth: alongside, heading: 0 deg}}
lay_ups:
{lines}
zones:
  room: {{use: cabin, deck: main, floor_area: 20 m2, height: 2 m, faces: [{faces}]}}
"""
    return {x.name.removeprefix("of "): x.layers[0] for x in heatsim.resolve(read_text(text)).lay_ups}


@pytest.mark.parametrize("name", TABLE)
def test_material_as_printed(name: str, sheet: Sheet) -> None:
    (conductivity, density, heat), source, confidence = TABLE[name]
    layer = _resolved()[name]
    for what, published, ours, unit in (
        ("conductivity", conductivity, layer.conductivity, "W/(m K)"),
        ("density", density, layer.density, "kg/m3"),
        ("specific heat", heat, layer.specific_heat, "J/(kg K)"),
    ):
        sheet.value(
            f"{name}: {what}", published, ours, within=0.004 * published, because="nothing but the digits as printed",
            source=source, unit=unit, confidence=confidence,
        )  # fmt: skip


@pytest.mark.parametrize("name", RANGES)
def test_material_in_its_range(name: str, sheet: Sheet) -> None:
    layer = _resolved()[name]
    source = "textbook range, no standard value"
    for what, published, ours, unit in (
        ("conductivity", RANGES[name][0], layer.conductivity, "W/(m K)"),
        ("density", RANGES[name][1], layer.density, "kg/m3"),
    ):
        sheet.span(f"{name}: {what}", published, ours, source=source, unit=unit, confidence="from memory")


def test_laminate_of_the_standard(sheet: Sheet) -> None:
    source, told = "EN 12524:2000, table 1, glass-fibre polyester", {"unit": "W/(m K)", "confidence": "seen"}
    because = "nothing but the digits as printed"
    for name, cause in (("dense GRP", ""), ("GRP", LAMINATE)):
        sheet.value(
            f"{name}: conductivity of the standard's laminate", 0.40, _resolved()[name].conductivity, within=0.005,
            because=because, source=source, cause=cause, count=int(not cause), **told,
        )  # fmt: skip
