"""A study that is stopped at any write, or killed, ends as one that ran through; folders are guarded."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import heatsim
from heatsim.errors import HeatsimError
from heatsim.study.chunks import Chunk, Worker
from heatsim.study.design import Design
from heatsim.study.store import LOCK, MANIFEST, STORE

pytestmark = pytest.mark.usefixtures("small_chunks")


class StoppedError(Exception):
    """What ends a run at a boundary."""


def _stopping_at(number: int) -> tuple[list[str], object]:
    """The names of boundaries passed, and a watcher that stops at one of them."""
    passed: list[str] = []

    def boundary(name: str) -> None:
        passed.append(name)
        if len(passed) == number:
            raise StoppedError(name)

    return passed, boundary


def _content(folder: Path) -> dict[str, bytes]:
    """Every file of the store."""
    store = folder / STORE
    files = sorted(file for file in store.rglob("*") if file.is_file())
    return {file.relative_to(store).as_posix(): file.read_bytes() for file in files}


@pytest.fixture
def few(study: Path) -> Path:
    """Two chunks, one heading each, results only: a run of a second."""
    text = study.read_text(encoding="utf-8").replace("[CYC, BVI]", "[CYC]").replace("[7, 8]", "[8]")
    study.write_text(text.replace("keep: hours\n", ""), encoding="utf-8")
    return study


@pytest.fixture
def remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    """Chunks solved once and remembered: what is tried here is how they are kept."""
    solve, known = Worker.solve, {}

    def once(worker: Worker, number: int) -> Chunk:
        if number not in known:
            known[number] = solve(worker, number)
        return known[number]

    monkeypatch.setattr(Worker, "solve", once)


@pytest.mark.usefixtures("remembered")
@pytest.mark.parametrize("every", [9, pytest.param(1, marks=pytest.mark.slow)])
def test_stopped_at_every_write_it_ends_the_same(few: Path, tmp_path: Path, every: int) -> None:
    passed, watching = _stopping_at(0)
    heatsim.run_study(few, tmp_path / "whole", workers=1, boundary=watching)  # type: ignore[arg-type]
    whole, boundaries = _content(tmp_path / "whole"), len(passed)
    assert boundaries > 30  # made, listed, every variable of two chunks, their lines
    out = tmp_path / "out"
    for number in range(1, boundaries + 1, every):
        _, stopping = _stopping_at(number)
        with pytest.raises(StoppedError):
            heatsim.run_study(few, out, workers=1, boundary=stopping)  # type: ignore[arg-type]
        assert not (out / LOCK).exists()
        heatsim.run_study(few, out, workers=1)
        assert _content(out) == whole, passed[number - 1]
        _remove(out)


def _remove(folder: Path) -> None:
    import shutil

    shutil.rmtree(folder)


KILLED = """\
import os, signal, sys
import heatsim.study.design as design
from heatsim.study.run import run_study
design.RUNS_AT_ONCE = 4
left = [int(sys.argv[3])]
def boundary(name):
    left[0] -= 1
    if left[0] == 0:
        os.kill(os.getpid(), signal.SIGKILL)
run_study(sys.argv[1], sys.argv[2], workers=1, boundary=boundary)
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is not of that system")
def test_killed_it_ends_the_same(few: Path, tmp_path: Path) -> None:
    heatsim.run_study(few, tmp_path / "whole", workers=1)
    out = tmp_path / "out"
    for number in (4, 20, 10):  # in the first chunk, then in the second, then there again
        done = subprocess.run([sys.executable, "-c", KILLED, str(few), str(out), str(number)], check=False)
        assert done.returncode == -signal.SIGKILL
        assert (out / LOCK).exists()
    heatsim.run_study(few, out, workers=1)  # the lock of a process that is gone is taken over
    assert _content(out) == _content(tmp_path / "whole")


