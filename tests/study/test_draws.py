"""Draws of uncertain inputs: strata of the hypercube and shares by scipy's own distributions."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from invented import DRAWS, changed
from scipy import stats

from heatsim.study.draws import CUT, Input, draw
from heatsim.study.file import DrawsText

COUNT = 50
SPREADS = {
    "uniform": (Input("u", ("u",), "", "uniform", (2.0, 6.0)), stats.uniform(2.0, 4.0)),
    "normal": (Input("n", ("n",), "", "normal", (5.0, 0.5)), stats.truncnorm(-CUT, CUT, 5.0, 0.5)),
    "triangular": (Input("t", ("t",), "", "triangular", (1.0, 2.0, 5.0)), stats.triang(0.25, 1.0, 4.0)),
}


@pytest.mark.parametrize("spread", SPREADS)
def test_each_part_of_every_range_is_drawn_from_once(spread: str) -> None:
    """The definition of a Latin hypercube: McKay, Beckman and Conover, Technometrics 21 (1979), section 2."""
    inputs = [one for one, _ in SPREADS.values()]
    drawn = draw(inputs, DrawsText(count=COUNT, seed=4))
    place = list(SPREADS).index(spread)
    shares = SPREADS[spread][1].cdf(drawn[:, place])
    assert sorted(np.floor(shares * COUNT).astype(int)) == list(range(COUNT))


def test_inputs_are_paired_at_random() -> None:
    """Rank correlation of two independent inputs stays within four standard errors, 1 / √(n − 1) each."""
    inputs = [one for one, _ in SPREADS.values()]
    drawn = draw(inputs, DrawsText(count=400, seed=9))
    for i, j in ((0, 1), (0, 2), (1, 2)):
        assert abs(stats.spearmanr(drawn[:, i], drawn[:, j]).statistic) < 4.0 / np.sqrt(399.0)


def test_the_same_seed_draws_the_same_and_another_does_not() -> None:
    inputs = [one for one, _ in SPREADS.values()]
    first, again, other = (draw(inputs, DrawsText(count=COUNT, seed=seed)) for seed in (4, 4, 5))
    assert np.array_equal(first, again)
    assert not np.any(first == other)


def test_choices_are_drawn_as_often_as_they_stand() -> None:
    """Of 40 draws over four equal choices of which two are alike, ten each: the hypercube leaves no luck."""
    one = Input("c", ("c",), "", "among", (), ("teak", "white", "white", "cream"))
    drawn = draw([one], DrawsText(count=40, seed=2))
    assert np.bincount(drawn[:, 0].astype(int)).tolist() == [10, 10, 10, 10]


def test_defaults_are_drawn_between_the_ends_they_have(study: Path) -> None:
    design = changed(study, DRAWS)
    names = [one.name for one in design.inputs]
    assert "zones.*.infiltration" in names  # its unit begins with a digit
    assert len(names) == len(set(names))
    for one, values in zip(design.inputs, design.drawn.T, strict=True):
        low, high = one.extremes()
        assert low <= values.min() < values.max() <= high
    infiltration = design.inputs[names.index("zones.*.infiltration")]
    assert infiltration.extremes() == pytest.approx((0.25 / 3600.0, 1.0 / 3600.0), rel=1e-9)  # 0.25 and 1 an hour


def test_one_guess_for_all_rooms(study: Path) -> None:
    design = changed(study, DRAWS)
    one = next(one for one in design.inputs if one.name == "zones.*.infiltration")
    assert {path.split(".")[1] for path in one.paths} == {"saloon", "cabin"}
    _, boat = design.case((0, 3, 0, 0), (0.0,))
    _, other = design.case((0, 4, 0, 0), (0.0,))
    assert boat != other
