"""Lets these tests use the bad files of the tests beside; gives every test a small boat and a way to run commands."""

import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from terminal import BOX, Run

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "scenario"))


@pytest.fixture
def box(tmp_path: Path) -> Path:
    """A sound file of an invented boat with two quick zones."""
    file = tmp_path / "wagtail.yaml"
    file.write_text(BOX, encoding="utf-8")
    return file


@pytest.fixture
def run() -> Run:
    """A command in this process; a traceback fails the test."""
    from heatsim.cli import main

    def invoke(*words: object) -> Result:
        result = CliRunner().invoke(main, [str(word) for word in words])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        assert "Traceback" not in result.output
        return result

    return invoke


@pytest.fixture
def sketched(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures as a few bytes, all in this process: for tests of the folder, not of what is drawn."""
    monkeypatch.setattr("heatsim.report.worker.cores", lambda: 1)
    monkeypatch.setattr("heatsim.report.pictures.Drawing.png", lambda self: self.file.encode())
    monkeypatch.setattr("heatsim.report.running.all_round", lambda _: (np.arange(0.0, 360.0, 15.0), np.full(24, 1e3)))
