"""Bad files and hostile changes end in exit 2 with one clear message a fault, and without output files."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from small_boat import SMALL, changed
from terminal import Run
from test_bad_files import BAD, UNFIT

BYTES = {
    "utf-16": SMALL.encode("utf-16"),
    "latin-1": SMALL.replace("Wren", "Gräns").encode("latin-1"),
    "binary": b"\x7fELF\x02\x01\x01\x00" + bytes(200),
    "zero byte": SMALL.encode() + b"\x00",
    "half a character": SMALL.encode() + b"# \xe2\x82",
    "escape": SMALL.replace("Wren", "\x1b[31mWren").encode(),
}
FILES = {name: case[0].encode() for name, case in (BAD | UNFIT).items()} | BYTES


def _judge(code: int, out: str, errors: str) -> None:
    assert code == 2
    assert out == ""
    assert "Traceback" not in errors
    lines = errors.strip().splitlines()
    assert len(lines) == 1, errors
    assert lines[0].startswith("error: ")
    assert len(lines[0]) < 600


@pytest.mark.parametrize("name", FILES)
def test_bad_file(run: Run, tmp_path: Path, name: str) -> None:
    file = tmp_path / "bad.yaml"
    file.write_bytes(FILES[name])
    result = run("loads", file, "--out", tmp_path / "OUT")
    _judge(result.exit_code, result.stdout, result.stderr)
    assert [p.name for p in tmp_path.iterdir()] == ["bad.yaml"]


def test_there_are_enough_bad_files() -> None:
    assert len(FILES) >= 40


@pytest.mark.parametrize("name", ["alias bomb", "binary", "missing unit"])
def test_bad_file_in_a_process_of_its_own(tmp_path: Path, name: str) -> None:
    file = tmp_path / "bad.yaml"
    file.write_bytes(FILES[name])
    words = [sys.executable, "-m", "heatsim", "loads", str(file), "--out", str(tmp_path / "OUT")]
    done = subprocess.run(words, capture_output=True, text=True, timeout=60, check=False)
    _judge(done.returncode, done.stdout, done.stderr)
    assert not (tmp_path / "OUT").exists()


def test_all_faults_at_once(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "bad.yaml"
    text = changed("area: 10 m2", "area: 10").replace("month: 8", "month: 13").replace("count: 4", "count: -4")
    file.write_text(text, encoding="utf-8")
    result = run("check", file)
    assert result.exit_code == 2
    lines = result.stderr.splitlines()
    assert [line.startswith("error: ") for line in lines] == [True, True, True, False]
    assert lines[-1].startswith("3 faults")


@pytest.mark.parametrize(
    "change",
    [
        "nonsense", "=3", "zones", "zones=", "zones=null", "zones[0]=1", "format=2", "a.b.c=1",
        "zones.saloon.setpoint=23", "zones.saloon.setpoint=23 K", "zones.saloon.setpoint.x=1",
        "zones.saloon.faces[99].area=1 m2", "zones.saloon.faces[-1].area=1 m2", "zones.saloon.faces[port].area=1 m2",
        "zones.saloon.setpoint=" + "[" * 5000, "zones.saloon.setpoint=23 degC\nevil: 1",
        "zones.saloon.setpoint=!!python/object:os.system x", "zones.saloon.setpoint=*x", "place.month=1e400",
        "yacht.persons=" + "9" * 400, "zones.saloon.floor_area=1e308 m2", "zones.saloon.floor_area=nan m2",
        "zones.saloon.volume=-0 m3", "zones.=1", "...=1", "zones.saloon.=1", "zones.saloonn.people=3",
    ],
)  # fmt: skip
def test_hostile_change(run: Run, tmp_path: Path, change: str) -> None:
    file = tmp_path / "wren.yaml"
    file.write_text(SMALL, encoding="utf-8")
    result = run("loads", file, "--set", change, "--out", tmp_path / "OUT")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith("error: ")
    assert not (tmp_path / "OUT").exists()
