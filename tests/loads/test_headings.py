"""Headings and peaks: the worst heading against single runs, swinging, and `peaks` on data sets counted by hand.

The hand-made data sets are small enough to sum in the head; diversity and envelope are those of the project's own
definition: block load over the sum of zone peaks at the same heading and day; the envelope sums each zone's peak at its
own worst heading.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from boxes import plain_box, plain_place, plain_zone

import heatsim
from heatsim.loads.peaks import load_duration, peaks
from heatsim.loads.simulate import simulate
from heatsim.scenario import resolved as r
from heatsim.scenario.reading import read_text

HEADINGS = (0.0, 60.0, 120.0, 180.0, 240.0, 300.0)


def _twin(**place: object) -> r.Resolved:
    """Two rooms without a partition, one with a window to port, one to starboard."""
    one = plain_box(windows=(90.0,), place=plain_place(**place))
    other = [replace(f, name=f"aft {f.name}", zone="aft") for f in plain_box(windows=(270.0,)).faces]
    return replace(one, zones=(plain_zone(), plain_zone("aft")), faces=(*one.faces, *other))


@pytest.fixture(scope="module")
def swept() -> xr.Dataset:
    return simulate(_twin(headings=HEADINGS, heading_mode="worst"), step=900.0, causes=False)


def test_worst_heading_is_the_largest_of_single_runs(swept: xr.Dataset) -> None:
    single = [simulate(_twin(headings=(h,)), step=900.0, causes=False) for h in HEADINGS]
    # One batch or one by one: the same arithmetic, stopped within 0.01 K of periodic.
    for name in ("room", "aft", "block"):
        alone = [float(peaks(loads).loc[("hot", name), "total"]) for loads in single]
        worst = peaks(swept).loc[("hot", name)]
        assert worst["total"] == pytest.approx(max(alone), rel=1e-3)
        assert worst["heading"] == HEADINGS[int(np.argmax(alone))]
        assert max(alone) > 1.05 * min(alone) or name == "block"  # the heading matters to a room with one window


def test_envelope_block_and_sum_of_peaks(swept: xr.Dataset) -> None:
    frame = peaks(swept).loc["hot"]
    block, zones = frame.loc["block"], frame.drop("block")
    assert block["envelope"] == pytest.approx(zones["total"].sum())
    assert block["envelope"] > 1.01 * block["sum_of_peaks"]  # windows on both sides: no heading is worst for both
    assert block["sum_of_peaks"] >= block["total"]
    assert block["total"] >= zones["total"].max()
    assert block["diversity"] == pytest.approx(block["total"] / block["sum_of_peaks"])


def test_twins_turned_round_trade_places(swept: xr.Dataset) -> None:
    """At half a turn the window to port looks where that to starboard did."""
    total = swept["sensible_cooling"].isel(day=0)
    np.testing.assert_allclose(
        total.sel(heading=60.0, zone="room").values, total.sel(heading=240.0, zone="aft").values, rtol=1e-3, atol=0.1
    )


BOAT = """\
format: 1
yacht: {{name: Plover, length: 9 m, persons: 2}}
place: {{region: ANU, month: 9, berth: anchor, {heading}}}
climate: {{days: [hot]}}
zones:
  saloon:
    quick: {{deck: main, length: 3 m, beam: 3 m, height: 2 m, sides: [port]}}
