"""One pack for all tests of it: the hostile demo boat, its choices not proved first."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hostile import Packed, hostile_file


@pytest.fixture(scope="session")
def packed(tmp_path_factory: pytest.TempPathFactory) -> Packed:
    """The pack, in both systems of units."""
    import heatsim
    from heatsim.equipment import steering

    folder = tmp_path_factory.mktemp("hostile")
    file = hostile_file(folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(steering, "check", lambda some, *_, **__: [replace(one, failures=()) for one in some])
        record = heatsim.pack(file, folder / "out", units="both")
    return Packed(folder / "out", file, record)