WITH_PROCESSES = """
import os, signal, sys
import heatsim.study.design as design
from heatsim import run_study
design.RUNS_AT_ONCE = 4
def boundary(name):
    if name.endswith(" line"):
        os.kill(os.getpid(), signal.SIGKILL)
run_study(sys.argv[1], sys.argv[2], workers=2, boundary=boundary)
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is not of that system")
def test_processes_end_with_the_run_that_is_killed(few: Path, tmp_path: Path) -> None:
    """Else they would wait for ever, and might write into the results of the run that goes on."""
    out = tmp_path / "out"
    command = [sys.executable, "-c", WITH_PROCESSES, str(few), str(out)]
    # Its processes hold its output open, so that nothing comes back before they have ended.
    killed = subprocess.run(command, check=False, capture_output=True, timeout=120)
    assert killed.returncode == -signal.SIGKILL
    heatsim.run_study(few, out, workers=1)
    heatsim.run_study(few, tmp_path / "whole", workers=1)
    assert _content(out) == _content(tmp_path / "whole")


def test_a_line_cut_short_counts_for_nothing(few: Path, tmp_path: Path) -> None:
    heatsim.run_study(few, tmp_path / "out", workers=1)
    whole = _content(tmp_path / "out")
    manifest = tmp_path / "out" / MANIFEST
    lines = manifest.read_bytes().splitlines(keepends=True)
    manifest.write_bytes(b"".join(lines[:-1]) + lines[-1][:5])
    heatsim.run_study(few, tmp_path / "out", workers=1)
    assert _content(tmp_path / "out") == whole
    assert manifest.read_bytes() == b"".join(lines)


def test_strays_are_swept(few: Path, tmp_path: Path) -> None:
    heatsim.run_study(few, tmp_path / "out", workers=1)
    whole = _content(tmp_path / "out")
    stray = tmp_path / "out" / STORE / "peak" / "c" / "9" / "9" / "left.partial"
    stray.parent.mkdir(parents=True)
    stray.write_bytes(b"half")
    heatsim.run_study(few, tmp_path / "out", workers=1)
    assert _content(tmp_path / "out") == whole


@pytest.mark.slow
def test_processes_give_the_same(few: Path, tmp_path: Path) -> None:
    heatsim.run_study(few, tmp_path / "one", workers=1)
    heatsim.run_study(few, tmp_path / "two", workers=2)
    assert _content(tmp_path / "one") == _content(tmp_path / "two")


def test_a_changed_input_is_refused_with_the_difference(few: Path, tmp_path: Path) -> None:
    heatsim.run_study(few, tmp_path / "out", workers=1)
    before = _content(tmp_path / "out")
    boat = few.parent / "wagtail.yaml"
    boat.write_text(boat.read_text(encoding="utf-8").replace("persons: 2", "persons: 3"), encoding="utf-8")
    with pytest.raises(HeatsimError, match=r"boat\.yacht\.persons was 2, is 3"):
        heatsim.run_study(few, tmp_path / "out", workers=1)
    boat.write_text(boat.read_text(encoding="utf-8").replace("persons: 3", "persons: 2"), encoding="utf-8")
    few.write_text(few.read_text(encoding="utf-8").replace("month: [8]", "month: [9]"), encoding="utf-8")
    with pytest.raises(HeatsimError, match=r"study.axes.month\[0\] was 8, is 9"):
        heatsim.run_study(few, tmp_path / "out", workers=1)
    assert _content(tmp_path / "out") == before


def test_other_draws_are_refused_with_the_difference(few: Path, tmp_path: Path) -> None:
    plain = few.read_text(encoding="utf-8")
    spread = "zones.saloon.setpoint: {uniform: [22 degC, 25 degC]}"
    few.write_text(plain + f"draws: {{count: 4, of: {{{spread}}}}}\n", encoding="utf-8")
    heatsim.run_study(few, tmp_path / "out", workers=1)
    few.write_text(plain + f"draws: {{count: 5, of: {{{spread}}}}}\n", encoding="utf-8")
    with pytest.raises(HeatsimError, match=r"study\.draws\.count was 4, is 5"):
        heatsim.run_study(few, tmp_path / "out", workers=1)
    more = f"{spread}, place.marina_offset: {{uniform: [0 K, 1 K]}}"
    few.write_text(plain + f"draws: {{count: 4, of: {{{more}}}}}\n", encoding="utf-8")
    with pytest.raises(HeatsimError, match=r"study\.draws\.of\.place\.marina_offset was absent"):
        heatsim.run_study(few, tmp_path / "out", workers=1)


def test_a_changed_catalogue_of_an_axis_is_refused(few: Path, tmp_path: Path) -> None:
    from heatsim.equipment.catalogue import DEMO
    from heatsim.tables.loader import FOLDER

    shipped = (FOLDER / f"{DEMO}.csv").read_text(encoding="utf-8")
    for name in ("one", "other"):
        (few.parent / f"{name}.csv").write_text(shipped, encoding="utf-8")
    text = few.read_text(encoding="utf-8")
    few.write_text(text.replace("axes:\n", "axes:\n  catalogue: [one.csv, other.csv]\n"), encoding="utf-8")
    heatsim.run_study(few, tmp_path / "out", workers=1)
    (few.parent / "other.csv").write_text("\n".join(shipped.splitlines()[:-1]), encoding="utf-8")
    with pytest.raises(HeatsimError, match=r"files\.other\.csv was"):
        heatsim.run_study(few, tmp_path / "out", workers=1)


def test_another_version_is_refused(few: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    heatsim.run_study(few, tmp_path / "out", workers=1)
    monkeypatch.setattr(heatsim, "__version__", "9.9.9")
    with pytest.raises(HeatsimError, match=r"version was .*, is"):
        heatsim.run_study(few, tmp_path / "out", workers=1)


def test_two_runs_on_one_folder(few: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / LOCK).write_text(json.dumps({"process": os.getpid(), "host": socket.gethostname()}), encoding="utf-8")
    with pytest.raises(HeatsimError, match=f"process {os.getpid()} on"):
        heatsim.run_study(few, out, workers=1)
    (out / LOCK).write_text(json.dumps({"process": 1, "host": "another"}), encoding="utf-8")
    with pytest.raises(HeatsimError, match="If that run is over, remove"):
        heatsim.run_study(few, out, workers=1)
    assert sorted(path.name for path in out.iterdir()) == [LOCK]


def test_a_store_of_others_is_not_touched(few: Path, tmp_path: Path) -> None:
    import zarr

    out = tmp_path / "out"
    zarr.open_group(str(out / STORE), mode="w").attrs["title"] = "somebody's"
    before = _content(out)
    with pytest.raises(HeatsimError, match="heatsim did not write"):
        heatsim.run_study(few, out, workers=1)
    assert _content(out) == before


@pytest.mark.skipif(sys.platform == "win32", reason="file-size limits are not of that system")
def test_a_full_disk_loses_no_finished_chunk(few: Path, tmp_path: Path) -> None:
    """A process whose files may not grow beyond some size stands for a disk that is full."""
    script = KILLED.replace("        os.kill(os.getpid(), signal.SIGKILL)\n", "        limit()\n").replace(
        "def boundary", "def limit():\n    import resource\n    resource.setrlimit(resource.RLIMIT_FSIZE, (1, 1))\n"
        "    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\ndef boundary")  # fmt: skip
    out = tmp_path / "out"
    done = subprocess.run(
        [sys.executable, "-c", script, str(few), str(out), "24"], check=False, capture_output=True, text=True
    )
    assert "the disk is full" in done.stderr
    assert "1 chunks are finished and kept" in done.stderr
    heatsim.run_study(few, tmp_path / "whole", workers=1)
    heatsim.run_study(few, out, workers=1)
    assert _content(out) == _content(tmp_path / "whole")


@pytest.mark.slow
def test_a_process_that_cannot_write_is_one_clear_error(few: Path, tmp_path: Path) -> None:
    """Processes write what they solved themselves; a file where a folder must be stands for what may go wrong."""
    out = tmp_path / "out"

    def in_the_way(name: str) -> None:
        if name == "created":
            (out / STORE / "peak" / "c").write_text("in the way", encoding="utf-8")

    with pytest.raises(HeatsimError, match="the output folder must be writable"):
        heatsim.run_study(few, out, workers=2, boundary=in_the_way)
    assert not (out / LOCK).exists()
    (out / STORE / "peak" / "c").unlink()
    heatsim.run_study(few, out, workers=2)
    heatsim.run_study(few, tmp_path / "whole", workers=1)
    assert _content(out) == _content(tmp_path / "whole")


def test_a_folder_that_cannot_be_written(few: Path, tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may write everywhere")
    shut = tmp_path / "shut"
    shut.mkdir(mode=0o500)
    with pytest.raises(HeatsimError, match="must be writable"):
        heatsim.run_study(few, shut / "out", workers=1)


def test_draws_are_kept_and_made_again_alike(few: Path, tmp_path: Path) -> None:
    few.write_text(
        few.read_text(encoding="utf-8") + "draws: {count: 4, seed: 5, of: {zones.saloon.setpoint: "
        "{uniform: [22 degC, 25 degC]}, place.marina_offset: {among: [0 K, 1 K]}}}\n", encoding="utf-8"
    )  # fmt: skip
    data = heatsim.run_study(few, tmp_path / "out", workers=1)
    again = Design.read(few).drawn
    assert np.allclose(data["drawn"].values, again, rtol=1e-12, atol=0.0)
    assert data["input"].values.tolist() == ["zones.saloon.setpoint", "place.marina_offset"]
    strata = np.sort(np.floor((again[:, 0] - 22.0) / (3.0 / 4.0)))
    assert strata.tolist() == [0.0, 1.0, 2.0, 3.0]  # one draw in each part of the hypercube
    warmer = data["mean"].sel(room="saloon", day="hot", remedy="as she is").isel(region=0, month=0, heading=0)
    order = np.argsort(again[:, 0])
    assert np.all(np.diff(warmer.values[order]) < 0.0)  # the higher the setpoint, the less cooling


def test_the_store_opens_in_xarray(few: Path, tmp_path: Path) -> None:
    heatsim.run_study(few, tmp_path / "out", workers=1)
    data = xr.open_zarr(tmp_path / "out" / STORE, consolidated=False)
    assert data["peak"].dims == ("remedy", "draw", "region", "month", "heading", "day", "room")
    assert data["peak"].attrs["units"] == "W"
    assert np.isfinite(data["peak"].values).all()


def _dies(number: int) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is not of that system")
def test_a_lost_worker_is_one_clear_error(few: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("heatsim.study.local._solve", _dies)
    with pytest.raises(HeatsimError, match="a worker process was lost; finished chunks are kept"):
        heatsim.run_study(few, tmp_path / "out", workers=2)
    monkeypatch.undo()
    assert not (tmp_path / "out" / LOCK).exists()
