"""Every block of commands or Python in docs/ runs as it stands, page by page, in a folder of its own.

A page's blocks share that folder and, in Python, their names. Blocks marked slow in the page's source run in the slow
test of the page alone. What a block of text says right below commands stands in what they print.
"""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from sybil import Example, Sybil
from sybil.parsers.markdown import CodeBlockParser

ROOT = Path(__file__).resolve().parents[2]
PAGES = sorted((ROOT / "docs").glob("*.md"))
SLOW = "<!-- slow -->"
PATIENCE = 900.0
"""[s] For one block, on a slow machine."""
SHORTER = {"charter-regions.yaml": {"region: all": "region: [CYC, DXB]", "month: all": "month: [8]"}}
"""What a study runs here, two places in one month, in place of its 6,912 runs."""


@dataclass(frozen=True)
class Block:
    """A block of a page."""

    language: str
    source: str
    line: int
    slow: bool


def blocks(page: Path) -> list[Block]:
    """Blocks that run and blocks of text, in the order of the page."""

    def unused(example: Example) -> None:
        raise AssertionError(example)

    parsers = [CodeBlockParser(language, unused) for language in ("bash", "python", "text")]
    document = Sybil(parsers).parse(page)
    text = page.read_text(encoding="utf-8")
    found = [
        Block(one.region.lexemes["arguments"], str(one.parsed), one.line,
              text[: one.region.start].rstrip().endswith(SLOW))
        for one in document.examples()
    ]  # fmt: skip
    return sorted(found, key=lambda block: block.line)


def run(page: Path, folder: Path, *, slow: bool) -> None:
    """Run a page's blocks, those marked slow only where asked for.

    Raises
    ------
    AssertionError
        Where a command fails, or does not print what the page says.
    """
    names: dict[str, Any] = {"__name__": "docs"}
    printed: str | None = None
    for block in blocks(page):
        if block.language == "text":
            if printed is not None:
                _expect(block, printed, page)
            printed = None
            continue
        printed = None
        if block.slow and not slow:
            continue
        if block.language == "python":
            exec(compile(block.source, f"{page.name}:{block.line}", "exec"), names)
        else:
            printed = _shell(block, folder, page)


def _shell(block: Block, folder: Path, page: Path) -> str:
    environment = os.environ | {
        "PATH": f"{folder / 'bin'}{os.pathsep}{os.environ['PATH']}",
        "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]),
    }
    bash = shutil.which("bash")
    assert bash is not None
    done = subprocess.run(
        [bash, "-euo", "pipefail", "-c", block.source], cwd=folder, env=environment, capture_output=True, text=True,
        encoding="utf-8", timeout=PATIENCE, check=False,
    )  # fmt: skip
    assert done.returncode == 0, f"{page.name}:{block.line}\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}"
    return done.stdout


def _expect(block: Block, printed: str, page: Path) -> None:
    whole = " ".join(printed.split())
    for line in block.source.splitlines():
        assert " ".join(line.split()) in whole, f"{page.name}:{block.line}: {line!r} is not in the output"


def prepared(folder: Path) -> Path:
    """A folder with the demo files and a command of the program's name."""
    shutil.copytree(ROOT / "scenarios", folder / "scenarios", ignore=shutil.ignore_patterns("__pycache__"))
    for name, changes in SHORTER.items():
        text = (folder / "scenarios" / name).read_text(encoding="utf-8")
        for old, new in changes.items():
            assert old in text
            text = text.replace(old, new)
        (folder / "scenarios" / name).write_text(text, encoding="utf-8")
    command = folder / "bin" / "heatsim"
    command.parent.mkdir()
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m heatsim "$@"\n', encoding="utf-8")
    command.chmod(command.stat().st_mode | stat.S_IXUSR)
    return folder


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where a page's blocks run."""
    monkeypatch.chdir(prepared(tmp_path))
    return tmp_path


def _pages(*, slow: bool) -> list[Path]:
    return [page for page in PAGES if any(one.language != "text" and one.slow == slow for one in blocks(page))]


needs_bash = pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here, which the pages are written for")


@needs_bash
@pytest.mark.parametrize("page", _pages(slow=False), ids=lambda page: page.stem)
def test_quick_blocks(page: Path, folder: Path) -> None:
    run(page, folder, slow=False)


@needs_bash
@pytest.mark.slow
@pytest.mark.parametrize("page", _pages(slow=True), ids=lambda page: page.stem)
def test_all_blocks(page: Path, folder: Path) -> None:
    run(page, folder, slow=True)


@needs_bash
@pytest.mark.parametrize(
    "text",
    [
        "```bash\nfalse\n```\n", "```bash\nheatsim loads nothing.yaml\n```\n",
        "```python\nimport heatsim\nheatsim.no\n```\n", "```bash\necho one\n```\n\n```text\ntwo\n```\n",
    ],
)  # fmt: skip
def test_a_block_that_fails_is_seen(text: str, folder: Path) -> None:
    page = folder / "page.md"
    page.write_text(text, encoding="utf-8")
    with pytest.raises((AssertionError, AttributeError)):
        run(page, folder, slow=False)


def test_marks_and_languages_are_read(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text(f"{SLOW}\n```bash\nx\n```\n\n```yaml\ny: 1\n```\n\n```python\nz\n```\n", encoding="utf-8")
    assert [(one.language, one.slow) for one in blocks(page)] == [("bash", True), ("python", False)]
