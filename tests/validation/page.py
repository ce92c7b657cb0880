"""The written page: docs/validation.md for readers, docs/validation.json for the checks, from one list of rows."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path

from .remarks import REMARKS
from .sheet import MOST_OF_A_FAMILY, RENEW, Row, counts

HEAD = f"""# How far heatsim agrees with what others published

Written by `{RENEW}` from the checks in tests/validation; do not edit. Every line below is a check
that runs with the tests: a number or a range that somebody outside this project published, where it stands, and what
heatsim gives. *Seen* means that the number was read in a copy of the source; *formula* that the source's formula was
evaluated anew, by hand or by a general library; *from memory* that it was recalled and not seen again. A tolerance is
given with its reason. *Agrees* and *differs* are judged; *not judged* is only reported.
"""


def written(rows: Iterable[Row]) -> str:
    """The page as text."""
    rows = ordered(rows)
    parts = [HEAD, *_poor(rows), *_count_table(rows)]
    for family in dict.fromkeys(row.family for row in rows):
        parts += _family([row for row in rows if row.family == family])
    return "\n".join(parts).rstrip() + "\n"


def record(rows: Iterable[Row]) -> str:
    """Counts and rows as JSON text, one row a line."""
    rows = ordered(rows)
    families = counts(rows)
    total = sum(count["counted"] for count in families.values())
    lines = ",\n  ".join(json.dumps(asdict(row), ensure_ascii=False) for row in rows)
    head = json.dumps(families, ensure_ascii=False)
    return f'{{"counted": {total},\n "families": {head},\n "rows": [\n  {lines}\n ]}}\n'


def ordered(rows: Iterable[Row]) -> list[Row]:
    """By family and quantity, so that the order of the tests does not move lines."""
    return sorted(rows, key=lambda row: (row.family, _natural(row.quantity)))


def _natural(text: str) -> list[tuple[float, str]]:
    """Numbers within a text in their own order, 8 h before 10 h."""
    parts = re.split(r"(\d+(?:\.\d+)?)", text)
    return [(float(part), "") if i % 2 else (0.0, part) for i, part in enumerate(parts)]


def anchor(family: str) -> str:
    """A family's name in links and file names."""
    return re.sub(r"[^a-z0-9-]", "", family.lower().replace(" ", "-"))


def digits(value: float, span: float) -> str:
    """A number to the second digit of `span` (its tolerance or the width of its range), but to no more than six."""
    if value == 0.0:
        return "0"
    first = math.floor(math.log10(abs(value)))
    last = max(math.floor(math.log10(span)) - 1 if span > 0.0 else first - 3, first - 5)
    return f"{value:.{max(-last, 0)}f}" if -7 <= last <= 3 else f"{value:.{max(first - last, 1) + 1}g}"


def published(row: Row) -> str:
    """The published value with its tolerance, or the range."""
    if row.is_range:
        return f"{row.low:.5g} … {row.high:.5g}"
    if not row.tolerance:
        return f"{row.low:.6g}"
    kept = max(1 - math.floor(math.log10(row.tolerance)), 0)
    return f"{round(row.low, kept):.8g} ± {row.tolerance:.2g}"


def scale(row: Row) -> float:
    """Half the width of what counts as agreement; a tenth of the value where nothing does."""
    half = (row.high - row.low) / 2.0 + row.tolerance
    return half or 0.1 * abs(row.low) or 1.0


def _poor(rows: list[Row]) -> list[str]:
    """Where agreement is poor, in plain words."""
    parts = ["## Where agreement is poor, or unproven\n"]
    differing = [row for row in rows if row.verdict == "differs"]
    if not differing:
        parts.append("No judged value differs.\n")
    for row in differing:
        parts.append(f"- **{row.family}, {row.quantity}**: published {published(row)} {row.unit}, ours "
                     f"{digits(row.ours, scale(row))}. {row.cause[0].upper()}{row.cause[1:]}.")  # fmt: skip
    for family in dict.fromkeys(row.family for row in rows):
        own = [row for row in rows if row.family == family]
        aside = [row for row in own if not row.judged and not row.inside]
        memory = sum(row.judged and row.confidence == "from memory" for row in own)
        says = [REMARKS[family]] if family in REMARKS else []
        if aside:
            says.append(
                f"{len(aside)} of {sum(not row.judged for row in own)} values that are only reported lie outside."
            )
        if memory:
            says.append(f"{memory} of {sum(row.judged for row in own)} judged values are from memory.")
        if says:
            parts.append(f"- **{family}**: {' '.join(says)}")
    return [*parts, ""]


