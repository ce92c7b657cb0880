"""The same study on a real local Dask cluster of several processes, one of which is killed on the way."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

import numpy as np
import pytest

import heatsim
from heatsim.errors import HeatsimError
from heatsim.study.design import Design

distributed = pytest.importorskip("distributed", reason="needs the extra cluster")

ROUND_OFF = 1e-12
"""Of the largest peak, across machines and processes."""


def test_nobody_at_the_address(study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("heatsim.study.cluster.SECONDS", 1)
    with pytest.raises(HeatsimError, match="no scheduler answers there"):
        heatsim.run_study(study, tmp_path / "out", scheduler="tcp://127.0.0.1:1")


@pytest.mark.slow
@pytest.mark.usefixtures("small_chunks")
@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is not of that system")
def test_a_cluster_gives_the_same_though_a_worker_is_killed(study: Path, tmp_path: Path) -> None:
    here = heatsim.run_study(study, tmp_path / "here", workers=1).load()
    assert len(Design.read(study).chunks()) == 8
    with distributed.LocalCluster(
        n_workers=3, threads_per_worker=1, processes=True, dashboard_address=None, memory_limit=None
    ) as cluster:
        victims = [worker.pid for worker in cluster.workers.values()]

        def watch(name: str) -> None:
            if name == "chunk 2 done":
                os.kill(victims[0], signal.SIGKILL)

        there = heatsim.run_study(
            study, tmp_path / "there", scheduler=cluster.scheduler_address, boundary=watch
        ).load()  # fmt: skip
    assert there.sizes == here.sizes
    for name, ours in here.data_vars.items():
        known = np.isfinite(ours.values)
        assert np.array_equal(known, np.isfinite(there[name].values)), name
        apart = np.abs(there[name].values - ours.values)[known].max(initial=0.0)
        assert apart <= ROUND_OFF * np.abs(ours.values[known]).max(initial=0.0), name
