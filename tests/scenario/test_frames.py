"""Frames by a stated factor and stringers by parallel area, by hand."""

import pytest
from small_boat import changed

from heatsim.physics import frames
from heatsim.scenario.reading import read_text
from heatsim.scenario.resolve import resolve
from heatsim.scenario.shell import resistance


@pytest.mark.parametrize("factor", [1.2, 1.45])
def test_stated_factor_raises_u_by_itself(factor: float) -> None:
    """ISO 7547:2002, 5.2.4, k = μ/ΣR with films 80 and 8: 0.8176 and 0.9880 for steel, wool, plywood (by hand)."""
    clear = 0.006 / 45 + 0.05 / 0.04 + 0.012 / 0.15
    through = 1 / (1 / clear + frames.bridge_of_factor(clear, factor))
    # Printed to four digits.
    assert frames.u_value(through, 80, 8) == pytest.approx({1.2: 0.8176, 1.45: 0.9880}[factor], abs=6e-5)


def test_stringers_by_parallel_area() -> None:
    """ISO 6946 parallel flow by hand: 10 % of softwood 40 mm deep in the wool of the small boat's side."""
    text = changed(
        "    layers:\n",
        "    stringers: {material: softwood, spacing: 500 mm, width: 50 mm, depth: 40 mm}\n    layers:\n",
    )
    lay_up = next(part for part in resolve(read_text(text)).lay_ups if part.name == "side")
    clear = 0.009 / 0.13 + 0.04 / 0.04 + 0.008 / 0.30
    through = 0.009 / 0.13 + 0.04 / 0.13 + 0.008 / 0.30
    # Hand arithmetic in double precision.
    assert resistance(lay_up.layers) == pytest.approx(clear, rel=1e-12)
    assert lay_up.bridge == pytest.approx(0.1 * (1 / through - 1 / clear), rel=1e-12)
