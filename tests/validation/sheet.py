"""The record of published checks: a row is one published number or range, what we get, and how near it must be.

A check is made through the fixture `sheet` (conftest.py here), so that every published value that is tested also stands
on the written page, docs/validation.md, and nothing stands there that is not tested. The page is renewed by
`python -m tests.validation`; in any other run each row must agree with the row of the same key in docs/validation.json.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

PAGE = Path(__file__).resolve().parents[2] / "docs" / "validation.json"
RENEW = "python -m tests.validation"
MOST_OF_A_FAMILY = 30
"""Published values a family may bring to the total count; it may show more rows."""
CONFIDENCE = ("seen", "formula", "from memory", "common practice, no source")
HAIR = 1e-12
"""Relative; two sums of the same numbers in another order."""

ROUNDED = 1e-9
"""Relative; the page keeps ten figures."""


@dataclass(frozen=True)
class Row:
    """One published value or range (`low` = `high` for a value) and ours.

    `tolerance` is zero for a range. `judged` rows decide; others are only reported. A judged row with a `cause` is a
    disagreement that is understood: it must lie outside, and the page says why. `count` is how many published values
    the row stands for, 0 where another row has the same one already.
    """

    family: str
    quantity: str
    source: str
    low: float
    high: float
    unit: str
    ours: float
    tolerance: float
    reason: str
    confidence: str
    judged: bool = True
    needs_shared: bool = False
    count: int = 1
    cause: str = ""
    date: str = ""

    @property
    def key(self) -> tuple[str, str]:
        """What names the row on the page."""
        return self.family, self.quantity

    @property
    def is_range(self) -> bool:
        """Whether a range was published."""
        return self.low != self.high

    @property
    def inside(self) -> bool:
        """Whether ours agrees with what was published."""
        hair = HAIR * max(abs(self.low), abs(self.high))
        return self.low - self.tolerance - hair <= self.ours <= self.high + self.tolerance + hair

    @property
    def difference(self) -> float:
        """Ours less the published value, or how far outside the range."""
        return self.ours - min(max(self.ours, self.low), self.high)

    @property
    def verdict(self) -> str:
        """One of agrees, differs, not judged."""
        if not self.judged:
            return "not judged"
        return "agrees" if self.inside else "differs"

    @property
    def slack(self) -> float:
        """How far our value may stray from the written one: a tenth of the tolerance or of the range."""
        if self.is_range:
            return (self.high - self.low) / 10.0
        return self.tolerance / 10.0 or 0.01 * max(abs(self.low), abs(self.ours))

    def changed(self, other: Row) -> list[str]:
        """In what it differs from another row but for our value and its date; published values that are worked out here
        (a formula, a matrix) may differ by round-off, which hangs on the processor.
        """
        own, theirs = asdict(self), asdict(other)
        return [name for name in own if name not in ("ours", "date") and not _alike(own[name], theirs[name])]


def _alike(first: Any, second: Any) -> bool:
    if isinstance(first, float) and isinstance(second, float | int):
        return math.isclose(first, second, rel_tol=ROUNDED, abs_tol=1e-12)
    return bool(first == second)


def faults(row: Row) -> list[str]:
    """What is wrong with a row itself: our value, or a record that says too little."""
    wrong = []
    if not (math.isfinite(row.ours) and math.isfinite(row.low) and math.isfinite(row.high) and row.low <= row.high):
        wrong.append("numbers must be finite and the range in order")
    if row.confidence not in CONFIDENCE:
        wrong.append(f"confidence must be one of {', '.join(CONFIDENCE)}")
    if not (row.source and row.unit and row.quantity and row.reason):
        wrong.append("quantity, source, unit and the reason of the tolerance must be given")
    if row.judged and row.tolerance == 0.0 and not row.is_range:
        wrong.append("a judged value needs a tolerance")
    if row.cause and row.inside:
        wrong.append("agrees now: take away the cause of its difference")
    if row.judged and not row.inside and not row.cause:
        wrong.append("differs")
    return wrong


def described(row: Row) -> str:
    """A row in one line, with both numbers."""
    published = f"{row.low:.6g} to {row.high:.6g}" if row.is_range else f"{row.low:.6g} ± {row.tolerance:.3g}"
    return f"{row.family}, {row.quantity}: published {published} {row.unit} ({row.source}), ours {row.ours:.6g}"


def stray(row: Row, written: Row | None) -> str:
    """Why a row is not as the page says; empty where it is."""
    if written is None:
        return "is not on the page"
    changed = row.changed(written)
    if changed:
        return f"has another {', '.join(changed)} than the page"
    if row.verdict != written.verdict:
        return f"has the verdict '{row.verdict}' where the page says '{written.verdict}'"
    if abs(row.ours - written.ours) > row.slack + ROUNDED * abs(row.ours):
        return f"is {row.ours:.8g} where the page says {written.ours:.8g}"
    return ""


def read_page(path: Path = PAGE) -> list[Row]:
    """Rows of the written page, none where there is no page yet."""
    if not path.is_file():
        return []
    return [Row(**row) for row in json.loads(path.read_text(encoding="utf-8"))["rows"]]


def counts(rows: Iterable[Row]) -> dict[str, dict[str, int]]:
    """Published values by family: all judged, and those that count."""
    judged: Counter[str] = Counter()
    families = []
    for row in rows:
        families.append(row.family)
        judged[row.family] += row.count if row.judged else 0
    return {
        family: {"checked": judged[family], "counted": min(judged[family], MOST_OF_A_FAMILY)}
        for family in sorted(set(families))
    }


class Sheet:
    """What a test fills in; `rows` gathers them for the page.

    `page` is None where the page is being renewed and nothing is held against it.
    """

    def __init__(self, family: str, needs_shared: bool, rows: list[Row], page: dict[tuple[str, str], Row] | None):
        self.family, self.needs_shared, self.rows, self.page = family, needs_shared, rows, page

    def value(
        self, quantity: str, published: float, ours: float, *, within: float, because: str, source: str, unit: str,
        confidence: str, judged: bool = True, count: int = 1, cause: str = "",
    ) -> None:  # fmt: skip
        """Hold our value to a published one."""
        self._check(Row(
            self.family, quantity, source, float(published), float(published), unit, float(ours), float(within),
            because, confidence, judged, self.needs_shared, count, cause,
        ))  # fmt: skip

    def span(
        self, quantity: str, published: tuple[float, float], ours: float, *, source: str, unit: str, confidence: str,
        because: str = "the range as published", judged: bool = True, count: int = 1, cause: str = "",
    ) -> None:  # fmt: skip
        """Hold our value to a published range."""
        self._check(Row(
            self.family, quantity, source, float(published[0]), float(published[1]), unit, float(ours), 0.0,
            because, confidence, judged, self.needs_shared, count, cause,
        ))  # fmt: skip

    def _check(self, row: Row) -> None:
        assert row.key not in {other.key for other in self.rows}, f"{described(row)}: stands on the sheet twice"
        self.rows.append(row)
        wrong = faults(row)
        assert not wrong, f"{described(row)}: {'; '.join(wrong)}"
        if self.page is not None:
            problem = stray(row, self.page.get(row.key))
            assert not problem, f"{described(row)}: {problem}; if that is right, renew the page: {RENEW}"