def _count_table(rows: list[Row]) -> list[str]:
    families = counts(rows)
    total = sum(count["counted"] for count in families.values())
    parts = [
        "## How many values\n",
        f"{total} published values, counting no more than {MOST_OF_A_FAMILY} of a family.\n",
        "| family | judged | agree | differ | only reported | counted |",
        "|---|---:|---:|---:|---:|---:|",
    ]
    for family, count in families.items():
        own = [row for row in rows if row.family == family]
        tally = [sum(row.verdict == verdict for row in own) for verdict in ("agrees", "differs", "not judged")]
        name, judged = f"[{family}](#{anchor(family)})", tally[0] + tally[1]
        parts.append(f"| {name} | {judged} | {tally[0]} | {tally[1]} | {tally[2]} | {count['counted']} |")
    return [*parts, ""]


def _family(rows: list[Row]) -> list[str]:
    family = rows[0].family
    parts = [f"## {family}\n", f"![{family}: ours against published](pictures/validation-{anchor(family)}.png)\n"]
    parts += ["| quantity | source | published | ours | difference | unit | verdict | confidence |",
              "|---|---|---:|---:|---:|---|---|---|"]  # fmt: skip
    reasons: dict[str, list[str]] = {}
    for row in rows:
        span = scale(row)
        verdict = row.verdict + (f" ({row.date})" if row.needs_shared else "")
        cells = [row.quantity, row.source, published(row), digits(row.ours, span), _difference(row), row.unit]
        cells += [verdict, row.confidence]
        parts.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
        reasons.setdefault(row.reason, []).append(row.quantity)
    parts.append("\nTolerances and what else must be said:\n")
    for reason, quantities in reasons.items():
        shown = "; ".join(quantities[:3]) + (f"; and {len(quantities) - 3} more" if len(quantities) > 3 else "")
        parts.append(f"- {reason} ({shown})")
    return [*parts, ""]


def _difference(row: Row) -> str:
    """How far ours is from the value, or outside of the range."""
    return "inside" if row.is_range and row.inside else f"{row.difference:+.2g}"


def merged(new: list[Row], old: list[Row], today: str, shared: bool) -> list[Row]:
    """New rows dated; where the open data sets are absent, rows that need them stay as they were.

    A date moves only when the row does, so that renewing changes nothing where nothing changed.
    """
    before = {row.key: row for row in old}
    rows = []
    for row in new:
        last = before.get(row.key)
        if last is not None and not last.changed(row) and _rounded(last.ours) == _rounded(row.ours):
            rows.append(last)
        else:
            rows.append(Row(**(asdict(row) | {"date": today, "ours": _rounded(row.ours)})))
    known = {row.key for row in rows}
    if not shared:
        rows += [row for row in old if row.needs_shared and row.key not in known]
    return ordered(rows)


def _rounded(value: float) -> float:
    return float(f"{value:.10g}")


def stale(new: list[Row], old: list[Row], shared: bool) -> list[str]:
    """Rows of the page that no check makes any more."""
    made = {row.key for row in new}
    return [f"{row.family}, {row.quantity}" for row in old if row.key not in made and (shared or not row.needs_shared)]


def load(folder: Path) -> list[Row]:
    """Rows that test runs left in a folder."""
    rows = [
        Row(**row) for file in sorted(folder.glob("*.json")) for row in json.loads(file.read_text(encoding="utf-8"))
    ]
    return ordered({row.key: row for row in rows}.values())


def doubles(folder: Path) -> list[str]:
    """Keys that two checks of one run both made."""
    out = []
    for file in folder.glob("*.json"):
        keys = [(row["family"], row["quantity"]) for row in json.loads(file.read_text(encoding="utf-8"))]
        out += [f"{family}, {quantity}" for family, quantity in sorted({key for key in keys if keys.count(key) > 1})]
    return out
