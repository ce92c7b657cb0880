"""The one loader of the tables: rows by table name, looked up by their first column."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent


@cache
def rows(table: str) -> tuple[Mapping[str, str], ...]:
    """Rows of `<table>.csv` in file order, each a mapping from column name to text.

    Parameters
    ----------
    table : str
        Name of the file without its ending.
    """
    with (FOLDER / f"{table}.csv").open(encoding="utf-8", newline="") as stream:
        return tuple(csv.DictReader(stream))


@cache
def by_name(table: str) -> Mapping[str, Mapping[str, str]]:
    """Rows of `<table>.csv` keyed by their first column, which must be unique."""
    content = rows(table)
    first = next(iter(content[0]))
    keyed = {row[first]: row for row in content}
    if len(keyed) != len(content):
        raise ValueError(f"table {table}.csv names a row twice in its column {first}")
    return keyed


def names(table: str) -> tuple[str, ...]:
    """The names in the first column of `<table>.csv`, in file order."""
    return tuple(by_name(table))
