"""The output folder: files are written under temporary names and renamed together; what is not ours is never touched.

`heatsim.json` in the folder lists the files heatsim wrote there. `--force` replaces those, by name, and no others.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from math import isfinite
from pathlib import Path
from typing import Any

from heatsim.errors import Fault, HeatsimError

MANIFEST, AUTHOR = "heatsim.json", "written by"
"""The list of our files in a folder, and the key that says it is ours."""


def ours(folder: Path) -> set[str]:
    """Names in a folder that heatsim wrote, by its manifest there."""
    try:
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return set()
    if (
        not isinstance(manifest, dict)
        or manifest.get(AUTHOR) != "heatsim"
        or not isinstance(manifest.get("files"), list)
    ):
        return set()
    named = {name for name in manifest["files"] if isinstance(name, str) and name == os.path.basename(name)}
    return {name for name in named if name not in ("", os.curdir, os.pardir)} | {MANIFEST}


def refuse(folder: Path, names: Sequence[str], force: bool) -> None:
    """Raise when writing `names` into `folder` would lose something.

    Raises
    ------
    HeatsimError
    """
    if folder.exists() and not folder.is_dir():
        raise HeatsimError(
            Fault("the output folder must be a folder", path="--out", value=str(folder), remedy="Name another one")
        )
    present = [name for name in [*names, MANIFEST] if (folder / name).exists() or (folder / name).is_symlink()]
    foreign = sorted(set(present) - ours(folder))
    if foreign:
        raise HeatsimError(
            Fault(
                "files that heatsim did not write are never replaced",
                path="--out",
                value=f"{folder / foreign[0]}" + (f" and {len(foreign) - 1} more" if len(foreign) > 1 else ""),
                remedy="Name another folder with --out",
            )
        )
    if present and not force:
        raise HeatsimError(
            Fault(
                "results already there are kept",
                path="--out",
                value=f"{folder} with {len(present)} files of an earlier run",
                remedy="Add --force to replace them, or name another folder",
            )
        )


def json_value(value: Any) -> Any:
    """Values that JSON knows: no arrays' numbers, and null for what is neither finite nor a number."""
    if isinstance(value, dict):
        return {str(key): json_value(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [json_value(item) for item in value]
    if value is None or isinstance(value, str | bool | int):
        return value
    number = float(value)
    return number if isfinite(number) else None


@contextmanager
def staged(folder: Path, force: bool) -> Iterator[Path]:
    """A temporary folder whose files move into `folder` when the block ends well; else `folder` stays as it was.

    Parameters
    ----------
    folder : Path
        Made if missing.
    force : bool
        Replace files listed as ours; files of ours that the new run does not write are removed.
    """
    made = [path for path in (folder, *folder.parents) if not path.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=".heatsim-", dir=folder))
    except OSError as error:
        _remove(made)
        raise _unwritable(folder, error) from error
    try:
        yield work
        names = sorted(path.name for path in work.iterdir())
        refuse(folder, names, force)
        (work / MANIFEST).write_text(json.dumps({AUTHOR: "heatsim", "files": names}, indent=1), encoding="utf-8")
        for stale in ours(folder) - set(names) - {MANIFEST}:
            if not (folder / stale).is_dir():
                (folder / stale).unlink(missing_ok=True)
        for name in [*names, MANIFEST]:
            os.replace(work / name, folder / name)
    except BaseException as error:
        shutil.rmtree(work, ignore_errors=True)
        _remove(made)
        if isinstance(error, OSError):
            raise _unwritable(folder, error) from error
        raise
    shutil.rmtree(work, ignore_errors=True)


def _remove(made: Sequence[Path]) -> None:
    """Take away the folders this run made, innermost first; one that holds anything stays."""
    for path in made:
        with suppress(OSError):
            path.rmdir()


def _unwritable(folder: Path, error: OSError) -> HeatsimError:
    return HeatsimError(
        Fault("the output folder must be writable", path="--out", value=f"{folder} ({error.strerror or error})")
    )
