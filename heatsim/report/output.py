"""The output folder: files are written under temporary names and renamed together; what is not ours is never touched.

`heatsim.json` in the folder lists the files heatsim wrote there. `--force` replaces those, by name, and no others.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from heatsim.errors import Fault, HeatsimError

MANIFEST = "heatsim.json"


def ours(folder: Path) -> set[str]:
    """Names in a folder that heatsim wrote, by its manifest there."""
    try:
        listed = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))["files"]
    except (OSError, ValueError, KeyError, TypeError):
        return set()
    return {name for name in listed if isinstance(name, str) and name == os.path.basename(name)} | {MANIFEST}


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
    created = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=".heatsim-", dir=folder))
    except OSError as error:
        raise HeatsimError(
            Fault("the output folder must be writable", path="--out", value=f"{folder} ({error.strerror})")
        ) from error
    try:
        yield work
        names = sorted(path.name for path in work.iterdir())
        refuse(folder, names, force)
        (work / MANIFEST).write_text(json.dumps({"written by": "heatsim", "files": names}, indent=1), encoding="utf-8")
        for stale in ours(folder) - set(names) - {MANIFEST}:
            (folder / stale).unlink(missing_ok=True)
        for name in [*names, MANIFEST]:
            os.replace(work / name, folder / name)
    except BaseException:
        shutil.rmtree(work, ignore_errors=True)
        if created:
            shutil.rmtree(folder, ignore_errors=True)
        raise
    shutil.rmtree(work, ignore_errors=True)
