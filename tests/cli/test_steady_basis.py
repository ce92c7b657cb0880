"""`heatsim loads` on the steady ship-standard basis: table, files, and its own caution."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from heatsim.cli import main

SCENARIO = Path(__file__).resolve().parents[2] / "scenarios" / "dunlin-11.yaml"


def _run(*words: str) -> tuple[int, str]:
    done = CliRunner().invoke(main, ["loads", str(SCENARIO), *words])
    return done.exit_code, done.output


def test_table_and_files(tmp_path: Path) -> None:
    code, output = _run("--set", "basis=ship-standard-2002", "--out", str(tmp_path / "OUT"))
    assert code == 0
    assert "boat" in output
    assert "from memory" in output
    with (tmp_path / "OUT" / "ship-standard.csv").open() as stream:
        rows = list(csv.DictReader(stream))
    zones = [float(row["total"]) for row in rows[:-1]]
    assert rows[-1]["zone"] == "boat"
    assert float(rows[-1]["total"]) == pytest.approx(sum(zones), rel=1e-4)
    assert _run("--set", "basis=ship-standard-2002", "--out", str(tmp_path / "OUT"))[0] == 2


def test_one_json_object() -> None:
    code, output = _run("--set", "basis=ship-standard-2002 by layers", "--json")
    assert code == 0
    summary = json.loads(output)
    assert summary["basis"] == "ship-standard-2002 by layers"
    assert summary["spaces"]["boat"]["sun_from"] is None


def test_a_basis_nobody_knows() -> None:
    code, output = _run("--set", "basis=ship-standard-2022")
    assert code == 2
    assert "ship-standard-2002" in output
