"""The sheet itself: a wrong answer, a row that says too little and a page that is out of date are all refused."""

import json
import os
from dataclasses import asdict, replace

import pytest
from validation.gathering import RENEWING
from validation.page import merged, ordered, record, stale, written
from validation.sheet import MOST_OF_A_FAMILY, PAGE, Row, Sheet, counts, faults, read_page, stray

GOOD = Row("family", "quantity", "a book, table 1", 10.0, 10.0, "K", 10.4, 0.5, "printed to 1 K", "seen")
RANGE = replace(GOOD, low=8.0, high=12.0, ours=11.9, tolerance=0.0)
KNOWN = {"source": "a book", "unit": "K", "confidence": "seen"}


def _sheet(page: dict[tuple[str, str], Row] | None = None) -> Sheet:
    return Sheet("family", False, [], page)


def test_right_answers_agree() -> None:
    sheet = _sheet()
    sheet.value("value", 10.0, 10.5, within=0.5, because="printed to 1 K", **KNOWN)
    sheet.span("range", (8.0, 12.0), 8.0, **KNOWN)
    assert [row.verdict for row in sheet.rows] == ["agrees", "agrees"]


@pytest.mark.parametrize("ours", [9.4, 10.6, float("nan"), float("inf"), -10.0])
def test_a_wrong_value_fails_with_both_numbers(ours: float) -> None:
    with pytest.raises(AssertionError, match=rf"published 10 .* ours {ours:.6g}"):
        _sheet().value("value", 10.0, ours, within=0.5, because="printed to 1 K", **KNOWN)


@pytest.mark.parametrize("ours", [7.99, 12.01, float("nan")])
def test_a_value_outside_a_range_fails(ours: float) -> None:
    with pytest.raises(AssertionError, match="published 8 to 12"):
        _sheet().span("range", (8.0, 12.0), ours, **KNOWN)


def test_what_is_only_reported_is_not_judged() -> None:
    sheet = _sheet()
    sheet.span("range", (8.0, 12.0), 99.0, judged=False, **KNOWN)
    assert sheet.rows[0].verdict == "not judged"
    assert sheet.rows[0].difference == 87.0


def test_an_understood_difference_must_still_differ() -> None:
    sheet = _sheet()
    sheet.value("value", 10.0, 12.0, within=0.5, because="printed to 1 K", cause="another film", **KNOWN)
    assert sheet.rows[0].verdict == "differs"
    with pytest.raises(AssertionError, match="agrees now"):
        _sheet().value("value", 10.0, 10.1, within=0.5, because="printed to 1 K", cause="another film", **KNOWN)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"confidence": "certain"}, "confidence"), ({"source": ""}, "source"), ({"reason": ""}, "reason"),
        ({"tolerance": 0.0}, "needs a tolerance"), ({"low": 11.0}, "in order"),
    ],
)  # fmt: skip
def test_a_row_that_says_too_little_is_refused(change: dict[str, object], word: str) -> None:
    assert any(word in fault for fault in faults(replace(GOOD, **change)))  # type: ignore[arg-type]
    assert not faults(GOOD)


def test_a_quantity_stands_once() -> None:
    sheet = _sheet()
    sheet.value("value", 1.0, 1.0, within=0.1, because="printed", **KNOWN)
    with pytest.raises(AssertionError, match="twice"):
        sheet.value("value", 2.0, 2.0, within=0.1, because="printed", **KNOWN)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"tolerance": 0.6}, "another tolerance"), ({"reason": "why not"}, "another reason"),
        ({"ours": 10.46}, "is 10.46"), ({"high": 11.0}, "another high"), ({"count": 2}, "another count"),
        ({"ours": 11.0}, "'differs'"),
    ],
)  # fmt: skip
def test_a_row_must_be_as_the_page_says(change: dict[str, object], word: str) -> None:
    assert word in stray(replace(GOOD, **change), GOOD)  # type: ignore[arg-type]
    assert stray(replace(GOOD, ours=10.44, date="2025-01-01"), GOOD) == ""
    assert "not on the page" in stray(GOOD, None)


def test_a_range_may_stray_by_a_tenth_of_its_width() -> None:
    assert stray(replace(RANGE, ours=11.6), RANGE) == ""
    assert stray(replace(RANGE, ours=11.4), RANGE) != ""


def test_the_fixture_holds_rows_to_the_page() -> None:
    page = {GOOD.key: GOOD}
    told = {"within": 0.5, "because": "printed to 1 K", "source": "a book, table 1", "unit": "K", "confidence": "seen"}
    _sheet(page).value("quantity", 10.0, 10.41, **told)
    with pytest.raises(AssertionError, match=r"renew the page: python -m tests\.validation"):
        _sheet(page).value("quantity", 10.0, 10.2, **told)


def test_a_family_counts_no_more_than_its_share() -> None:
    rows = [replace(GOOD, quantity=str(i)) for i in range(50)] + [replace(GOOD, family="other", judged=False)]
    assert counts(rows)["family"] == {"checked": 50, "counted": MOST_OF_A_FAMILY}
    assert counts(rows)["other"] == {"checked": 0, "counted": 0}


def test_rows_survive_being_written() -> None:
    assert Row(**asdict(RANGE)) == RANGE


def test_a_renewed_page_keeps_what_cannot_be_made_here() -> None:
    far = replace(GOOD, quantity="far", needs_shared=True, date="2025-01-01")
    old = [replace(GOOD, date="2025-01-01"), far]
    assert merged([GOOD], old, "2026-01-01", shared=False) == ordered(old)
    assert merged([GOOD], old, "2026-01-01", shared=True) == [old[0]]
    moved = merged([replace(GOOD, ours=10.2)], old, "2026-01-01", shared=True)
    assert (moved[0].ours, moved[0].date) == (10.2, "2026-01-01")


def test_rows_nobody_makes_are_found() -> None:
    far = replace(GOOD, quantity="far", needs_shared=True)
    gone = replace(GOOD, quantity="gone")
    assert stale([GOOD], [GOOD, far, gone], shared=False) == ["family, gone"]
    assert stale([GOOD], [GOOD, far, gone], shared=True) == ["family, far", "family, gone"]
    assert stale([GOOD], [GOOD], shared=True) == []


def test_the_page_says_what_differs_and_keeps_every_row() -> None:
    odd = replace(GOOD, quantity="odd", ours=12.0, cause="another film")
    text, kept = written([GOOD, RANGE, odd]), json.loads(record([GOOD, RANGE, odd]))
    assert "**family, odd**: published 10 ± 0.5 K, ours 12.00. Another film." in text
    assert [Row(**row) for row in kept["rows"]] == ordered([GOOD, RANGE, odd])
    assert kept["counted"] == 3


@pytest.mark.skipif(RENEWING in os.environ, reason="the page is being renewed")
def test_the_written_page_is_the_written_record() -> None:
    assert PAGE.with_suffix(".md").read_text(encoding="utf-8") == written(read_page())
    assert PAGE.read_text(encoding="utf-8") == record(read_page())
