"""Regions as people name them."""

import pytest
from small_boat import changed

from heatsim.errors import HeatsimError
from heatsim.scenario.listing import rows as listed
from heatsim.scenario.reading import read_text
from heatsim.scenario.regions import find_region, region_code
from heatsim.scenario.resolve import resolve
from heatsim.tables.loader import rows


@pytest.mark.parametrize(
    ("named", "code"),
    [("BAL", "BAL"), ("bal", "BAL"), ("balearic", "BAL"), ("Palma", "BAL"), ("Mallorca", "BAL"), ("naples", "NAP"),
     ("Antibes", "CAZ"), ("Palma de Mallorca", "BAL"), ("Stockholm archipelago", "STO")],
)  # fmt: skip
def test_code_of_a_name(named: str, code: str) -> None:
    assert region_code(named) == code


@pytest.mark.parametrize(
    ("named", "told"),
    [
        ("Plama", 'Did you mean "BAL"'),
        ("CYX", 'Did you mean "CYC"'),
        ("islands", "several regions.* BVI .* or ANU"),
        ("gulf", r"KWT \(North Arabian Gulf \(Kuwait\)\) or DXB"),
        ("Xanadu", "heatsim list regions"),
        ("", "does not exist"),
    ],
)
def test_other_names_are_answered(named: str, told: str) -> None:
    assert find_region(named) is None
    with pytest.raises(HeatsimError, match=told):
        region_code(named)


def test_every_harbour_lies_in_a_region_and_leads_there() -> None:
    codes = {row["region"] for row in rows("regions")}
    for row in rows("harbours"):
        assert row["region"] in codes
        assert region_code(row["harbour"]) == row["region"], row["harbour"]


def test_a_file_may_name_a_harbour() -> None:
    assert resolve(read_text(changed("region: CYC", "region: palma"))).place.name.startswith("Balearic")


def test_the_list_of_regions_is_found_by_harbours() -> None:
    assert [line[0] for line in listed("regions", "palma")[1]] == ["BAL"]
