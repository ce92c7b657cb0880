"""Several boats at once: the same numbers as one by one, with one axis in front."""

from __future__ import annotations

import numpy as np
import pytest
from boxes import plain_box, plain_day

from heatsim import simulate, simulate_many


def test_each_run_is_the_boat_alone() -> None:
    boats = [plain_box(day=plain_day(dry_bulb_max=t)) for t in (30.0, 38.0)]
    many = simulate_many(boats)
    assert many["sensible_cooling"].dims == ("run", "day", "heading", "time", "zone")
    for i, boat in enumerate(boats):
        alone = simulate(boat)
        np.testing.assert_array_equal(many["load_by_cause"].isel(run=i).values, alone["load_by_cause"].values)
    assert float(many["sensible_cooling"].isel(run=1).max()) > float(many["sensible_cooling"].isel(run=0).max())


def test_boats_of_different_shape_are_refused() -> None:
    with pytest.raises(ValueError, match="exact"):
        simulate_many([plain_box(), plain_box(windows=())])
