"""The small demo boat under names meant to do harm, and what a pack of her is."""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

DEMO = Path(__file__).resolve().parents[2] / "scenarios"
PICTURE = DEMO.parent / "docs" / "pictures" / "study-charter-regions-regions.png"
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
    study(folder / "study's <b>", HOSTILE)
    text += "\nreport: {study: study's <b>}\n"
    file = folder / "=cmd <i>&.yaml"
    file.write_text(text, encoding="utf-8")
    return file


def study(folder: Path, boat: str, **changes: Any) -> Path:
    """A folder as a finished study leaves it, its words turned against the reader."""
    folder.mkdir()
    content = {
        "title": "=1+1</script><script>alert(3)</script>", "boat": boat, "runs": 6, "axes": {"region": [HOSTILE, "b"]},
        "by_place": [
            {"region": HOSTILE, "peak": 4000.0, "margin": -0.14}, {"region": "@b", "peak": 5000.0, "margin": None},
        ],
        "remedies": [{"remedy": "+foam", "peak": 600.0, "mean_peak": 360.0, "price": 2600}],
    } | changes  # fmt: skip
    (folder / "study.json").write_text(json.dumps(content), encoding="utf-8")
    shutil.copy(PICTURE, folder / "regions.png")
    (folder / "tornado.png").write_text("<script>alert(4)</script>", encoding="utf-8")
    return folder
