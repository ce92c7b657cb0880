"""Glass as a drawing gives it: an area, or the sizes of its panes.

"2 x 1.1 x 0.5 m" are two panes of 1.1 m by 0.5 m, "2 x 0.3 m dia" two round ones; a plus sign adds further panes.
"""

from __future__ import annotations

import math
import re

from heatsim.scenario.quantities import Quantity, as_written, parse, refuse

EXAMPLE = 'Write for example "2.4 m2", "2 x 1.1 x 0.5 m" or "2 x 0.3 m dia + 0.6 x 0.6 m"'
MOST_PANES = 200
_ROUND = re.compile(r"\s*(?:dia(?:meter|\.)?|round)$|^(?:dia(?:meter|\.)?|Ø|⌀)\s*", re.IGNORECASE)
_TIMES = re.compile(r"\s*[x×*]\s*")
_NUMBER = re.compile(r"(\d+\.?\d*|\.\d+)\s*(.*)", re.DOTALL)


def by_sizes(written: object) -> bool:
    """Whether a text gives sizes of panes, not an area."""
    return isinstance(written, str) and any(_is_size(part) for part in written.split("+"))


def _is_size(part: str) -> bool:
    return len(_TIMES.split(part.strip())) > 1 or _ROUND.search(part.strip()) is not None


def glass_area(written: object) -> float:
    """Area of glass of a text that gives it, or the sizes of panes. [m²]

    Raises
    ------
    PydanticCustomError
        Where it is neither.
    """
    if not by_sizes(written):
        return parse(written, "area")
    return as_written(sum(_pane(part.strip()) for part in str(written).split("+")))


def _pane(part: str) -> float:
    """Area of panes of one size."""
    if not _is_size(part):
        return parse(part, "area")
    body, rounds = _ROUND.subn("", part)
    sizes = _TIMES.split(body.strip())
    most = 2 if rounds else 3
    count = 1
    if len(sizes) == most:
        first = sizes.pop(0)
        if not first.isdigit() or not 1 <= int(first) <= MOST_PANES:
            raise refuse(f"panes are counted in whole numbers up to {MOST_PANES}", EXAMPLE)
        count = int(first)
    if len(sizes) != most - 1:
        raise refuse("a pane has a width and a height, a round one its diameter", EXAMPLE)
    lengths = [_length(size, sizes[-1]) for size in sizes]
    return count * (math.pi / 4.0 * lengths[0] ** 2 if rounds else lengths[0] * lengths[1])


def _length(size: str, last: str) -> float:
    """A size in its unit, or in that of the last one. [m]"""
    own, whole = _NUMBER.fullmatch(size), _NUMBER.fullmatch(last)
    if own is not None and whole is not None and not own[2]:
        size = f"{own[1]} {whole[2]}"
    return parse(size, "length")


class Panes(Quantity):
    """Marks a model field as an area of glass that may be given by the sizes of its panes."""

    def si(self, value: object) -> float:
        """Area of a text, before its bounds. [m²]"""
        return glass_area(value)
