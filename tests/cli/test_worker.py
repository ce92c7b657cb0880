"""The process beside the main one: the same pictures with it and without, and none of its troubles reach the user."""

from __future__ import annotations

import importlib
import math
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from terminal import Run

from heatsim.report.worker import NotDoneError, Worker, cores, result_or_here


def _pictures(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.glob("*.png"))}


@pytest.fixture
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("heatsim.report.worker.cores", lambda: 2)


@pytest.mark.usefixtures("two_cores")
def test_pictures_do_not_depend_on_where_they_are_drawn(
    run: Run, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("loads", box, "--out", tmp_path / "beside").exit_code == 0
    monkeypatch.setattr("heatsim.report.worker.cores", lambda: 1)
    assert run("loads", box, "--out", tmp_path / "here").exit_code == 0
    here = _pictures(tmp_path / "here")
    assert len(here) == 4
    assert here == _pictures(tmp_path / "beside")


@pytest.mark.usefixtures("two_cores")
def test_work_is_done_in_another_process() -> None:
    with Worker(True) as worker:
        assert worker.submit(os.getpid).result(60) != os.getpid()
        assert worker.submit(math.hypot, 3.0, 4.0).result(60) == 5.0
    assert cores() >= 1


@pytest.mark.usefixtures("two_cores")
@pytest.mark.parametrize(
    "call", [(os._exit, 3), (math.sqrt, -1.0), (importlib.import_module, "math")]
)  # no module can be sent
def test_what_dies_or_fails_beside_is_done_here(call: tuple[Callable[..., object], object]) -> None:
    with Worker(True) as worker:
        with pytest.raises(NotDoneError):
            worker.submit(*call).result(60)
        assert result_or_here(worker.submit(math.sqrt, 4.0), math.sqrt, 4.0) == 2.0


@pytest.mark.usefixtures("two_cores")
def test_where_no_process_may_start_pictures_are_drawn_here(
    run: Run, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def forbidden(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("multiprocessing.context.SpawnProcess.start", forbidden)
    result = run("loads", box, "--out", tmp_path / "OUT")
    assert result.exit_code == 0
    assert result.stderr == ""
    assert len(_pictures(tmp_path / "OUT")) == 4


def test_both_ways_of_starting_run_once(box: Path, tmp_path: Path) -> None:
    """A worker imports the file that was started; the run must not begin again in it."""
    script = tmp_path / "started"
    script.write_text("import sys\nfrom heatsim.cli import main\nif __name__ == '__main__':\n    sys.exit(main())\n")
    for start in (["-m", "heatsim"], [str(script)]):
        out = tmp_path / f"OUT{len(start)}"
        words = [sys.executable, *start, "loads", str(box), "--out", str(out)]
        folder = str(Path(__file__).resolve().parents[2])
        done = subprocess.run(
            words, capture_output=True, text=True, timeout=120, check=True, env=os.environ | {"PYTHONPATH": folder}
        )
        assert done.stderr == ""
        assert done.stdout.count("written to") == 1
        assert len(_pictures(out)) == 4
