"""The decks seen from above as a drawing: shade and hatch by load over area, the amount and its hour in each room.

Steps of shade go from paper to ink and each has a hatch of its own, so that a copy in black and white reads the same.
Rooms too small for their words bear a number that is spelt out below. Units of the drawing: 10 to a millimetre.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from markupsafe import Markup, escape

from heatsim.handover.deck_places import Deck, Room
from heatsim.report.amounts import FLUX, UnitSystem, phrase, units
from heatsim.scenario.outlines import middle

WIDE = 1860.0
LEFT, RIGHT, NOSE = 24.0, 24.0, 96.0
MOST_BEAM, MOST_HIGH = 430.0, 1330.0
"""Of one deck, and of all decks together."""
SIZE, SMALL = 26.0, 24.0
INK, SOFT, QUIET, WHITE = "#1d2b33", "#4c5b63", "#8b979c", "#ffffff"
STEPS = (
    ("#ffffff", ""),
    ("#e3e7e4", "M12 10v4M0 0v2M24 0v2M0 22v2M24 22v2"),
    ("#c3cccc", "M-2 26L26 -2"),
    ("#9aa8ac", "M-2 12L12 -2M-2 26L26 -2M10 26L26 10"),
    ("#6d7f86", "M-2 12L12 -2M-2 26L26 -2M10 26L26 10M-2 -2L26 26M-2 12L12 26M12 -2L26 12"),
)
"""Ground and strokes, in a tile of 24 by 24, from the least load over area to the largest."""
NICE = (1.0, 2.0, 2.5, 5.0, 10.0)
COLUMNS = {"si": 3, "us": 3, "both": 2}
"""Of the rooms spelt out below."""
SCALE_BARS = {"si": ((10.0, "10 m"), (5.0, "5 m"), (2.0, "2 m"), (1.0, "1 m")),
              "us": ((9.144, "30 ft"), (4.572, "15 ft"), (1.524, "5 ft"))}  # fmt: skip


Line = tuple[str, str]
"""Words and their weight."""


@dataclass(frozen=True)
class Load:
    """A room's peak: load over area [W/m²] and the clock's hour; `flux` None where the room is not cooled."""

    flux: float | None
    hour: str = ""


def drawing(plan: Sequence[Deck], loads: Mapping[str, Load], system: UnitSystem, day: str, bow: bool = True) -> Markup:
    """The plan as SVG.

    Parameters
    ----------
    plan : sequence of Deck
        The highest first.
    loads : mapping of room to Load
    system : {"si", "us", "both"}
    day : str
        The day whose peaks they are.
    bow : bool
        Whether decks without outlines get the shape of a bow (not a boat of two hulls).
    """
    fluxes = [load.flux for load in loads.values() if load.flux is not None]
    edges = steps(max(fluxes, default=0.0), system)
    sheet = _Sheet(plan, loads, system, edges, bow)
    parts = [sheet.deck(deck) for deck in plan] + [sheet.scale_bar(), sheet.small_rooms(), sheet.key()]
    label = f"Decks seen from above, bow at the left: peak of every room over its area on the {day} day, with its hour"
    return Markup(
        f'<svg viewBox="0 0 {WIDE:g} {sheet.y:.0f}" role="img" aria-label="{escape(label)}">'
        f"<defs>{_patterns()}</defs>{''.join(parts)}</svg>"
    )


def steps(most: float, system: UnitSystem) -> list[float]:
    """Upper edges of the steps of shade, round in the units shown, at most as many as there are hatches. [W/m²]"""
    factor = FLUX.us_factor if system == "us" else FLUX.si_factor
    rough = max(most * factor, 1e-6) / len(STEPS)
    power = 10.0 ** floor(log10(rough))
    step = next(power * nice for nice in NICE if power * nice >= rough * (1.0 - 1e-9))
    count = max(1, ceil(most * factor / step - 1e-9))
    return [step * (i + 1) / factor for i in range(count)]


def _step_of(flux: float, edges: Sequence[float]) -> int:
    return next((i for i, edge in enumerate(edges) if flux <= edge * (1.0 + 1e-9)), len(edges) - 1)


def _patterns() -> str:
    return "".join(
        f'<pattern id="flux-{i}" width="24" height="24" patternUnits="userSpaceOnUse">'
        f'<rect width="24" height="24" fill="{ground}"/>'
        + (f'<path d="{strokes}" stroke="{INK}" stroke-width="1.4" fill="none"/>' if strokes else "")
        + "</pattern>"
        for i, (ground, strokes) in enumerate(STEPS)
    )


class _Sheet:
    """Draws from the top down; `y` is how far it has come."""

    def __init__(
        self, plan: Sequence[Deck], loads: Mapping[str, Load], system: UnitSystem, edges: Sequence[float], bow: bool
    ) -> None:
        self.loads, self.system, self.edges, self.bow = loads, system, edges, bow
        self.y = 8.0
        self.numbered: list[str] = []
        spans = [deck.ends for deck in plan]
        self.first = min((ends[0] for ends, deck in zip(spans, plan, strict=True) if deck.to_outlines), default=0.0)
        self.long = max(ends[1] - (self.first if deck.to_outlines else ends[0])
                        for ends, deck in zip(spans, plan, strict=True))  # fmt: skip
        beams = [ends[3] - ends[2] for ends in spans]
        self.scale = min((WIDE - LEFT - RIGHT - NOSE) / self.long, MOST_BEAM / max(beams), MOST_HIGH / sum(beams))
        self.outlined = any(deck.to_outlines for deck in plan)

    def deck(self, deck: Deck) -> str:
        """A title, the deck's shape, its rooms."""
        first, last, low, high = deck.ends
        how = "to the outlines given" if deck.to_outlines else "schematic: areas to scale, places by name and side"
        title = _words(LEFT, self.y + 28, f"{deck.name.capitalize()} deck", size=30, weight="600")
        title += _words(LEFT + 245, self.y + 28, how, size=SMALL, fill=SOFT)
        top = self.y + 52
        # Of a schematic only the order is known: shorter decks stand amidships, a little aft.
        start = self.first if deck.to_outlines else first - 0.55 * (self.long - (last - first))
        left = LEFT + NOSE - start * self.scale

        def at(corner: tuple[float, float]) -> tuple[float, float]:
            return left + corner[0] * self.scale, top + (high - corner[1]) * self.scale

        tall = (high - low) * self.scale
        shape = self.hull(at((first, 0))[0], at((last, 0))[0], top, tall) if not deck.to_outlines else ""
        if deck.to_outlines:
            y = at((0, 0.0))[1]
            shape = f'<path d="M{LEFT + 60:g} {y:.1f}H{WIDE - RIGHT:g}" stroke="{QUIET}" stroke-width="2" ' \
                    f'stroke-dasharray="26 8 6 8"/>' + _words(LEFT, y + 8, "bow", size=SMALL, fill=SOFT)  # fmt: skip
        rooms = "".join(self.room(room, [at(corner) for corner in room.corners]) for room in deck.rooms)
        self.y = top + tall + 34
        return title + shape + rooms

    def hull(self, left: float, right: float, top: float, tall: float) -> str:
        """The deck's edge: a bow ahead of the rooms, a square stern."""
        if not self.bow:
            return ""
        stem, low, out = left - min(NOSE, 0.55 * tall), top + tall, 10.0
        full = stem + 0.3 * (left - stem)
        return (
            f'<path d="M{right + out:.1f} {top - out:.1f}L{left:.1f} {top - out:.1f}'
            f"Q{full:.1f} {top - out:.1f} {stem:.1f} {top + 0.5 * tall:.1f}"
            f"Q{full:.1f} {low + out:.1f} {left:.1f} {low + out:.1f}"
            f'L{right + out:.1f} {low + out:.1f}Z" fill="none" stroke="{QUIET}" stroke-width="3"/>'
        )

    def room(self, room: Room, corners: Sequence[tuple[float, float]]) -> str:
        """Shade, edge and words of one room."""
        load = self.loads[room.name]
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in corners) + "Z"
        cooled = load.flux is not None
        fill = f"url(#flux-{_step_of(load.flux, self.edges)})" if load.flux is not None else "none"
        dashes = "" if cooled else ' stroke-dasharray="10 8"'
        shape = f'<path d="{path}" fill="{fill}" stroke="{INK}" stroke-width="{4 if cooled else 2}"{dashes}/>'
        x, y = middle([(a, b) for a, b in corners])
        wide, tall = (max(values) - min(values) - 16 for values in zip(*corners, strict=True))
        if len(corners) > 4:
            wide, tall = 0.75 * wide, 0.75 * tall
        lines = self.fitting(room.name, load, wide, tall)
        return shape + _plate(x, y, lines)

    def fitting(self, name: str, load: Load, wide: float, tall: float) -> list[Line]:
        """The fullest wording that fits a room; else a number that the list below spells out."""
        values = self.values(load)
        short = f"{values[-1]} · {load.hour}"
        for label in (_wrapped(name, wide), [name]):
            bold = [(line, "600") for line in label]
            wordings = [[*values, f"at {load.hour}"], [*values[:-1], short]] if load.hour else [values]
            for rest in wordings:
                lines = [*bold, *((line, "400") for line in rest)]
                if _fits(lines, wide, tall):
                    return lines
        one = [(f"{name}: {' · '.join(values)}" + (f" · {load.hour}" if load.hour else ""), "400")]
        if _fits(one, wide, tall):
            return one
        self.numbered.append(name)
        return [(str(len(self.numbered)), "600")]

    def values(self, load: Load) -> list[str]:
        """A room's load over area, a line for each unit."""
        if load.flux is None:
            return ["not cooled"]
        if not load.hour:
            return ["no load"]
        both = [phrase(load.flux, FLUX, "si"), phrase(load.flux, FLUX, "us")]
        return {"si": both[:1], "us": both[1:], "both": both}[self.system]

    def small_rooms(self) -> str:
        """Rooms that bear a number, in columns."""
        columns = COLUMNS[self.system]
        out, wide = [], (WIDE - LEFT - RIGHT) / columns
        rows = ceil(len(self.numbered) / columns)
        for i, name in enumerate(self.numbered):
            load = self.loads[name]
            said = " · ".join(self.values(load)) + (f" at {load.hour}" if load.hour else "")
            room = int((wide - 30) / (0.53 * SMALL)) - len(said) - len(str(i + 1)) - 3
            x, y = LEFT + wide * (i // rows), self.y + 26 + 32 * (i % rows)
            out.append(_words(x, y, f"{i + 1}  {_shortened(name, max(room, 8))}: {said}", size=SMALL))
        self.y += 32 * rows + (16 if rows else 0)
        return "".join(out)

    def scale_bar(self) -> str:
        """A length to measure outlines by."""
        if not self.outlined:
            return ""
        bars = SCALE_BARS["us" if self.system == "us" else "si"]
        metres, text = next((bar for bar in bars if bar[0] * self.scale <= 420), bars[-1])
        right, y = WIDE - RIGHT, self.y + 14
        left = right - metres * self.scale
        self.y += 44
        return (
            f'<path d="M{left:.1f} {y - 8:.1f}v16M{left:.1f} {y:.1f}H{right:g}M{right:g} {y - 8:.1f}v16" fill="none" '
            f'stroke="{INK}" stroke-width="3"/>' + _words(left - 12, y + 8, text, anchor="end", size=SMALL)
        )  # fmt: skip

    def key(self) -> str:
        """Steps of shade and hatch with the loads they stand for."""
        x, y, out, low = LEFT, self.y + 8, [], 0.0
        first: UnitSystem = "us" if self.system == "us" else "si"
        samples = []
        for i, edge in enumerate(self.edges):
            text = f"{_range(low, edge, first)} {units(FLUX, first)[0]}"
            if self.system == "both":
                text += f" ({_range(low, edge, 'us', '.0f')})"
            low = edge
            samples.append((f'fill="url(#flux-{i})"', text))
        if any(load.flux is None for load in self.loads.values()):
            samples.append(('fill="none" stroke-dasharray="10 8"', "not cooled"))
        for fill, text in samples:
            wide = 96 + 13.2 * len(text)
            if x + wide > WIDE - RIGHT + 24:
                x, y = LEFT, y + 52
            out.append(f'<rect x="{x:.0f}" y="{y:.0f}" width="58" height="38" {fill} stroke="{INK}" '
                       f'stroke-width="2"/>' + _words(x + 70, y + 28, text, size=SMALL))  # fmt: skip
            x += wide
        self.y = y + 56
        return "".join(out)


def _range(low: float, high: float, system: UnitSystem, form: str = ".3g") -> str:
    factor = FLUX.us_factor if system == "us" else FLUX.si_factor
    return f"{low * factor:{form}}–{high * factor:{form}}"


def _plate(x: float, y: float, lines: Sequence[Line]) -> str:
    """Words on paper's ground about a point, so that no hatch runs through them."""
    wide, tall = max(_length(*line) for line in lines) + 12, 30 * len(lines) + 6
    out = [f'<rect x="{x - 0.5 * wide:.1f}" y="{y - 0.5 * tall:.1f}" width="{wide:.1f}" height="{tall}" rx="6" '
           f'fill="{WHITE}"/>']  # fmt: skip
    first = y - 0.5 * tall + 26
    out += [
        _words(x, first + 30 * i, text, anchor="middle", size=SIZE if weight == "600" else SMALL, weight=weight)
        for i, (text, weight) in enumerate(lines)
    ]
    return "".join(out)


def _length(text: str, weight: str) -> float:
    """How long a line is drawn: a mean width of letters, rather too wide than too narrow."""
    return (0.62 * SIZE if weight == "600" else 0.56 * SMALL) * len(text)


def _fits(lines: Sequence[Line], wide: float, tall: float) -> bool:
    return max(_length(*line) for line in lines) + 12 <= wide and 30 * len(lines) + 6 <= tall


def _wrapped(text: str, wide: float) -> list[str]:
    """Words of a name in lines no longer than a room."""
    lines = [""]
    for word in text.split():
        if lines[-1] and _length(f"{lines[-1]} {word}", "600") + 12 > wide:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


def _shortened(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def _words(
    x: float, y: float, text: str, *, anchor: str = "start", size: float, weight: str = "400", fill: str = INK
) -> str:
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" text-anchor="{anchor}" font-size="{size:g}" font-weight="{weight}" '
        f'fill="{fill}">{escape(text)}</text>'
    )
