"""What `loads --out` writes and what it never touches."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from terminal import BOX, Run, snapshot

import heatsim
from heatsim.loads.variables import VARIABLES
from heatsim.report.output import ours
from heatsim.report.pictures import picture_names

WRITTEN = {"loads.nc", "hourly.csv", "summary.json", "block.png", "headings.png", "zone-saloon.png", "zone-cabin.png",
           "heatsim.json"}  # fmt: skip


def test_what_is_written(run: Run, box: Path, tmp_path: Path) -> None:
    out = tmp_path / "new" / "OUT"
    result = run("loads", box, "--out", out, "--set", "zones.saloon.setpoint=23 degC")
    assert result.exit_code == 0
    assert {p.name for p in out.iterdir()} == WRITTEN
    assert json.loads((out / "heatsim.json").read_text(encoding="utf-8"))["files"] == sorted(WRITTEN - {"heatsim.json"})
    for picture in out.glob("*.png"):
        assert picture.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"  # the PNG signature, ISO/IEC 15948 5.2
    with xr.open_dataset(out / "loads.nc") as loads:
        assert json.loads(loads.attrs["overrides"]) == ["zones.saloon.setpoint=23 degC"]


def test_loads_nc_has_the_names_dims_and_units_of_the_table(run: Run, box: Path, tmp_path: Path) -> None:
    run("loads", box, "--out", tmp_path / "OUT", "--no-pictures")
    memory = heatsim.simulate(heatsim.resolve(heatsim.read(box)))
    with xr.open_dataset(tmp_path / "OUT" / "loads.nc") as disk:
        for variable in VARIABLES:
            if variable.name not in memory:
                continue
            data = disk[variable.name]
            front = ("day", "heading") if "time" in variable.dims else ("day",)
            assert data.dims == (*front, *variable.dims)
            assert data.attrs["units"] == variable.units
            np.testing.assert_array_equal(data.values, memory[variable.name].values)
        assert {variable.name for variable in VARIABLES} >= set(disk.data_vars)
        np.testing.assert_array_equal(disk["time"].values, memory["time"].values)
        assert disk["time"].attrs["bounds"] == "time_bounds"  # CF-1.11, 7.1
        assert disk["time_bounds"].dims == ("time", "bounds")
        assert str(disk["zone"].values[0]) == "saloon"


def test_hourly_csv_is_the_data_set(run: Run, box: Path, tmp_path: Path) -> None:
    run("loads", box, "--out", tmp_path / "OUT", "--no-pictures")
    table = pd.read_csv(tmp_path / "OUT" / "hourly.csv")
    with xr.open_dataset(tmp_path / "OUT" / "loads.nc") as loads:
        assert len(table) == loads.sizes["day"] * loads.sizes["heading"] * loads.sizes["time"] * loads.sizes["zone"]
        for name, unit in (("sensible_cooling", "W"), ("air_temperature", "degC"), ("relative_humidity", "1")):
            assert loads[name].attrs["units"] == unit
            column = table.pivot(index="time", columns="zone", values=f"{name}_{unit}")[list(loads["zone"].values)]
            # Six digits in the file.
            np.testing.assert_allclose(column.values, loads[name].values[0, 0], rtol=1e-5, atol=1e-6)


def test_summary_agrees_with_the_data_set(run: Run, box: Path, tmp_path: Path) -> None:
    run("loads", box, "--out", tmp_path / "OUT", "--no-pictures")
    block = json.loads((tmp_path / "OUT" / "summary.json").read_text(encoding="utf-8"))["days"]["hot"]["zones"]["block"]
    with xr.open_dataset(tmp_path / "OUT" / "loads.nc") as loads:
        total = (loads["sensible_cooling"] + loads["latent_cooling"]).sum("zone")
        assert block["total"] == pytest.approx(float(total.max()), rel=1e-12)


@pytest.mark.usefixtures("sketched")
def test_a_second_run_refuses_and_leaves_the_first(run: Run, box: Path, tmp_path: Path) -> None:
    out = tmp_path / "OUT"
    run("loads", box, "--out", out)
    before = snapshot(out)
    again = run("loads", box, "--out", out)
    assert again.exit_code == 2
    assert "--force" in again.stderr
    assert snapshot(out) == before


@pytest.mark.usefixtures("sketched")
def test_force_replaces_ours_and_removes_what_is_stale(run: Run, box: Path, tmp_path: Path) -> None:
    out = tmp_path / "OUT"
    run("loads", box, "--out", out)
    (out / "notes.txt").write_text("keep", encoding="utf-8")
    (out / "zone-aft.png").write_text("keep", encoding="utf-8")
    done = run("loads", box, "--out", out, "--force", "--no-pictures", "--set", "zones.saloon.setpoint=20 degC")
    assert done.exit_code == 0
    assert {p.name for p in out.iterdir()} == {
        "loads.nc", "hourly.csv", "summary.json", "heatsim.json", "notes.txt", "zone-aft.png",
    }  # fmt: skip
    assert (out / "notes.txt").read_text(encoding="utf-8") == "keep"


@pytest.mark.parametrize("force", [(), ("--force",)])
@pytest.mark.parametrize("name", sorted(WRITTEN))
def test_a_foreign_file_of_our_name_is_never_replaced(
    run: Run, box: Path, tmp_path: Path, name: str, force: tuple[str, ...]
) -> None:
    out = tmp_path / "OUT"
    out.mkdir()
    (out / name).write_text('{"files": ["loads.nc"]}', encoding="utf-8")
    (out / "thesis.txt").write_text("years of work", encoding="utf-8")
    before = snapshot(out)
    result = run("loads", box, "--out", out, *force)
    assert result.exit_code == 2
    assert "never replaced" in result.stderr
    assert snapshot(out) == before


@pytest.mark.parametrize("force", [(), ("--force",)])
def test_out_here(run: Run, box: Path, tmp_path: Path, force: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    """`--out .` in a folder with the scenario and other files."""
    (tmp_path / "thesis.txt").write_text("years of work", encoding="utf-8")
    before = snapshot(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert run("loads", box, "--out", ".", "--no-pictures", *force).exit_code == 0
    after = snapshot(tmp_path)
    assert {name: after[name] for name in before} == before
    assert set(after) - set(before) == {"loads.nc", "hourly.csv", "summary.json", "heatsim.json"}


@pytest.mark.parametrize(
    "manifest",
    [
        '{"written by": "heatsim", "files": ["..", ".", "", "/etc/passwd", "../thesis.txt", "sub", 5, null]}',
        '{"written by": "heatsim", "files": 5}',
        '{"written by": "someone", "files": ["thesis.txt"]}',
        "[1]",
        "\x00",
        "[" * 5000,
    ],
)
def test_a_doctored_list_of_files(run: Run, box: Path, tmp_path: Path, manifest: str) -> None:
    out = tmp_path / "OUT"
    (out / "sub").mkdir(parents=True)
    (out / "sub" / "kept.txt").write_text("kept", encoding="utf-8")
    (tmp_path / "thesis.txt").write_text("years of work", encoding="utf-8")
    (out / "thesis.txt").write_text("years of work", encoding="utf-8")
    (out / "heatsim.json").write_text(manifest, encoding="utf-8")
    before = snapshot(tmp_path)
    run("loads", box, "--out", out, "--force", "--no-pictures")
    after = snapshot(tmp_path)
    assert {k: v for k, v in before.items() if k != "OUT/heatsim.json"}.items() <= after.items()


def test_a_link_is_not_followed(run: Run, box: Path, tmp_path: Path) -> None:
    out = tmp_path / "OUT"
    out.mkdir()
    (tmp_path / "thesis.txt").write_text("years of work", encoding="utf-8")
    (out / "loads.nc").symlink_to(tmp_path / "thesis.txt")
    assert run("loads", box, "--out", out, "--force", "--no-pictures").exit_code == 2
    assert (tmp_path / "thesis.txt").read_text(encoding="utf-8") == "years of work"
    assert (out / "loads.nc").is_symlink()


@pytest.mark.usefixtures("sketched")
@pytest.mark.parametrize("broken", ["heatsim.report.pictures.Drawing.png", "pandas.DataFrame.to_csv"])
def test_a_failed_run_leaves_the_folder_as_it_was(
    run: Run, box: Path, tmp_path: Path, broken: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "OUT"
    run("loads", box, "--out", out)
    before = snapshot(out)

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(broken, full)
    result = run("loads", box, "--out", out, "--force")
    assert result.exit_code == 2
    assert "No space left on device" in result.stderr
    assert snapshot(out) == before
    assert run("loads", box, "--out", tmp_path / "a" / "b").exit_code == 2
    assert not (tmp_path / "a").exists()


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="the owner of the machine may write anywhere")
def test_a_folder_that_may_not_be_written(run: Run, box: Path, tmp_path: Path) -> None:
    out = tmp_path / "OUT"
    out.mkdir(mode=0o500)
    result = run("loads", box, "--out", out, "--no-pictures")
    assert result.exit_code == 2
    assert "must be writable" in result.stderr


def test_out_that_is_a_file_or_below_one(run: Run, box: Path, tmp_path: Path) -> None:
    for out in (box, box / "OUT"):
        before = box.read_bytes()
        assert run("loads", box, "--out", out, "--no-pictures").exit_code == 2
        assert box.read_bytes() == before


@pytest.mark.usefixtures("sketched")
def test_zone_names_give_safe_distinct_pictures(run: Run, tmp_path: Path) -> None:
    names = ["a/b", "A-B", "a b", "каюта", "客室", "guest's", "guest s"]
    zones = "".join(
        f"  {json.dumps(name, ensure_ascii=False)}:\n    quick: {{deck: main, length: 2 m, beam: 2 m, height: 2 m}}\n"
        for name in names
    )
    file = tmp_path / "names.yaml"
    file.write_text(BOX[: BOX.index("zones:")] + "zones:\n" + zones, encoding="utf-8")
    assert run("loads", file, "--out", tmp_path / "OUT").exit_code == 0
    pictures = [path.name for path in (tmp_path / "OUT").glob("*.png")]
    assert len(pictures) == len({name.lower() for name in pictures}) == len(names) + 2  # with the block and the rose
    assert all(re.fullmatch(r"[a-z0-9-]+\.png", name) for name in pictures)
    assert {p.name for p in tmp_path.iterdir()} == {"OUT", "names.yaml"}


@pytest.mark.parametrize(
    "name", ["../x", "..", "a\\b", "-rf", "a\nb", "", "x" * 61, "block", "Sea", "[/b]", "a:b", "a$b"]
)
def test_zone_names_that_are_refused(run: Run, tmp_path: Path, name: str) -> None:
    file = tmp_path / "names.yaml"
    file.write_text(BOX.replace("  cabin:", f"  {json.dumps(name)}:"), encoding="utf-8")
    result = run("loads", file, "--out", tmp_path / "OUT")
    assert result.exit_code == 2
    assert result.stderr.count("error: ") == 1
    assert not (tmp_path / "OUT").exists()


def test_picture_names_of_hostile_names() -> None:
    found = picture_names(["../..", "con", "a", "A", "a-2", "é", "ü", "2"])
    assert len(set(found.values())) == 8
    assert all(re.fullmatch(r"zone(-[a-z0-9]+)*\.png", name) for name in found.values())


def test_ours_reads_only_a_list_of_names(tmp_path: Path) -> None:
    (tmp_path / "heatsim.json").write_text('{"written by": "heatsim", "files": ["loads.nc", "../a"]}', encoding="utf-8")
    assert ours(tmp_path) == {"loads.nc", "heatsim.json"}
