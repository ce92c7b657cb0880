"""What the tests of commands share: an invented boat, the type of the runner, and a look at a folder."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from click.testing import Result

BOX = """\
format: 1
yacht: {name: Wagtail, length: 8 m, persons: 2}
place: {region: CYC, month: 8, berth: alongside, heading: 90 deg}
climate: {days: [hot]}
zones:
  saloon:
    use: saloon
    setpoint: 24 degC
    quick: {deck: main, length: 3 m, beam: 2.5 m, height: 2 m}
  cabin:
    quick: {deck: main, length: 2 m, beam: 2 m, height: 2 m}
"""

Run = Callable[..., Result]


def snapshot(folder: Path) -> dict[str, bytes]:
    """Every file below a folder, with its content."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}
