"""The sheet on which every test of this folder enters its published values."""

import os

import pytest
from validation.gathering import RENEWING, gathered
from validation.sheet import PAGE, Sheet, read_page


@pytest.fixture
def sheet(request: pytest.FixtureRequest) -> Sheet:
    """Sheet of the test's family; tests that ask for `shared_data` mark their rows as needing the open data sets."""
    page = None
    if RENEWING not in os.environ and PAGE.is_file():
        page = {row.key: row for row in read_page()}
    needs_shared = "shared_data" in request.fixturenames
    return Sheet(request.module.FAMILY, needs_shared, gathered(request.config), page)
