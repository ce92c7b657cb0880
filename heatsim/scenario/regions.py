"""Regions of the table as people name them: by code, by a part of the name, or by a harbour that lies there."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from functools import cache

from heatsim.errors import Fault, HeatsimError
from heatsim.tables.loader import rows

_LONG_WORD = re.compile(r"[^\W\d_]{4,}")
Row = Mapping[str, str]
SHORTEST = 4
"""Letters from which a part of a name counts; below it only a code or a whole name does."""


@cache
def find_region(name: str) -> tuple[Row, ...] | None:
    """The twelve monthly rows of the one region that a code, a part of a name or a harbour stands for, else None."""
    codes = region_codes(name)
    if len(codes) != 1:
        return None
    content = [row for row in rows("regions") if row["region"] == codes[0]]
    return tuple(sorted(content, key=lambda row: int(row["month"])))


def region_codes(name: str) -> list[str]:
    """Codes of all regions that a text may stand for: that of its code alone, else by names, else by harbours."""
    wanted = name.strip().casefold()
    names = {row["region"]: row["name"].casefold() for row in rows("regions")}
    by_code = [code for code in names if code.casefold() == wanted]
    if by_code or not wanted:
        return by_code
    by_name = [code for code, told in names.items() if _is_part(wanted, told)]
    harbours = rows("harbours")
    whole = [row["region"] for row in harbours if row["harbour"].casefold() == wanted]
    part = [row["region"] for row in harbours if _is_part(wanted, row["harbour"].casefold())]
    return list(dict.fromkeys(by_name or whole or part))


def _is_part(wanted: str, told: str) -> bool:
    return told == wanted or (len(wanted) >= SHORTEST and wanted in told)


def region_fault(name: str) -> tuple[str, str]:
    """Rule that a text breaks which stands for no region or for several, and what to write instead."""
    named = {row["region"]: row["name"] for row in rows("regions")}
    several = region_codes(name)
    if len(several) > 1:
        return "may be one of several regions", "Write " + " or ".join(
            f"{code} ({named[code]})" for code in several[:6]
        )
    told = name.strip().casefold()
    known = {code.casefold(): code for code in named} if len(told) <= SHORTEST else {}
    places = [
        *((text, code) for code, text in named.items()),
        *((row["harbour"], row["region"]) for row in rows("harbours")),
    ]
    for text, code in places:
        known |= {word.casefold(): code for word in (text, *_LONG_WORD.findall(text))}
    close = difflib.get_close_matches(told, known, 1, 0.65)
    if close:
        code = known[close[0]]
        return "names a region that does not exist", f'Did you mean "{code}", {named[code]}?'
    return "names a region that does not exist", "See: heatsim list regions; anywhere else give latitude and longitude"


def region_code(name: str) -> str:
    """Code of the region that a text stands for.

    Raises
    ------
    HeatsimError
        Where it stands for none, or for several.
    """
    found = find_region(name)
    if found is None:
        rule, remedy = region_fault(name)
        raise HeatsimError(Fault(rule, path="region", value=name, remedy=remedy))
    return found[0]["region"]
