"""Metal frames in insulation, from the scenario's text to U, against a two-dimensional solution (ISO 10211)."""

from __future__ import annotations

import numpy as np
import pytest
from validation.sheet import Sheet

import heatsim
from heatsim.physics import frames
from heatsim.scenario.reading import read_text
from heatsim.scenario.shell import resistance

FAMILY = "metal frames"
WOOL, LINING = 0.04, 0.13
"""[W/(m·K)] Mineral wool and plywood of the shipped table."""
CONDUCTIVITY = {"aluminium": 160.0, "steel": 50.0}
BAY = 0.5
"""[m] Spacing of the frames."""
Section = tuple[str, float, float, float, float, float, float]
"""Metal, then plate, depth of wool, web, flange, thickness of the flange, lining [m]."""
SECTIONS: dict[str, Section] = {
    "6 mm aluminium, 50 mm wool, T of 6 mm": ("aluminium", 0.006, 0.05, 0.006, 0.06, 0.006, 0.012),
    "8 mm aluminium, 100 mm wool, T of 8 and 6 mm": ("aluminium", 0.008, 0.10, 0.006, 0.05, 0.008, 0.009),
    "6 mm steel, 50 mm wool, T of 6 mm": ("steel", 0.006, 0.05, 0.006, 0.06, 0.006, 0.012),
    "6 mm steel, 75 mm wool, T of 6 and 5 mm": ("steel", 0.006, 0.075, 0.005, 0.04, 0.006, 0.015),
}


def resolved_u_value(section: Section) -> float:
    """U with its frames as a scenario resolves it."""
    metal, plate, depth, web, flange, thick, lining = section
    text = f"""format: 1
yacht: {{name: Test, length: 10 m, kind: motor}}
place: {{region: BVI, month: 7, berth: alongside, heading: 0 deg}}
lay_ups:
  side:
    frames: {{material: {metal}, spacing: {BAY} m, web: {web} m, depth: {depth} m, flange: {flange} m,
             flange_thickness: {thick} m}}
    layers:
      - {{material: plywood, thickness: {lining} m}}
      - {{material: mineral wool, thickness: {depth} m}}
      - {{material: {metal}, thickness: {plate} m}}
zones:
  room: {{use: cabin, deck: main, floor_area: 20 m2, height: 2 m, faces: [{{kind: deck, area: 9 m2, lay_up: side}}]}}
"""
    side = next(part for part in heatsim.resolve(read_text(text)).lay_ups if part.name == "side")
    return frames.u_value(1.0 / (1.0 / resistance(side.layers) + side.bridge))


def section_u_value(
    metal: float, plate: float, depth: float, web: float, flange: float, thick: float, lining: float
) -> float:
    """U of one half bay of 500 mm, by finite volumes: plate, wool with web and flange, lining, films 25 and 7.7.

    ISO 10211's method (two-dimensional, cut-off planes of symmetry at web and mid-bay) on a grid that is fine at
    the metal; written for this test and independent of the fin formula.
    """
    sparse = pytest.importorskip("scipy.sparse")
    linalg = pytest.importorskip("scipy.sparse.linalg")

    def fine(edges: list[float], pieces: list[int]) -> np.ndarray:
        parts = [np.linspace(a, b, n + 1)[:-1] for (a, b), n in zip(zip(edges, edges[1:]), pieces)]  # noqa: B905, RUF007
        return np.append(np.concatenate(parts), edges[-1])

    x = fine([0, web / 2, flange / 2, 0.08, 0.25], [3, 12, 12, 24])
    y = fine([0, plate, plate + depth - thick, plate + depth, plate + depth + lining], [3, 30, 4, 6])
    xm, ym = (x[1:] + x[:-1]) / 2, (y[1:] + y[:-1]) / 2
    k = np.full((ym.size, xm.size), WOOL)
    k[ym < plate] = metal
    k[ym > plate + depth] = LINING
    k[np.ix_((ym > plate) & (ym < plate + depth), xm < web / 2)] = metal
    k[np.ix_((ym > plate + depth - thick) & (ym < plate + depth), xm < flange / 2)] = metal
    dx, dy = np.diff(x), np.diff(y)
    number = np.arange(k.size).reshape(k.shape)
    rows, cols, values = [], [], []
    diagonal, right = np.zeros(k.size), np.zeros(k.size)

    def link(a: np.ndarray, b: np.ndarray, g: np.ndarray) -> None:
        rows.extend([a.ravel(), b.ravel()])
        cols.extend([b.ravel(), a.ravel()])
        values.extend([-g.ravel(), -g.ravel()])
        np.add.at(diagonal, a.ravel(), g.ravel())
        np.add.at(diagonal, b.ravel(), g.ravel())

    half_x, half_y = dx[None, :] / 2 / k, dy[:, None] / 2 / k
    link(number[:, :-1], number[:, 1:], dy[:, None] / (half_x[:, :-1] + half_x[:, 1:]))
    link(number[:-1], number[1:], dx[None, :] / (half_y[:-1] + half_y[1:]))
    outside = dx / (half_y[0] + 1 / 25.0)
    inside = dx / (half_y[-1] + 1 / 7.7)
    diagonal[number[0]] += outside
    right[number[0]] += outside * 1.0  # one kelvin outside, none inside
    diagonal[number[-1]] += inside
    matrix = sparse.coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(cols))))
    field = linalg.spsolve((matrix + sparse.diags(diagonal)).tocsr(), right)
    return float((field[number[-1]] * inside).sum() / 0.25)


