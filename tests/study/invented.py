"""Results of a study made up without any run: of its shape, with values that hands can check."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import xarray as xr

from heatsim.study.chunks import layout
from heatsim.study.design import Design

HOUR = np.arange(24.0)


def invented(design: Design, seed: int = 1) -> xr.Dataset:
    """A data set of the shape that a run of the design leaves, every value between 1 and 2."""
    arrays, coordinates, attributes = layout(design)
    made = np.random.default_rng(seed)
    data = {name: (dims, made.uniform(1.0, 2.0, shape)) for name, (dims, shape, *_) in arrays.items()}
    kept = {name: (dims, values) for name, (dims, values, _) in coordinates.items()}
    return xr.Dataset(data, kept, attributes)


def filled(data: xr.Dataset, name: str, values: npt.ArrayLike, dims: tuple[str, ...]) -> xr.Dataset:
    """The data with one variable taken from an array over some of its dimensions."""
    old = data[name]
    given = xr.DataArray(np.asarray(values, dtype=float), dims=dims, coords={d: data[d] for d in dims if d in data})
    return data.assign({name: (old * 0.0 + given).transpose(*old.dims)})


def changed(study: Path, *changes: tuple[str, str]) -> Design:
    """The design of a study file after changes of its text."""
    text = study.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    study.write_text(text, encoding="utf-8")
    return Design.read(study)


DRAWS = ("keep: hours\n", "draws: {count: 64, defaults: true}\n")
"""A change that draws 64 times what the small boat leaves to defaults."""
