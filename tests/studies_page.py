"""Renews the pictures of docs/studies.md. Give a folder to keep the results in; a stopped run goes on there."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from heatsim.report.study_pictures import study_drawings
from heatsim.study.design import Design
from heatsim.study.run import open_study, run_study

ROOT = Path(__file__).resolve().parents[1]
PICTURES = ROOT / "docs" / "pictures"
HELP = """\
format: 1
study: Dunlin 11 on an Arabian Gulf summer, what would help
boat: dunlin-11.yaml
days: [hot, humid, typical]
axes: {region: [DXB], month: [6, 7, 8, 9]}
remedies:
  - {name: awning, change: awning over bare decks, price: 900}
  - {name: film, change: neutral film on glass, price: 350}
  - {name: white decks, change: white decks, price: 1200}
  - {name: foam, change: 25 mm foam inside, price: 2600}
combine: every
units: installed
"""
WANTED = {
    "charter-regions": ("regions.png", "headings.png", "duration.png"),
    "gulf-summer": ("waterfall.png",),
    "uncertain-dunlin": ("certainty.png", "tornado.png"),
}


def renew(kept: Path) -> None:
    """Run what is not there yet and draw what the page shows."""
    kept.mkdir(parents=True, exist_ok=True)
    for file in (ROOT / "scenarios").glob("*.yaml"):
        shutil.copy(file, kept)
    (kept / "gulf-summer.yaml").write_text(HELP, encoding="utf-8")
    for study, wanted in WANTED.items():
        file, out = kept / f"{study}.yaml", kept / study
        run_study(file, out)
        for drawing in study_drawings(Design.read(file), open_study(out), "si"):
            if drawing.file in wanted:
                (PICTURES / f"study-{study}-{drawing.file}").write_bytes(drawing.png())


if __name__ == "__main__":
    if len(sys.argv) > 1:
        renew(Path(sys.argv[1]))
    else:
        with TemporaryDirectory() as folder:
            renew(Path(folder))
