"""One pack for all tests of it: the small demo boat under names meant to do harm, its choices not proved first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

DEMO = Path(__file__).resolve().parents[2] / "scenarios"
HOSTILE = (
    '=HYPERLINK("http://bad.example","x")<script>alert(1)</script><img src=x onerror=alert(2)>"\'`&amp;{{7*7}}$x$ '
    "../../etc/passwd \u202eהפוך\u202c 🐦 " + "very long " * 20
)
"""A title that is a formula, a script, a broken picture, a template, a path, turned round, a bird, and long."""
ROOM = "תא אחורי & 'sons' +1"
"""A room in letters that run from right to left, with the signs that a name may bear."""


@dataclass(frozen=True)
class Packed:
    """A pack: its folder, the file it was made from, what the function returned."""

    folder: Path
    file: Path
    record: dict[str, Any]

    def text(self, name: str) -> str:
        """One of its files."""
        return (self.folder / name).read_text(encoding="utf-8")


def hostile_file(folder: Path) -> Path:
    """The demo boat with every free text turned against the reader."""
    text = (DEMO / "dunlin-11.yaml").read_text(encoding="utf-8")
    quoted = HOSTILE.replace("'", "''")
    text = text.replace("name: Dunlin 11", f"name: '{quoted}'")
    text = text.replace("region: ANU", "region: ANU\n  name: '<b>@SUM(A1)</b>'").replace("aft cabin", f'"{ROOM}"')
    file = folder / "=cmd <i>&.yaml"
    file.write_text(text, encoding="utf-8")
    return file


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
