"""Pictures of studies: they show what the tables say, only what was varied, legibly, and without need of colour."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from invented import DRAWS, changed, filled, invented
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.image import imread

from heatsim.report.certainty_pictures import certainty_drawings, stated_peak
from heatsim.report.pictures import Drawing
from heatsim.report.remedy_picture import LEFT, TOGETHER, steps_of
from heatsim.report.study_pictures import STEPS, Grid, load_duration, places_and_months, study_drawings
from heatsim.study import summary
from heatsim.study.design import Design
from heatsim.study.results import BLOCK

ROUND_OFF = 1e-12
"""Relative: the same numbers added in another order."""
_kept: list[Design] = []
LONG = "a long name of a remedy, thought of without any picture".replace(",", "")


@pytest.fixture
def everything(study: Path, monkeypatch: pytest.MonkeyPatch) -> Design:
    """A study that varies all there is: places, months, headings, draws, remedies in every combination; read once."""
    monkeypatch.setattr("heatsim.report.certainty_pictures.stated_peak", lambda _: 12000.0)
    if not _kept:
        _kept.append(
            changed(
                study, DRAWS, ("[0 deg, 90 deg]", "[0 deg, 90 deg, 180 deg, 270 deg]"), ("count: 64", "count: 16"),
                ("  - {name", f"  - {{name: {LONG}, change: light blinds closed}}\n  - {{name"),
                ("price: 500}\n", "price: 500}\ncombine: every\nunits: planned\n"),
            )
        )  # fmt: skip
    return _kept[0]


def _named(drawings: list[Drawing]) -> dict[str, Drawing]:
    return {drawing.file: drawing for drawing in drawings}


@pytest.fixture
def figures(monkeypatch: pytest.MonkeyPatch) -> list[Figure]:
    """Figures as they are saved, small for the time it takes."""
    kept: list[Figure] = []
    save = Figure.savefig

    def keeping(self: Figure, *given: Any, **more: Any) -> None:
        kept.append(self)
        save(self, *given, **{**more, "dpi": 40})

    monkeypatch.setattr(Figure, "savefig", keeping)
    return kept


def test_each_picture_of_what_is_varied(everything: Design) -> None:
    drawings = _named(study_drawings(everything, invented(everything), "si"))
    assert sorted(drawings) == [
        "certainty.png", "duration.png", "headings.png", "regions.png", "tornado.png", "waterfall.png",
    ]  # fmt: skip


def test_no_picture_of_what_is_not_varied(study: Path) -> None:
    design = changed(
        study, ("[hot, typical]", "[hot]"), ("  region: [CYC, BVI]\n", ""), ("  month: [7, 8]\n", ""),
        ("remedies:", "# "), ("  - {", "# {"),
    )  # fmt: skip
    assert study_drawings(design, invented(design), "si") == []


@pytest.mark.parametrize("system", ["us", "both"])  # the longest words
def test_all_words_are_within_the_picture(everything: Design, figures: list[Figure], system: Any) -> None:
    data = filled(filled(invented(everything), "peak", 12345.0, ()), "block_cooling", 12345.0, ())
    for drawing in study_drawings(everything, data, system):
        picture = imread(BytesIO(drawing.png()))
        assert picture.shape[0] > 60
        assert picture[..., :3].std() > 0.02  # not blank
        figure = figures[-1]
        drawn, page = figure.get_tightbbox(), figure.get_size_inches()
        hair = 0.01  # inches, of antialiasing
        assert drawn.x0 >= -hair, (drawing.file, drawn)
        assert drawn.y0 >= -hair, (drawing.file, drawn)
        assert drawn.x1 <= page[0] + hair, (drawing.file, drawn)
        assert drawn.y1 <= page[1] + hair, (drawing.file, drawn)


def test_the_map_holds_the_numbers_of_the_table(everything: Design) -> None:
    data = filled(invented(everything), "peak", [[4000.0, 5000.0], [9000.0, 8000.0]], ("region", "month"))
    labels, heads, grids, *_ = _named(study_drawings(everything, data, "si"))["regions.png"].before
    assert [label[-3:] for label in labels] == ["BVI", "CYC"]  # the larger peak at the top
    assert heads == ["Jul", "Aug"]
    assert grids[0].cells.tolist() == [[9.0, 8.0], [4.0, 5.0]]
    table = summary.by_place(data)["per_day"]
    assert grids[1].cells.ravel().tolist() == [table["BVI", 7], table["BVI", 8], table["CYC", 7], table["CYC", 8]]


def test_cells_that_the_units_cannot_carry_are_outlined(everything: Design) -> None:
    data = filled(invented(everything), "capacity_margin", [[0.2, 0.1], [-0.1, 0.3]], ("region", "month"))
    data = filled(data, "peak", [[4000.0, 5000.0], [9000.0, 8000.0]], ("region", "month"))
    *_, grids, _, note = _named(study_drawings(everything, data, "si"))["regions.png"].before
    assert grids[0].outlined.tolist() == [[True, False], [False, False]]
    assert "outlined" in note


def _luminance(colour: Sequence[float]) -> float:
    """Relative luminance by IEC 61966-2-1."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour[:3]]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_the_map_gets_darker_throughout() -> None:
    """Relative luminance falls from step to step, so that a grey print reads the same."""
    assert np.all(np.diff([_luminance(to_rgb(colour)) for colour in STEPS]) < -0.01)


