"""What tables make of results: against sums by hand, order statistics of known sets, and scipy's ranks."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from invented import DRAWS, changed, filled, invented
from scipy.stats import pearsonr, rankdata

import heatsim
from heatsim.equipment.remedies import CHANGES
from heatsim.study import summary
from heatsim.study.design import Design
from heatsim.study.file import SHORT, DrawsText, RemedyText, Study
from heatsim.study.results import BLOCK, HELD, HOURS, RESULTS

ROUND_OFF = 1e-12
"""Relative: the same numbers added in another order."""


@pytest.fixture
def design(study: Path) -> Design:
    """Two regions, two months, two headings, one remedy, hot and typical days."""
    return Design.read(study)


@pytest.fixture
def drawn(study: Path) -> Design:
    """The same with 64 draws."""
    return changed(study, DRAWS)


def test_peaks_are_those_of_the_worst_heading_of_design_days(design: Design) -> None:
    data = invented(design)
    data = filled(data, "peak", [[1000.0, 3000.0], [9000.0, 9000.0]], ("day", "heading"))  # the typical day counts not
    frame = summary.by_place(data)
    assert frame["peak"].tolist() == [3000.0] * 4
    assert list(frame.index) == [("CYC", 7), ("CYC", 8), ("BVI", 7), ("BVI", 8)]


def test_energy_of_a_place_is_the_mean_of_headings_and_fuel_that_of_a_week(design: Design) -> None:
    data = filled(invented(design), "electric_energy", [10.0, 14.0], ("heading",))
    frame = summary.by_place(filled(data, "fuel", [3.0, 5.0], ("heading",)))
    assert frame["per_day"].tolist() == pytest.approx([12.0] * 4, rel=ROUND_OFF)
    assert frame["fuel"].tolist() == pytest.approx([7.0 * 4.0] * 4, rel=ROUND_OFF)


def test_places_are_of_the_boat_as_she_is(design: Design) -> None:
    data = filled(invented(design), "peak", [5000.0, 2000.0], ("remedy",))
    assert set(summary.by_place(data)["peak"]) == {5000.0}


def test_a_remedy_saves_the_days_of_its_months(design: Design) -> None:
    """July and August have 31 days each: 62 days at 2 kWh less are 124 kWh."""
    data = filled(invented(design), "electric_energy", [10.0, 8.0], ("remedy",))
    data = filled(data, "peak", [5000.0, 4400.0], ("remedy",))
    row = summary.remedies(data, {"white decks": 500.0}).loc["white decks"]
    assert row["season"] == pytest.approx(124.0, rel=ROUND_OFF)
    assert row["peak"] == pytest.approx(600.0, rel=ROUND_OFF)
    assert row["watts_per_price"] == pytest.approx(1.2, rel=ROUND_OFF)


def test_a_remedy_is_told_by_its_largest_peak_and_by_the_mean(design: Design) -> None:
    """Largest peaks 4 and 3 kW, means 3 and 2.5 kW, by hand."""
    data = filled(invented(design), "peak", [[2000.0, 4000.0], [2000.0, 3000.0]], ("remedy", "region"))
    row = summary.remedies(data, {}).loc["white decks"]
    assert row["peak"] == pytest.approx(1000.0, rel=ROUND_OFF)
    assert row["mean_peak"] == pytest.approx(500.0, rel=ROUND_OFF)
    assert np.isnan(row["price"])


def test_levels_are_order_statistics(drawn: Design) -> None:
    """64 draws evenly from 0 to 63 kW in any order: half lie below 31.5, nine tenths below 56.7 (straight between)."""
    values = np.random.default_rng(3).permutation(64) * 1000.0
    frame = summary.certainty(filled(invented(drawn), "peak", values, ("draw",)))
    assert frame.loc[BLOCK].tolist() == pytest.approx([31.5e3, 56.7e3, 62.37e3], rel=ROUND_OFF)
    assert list(frame.columns) == ["p50", "p90", "p99"]
    below = [(values <= frame.loc[BLOCK, name]).mean() for name in ("p50", "p90")]
    assert below == pytest.approx([0.5, 0.9], abs=1.0 / 64.0)  # of 64, a share is known to one


def test_certainty_takes_each_draw_at_its_worst_place(drawn: Design) -> None:
    values = np.outer([1.0, 2.0], np.arange(1.0, 65.0))
    frame = summary.certainty(filled(invented(drawn), "peak", values, ("region", "draw")))
    assert frame.loc[BLOCK, "p50"] == pytest.approx(2.0 * 32.5, rel=ROUND_OFF)


def test_convergence_ends_at_the_level_of_all_draws(drawn: Design) -> None:
    data = filled(invented(drawn), "peak", np.random.default_rng(5).uniform(1.0, 2.0, 64), ("draw",))
    counts, course = summary.convergence(data)
    assert counts[0] == 2.0
    assert counts[-1] == 64.0
    assert np.all(np.diff(counts) > 0.0)
    assert course[-1] == pytest.approx(summary.certainty(data).loc[BLOCK, "p90"], rel=ROUND_OFF)
    first = summary.worst_peak(summary.as_she_is(data)).sel(room=BLOCK).max(["region", "month"]).values[:2]
    assert course[0] == pytest.approx(0.1 * first.min() + 0.9 * first.max(), rel=ROUND_OFF)


def test_sensitivity_is_the_correlation_of_ranks(drawn: Design) -> None:
    """Spearman's coefficient is Pearson's of the ranks (by its definition), by scipy."""
    cause, other = drawn.drawn[:, 0], drawn.drawn[:, 1]
    values = np.exp(cause / np.ptp(cause)) + 0.1 * other / np.ptp(other)
    frame = summary.sensitivity(filled(invented(drawn), "peak", 1000.0 * values, ("draw",)))
    assert frame.index[0] == drawn.inputs[0].name
    for i in range(len(drawn.inputs)):
        found = frame.loc[drawn.inputs[i].name, "correlation"]
        assert found == pytest.approx(pearsonr(rankdata(drawn.drawn[:, i]), rankdata(values)).statistic, abs=1e-9)
    assert frame.iloc[0]["low"] < 0.0 < frame.iloc[0]["high"]


@pytest.mark.filterwarnings("error")
def test_what_never_changes_moves_nothing(drawn: Design) -> None:
    frame = summary.sensitivity(filled(invented(drawn), "peak", 5000.0, ()))
    assert (frame["correlation"] == 0.0).all()
    assert (frame["p_value"] == 1.0).all()


def test_tenths_are_of_the_lowest_and_highest_values(drawn: Design) -> None:
    """A peak that rises with the rank of one input, 1 W a rank: the lowest six of 64 have a mean of 2.5, all 31.5."""
    ranks = rankdata(drawn.drawn[:, 0]) - 1.0
    frame = summary.sensitivity(filled(invented(drawn), "peak", ranks, ("draw",)))
    row = frame.loc[drawn.inputs[0].name]
    assert row["low"] == pytest.approx(2.5 - 31.5, rel=ROUND_OFF)
    assert row["high"] == pytest.approx(60.5 - 31.5, rel=ROUND_OFF)
    assert row["correlation"] == pytest.approx(1.0, abs=1e-12)


def test_the_long_table_has_a_row_for_everything(design: Design) -> None:
    data = invented(design)
    frame = summary.long_table(data)
    assert len(frame) == data["peak"].size
    picked = frame.query("region == 'BVI' and month == 8 and heading == 90 and day == 'typical' and room == 'block'")
    wanted = data.sel(region="BVI", month=8, heading=90.0, day="typical", room="block")
    ours = picked.set_index("remedy")
    assert ours["load_quantile_95"].to_dict() == {
        str(name): float(wanted["load_quantile"].sel(remedy=name, quantile=0.95, draw=0))
        for name in data["remedy"].values
    }
    assert list(ours.columns) == list(summary.long_table(data[list(data)[::-1]]).set_index("remedy").columns)


def test_axes_by_their_path_are_those_by_their_name(study: Path) -> None:
    design = changed(study, *((f"  {name}:", f"  place.{name}:") for name in ("region", "month", "heading")))
    assert [axis.name for axis in design.axes] == ["remedy", "draw", "region", "month", "heading"]


def test_places_come_in_the_order_a_fleet_expects(study: Path, tmp_path: Path) -> None:
    """In August the Gulf asks for most, then the Antilles and the Aegean, New England for least (common practice, no
    source), by the block's peak and by the energy of a typical day.
    """
    changes = ("[CYC, BVI]", "[NEW, CYC, BVI, DXB]"), ("[7, 8]", "[8]"), ("remedies:", "# "), ("  - {", "# {")
    changed(study, *changes)
    data = heatsim.run_study(study, tmp_path / "out", workers=1)
    frame = summary.by_place(data)["per_day"].droplevel("month")
    assert frame["DXB"] > frame["BVI"] > frame["CYC"] > frame["NEW"]
    peak = summary.by_place(data)["peak"].droplevel("month")
    assert peak["DXB"] == peak.max()
    assert peak["NEW"] == peak.min()


def test_years_are_not_weighted(design: Design) -> None:
    """A weather year's energy is of the year already."""
    data = invented(design).isel(day=[1], month=[0]).squeeze("month", drop=True)
    year: xr.Dataset = filled(data.assign_coords(day=["year"]), "electric_energy", [900.0, 700.0], ("remedy",))
    assert summary.remedies(year, {}).loc["white decks", "season"] == pytest.approx(200.0, rel=ROUND_OFF)
    assert "per_day" not in summary.by_place(year)


def test_the_page_lists_every_key_and_every_result() -> None:
    page = (Path(__file__).resolve().parents[2] / "docs" / "studies.md").read_text(encoding="utf-8")
    for part in (Study, DrawsText, RemedyText):
        for key in part.model_fields:
            assert f"`{key}`" in page, key
    for name in SHORT:
        assert f"`{name}`" in page, name
    for name, variable in (RESULTS | HELD | HOURS).items():
        assert f"| `{name}` | {', '.join(variable.dims)} | {variable.unit} | {variable.meaning}" in page, name
    for name in CHANGES:
        assert name in " ".join(page.split()), name


@pytest.mark.parametrize(("name", "runs"), [("charter-regions", 6912), ("uncertain-dunlin", 256 * 5)])
def test_shipped_studies_are_sound(name: str, runs: int) -> None:
    design = Design.read(Path(__file__).resolve().parents[2] / "scenarios" / f"{name}.yaml")
    assert design.runs == runs
