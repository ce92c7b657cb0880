"""`heatsim plan` with its checks: what a yard needs on one page."""

from __future__ import annotations

from pathlib import Path

from terminal import Run

from heatsim.report.plan_page import CAUTIONS


def test_the_page_says_what_a_yard_needs(run: Run, box: Path) -> None:
    result = run("plan", box)
    assert result.exit_code == 0
    assert result.stderr == ""
    for words in (
        "INVENTED", "Layouts side by side", "one a zone", "groups", "central plant", "(chosen)", "kVA", "price",
        "one unit lost", "nameplate", "entering", "duct", "proved best", "design days are held", "stands in the way",
    ):  # fmt: skip
        assert words in result.stdout, words
    flat = " ".join(result.stdout.split())
    for name, caution in CAUTIONS.items():
        if name != "heat":
            assert caution in flat, name
