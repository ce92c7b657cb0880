"""Plausibility of every shipped table: sources, ranges by family, sums, and names that resolve."""

import pytest

from heatsim.physics.frames import u_value
from heatsim.scenario.courses import parse_shipped, routine_of
from heatsim.scenario.shell import resistance, shipped_layers
from heatsim.tables.loader import by_name, names, rows

TABLES = (
    "units", "materials", "lay_ups", "glazings", "colours", "activities", "routines", "uses", "berths", "foregrounds",
    "awnings", "blinds", "films",
)  # fmt: skip


@pytest.mark.parametrize("table", TABLES)
def test_every_row_names_its_source_and_fills_its_columns(table: str) -> None:
    for row in rows(table):
        assert row["source"].strip(), row
        assert None not in row
        assert None not in row.values()


# Ranges by family: textbook orders of magnitude (from memory), wide enough for every grade sold.
FAMILY = {
    "metal": (15, 400, 2500, 9000),
    "insulation": (0.02, 0.06, 15, 250),
    "timber": (0.05, 0.25, 100, 900),
    "plastic": (0.15, 1.0, 1000, 2000),
    "mineral": (0.2, 2.5, 800, 2600),
    "textile": (0.03, 0.1, 40, 300),
    "liquid": (0.1, 0.7, 700, 1100),
}


@pytest.mark.parametrize("name", names("materials"))
def test_material_lies_in_its_family(name: str) -> None:
    row = by_name("materials")[name]
    low_k, high_k, low_d, high_d = FAMILY[row["family"]]
    assert low_k <= float(row["conductivity_W_per_m_K"]) <= high_k
    assert low_d <= float(row["density_kg_per_m3"]) <= high_d
    assert 350 <= float(row["specific_heat_J_per_kg_K"]) <= 4200


@pytest.mark.parametrize("name", names("lay_ups"))
def test_lay_up_lies_in_its_range(name: str) -> None:
    row = by_name("lay_ups")[name]
    value = u_value(resistance(shipped_layers(name)))
    assert float(row["U_low_W_per_m2_K"]) <= value <= float(row["U_high_W_per_m2_K"])


def test_every_material_of_a_boat_has_each_kind_of_lay_up() -> None:
    have = " ".join(row["default_for"] for row in rows("lay_ups"))
    for material in ("cored GRP", "solid GRP", "aluminium", "steel", "timber"):
        for kind in ("hull", "house", "deck", "bottom", "bulkhead", "sole"):
            assert f"{material}:{kind}" in have


def test_no_glass_lets_in_more_than_clear_float() -> None:
    """EN 410: 0.87 for 3 mm clear float."""
    assert all(0.2 <= float(row["g_value"]) <= 0.87 for row in rows("glazings"))


@pytest.mark.parametrize("name", names("activities"))
def test_activity_splits_its_total(name: str) -> None:
    row = by_name("activities")[name]
    total, sensible, slope = (float(row[k]) for k in ("total_W", "sensible_24C_W", "sensible_slope_W_per_K"))
    assert 0 < sensible < total
    # At 30 degC something sensible must be left, and at 18 degC something latent.
    assert sensible - 6 * slope > 0
    assert sensible + 6 * slope < total + 6


# Air-conditioning textbook, 5th ed., table 7.16: sensible at 26 degC; its own rounding to 5 W.
@pytest.mark.parametrize(("name", "at_26"), [("seated at rest", 65), ("eating", 75), ("standing", 72), ("dancing", 90)])
def test_sensible_heat_falls_as_printed(name: str, at_26: float) -> None:
    row = by_name("activities")[name]
    assert float(row["sensible_24C_W"]) - 2 * float(row["sensible_slope_W_per_K"]) == pytest.approx(at_26, abs=2.5)


@pytest.mark.parametrize("name", names("routines"))
def test_routine_parses_within_bounds(name: str) -> None:
    routine = routine_of(name, parse_shipped(by_name("routines")[name]["course"]))
    assert routine.minutes[0] == 0
    assert all(0 <= value <= 1 for value in routine.values)


def test_uses_name_routines_and_activities_that_exist() -> None:
    for row in rows("uses"):
        assert row["lights_routine"] in names("routines")
        assert row["equipment_routine"] in names("routines")
        assert row["day_activity"] in names("activities")
        assert row["is_space"] == "1" or 40 <= float(row["furnishing_kJ_per_K_m2"]) <= 60
        assert row["is_space"] == "1" or 5 <= float(row["moisture_factor"]) <= 15


def test_foreground_shares_sum_to_one() -> None:
    for row in rows("foregrounds"):
        assert float(row["sea"]) + float(row["deck"]) + float(row["quay"]) == pytest.approx(1, abs=1e-12)


def test_regions_are_whole_and_ordered() -> None:
    codes = {row["region"] for row in rows("regions")}
    assert len(codes) == 24
    for code in codes:
        months = [row for row in rows("regions") if row["region"] == code]
        assert sorted(int(row["month"]) for row in months) == list(range(1, 13))
        for row in months:
            values = {k: float(row[k]) for k in row if k.endswith("_C")}
            assert values["tmin_mean_C"] < values["tmax_mean_C"] <= values["design_db_C"] + 1e-9
            assert values["design_dp_C"] <= values["design_wb_C"] <= values["design_db_C"]
            assert values["humid_dp_C"] <= values["humid_db_C"]
            assert -2 <= values["sst_mean_C"] <= values["sst_max_C"] <= 37


@pytest.mark.parametrize("table", ["awnings", "blinds"])
def test_solar_shares_leave_a_remainder(table: str) -> None:
    for row in rows(table):
        second = "absorptance" if table == "awnings" else "reflectance"
        assert 0 <= float(row["transmittance"]) + float(row[second]) <= 1
