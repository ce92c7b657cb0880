"""What a schedule is: columns, rows in SI, and what belongs beside them - notes, findings, assumptions, cautions.

A schedule is what a yard pastes into its own sheets. Its numbers are SI inside (`SI_UNITS` says which unit a kind has);
how they are shown, and in which system, is the report's business.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from heatsim.errors import Finding

if TYPE_CHECKING:
    import pandas as pd

Cell = str | float | int | None
"""Text, a number, or None where there is nothing to say."""

POWER, ELECTRIC, AIR_FLOW, WATER_FLOW, SMALL_FLOW = "power", "electrical power", "air flow", "water flow", "small flow"
SPEED, FACE_SPEED, PRESSURE, HEAD = "speed", "face speed", "pressure", "head"
TEMPERATURE, DIFFERENCE = "temperature", "difference"
LENGTH, BORE, FREE_AREA, VOLUME, ROOM, MASS = "length", "bore", "free area", "volume", "room", "mass"
AREA, FLUX = "area", "flux"
SHARE, CURRENT, VOLTAGE, APPARENT, ENERGY, HOURS = "share", "current", "voltage", "apparent power", "energy", "hours"

SI_UNITS = {
    POWER: "W",
    ELECTRIC: "W",
    AIR_FLOW: "m³/s",
    WATER_FLOW: "m³/s",
    SMALL_FLOW: "m³/s",
    SPEED: "m/s",
    FACE_SPEED: "m/s",
    PRESSURE: "Pa",
    HEAD: "m",
    TEMPERATURE: "°C",
    DIFFERENCE: "K",
    AREA: "m²",
    FLUX: "W/m²",
    LENGTH: "m",
    BORE: "m",
    FREE_AREA: "m²",
    VOLUME: "m³",
    ROOM: "m³",
    MASS: "kg",
    SHARE: "-",
    CURRENT: "A",
    VOLTAGE: "V",
    APPARENT: "VA",
    ENERGY: "J",
    HOURS: "h",
}
"""Unit of every kind of amount a column may hold, as it stands in a row."""


@dataclass(frozen=True)
class Column:
    """One column: its head, and the kind of amount it holds, None for text and plain numbers (unit in the head)."""

    head: str
    quantity: str | None = None


@dataclass(frozen=True)
class Assumed:
    """A value that nobody gave: what it is of, the value as text with its unit, and where it comes from."""

    what: str
    value: str
    source: str = "assumed"


@dataclass(frozen=True)
class Schedule:
    """One table of the yard's: `name` is its file's, each row has one cell a column, in SI."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    assumptions: tuple[Assumed, ...] = ()
    cautions: tuple[str, ...] = ()

    def column(self, head: str) -> tuple[Cell, ...]:
        """All cells under a head."""
        return tuple(row[[column.head for column in self.columns].index(head)] for row in self.rows)

    def to_pandas(self) -> pd.DataFrame:
        """The rows as a frame in SI; a head that holds an amount names its unit, such as "supply [m³/s]"."""
        import pandas as pd

        heads = [c.head if c.quantity is None else f"{c.head} [{SI_UNITS[c.quantity]}]" for c in self.columns]
        return pd.DataFrame([list(row) for row in self.rows], columns=heads)


def once(assumed: list[Assumed]) -> tuple[Assumed, ...]:
    """Assumptions without repeats, in their order."""
    return tuple(dict.fromkeys(assumed))
