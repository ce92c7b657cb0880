"""Lets every test import the builders that lie here; finds the open data beside the repository; counts checks;
plans one small boat for all tests of services."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from services.dipper import fitted, planned, proof  # noqa: F401
from validation.gathering import pytest_sessionfinish, pytest_terminal_summary, pytest_testnodedown  # noqa: F401

SHARED = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder of open weather files and measurements, kept beside the repository because of its size."""
    if not SHARED.is_dir():
        pytest.skip(f"open data sets are not at {SHARED}")
    return SHARED


@pytest.fixture(scope="module")
def unproved() -> Iterator[None]:
    """Plans of a module's tests take every choice as one that stands its proof: equipment/test_steering.py has the true
    thing, and test_plan_proved.py the command with it."""
    from heatsim.equipment import steering

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(steering, "check", lambda some, *_, **__: [replace(one, failures=()) for one in some])
        yield
