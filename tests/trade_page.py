"""Writes docs/trade.md: what the trade reads and reckons beside what the engine gives. Run it to renew the page."""

from __future__ import annotations

from pathlib import Path

from readings import surface_temperatures
from spaces import BESIDE, PER_CUBIC_FOOT, SPACES, Density, density, gap

PAGE = Path(__file__).resolve().parents[1] / "docs" / "trade.md"
CLOSE = 4.0
"""[K] What a reading off an infrared thermometer, with conditions told in words, can be held to."""
OTHER_WINDS = (2.0, 4.0)

HEAD = """\
# Beside the trade's readings and rules

Everything in the columns *read* and *trade* on this page is common practice without a source: thermometer readings and
rules of thumb that people in the trade carry. What a reading leaves open is assumed once for each condition, never for
a single reading. `python tests/trade_page.py` renews the page; a test holds it to the engine.
"""
SURFACES = """\
## Surface temperatures by colour and awning

Plain boxes of a foam sandwich held at 24 °C, alone on open water. Absorptances by name from the colour table: white
decks and roofs count as weathered white, teak look as synthetic teak, tan as sand, yellow (not in the table) as cream.
Where the words do not say which side was read, it is the sunlit one. Wind is the default of a berth: 2 m/s alongside,
and 4 m/s at a mooring for the temperate noon, because 2 m/s there makes tan and grey 5 to 7 K too warm together; it was
not told. Temperatures in °C, differences in K.
"""
WHY = """\
Where the difference is larger than 4 K: neither colour nor height of the tarp was told. A white one left free to the
wind keeps the deck cooler than was read; one lashed down so that the air beneath it stands still makes it warmer by
about as much. The reading lies between the two, and a dark one free to the wind comes near it. The last columns show
what wind does: on dark decks 2 m/s or 4 m/s matters more than any shade of paint.

Not compared, because they lie inside an enclosure whose canvas, clear panels and leaks are not told: non-skid under a
windscreen (77 °C), the underside of an enclosed canvas top (51 °C), the air in that cockpit (39 °C).
"""
VOLUME = """\
## Three spaces beside the volume rule

Invented spaces, fully specified in `tests/data`: 24 °C and 50 % inside, 33 °C and 55 % outside, cored GRP, two persons,
half an air change an hour. Glass is what quick zones take for the deck level (5, 35 and 45 % of the weather sides). By
day the largest hour at the worst heading; after sunset the mean of the first three hours of a cabin that stood closed
until 20 h, recovery included. The rule, Btu/h·ft³, is also given in W/m³ (one is 10.35 W/m³).
"""
BECAUSE = """\
Why the rule lies above: it is an allowance for a unit, not a load. The spaces here take no outdoor air but half an air
change, and their doors stay shut; 25 m³/h a person, which flag codes ask for, closes most of the gap of the day cabin.
Below deck after sunset sun counts only for what joinery and shell have stored; persons and their moisture, the sea and
the warm shell make the rest, and a cabin that is held all day needs less than half of what the rule allows. The
wheelhouse, nearly all glass, needs what the rule says. A dark deck adds through the overhead what it takes from the
windows above it, which see less light thrown up.
"""


def page() -> str:
    """The whole page."""
    return "\n".join([HEAD, SURFACES, surface_table(), WHY, VOLUME, volume_table(), BECAUSE, cause_table()])


def surface_table() -> str:
    """Condition, reading, ours, difference, and ours in two winds."""
    ours = list(surface_temperatures())
    winds = [dict(surface_temperatures(wind)) for wind in OTHER_WINDS]
    heads = ["condition", "surface", "read", "ours", "difference", "within 4 K", "at 2 m/s", "at 4 m/s"]
    rows = [
        [
            f"{reading.state.told} ({reading.state.assumed})", reading.surface, f"{reading.read:.0f}", f"{found:.1f}",
            f"{found - reading.read:+.1f}", "yes" if abs(found - reading.read) <= CLOSE else "**no**",
            *(f"{wind[reading]:.1f}" for wind in winds),
        ]
        for reading, found in ours
    ]  # fmt: skip
    return _table(heads, rows)


def volume_table() -> str:
    """Space, rule, ours, and by which factor the nearer end of the rule lies above."""
    rows = []
    for space in (*SPACES, *BESIDE):
        found = density(space)
        trade = f"{space.low:g}–{space.high:g}" if space.high > space.low else f"{space.low:g}"
        watts = "–".join(f"{end * PER_CUBIC_FOOT:.0f}" for end in dict.fromkeys((space.low, space.high)))
        rows.append(
            [
                space.name, trade if space.low else "", watts if space.low else "", f"{found.total:.0f}",
                f"{found.total / PER_CUBIC_FOOT:.1f}", f"{gap(space, found.total):.2f}" if space.low else "",
            ]
        )  # fmt: skip
    return _table(["space", "trade Btu/h·ft³", "trade W/m³", "ours W/m³", "ours Btu/h·ft³", "trade over ours"], rows)


def cause_table() -> str:
    """The three loads by cause, W/m³."""
    found = [density(space) for space in SPACES]
    names = [name for name in found[0].causes if any(abs(one.causes[name]) >= 0.5 for one in found)]
    rows = [[name.replace("_", " "), *(f"{one.causes[name]:.0f}" for one in found)] for name in names]
    rows += [["moisture (latent)", *(f"{one.latent:.0f}" for one in found)], ["in all", *map(_total, found)]]
    return _table(["cause, W/m³", *(space.name for space in SPACES)], rows)


def _total(found: Density) -> str:
    return f"{found.total:.0f}"


def _table(heads: list[str], rows: list[list[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "".join("| " + " | ".join(line) + " |\n" for line in lines)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