def test_numbers_stand_out_from_their_cells(figures: list[Figure]) -> None:
    """At least 4.5 to 1 for text of this size: Web Content Accessibility Guidelines 2.1, criterion 1.4.3."""
    cells = np.linspace(0.0, 40.0, 41)[:, None]
    grid = Grid("all shades", cells, 1, np.zeros((41, 1), dtype=bool))
    places_and_months([""] * 41, [""], [grid], "", "", BytesIO())
    axes = figures[-1].axes[0]
    image = axes.images[0]
    assert len(axes.texts) == 41
    for text in axes.texts:
        cell = image.cmap(image.norm(cells[round(text.get_position()[1]), 0]))
        low, high = sorted((_luminance(cell), _luminance(to_rgb(text.get_color()))))
        assert (high + 0.05) / (low + 0.05) >= 4.5, text.get_text()


def test_headings_are_of_the_hardest_place(everything: Design) -> None:
    peak = np.ones((2, 2, 4)) * 1000.0
    peak[1, 0] = [2000.0, 7000.0, 3000.0, 4000.0]
    data = filled(invented(everything), "peak", peak, ("region", "month", "heading"))
    bearings, values, names, _, where = _named(study_drawings(everything, data, "si"))["headings.png"].before
    assert bearings.tolist() == [0.0, 90.0, 180.0, 270.0]
    assert values[0].tolist() == peak[1, 0].tolist()
    assert where.startswith("in Jul in BVI")
    assert len(names) == 3  # as she is and each remedy by itself, no combination


def test_load_duration_passes_every_hour_once(everything: Design) -> None:
    """July and August have 1488 hours, whatever the number of headings and draws; the area below is the energy."""
    data = invented(everything)
    curves = load_duration(data)
    assert list(curves) == ["CYC", "BVI"]
    hourly = data["block_cooling"].sel(day="typical").isel(remedy=0)
    for name, (hours, load) in curves.items():
        assert hours[-1] == pytest.approx(1488.0, rel=ROUND_OFF)
        assert np.all(np.diff(load) <= 0.0)
        energy = hourly.sel(region=name).mean(["draw", "heading"]).sum(["hour", "month"]) * 31.0
        assert float(np.sum(np.diff(np.append(0.0, hours)) * load)) == pytest.approx(float(energy), rel=1e-9)


def test_months_of_the_duration_weigh_by_their_days(study: Path) -> None:
    """A load of February (28 days) is passed in 672 hours, one of March in 744."""
    design = changed(study, ("[7, 8]", "[2, 3]"))
    data = filled(invented(design), "block_cooling", [5000.0, 1000.0], ("month",))
    hours, load = load_duration(data)["CYC"]
    assert hours[load == 5000.0].max() == pytest.approx(672.0, rel=ROUND_OFF)
    assert hours[-1] == pytest.approx(672.0 + 744.0, rel=ROUND_OFF)


TRIED = [(), ("a",), ("b",), ("c",), ("a", "b"), ("a", "c"), ("b", "c"), ("a", "b", "c")]
PEAKS = np.array([10.0, 8.0, 7.0, 9.5, 6.5, 7.8, 5.0, 4.6])
WARM = np.full(8, np.nan)


def test_remedies_in_turn_lead_from_the_boat_as_she_is_to_what_is_left() -> None:
    """By hand: b takes 3 of 10, then c 2 of 7 (a only 0.5), then a 0.4."""
    steps = steps_of(TRIED, PEAKS, WARM, {"b": 300.0})
    assert [step.name for step in steps] == ["as she is", "b", "c", "a", LEFT]
    assert [step.last - step.first for step in steps[1:-1]] == pytest.approx([-3.0, -2.0, -0.4])
    assert [step.first for step in steps[2:-1]] == pytest.approx([step.last for step in steps[1:-2]])
    assert steps[-1].last == PEAKS[-1]
    assert steps[1].price == 300.0
    assert np.isnan(steps[2].price)


def test_remedies_alone_all_start_from_the_boat_as_she_is() -> None:
    steps = steps_of(TRIED[:4], PEAKS[:4], WARM[:4], {})
    assert [(step.name, step.last) for step in steps] == [("as she is", 10.0), ("b", 7.0), ("a", 8.0), ("c", 9.5)]
    assert all(step.first == 10.0 for step in steps[1:])
    together = steps_of([*TRIED[:4], TRIED[-1]], PEAKS[[0, 1, 2, 3, 7]], WARM[:5], {})
    assert together[-1].name == TOGETHER
    assert together[-1].last == 4.6


