"""Several boats at once: the same numbers as one by one, with one axis in front."""

from __future__ import annotations

import numpy as np
import pytest
from boxes import plain_box, plain_day, plain_place

from heatsim import simulate, simulate_many
from heatsim.loads import line


def test_each_run_is_the_boat_alone() -> None:
    boats = [plain_box(day=plain_day(dry_bulb_max=t)) for t in (30.0, 38.0)]
    many = simulate_many(boats)
    assert many["sensible_cooling"].dims == ("run", "day", "heading", "time", "zone")
    for i, boat in enumerate(boats):
        alone = simulate(boat)
        np.testing.assert_array_equal(many["load_by_cause"].isel(run=i).values, alone["load_by_cause"].values)
    assert float(many["sensible_cooling"].isel(run=1).max()) > float(many["sensible_cooling"].isel(run=0).max())


def test_many_headings_go_through_the_compiled_loop_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    """So many runs that the compiled loop is worth its import give what numpy gives, to the band's tolerance in W."""
    boat = plain_box(windows=(90.0, 270.0), place=plain_place(headings=(0.0, 90.0, 200.0)))
    few = simulate(boat)
    monkeypatch.setattr(line, "MANY_RUNS", 1)
    many = simulate(boat)
    peak = float(few["sensible_cooling"].max())
    for name in ("sensible_cooling", "load_by_cause", "latent_cooling"):
        np.testing.assert_allclose(many[name].values, few[name].values, rtol=0.0, atol=1e-9 * peak)


def test_boats_of_different_shape_are_refused() -> None:
    with pytest.raises(ValueError, match="exact"):
        simulate_many([plain_box(), plain_box(windows=())])