"""


def _headings(text: str) -> tuple[float, ...]:
    return heatsim.resolve(read_text(BOAT.format(heading=text))).place.headings


def test_swinging_stays_on_its_arc() -> None:
    arc = _headings("swing: {first: 60 deg, last: 120 deg}")
    assert min(arc) == 60.0
    assert max(arc) == 120.0
    assert len(arc) >= 3
    over_north = _headings("swing: {first: 330 deg, last: 30 deg}")
    assert all(h >= 330.0 or h <= 30.0 for h in over_north)
    assert len(over_north) >= 3


def test_worst_goes_all_round_and_bounds_the_arc() -> None:
    round_ = _headings("heading: worst")
    assert np.diff([*round_, round_[0] + 360.0]) == pytest.approx(np.full(len(round_), 360.0 / len(round_)))
    most = {}
    for text in ("heading: worst", "swing: {first: 60 deg, last: 120 deg}"):
        boat = heatsim.resolve(read_text(BOAT.format(heading=text)))
        most[text] = float(peaks(simulate(boat, step=900.0, causes=False)).loc[("hot", "block"), "total"])
    worst, swinging = most.values()
    assert worst >= swinging - 1e-6 * worst
    assert worst > 1.02 * swinging  # a window to port, and a bow that stays east: it never faces the western sun


# Data sets by hand -------------------------------------------------------------------------------------------------

NORTH, EAST = 0.0, 90.0
SENSIBLE = np.array([
    # (heading, hour, zone): fore, aft, locker
    [[1.0, 4.0, 9.0], [5.0, 2.0, 9.0], [2.0, 6.0, 9.0]],
    [[3.0, 3.0, 9.0], [4.0, 4.5, 9.0], [8.0, 1.0, 9.0]],
]) * 100.0  # fmt: skip
LATENT = np.full_like(SENSIBLE, 50.0) * np.array([1.0, 1.0, 0.0])


def _by_hand(entering: np.ndarray | None = None) -> xr.Dataset:
    dims = ("day", "heading", "time", "zone")
    hours = np.datetime64("2025-07-21T06:00", "ns") + np.arange(3) * np.timedelta64(1, "h")
    zero = np.zeros_like(SENSIBLE)
    return xr.Dataset(
        {
            "sensible_cooling": (dims, SENSIBLE[None]),
            "latent_cooling": (dims, LATENT[None]),
            "entering": (dims, (zero if entering is None else entering)[None]),
        },
        {
            "day": ["hot"], "heading": [NORTH, EAST], "zone": ["fore", "aft", "locker"],
            "local_time": ("time", hours + np.timedelta64(3, "h")), "floor_area": ("zone", [10.0, 20.0, 1.0]),
            "conditioned": ("zone", [True, True, False]),
        },
    )  # fmt: skip


def test_peaks_by_hand() -> None:
    """Fore: 850 W at the third hour, bow east. Aft: 650 W at the third hour, bow north. The locker does not count."""
    frame = peaks(_by_hand()).loc["hot"]
    assert list(frame.index) == ["fore", "aft", "block"]
    fore, aft, block = frame.loc["fore"], frame.loc["aft"], frame.loc["block"]
    assert (fore["total"], fore["sensible"], fore["latent"]) == (850.0, 800.0, 50.0)
    assert (fore["heading"], str(fore["hour"])[:13]) == (EAST, "2025-07-21 11")
    assert fore["w_per_m2"] == 85.0
    assert fore["mean"] == pytest.approx((350.0 + 450.0 + 850.0) / 3)
    assert fore["load_factor"] == pytest.approx(550.0 / 850.0)
    assert (aft["total"], aft["heading"]) == (650.0, NORTH)
    # Block by hour: north 600, 800, 900; east 700, 950, 1000. At east the zones peak with 850 and 500.
    assert (block["total"], block["heading"]) == (1000.0, EAST)
    assert block["sum_of_peaks"] == 850.0 + 500.0
    assert block["diversity"] == pytest.approx(1000.0 / 1350.0)
    assert block["envelope"] == 850.0 + 650.0
    assert block["w_per_m2"] == pytest.approx(1000.0 / 30.0)


def test_recovery_is_kept_out_of_peaks_and_listed_apart() -> None:
    """Fore recovers in the third hour, bow east: its peak is 550 W then, and 850 W its recovery."""
    entering = np.zeros_like(SENSIBLE)
    entering[1, 2, 0] = 0.5
    frame = peaks(_by_hand(entering)).loc["hot"]
    fore, block = frame.loc["fore"], frame.loc["block"]
    assert (fore["total"], fore["heading"], fore["recovery"]) == (550.0, NORTH, 850.0)
    # What is left of the block: north 600, 800, 900; east 700, 950.
    assert (block["total"], block["heading"], block["recovery"]) == (950.0, EAST, 1000.0)
    assert block["sum_of_peaks"] == 450.0 + 500.0
    assert block["envelope"] == 550.0 + 650.0


def test_no_load_has_no_factor_and_full_diversity() -> None:
    loads = _by_hand()
    idle = loads.assign(sensible_cooling=0.0 * loads["sensible_cooling"], latent_cooling=0.0 * loads["latent_cooling"])
    block = peaks(idle).loc[("hot", "block")]
    assert (block["total"], block["load_factor"], block["diversity"]) == (0.0, 0.0, 1.0)


def test_load_duration_by_hand() -> None:
    year = _by_hand().isel(day=0, drop=True)
    ordered = load_duration(year)
    assert ordered.dims == ("heading", "rank")
    np.testing.assert_array_equal(ordered.values, [[900.0, 800.0, 600.0], [1000.0, 950.0, 700.0]])
    with pytest.raises(ValueError, match="weather year"):
        load_duration(_by_hand())


def test_check_counts_peaks_as_the_loads_do() -> None:
    """A cabin that drops its setpoint at night asks most while it recovers; neither table calls that its peak.

    Within 2 %: `check` takes coarser steps.
    """
    from heatsim.loads.check import check

    changes = ["zones.forward cabin.setpoint={'20:00-06:00': 22 degC, '06:00-20:00': 28 degC}"]
    path = Path(__file__).parents[2] / "scenarios" / "dunlin-11.yaml"
    found = check(path, changes, leverage=False)
    peak = peaks(simulate(heatsim.resolve(heatsim.read(path, changes)), causes=False)).loc["hot"]
    assert peak.loc["forward cabin", "recovery"] > peak.loc["forward cabin", "total"]
    assert found.block == pytest.approx(peak.loc["block", "total"], rel=0.02)
