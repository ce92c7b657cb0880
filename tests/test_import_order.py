"""A line of the layout may import only lines above it, and a light start stays light."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import heatsim

PACKAGE = Path(heatsim.__file__).parent
ORDER = (
    "errors", "tables", "physics", "scenario", "climate", "network", "solve", "loads", "equipment", "services", "study",
    "studies", "report", "handover", "cli",
)  # fmt: skip
HEAVY = ("pvlib", "scipy", "matplotlib", "xarray", "numba", "pandas")


def _line(module: str) -> int | None:
    parts = module.split(".")
    if parts[0] != "heatsim" or len(parts) == 1:
        return None
    return ORDER.index(parts[1])


def _imports(source: str) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.append(node.module)
    return found


def _upward(module: str, source: str) -> list[str]:
    own = _line(module)
    assert own is not None
    return [name for name in _imports(source) if (line := _line(name)) is not None and line > own]


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_only_from_above(path: Path) -> None:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    if parts in (("__init__",), ("__main__",)):
        return
    assert _upward(".".join(("heatsim", *parts)), path.read_text()) == []


def test_the_check_sees_an_import_from_below() -> None:
    assert _upward("heatsim.physics.films", "from heatsim.solve import forms") == ["heatsim.solve"]


def test_every_folder_of_the_package_is_in_the_wheel() -> None:
    import tomllib

    with (PACKAGE.parent / "pyproject.toml").open("rb") as file:
        listed = set(tomllib.load(file)["tool"]["setuptools"]["packages"])
    found = {"heatsim." + p.name for p in PACKAGE.iterdir() if p.is_dir() and any(p.glob("*.py"))}
    assert listed == found | {"heatsim", "heatsim.demo"}


@pytest.mark.parametrize("command", ["import heatsim", "import heatsim.cli; heatsim.cli.main(['--help'])"])
def test_a_light_start(command: str) -> None:
    code = (
        f"import sys\ntry:\n    {command}\nexcept SystemExit: pass\n"
        f"print([m for m in {HEAVY!r} if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip().splitlines()[-1] == "[]"
