"""Renew docs/validation.md, its JSON and its pictures from the checks: `python -m tests.validation`.

With `--stale` nothing is written: the rows of a run (left in FOLDER by HEATSIM_VALIDATION_ROWS, or run now) are held
against the page, and rows of the page that no check makes any more fail.
"""

from __future__ import annotations

import argparse
import datetime
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from .drawing import draw
from .page import anchor, doubles, load, merged, ordered, record, stale, written
from .sheet import PAGE, Row, counts, read_page

ROOT = PAGE.parents[1]
SHARED = ROOT.parent / "shared" / "data"


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.validation", description="Renew docs/validation.md.")
    parser.add_argument(
        "--stale", nargs="?", const="", metavar="FOLDER", help="only look for rows nobody makes any more"
    )
    parser.add_argument("-n", default="2", metavar="WORKERS", help="test processes (2)")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(chosen.stale or temporary)
        if not chosen.stale and not _run(folder, chosen.n, renewing=chosen.stale is None):
            print("validation: checks failed, the page stays as it is", file=sys.stderr)
            return 1
        rows = load(folder)
        twice = doubles(folder) if not chosen.stale else []
    if twice:
        print("validation: made by two checks:", *twice, sep="\n  ", file=sys.stderr)
        return 1
    if chosen.stale is not None:
        left = stale(rows, read_page(), SHARED.is_dir())
        if left:
            print("validation: on the page, but no check makes them any more:", *left, sep="\n  ", file=sys.stderr)
        return 1 if left else 0
    write(merged(rows, read_page(), datetime.date.today().isoformat(), SHARED.is_dir()))
    return 0


def _run(folder: Path, workers: str, renewing: bool) -> bool:
    environment = os.environ | {"HEATSIM_VALIDATION_ROWS": str(folder), "OMP_NUM_THREADS": "1"}
    if renewing:
        environment["HEATSIM_VALIDATION_RENEWING"] = "1"
    command = [sys.executable, "-m", "pytest", "-n", workers, "-m", "slow or not slow", "tests/validation"]
    return subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode == 0


def write(rows: list[Row]) -> None:
    """Page, record and pictures."""
    rows = ordered(rows)
    PAGE.write_text(record(rows), encoding="utf-8")
    PAGE.with_suffix(".md").write_text(written(rows), encoding="utf-8")
    pictures = PAGE.parent / "pictures"
    families = counts(rows)
    for old in pictures.glob("validation-*.png"):
        old.unlink()
    for family in families:
        draw([row for row in rows if row.family == family], pictures / f"validation-{anchor(family)}.png")
    total = sum(count["counted"] for count in families.values())
    print(f"validation: {len(rows)} rows, {total} published values counted, written to {PAGE.with_suffix('.md')}")


if __name__ == "__main__":
    sys.exit(main())
