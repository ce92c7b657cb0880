"""Results on disk: a zarr store that a killed run leaves whole, and that the next one goes on with.

A chunk is done when its line stands in the manifest, which is flushed to disk after all its variables. What is there of
other chunks is removed before going on. The manifest's first line holds everything the results hang on, so that a
changed input or version is refused with the difference shown.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
import socket
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from heatsim.errors import Fault, HeatsimError

STORE, MANIFEST, LOCK = "study.zarr", "manifest.jsonl", "study.lock"
FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
"""What a system says when there is no more room."""
Boundary = Callable[[str], None]


def nowhere(name: str) -> None:
    """No one watches the writes."""


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """One run a folder: a lock file with process and host, taken over from a run of this host that is gone.

    Raises
    ------
    HeatsimError
        While another run works there, or where the lock is another host's.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        place = folder / LOCK
        while not _take(place):
            _released(place)
    except OSError as error:
        raise unwritable(folder, error) from error
    try:
        yield
    finally:
        with suppress(OSError):
            place.unlink()


def _take(place: Path) -> bool:
    try:
        with open(place, "x", encoding="utf-8") as file:
            json.dump({"process": os.getpid(), "host": socket.gethostname()}, file)
    except FileExistsError:
        return False
    return True


def _released(place: Path) -> None:
    """Remove the lock of a run that is gone; raise where it is not known to be."""
    try:
        owner = json.loads(place.read_text(encoding="utf-8"))
        process, host = int(owner["process"]), str(owner["host"])
    except (OSError, ValueError, KeyError, TypeError):
        process, host = 0, "an unknown host"
    here = host == socket.gethostname()
    if here and not _alive(process):
        with suppress(FileNotFoundError):
            place.unlink()
        return
    over = f"If that run is over, remove {place} and start again"
    remedy = f"Wait for it, or name another folder. {over}" if here else over
    raise HeatsimError(
        Fault("another run works in this folder", path="--out", value=f"process {process} on {host}", remedy=remedy)
    )


def _alive(process: int) -> bool:
    if sys.platform == "win32":  # there a signal of zero is Ctrl-C
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True


class Variables:
    """The arrays of a folder's store, written chunk by chunk, by whoever has one."""

    def __init__(self, folder: Path) -> None:
        self.place = folder / STORE
        self._arrays: dict[str, Any] = {}

    def write(
        self, number: int, region: tuple[slice, ...], values: Mapping[str, npt.NDArray[Any]],
        boundary: Boundary = nowhere,
    ) -> None:  # fmt: skip
        """Write those of one chunk."""
        import zarr

        if values and not self._arrays:
            self._arrays = dict(zarr.open_group(str(self.place), mode="r+").arrays())
        for name, block in values.items():
            boundary(f"chunk {number} {name}")
            array = self._arrays[name]
            array[(*region, *(slice(None),) * (array.ndim - len(region)))] = block


