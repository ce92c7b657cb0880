"""A small invented study: one box of a boat, two months, two headings, one remedy, in several chunks."""

from __future__ import annotations

from pathlib import Path

import pytest

BOAT = """\
format: 1
yacht: {name: Wagtail, kind: sail, length: 9 m, beam: 3 m, persons: 2}
place: {region: CYC, month: 8, heading: 0 deg}
zones:
  saloon: {use: saloon, quick: {deck: main, length: 3 m, beam: 2.5 m, height: 2 m}}
  cabin: {quick: {deck: lower, length: 3 m, beam: 2.4 m, height: 1.9 m}}
"""
STUDY = """\
format: 1
study: Wagtail here and there
boat: wagtail.yaml
days: [hot, typical]
axes:
  region: [CYC, BVI]
  month: [7, 8]
  heading: [0 deg, 90 deg]
remedies:
  - {name: white decks, change: white decks, price: 500}
keep: hours
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """The study file, its boat beside it."""
    (tmp_path / "wagtail.yaml").write_text(BOAT, encoding="utf-8")
    file = tmp_path / "study.yaml"
    file.write_text(STUDY, encoding="utf-8")
    return file


@pytest.fixture
def small_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Chunks of one place: eight of them."""
    monkeypatch.setattr("heatsim.study.design.RUNS_AT_ONCE", 4)
