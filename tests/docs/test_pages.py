"""Pages of docs/ that are made from the code are current, links lead somewhere, every block says what it is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import reference_pages

DOCS = Path(__file__).resolve().parents[2] / "docs"
PAGES = [*sorted(DOCS.glob("*.md")), DOCS.parent / "README.md"]
FENCES = {"bash", "python", "text", "yaml", "sh", "csv"}
"""Languages of blocks: bash and python run in test_code_blocks.py, sh is README's own, the others are to be read."""


@pytest.mark.parametrize("name", sorted(reference_pages.PAGES))
def test_generated_pages_are_current(name: str) -> None:
    found = (DOCS / name).read_text(encoding="utf-8")
    assert found == reference_pages.PAGES[name](), "run: python tests/reference_pages.py"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_links_lead_to_files(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text):
        if not re.match(r"[a-z]+:", target):
            assert (page.parent / target).exists(), target


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_blocks_say_what_they_are(page: Path) -> None:
    fences = re.findall(r"^```(.*)$", page.read_text(encoding="utf-8"), re.M)
    assert len(fences) % 2 == 0
    assert set(fences[::2]) <= FENCES
    assert set(fences[1::2]) <= {""}


def test_every_key_of_a_zone_is_on_the_page_of_keys() -> None:
    from heatsim.scenario.rooms import QuickText, ZoneText

    page = (DOCS / "reference.md").read_text(encoding="utf-8")
    for path, model in (("zones.NAME", ZoneText), ("zones.NAME.quick", QuickText)):
        section = page.split(f"### `{path}`\n")[1].split("\n##")[0]
        assert re.findall(r"^\| `(\w+)`", section, re.M) == list(model.model_fields)


def test_the_tutorials_boat_is_drawn_whole() -> None:
    """Its rooms are in the picture that the page shows."""
    import xml.etree.ElementTree as ET

    root = ET.fromstring((DOCS / "pictures" / "lapwing-24-decks.svg").read_text(encoding="utf-8"))
    words = " ".join(str(element.text) for element in root.iter() if element.tag.endswith("text"))
    rooms = re.findall(r"^([a-z ]+),[a-z ]+,(?:lower|main)", (DOCS / "tutorial-designer.md").read_text("utf-8"), re.M)
    assert len(rooms) == 8
    assert [room for room in rooms if any(part not in words for part in room.split())] == []
