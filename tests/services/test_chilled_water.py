"""Chilled water: flows, dry pipes, the loop; the formulas by hand."""

from __future__ import annotations

from collections.abc import Callable
from math import inf, log, pi

import pytest

from heatsim.equipment.plan import Plan
from heatsim.services.chilled_water import STEPS, chilled_water, surface_temperature, thickness
from heatsim.services.surroundings import Around, surroundings
from heatsim.services.units import all_working

Make = Callable[..., Plan]
CENTRAL = "central plant"
RUN = {"zone": "cabin", "length": "10 m", "bore": "16 mm", "insulation": "19 mm", "through": ["saloon"]}


def test_only_central_plants_have_pipes(planned: Plan) -> None:
    assert chilled_water(planned, surroundings(planned)) == ()


def test_flows_carry_the_coils(fitted: Make) -> None:
    plan = fitted(CENTRAL, chilled_water={"rise": "6 K"})
    pipes, _ = chilled_water(plan, surroundings(plan))
    for work, flow in zip(all_working(plan), pipes.column("flow"), strict=True):
        # 1000 kg/m³ and 4.2 kJ/(kg·K) by hand: water of 7 °C is within 0.2 %.
        assert flow == pytest.approx(float(work.done.coil_heat) / (4.2e6 * 6.0), rel=3e-3)


def test_surface_of_an_insulated_pipe_by_hand() -> None:
    """Resistances of a cylindrical layer and a film in series (ISO 12241, from memory): 22 mm tube, 13 mm foam."""
    outer = 0.022 + 0.0004 + 0.026
    film, foam = 1.0 / (6.0 * pi * outer), log(outer / 0.0224) / (2.0 * pi * 0.038)
    # The same by hand: round-off.
    assert surface_temperature(0.020, 0.013, 7.0, 27.0) == pytest.approx(27.0 - 20.0 * film / (film + foam), rel=1e-9)


def test_a_bare_cold_pipe_sweats_in_ordinary_air() -> None:
    """Water of 6 °C in air of 21 °C and 50 % (dew point 10.2 °C) sweats bare (common practice, no source)."""
    room = Around(21.0, 10.2)
    assert surface_temperature(0.020, 0.0, 6.0, 21.0) < room.dew_point
    assert thickness(0.020, 6.0, room) == STEPS[0]


def test_thickness_is_the_thinnest_that_stays_dry() -> None:
    air = Around(32.0, 26.0)
    step = thickness(0.020, 7.0, air)
    thinner = STEPS[STEPS.index(step) - 1]
    assert surface_temperature(0.020, step, 7.0, 32.0) > 26.0 > surface_temperature(0.020, thinner, 7.0, 32.0) - 0.5
    assert thickness(0.020, 7.0, Around(30.0, 29.9)) == inf  # fog: nothing helps
    assert thickness(0.020, 7.0, Around(20.0, 5.0)) == 0.0


def test_pipes_as_entered(fitted: Make) -> None:
    plan = fitted(CENTRAL, chilled_water={"runs": [RUN]})
    around = surroundings(plan)
    good, _ = chilled_water(plan, around)
    assert not any("cabin" in one.message for one in good.findings if one.code == "pipe-sweats")
    assert not any("cabin" in one.what for one in good.assumptions if "tube" in one.value)
    bare, _ = chilled_water(fitted(CENTRAL, chilled_water={"runs": [RUN | {"insulation": "0 mm"}]}), around)
    assert any("cabin" in one.message for one in bare.findings if one.code == "pipe-sweats")
    thin, _ = chilled_water(fitted(CENTRAL, chilled_water={"runs": [RUN | {"bore": "8 mm"}]}), around)
    assert "pipe-narrow" in {one.code for one in thin.findings}


def test_fog_is_told_as_such(fitted: Make) -> None:
    plan = fitted(CENTRAL, chilled_water={"runs": [RUN | {"through": ["locker"]}]})
    foggy = surroundings(plan) | {"locker": Around(30.0, 29.9)}
    pipes, _ = chilled_water(plan, foggy)
    (finding,) = [one for one in pipes.findings if "locker" in one.path]
    assert "no insulation of the trade" in finding.message


def test_a_tank_makes_the_loop_large_enough(fitted: Make) -> None:
    plan = fitted(CENTRAL)
    _, small = chilled_water(plan, surroundings(plan))
    (finding,) = small.findings
    assert finding.code == "loop-small"
    held, wanted = (float(small.column(head)[0] or 0.0) for head in ("water in loop", "wanted"))
    more = f"{1e3 * (wanted - held) + 0.5:.1f} L"
    _, large = chilled_water(fitted(CENTRAL, chilled_water={"tank": more}), surroundings(plan))
    assert large.findings == ()
