"""Lets every test import the builders that lie here; finds the open data beside the repository; counts checks."""

from pathlib import Path

import pytest
from validation.gathering import pytest_sessionfinish, pytest_terminal_summary, pytest_testnodedown  # noqa: F401

SHARED = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder of open weather files and measurements, kept beside the repository because of its size."""
    if not SHARED.is_dir():
        pytest.skip(f"open data sets are not at {SHARED}")
    return SHARED
