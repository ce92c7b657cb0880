"""Flow in pipes: against closed forms, and every inverse against its forward."""

from __future__ import annotations

from math import pi

import pytest

from heatsim.services.friction import AIR, GRAVITY, Fluid, Run, bore_for, water

OIL = Fluid(900.0, 0.1, 1900.0)


def test_laminar_flow_is_hagen_poiseuille() -> None:
    """Δp = 128 μ L Q / (π D⁴) below a Reynolds number of 2000, exact (textbook)."""
    run, flow = Run(OIL, 0.05, 10.0, 0.0), 1e-3
    assert OIL.density * run.speed(flow) * run.bore / OIL.viscosity < 2000.0
    # The library's f = 64/Re is the same formula: round-off only.
    assert run.drop(flow) == pytest.approx(128.0 * OIL.viscosity * 10.0 * flow / (pi * 0.05**4), rel=1e-12)


def test_losses_alone_are_velocity_pressures() -> None:
    """Torricelli: a head h of velocity pressures, K = 1, gives v = √(2 g h)."""
    fluid = water(20.0)
    run = Run(fluid, 0.025, 1e-9, 0.0, losses=1.0)  # no length to speak of
    flow = run.flow_at(fluid.density * GRAVITY * 2.0)
    # A nanometre of pipe is 1e-9 of the loss, the root is found to 1e-12.
    assert run.speed(flow) == pytest.approx((2.0 * GRAVITY * 2.0) ** 0.5, rel=1e-6)


@pytest.mark.parametrize("flow", [1e-4, 0.02, 0.3])
@pytest.mark.parametrize("extra", [0.0, 5e4])
def test_flow_at_a_pressure_is_the_inverse_of_the_drop(flow: float, extra: float) -> None:
    run = Run(AIR, 0.15, 3.0, 9e-4, bends=2, losses=0.57)
    # Found to 1e-12 of the flow; the friction factor changes little on so short a way.
    assert run.flow_at(run.drop(flow) + extra * flow**2, extra) == pytest.approx(flow, rel=1e-9)


def test_nothing_flows_without_pressure() -> None:
    run = Run(AIR, 0.1, 3.0, 9e-4)
    assert run.flow_at(-5.0) == run.flow_at(0.0) == 0.0
    assert run.drop(0.0) == 0.0


def test_a_bend_costs_more_when_it_is_tight() -> None:
    wide, tight = (Run(AIR, 0.1, 1.0, 9e-4, bends=1, bend_radius=r) for r in (2.0, 1.0))
    assert tight.drop(0.03) > wide.drop(0.03) > Run(AIR, 0.1, 1.0, 9e-4).drop(0.03)


def test_sizes_are_rounded_up_to_the_trade() -> None:
    sizes = (0.075, 0.1, 0.125)
    area = pi / 4.0 * 0.1**2
    assert bore_for(area * 4.0, 4.0, sizes) == 0.1  # just enough
    assert bore_for(area * 4.0 * 1.001, 4.0, sizes) == 0.125
    assert bore_for(1.0, 4.0, sizes) == 0.125  # the largest there is