@pytest.mark.parametrize("name", SECTIONS)
def test_frames_of_a_scenario(name: str, sheet: Sheet) -> None:
    metal, *rest = SECTIONS[name]
    exact = section_u_value(CONDUCTIVITY[metal], *rest)
    sheet.value(
        f"U of {name}, every 500 mm", exact, resolved_u_value(SECTIONS[name]), within=0.10 * exact,
        because="what a frame may miss without changing a choice of plant; fins do not see the lining spread heat",
        source="two-dimensional finite volumes by the method of ISO 10211:2017", unit="W/(m2 K)", confidence="formula",
    )  # fmt: skip


def test_nearly_double(sheet: Sheet) -> None:
    clear = frames.u_value(0.006 / 160.0 + 0.05 / WOOL + 0.012 / LINING)
    sheet.span(
        "what 6 mm web and flange every 500 mm multiply U by", (1.5, 2.2),
        resolved_u_value(SECTIONS["6 mm aluminium, 50 mm wool, T of 6 mm"]) / clear, source="nearly double, as told",
        unit="1", confidence="common practice, no source", because="how the words are read",
    )  # fmt: skip


@pytest.mark.parametrize(("ml", "efficiency"), [(0.5, 0.92423), (1.0, 0.76159), (2.0, 0.48201), (3.0, 0.33168)])
def test_fin_efficiency(ml: float, efficiency: float, sheet: Sheet) -> None:
    film, conductivity, thickness = 10.0, 200.0, 0.006
    half = ml / np.sqrt(film / (conductivity * thickness))
    sheet.value(
        f"efficiency of a fin of m L = {ml:g}", efficiency,
        frames.spreading_conductance(film, conductivity, thickness, half) / (2.0 * film * half), within=6e-6,
        because="worked to five decimals", source="Incropera et al., 6th ed., table 3.4, tanh(mL)/mL", unit="1",
        confidence="formula",
    )  # fmt: skip


def test_two_dimensional_solution_without_a_frame_is_the_layered_one() -> None:
    # Same conductivity in the frame as in the wool: the section is plane layers, exact within the solver's round-off.
    clear = 1.0 / (1.0 / 25.0 + 0.006 / WOOL + 0.05 / WOOL + 0.012 / LINING + 1.0 / 7.7)
    assert section_u_value(WOOL, 0.006, 0.05, 0.006, 0.06, 0.006, 0.012) == pytest.approx(clear, rel=1e-9)


def test_a_section_without_its_frame_is_seen() -> None:
    metal, *rest = SECTIONS["6 mm steel, 50 mm wool, T of 6 mm"]
    bare = frames.u_value(0.006 / 50.0 + 0.05 / WOOL + 0.012 / LINING)
    assert bare < 0.8 * section_u_value(CONDUCTIVITY[metal], *rest)
