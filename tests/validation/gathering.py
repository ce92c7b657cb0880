"""Hooks that gather the rows of a test run, from workers too, and print the count by family at its end.

tests/conftest.py takes them up: with several workers the conductor reads no other conftest. Where the environment names
a folder, the rows are left there for the page (see __main__.py).
"""

from __future__ import annotations

import json
import os
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest
from validation.sheet import Row, counts

ROWS = pytest.StashKey[list[Row]]()
FOLDER, RENEWING = "HEATSIM_VALIDATION_ROWS", "HEATSIM_VALIDATION_RENEWING"
"""Environment: a folder to leave the rows in; and, set to anything, that the page is being renewed."""


def gathered(config: pytest.Config) -> list[Row]:
    """The list of this run's rows."""
    return config.stash.setdefault(ROWS, [])


def pytest_sessionfinish(session: pytest.Session) -> None:
    rows = [asdict(row) for row in gathered(session.config)]
    if hasattr(session.config, "workeroutput"):
        session.config.workeroutput["validation"] = rows
    elif rows and FOLDER in os.environ:
        Path(os.environ[FOLDER], f"{os.getpid()}.json").write_text(json.dumps(rows), encoding="utf-8")


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    gathered(node.config).extend(Row(**row) for row in getattr(node, "workeroutput", {}).get("validation", ()))


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    rows = gathered(config)
    if not rows:
        return
    skipped = sum("validation" in report.nodeid for report in terminalreporter.stats.get("skipped", ()))
    families = counts(rows)
    terminalreporter.section("published values checked, by family")
    for family, count in families.items():
        terminalreporter.line(f"{count['checked']:5d}  {family}")
    total = sum(count["counted"] for count in families.values())
    terminalreporter.line(f"{total:5d}  counting no more than 30 of a family; {skipped} tests of them skipped")