class Store:
    """The store of one study in a folder; made whole or not at all.

    Parameters
    ----------
    folder : Path
    header : mapping
        Everything the results hang on, plain values.
    boundary : callable
        Called with a name before and after each write (for tests that stop there).
    """

    def __init__(self, folder: Path, header: Mapping[str, Any], boundary: Boundary = nowhere) -> None:
        self.place, self.manifest = folder / STORE, folder / MANIFEST
        self.header, self.boundary = header, boundary
        self.done: set[int] = set()
        self.variables = Variables(folder)

    def begun(self) -> bool:
        """Whether an earlier run made the store; what it left without its list is made anew, if it is ours.

        Raises
        ------
        HeatsimError
            Where the folder's store is not ours.
        """
        if not self.place.exists() or self._lines():
            return self.place.exists()
        try:
            import zarr

            ours = zarr.open_group(str(self.place), mode="r").attrs.get("written_by") == self.header["written by"]
        except (OSError, ValueError, KeyError):
            ours = False
        if not ours:
            raise self._foreign()
        shutil.rmtree(self.place)
        return False

    def _foreign(self) -> HeatsimError:
        rule, remedy = "a store that heatsim did not write is never touched", "Name another folder"
        return HeatsimError(Fault(rule, path="--out", value=str(self.place), remedy=remedy))

    def create(
        self, arrays: Mapping[str, tuple[tuple[str, ...], tuple[int, ...], tuple[int, ...], str, dict[str, str]]],
        coordinates: Mapping[str, tuple[tuple[str, ...], npt.NDArray[Any], dict[str, str]]], attributes: dict[str, Any],
    ) -> None:  # fmt: skip
        """Lay out empty arrays (dims, shape, chunks, dtype, attributes) and write the coordinates."""
        import zarr
        from zarr.codecs import BloscCodec

        for old in self.place.parent.glob(".study-*"):
            shutil.rmtree(old, ignore_errors=True)
        work = Path(tempfile.mkdtemp(prefix=".study-", dir=self.place.parent))
        try:
            group = zarr.open_group(str(work), mode="w", zarr_format=3)
            group.attrs.update({"written_by": self.header["written by"], **attributes})
            for name, (dims, values, notes) in coordinates.items():
                kind = "string" if values.dtype.kind == "U" else values.dtype
                made = group.create_array(
                    name, shape=values.shape, chunks=tuple(max(1, n) for n in values.shape), dtype=kind,
                    dimension_names=dims, attributes=dict(notes),
                )  # fmt: skip
                made[...] = values.astype(object) if values.dtype.kind == "U" else values
            for name, (dims, shape, chunks, dtype, notes) in arrays.items():
                group.create_array(
                    name, shape=shape, chunks=chunks, dtype=dtype, dimension_names=dims, fill_value=np.nan,
                    attributes=dict(notes), compressors=BloscCodec(cname="lz4", shuffle="shuffle"),
                )  # fmt: skip  # half the time of what zarr takes by itself, for a twelfth more room (measured)
            self.boundary("create")
            self.manifest.unlink(missing_ok=True)
            os.replace(work, self.place)
            self.boundary("list")
            self._line(self.header)
            self.boundary("created")
        except BaseException:
            shutil.rmtree(work, ignore_errors=True)
            raise

    def resume(self) -> None:
        """Read which chunks are done, after making sure that they were made of the same; remove what is of others.

        Raises
        ------
        HeatsimError
            Where the folder's store is not ours, or an input or a version differs.
        """
        lines = self._lines()
        if not lines or lines[0].get("written by") != self.header["written by"]:
            raise self._foreign()
        differing = list(_differences(lines[0], json.loads(json.dumps(self.header))))
        differing = [one for one in differing if not one.startswith("made of ")] or differing
        if differing:
            more = f" and {len(differing) - 4} more" if len(differing) > 4 else ""
            raise HeatsimError(
                Fault("the results there were made of something else", path="--out",
                      value="; ".join(differing[:4]) + more,
                      remedy="Name another folder, or remove that one to begin anew")
            )  # fmt: skip
        self.done = {int(line["chunk"]) for line in lines[1:]}

    def sweep(self, grid: Sequence[int], arrays: Mapping[str, int]) -> None:
        """Remove chunks of no line and what an interrupted write left; `arrays` says how many dimensions are extra."""
        places = [place for n, place in enumerate(np.ndindex(*grid)) if n in self.done]
        keep = {
            name: {"/".join(map(str, (*place, *(0,) * extra))) for place in places} for name, extra in arrays.items()
        }
        for name, chunks in keep.items():
            root = self.place / name / "c"
            for file in sorted(root.rglob("*")) if root.exists() else []:
                if file.is_file() and file.relative_to(root).as_posix() not in chunks:
                    file.unlink()

    def write(self, number: int, region: tuple[slice, ...], values: Mapping[str, npt.NDArray[Any]]) -> None:
        """Write a chunk's variables, as far as they are not written yet, then its line.

        Raises
        ------
        HeatsimError
            Where the disk is full or cannot be written.
        """
        try:
            self.variables.write(number, region, values, self.boundary)
            self.boundary(f"chunk {number} line")
            self._line({"chunk": number})
            self.boundary(f"chunk {number} done")
        except OSError as error:
            raise self.broken(error) from error
        self.done.add(number)

    def broken(self, error: OSError) -> HeatsimError:
        """What a write that failed is told as."""
        if error.errno not in FULL:
            return unwritable(self.place.parent, error)
        kept = f"{len(self.done)} chunks are finished and kept"
        return HeatsimError(
            Fault("the disk is full", path="--out", value=kept, remedy="Make room and give the same command again")
        )

    def _lines(self) -> list[dict[str, Any]]:
        """Whole lines of the manifest; a last one that was cut short is cut off."""
        try:
            content = self.manifest.read_bytes()
        except OSError:
            return []
        end = content.rfind(b"\n") + 1
        if end < len(content):
            with open(self.manifest, "r+b") as file:
                file.truncate(end)
        try:
            return [json.loads(line) for line in content[:end].splitlines()]
        except ValueError:
            return []

    def _line(self, value: Mapping[str, Any]) -> None:
        with open(self.manifest, "ab") as file:
            file.write(json.dumps(value, sort_keys=True).encode() + b"\n")
            file.flush()
            os.fsync(file.fileno())


def unwritable(folder: Path, error: OSError) -> HeatsimError:
    """The one message for a folder that cannot be written."""
    return HeatsimError(
        Fault("the output folder must be writable", path="--out", value=f"{folder} ({error.strerror or error})")
    )


def _differences(old: Any, new: Any, path: str = "") -> Iterator[str]:
    """Where two plain values differ, with both."""
    if isinstance(old, dict) and isinstance(new, dict):
        for key in sorted({*old, *new}, key=str):
            yield from _differences(old.get(key), new.get(key), f"{path}.{key}" if path else str(key))
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for i, (a, b) in enumerate(zip(old, new, strict=True)):
            yield from _differences(a, b, f"{path}[{i}]")
    elif old != new:
        yield f"{path} was {_short(old)}, is {_short(new)}"


def _short(value: Any) -> str:
    text = "absent" if value is None else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 40 else text[:37] + "..."
