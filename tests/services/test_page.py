"""The page about services: what it says a file may hold, a file may hold."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from heatsim.scenario import tree
from heatsim.scenario.power import Supply
from heatsim.scenario.services import Services

DOCS = Path(__file__).resolve().parents[2] / "docs"
PAGE = (DOCS / "services.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)


@pytest.mark.parametrize("block", BLOCKS, ids=range(len(BLOCKS)))
def test_examples_of_the_file_are_read(block: str) -> None:
    given = tree.parse(block, "docs/services.md").value
    assert set(given) <= {"services", "supply"}
    Services.model_validate(given.get("services", {}))
    Supply.model_validate(given.get("supply", {}))


def test_handbook_checks_stand_on_the_validation_page() -> None:
    """At least 25 of heatsim's own friction, sea water, banks and cables, the trade's own facts not counted."""
    counted = json.loads((DOCS / "validation.json").read_text(encoding="utf-8"))["families"]
    families = ("friction in ducts and pipes", "sea water", "power and people", "schedules of services")
    assert all(counted[family]["checked"] >= 10 for family in families)
    assert sum(counted[family]["counted"] for family in families) >= 25
    assert counted["services by the trade"]["checked"] >= 8


def test_the_page_has_examples_of_both_parts() -> None:
    assert any("ducts:" in block for block in BLOCKS)
    assert any("battery:" in block for block in BLOCKS)
