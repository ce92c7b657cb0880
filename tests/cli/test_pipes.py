"""Commands as a shell runs them: closed pipes, colour."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(shutil.which("sh") is None, reason="no shell to make a pipe with")
HEATSIM = f'"{sys.executable}" -m heatsim'


def _shell(command: str, folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["sh", "-c", command], cwd=folder, capture_output=True, text=True, timeout=120, check=False,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).resolve().parents[2])} | environment,
    )  # fmt: skip


@pytest.mark.parametrize("words", ["", "--json"])
def test_a_closed_pipe_still_writes(box: Path, words: str) -> None:
    command = f"( {HEATSIM} loads {box.name} --out OUT --no-pictures {words}; echo $? > code ) | :"
    done = _shell(command, box.parent)
    assert done.stderr == ""
    assert (box.parent / "code").read_text().strip() == "0"
    assert {p.name for p in (box.parent / "OUT").iterdir()} == {
        "loads.nc",
        "hourly.csv",
        "summary.json",
        "heatsim.json",
    }


def test_the_first_line_only(box: Path) -> None:
    for command in ("schema", "list regions"):
        done = _shell(f"( {HEATSIM} {command}; echo $? > code ) | head -1", box.parent)
        assert done.stderr == ""
        assert (box.parent / "code").read_text().strip() == "0"


def test_no_colour_in_a_pipe_nor_where_it_is_unwanted(box: Path) -> None:
    plain = _shell(f"{HEATSIM} loads {box.name}", box.parent).stdout
    assert "block" in plain
    assert "\x1b" not in plain
    forced = _shell(f"{HEATSIM} loads {box.name}", box.parent, FORCE_COLOR="1", NO_COLOR="1").stdout
    assert "block" in forced
    # SGR 30-38, 40-48 and 90-107 are the colours of ECMA-48 8.3.117; bold and italics may stay.
    assert not re.search(r"\x1b\[(?:\d+;)*(?:3[0-8]|4[0-8]|9\d|10\d)[;m]", forced)
    assert re.search(r"\x1b\[[13]m", forced), "the run was forced to behave as in a terminal"