def test_kelvins_are_those_of_the_warmest_room() -> None:
    warm = np.array([31.0, 30.0, 28.0, 31.0, 28.5, 30.0, 27.0, 26.0])
    steps = steps_of(TRIED, PEAKS, warm, {})
    assert [step.kelvin for step in steps[1:]] == pytest.approx([3.0, 1.0, 1.0, 5.0])


def test_the_curve_of_certainty_is_the_sorted_draws(everything: Design) -> None:
    values = np.random.default_rng(8).uniform(4000.0, 6000.0, 16)
    data = filled(invented(everything), "peak", values, ("draw",))
    curves, _, _, margin, counts, course, _ = _named(certainty_drawings(everything, data, "si"))["certainty.png"].before
    assert curves[0].tolist() == np.sort(values).tolist()
    assert margin == everything.base.terms.margin
    assert course[-1] == pytest.approx(np.quantile(values, 0.9), rel=ROUND_OFF)
    assert counts[-1] == 16


def test_an_input_that_does_nothing_is_told_from_one_that_does(everything: Design) -> None:
    strong = everything.drawn[:, 0]
    data = filled(invented(everything), "peak", 4000.0 + 1000.0 * strong / np.ptp(strong), ("draw",))
    pulls, draws, _ = _named(certainty_drawings(everything, data, "si"))["tornado.png"].before
    assert draws == 16
    assert pulls[0].name == everything.inputs[0].name
    assert not pulls[0].chance
    assert pulls[0].low < 0.0 < pulls[0].high
    assert sum(pull.chance for pull in pulls[1:]) > len(pulls) / 2


def test_the_stated_peak_is_that_of_a_single_run(study: Path) -> None:
    import heatsim
    from heatsim.scenario.resolve import resolve

    design = changed(study, DRAWS, ("[CYC, BVI]", "[CYC]"), ("[7, 8]", "[8]"), ("[hot, typical]", "[hot]"))
    changes = ["place.region=CYC", "place.month=8", "climate.days=[hot]", 'place.heading="0 deg"']
    peaks = []
    for heading in ("0 deg", "90 deg"):
        changes[-1] = f'place.heading="{heading}"'
        boat = resolve(heatsim.read(study.parent / "wagtail.yaml", changes))
        peaks.append(heatsim.peaks(heatsim.simulate(boat, causes=False, shared=True, step=1800.0)).loc[("hot", BLOCK)])
    alone = max(float(row["total"]) for row in peaks)
    assert stated_peak(design) == pytest.approx(alone, rel=1e-9)  # sums in another order, once through a table


SHAPES = {
    "places alone": ([("  month: [7, 8]\n", "")], ["duration", "regions", "waterfall"]),
    "months alone": ([("  region: [CYC, BVI]\n", "")], ["duration", "regions", "waterfall"]),
    "another axis": (
        [("  month: [7, 8]\n", "  zones.saloon.setpoint: [22 degC, 24 degC]\n")], ["duration", "regions", "waterfall"]
    ),
    "all together besides": (
        [
            ("price: 500}\n", "price: 500}\n  - {name: blinds, change: light blinds closed}\ncombine: also together\n"),
            ("[CYC, BVI]", "[BVI]"), ("[7, 8]", "[8]"), ("[hot, typical]", "[hot, humid]"),
        ],
        ["waterfall"],
    ),
    "few draws": ([("keep: hours\n", "draws: {count: 4, defaults: true}\n")], ["duration", "regions", "waterfall"]),
}  # fmt: skip


@pytest.mark.usefixtures("figures")
@pytest.mark.parametrize("shape", SHAPES)
def test_other_shapes_are_drawn_too(shape: str, study: Path) -> None:
    changes, wanted = SHAPES[shape]
    design = changed(study, *changes)
    drawings = study_drawings(design, invented(design), "si")
    assert sorted(drawing.file.removesuffix(".png") for drawing in drawings) == wanted
    assert all(imread(BytesIO(drawing.png()))[..., :3].std() > 0.02 for drawing in drawings)


@pytest.mark.usefixtures("figures")
def test_weather_years_are_drawn_too(everything: Design) -> None:
    data = invented(everything).isel(day=[1], month=[0]).squeeze("month", drop=True).assign_coords(day=["year"])
    drawings = _named(study_drawings(everything, data, "si"))
    assert "weather years" in drawings["duration.png"].before[2]
    assert len(drawings["regions.png"].before[2]) == 1  # no typical day, so no energy of one
    hours = {name: curve[0][-1] for name, curve in load_duration(data).items()}
    assert hours == pytest.approx({"CYC": 24.0, "BVI": 24.0})  # as many as these years have
    assert all(imread(BytesIO(drawing.png()))[..., :3].std() > 0.02 for drawing in drawings.values())
