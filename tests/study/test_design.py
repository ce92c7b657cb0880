"""What a study refuses before it runs because boat and axes do not go together."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from heatsim.errors import HeatsimError
from heatsim.study.design import Design

WEATHER = str(files("pvlib") / "data" / "12839.tm2")


@pytest.mark.parametrize(
    ("boat", "more", "words"),
    [
        (("month: 8", "months: [7, 8]"), "days: [hot]\n", "several days of one kind"),
        (("zones:", f"climate: {{weather_file: {WEATHER}}}\nzones:"), "axes: {month: [1, 7]}\n", "has all months"),
    ],
)
def test_months_are_asked_for_in_one_way(study: Path, boat: tuple[str, str], more: str, words: str) -> None:
    file = study.parent / "wagtail.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace(*boat), encoding="utf-8")
    study.write_text(f"format: 1\nstudy: months\nboat: wagtail.yaml\n{more}", encoding="utf-8")
    with pytest.raises(HeatsimError, match=words):
        Design.read(study)
