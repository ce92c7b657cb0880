"""One-line diagrams of air and of sea water: the schedules' numbers on the way the air and the water take.

Readable without colour: boxes are things, lines are flows, a thick line carries more; what falls short is marked by a
double frame and by words.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import IO, TYPE_CHECKING, Any, NamedTuple

from heatsim.equipment.plan import Plan
from heatsim.report.amounts import AIR_FLOW, UnitSystem, difference, phrase, temperature
from heatsim.report.pictures import INK, PAPER, QUIET, Drawing, plain
from heatsim.report.plan_pictures import shortened
from heatsim.report.service_amounts import SHOWN
from heatsim.services import schedule as kinds
from heatsim.services.air import SHORT, fresh_air, treated_air, wanted
from heatsim.services.circuits import circuits
from heatsim.services.grilles import air_systems
from heatsim.services.seawater import STARVED, at, rise
from heatsim.services.surroundings import surroundings

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PICTURES = ("air-line.png", "sea-line.png")
ROW, HEAD, WIDTH = 0.62, 1.0, 10.6
"""[in] Of one line, of the title, of the picture."""
MOST_ROWS = 36
THIN, THICK = 0.8, 4.0
"""[pt] Line of a stream of nothing, and of the largest."""
BOX, SHORTFALL = "#eef1ec", "#f2c14e"


class Stream(NamedTuple):
    """One line of air: zone, what comes, over what, what is behind, line width, whether it falls short."""

    zone: str
    flow: str
    way: str
    room: str
    width: float
    short: bool


class AirUnit(NamedTuple):
    """A unit with its streams: model, what it sends out."""

    label: str
    sends: str
    streams: tuple[Stream, ...]


class SeaBranch(NamedTuple):
    """One branch: the unit, flow and hose, rise, where it leaves, line width, whether it starves."""

    label: str
    flow: str
    unit: str
    leaves: str
    width: float
    short: bool


class SeaLine(NamedTuple):
    """One pump: name, skin fitting, strainer, pump with its duty, branches."""

    name: str
    inlet: str
    strainer: str
    pump: str
    branches: tuple[SeaBranch, ...]


def service_drawings(made: Plan, system: UnitSystem) -> list[Drawing]:
    """The one-line diagrams of a plan's chosen layout."""
    name = plain(made.resolved.name)
    air, sea = _air_lines(made, system), _sea_lines(made, system)
    title = f"{name}: supply air", f"{name}: sea water at {temperature(made.needs.sea, system)}"
    drawings = [Drawing(PICTURES[0], air_line, (air, title[0]))]
    if sea:
        drawings.append(Drawing(PICTURES[1], sea_line, (sea, title[1])))
    return drawings


def _amount(value: float, kind: str, system: UnitSystem) -> str:
    return phrase(value, SHOWN[kind], system)


def _air_lines(made: Plan, system: UnitSystem) -> tuple[AirUnit, ...]:
    around = surroundings(made)
    fresh = fresh_air(made)
    units = []
    systems = air_systems(made, around)[0]
    largest = max((one.flow(zone) for one in systems for zone in one.work.offer.zones), default=1.0)
    for one in systems:
        streams = []
        whole = max(sum(run.flow for run in one.runs), 1e-9)
        for zone in one.work.offer.zones:
            runs = [run for run in one.runs if run.zone == zone]
            flow = one.flow(zone)
            bores = Counter(run.run.bore for run in runs)
            ways = " and ".join(f"{n} × {_amount(bore, kinds.BORE, system)}" for bore, n in sorted(bores.items()))
            speed = max(run.run.speed(run.flow) for run in runs)
            coldest = min(run.supply for run in runs)
            outdoor = fresh.get(zone, 0.0)
            short = flow < SHORT * wanted(made, one.planned, zone)
            streams.append(Stream(
                plain(zone), f"{phrase(flow, AIR_FLOW, system)} at {temperature(coldest, system)}",
                f"{ways}, {_amount(speed, kinds.SPEED, system)}" + (", too little" if short else ""),
                f"outdoor air {phrase(outdoor, AIR_FLOW, system)}" if outdoor > 0.0 else "no outdoor air of its own",
                THIN + (THICK - THIN) * flow / largest, short,
            ))  # fmt: skip
        sends = f"{phrase(whole, AIR_FLOW, system)} at {temperature(one.work.supply, system)}"
        units.append(AirUnit(plain(one.work.label), sends, tuple(streams)))
    treated = treated_air(made)
    if treated is not None:
        whole, supply = sum(treated.flows.values()), temperature(treated.supply, system)
        stream = Stream(
            f"{len(treated.flows)} rooms", f"{phrase(whole, AIR_FLOW, system)} at {supply}", "in runs of its own",
            "outdoor air, cooled and dried before", THIN + (THICK - THIN) * min(whole / largest, 1.0), False,
        )  # fmt: skip
        units.append(AirUnit(plain(treated.label), f"{phrase(whole, AIR_FLOW, system)} from outdoors", (stream,)))
    return tuple(units)


def _sea_lines(made: Plan, system: UnitSystem) -> tuple[SeaLine, ...]:
    lines = []
    for circuit in circuits(made)[0]:
        duty = circuit.duty()
        branches = []
        for branch, flow in zip(circuit.branches, duty.branches, strict=True):
            unit = at(made, branch, flow)
            short = unit is None or flow < STARVED * branch.wanted
            count = f"{branch.unit.count} × " if branch.unit.count > 1 else ""
            water = "too little water" if unit is None else (
                f"rises {difference(rise(circuit, unit, flow), system)}, leaves at "
                f"{temperature(made.needs.sea + rise(circuit, unit, flow), system)}"
            )  # fmt: skip
            branches.append(SeaBranch(
                plain(shortened(" + ".join(branch.unit.serves), 34)),
                f"{_amount(flow, kinds.WATER_FLOW, system)}, {_amount(branch.run.bore, kinds.BORE, system)}",
                plain(count + branch.unit.unit.model) + (", starved" if short else ""), water,
                THIN + (THICK - THIN) * flow * branch.unit.count / max(duty.flow, 1e-9), short,
            ))  # fmt: skip
        lines.append(SeaLine(
            plain(circuit.name), f"skin fitting {_amount(circuit.through_hull, kinds.BORE, system)}",
            f"clean {_amount(circuit.fluid.head(circuit.strainer * duty.flow**2), kinds.HEAD, system)} of "
            f"{_amount(duty.head, kinds.HEAD, system)}",  # the pump's whole head: beside its flow it would not fit
            _amount(duty.flow, kinds.WATER_FLOW, system),
            tuple(branches),
        ))  # fmt: skip
    return tuple(lines)


def air_line(units: Sequence[AirUnit], title: str, stream: IO[bytes]) -> None:
    """Units at the left, their zones at the right, the ducts between them."""
    rows = sum(len(unit.streams) for unit in units)
    figure, axes, height = _sheet(min(rows, MOST_ROWS), title)
    y = height - HEAD - ROW / 2.0
    drawn = 0
    for unit in units:
        streams = unit.streams[: MOST_ROWS - drawn]
        if not streams:
            break
        last = y - ROW * (len(streams) - 1)
        middle = 0.5 * (y + last)
        _box(axes, 0.25, middle, 2.35, unit.label, unit.sends)
        trunk = min(THIN + sum(one.width - THIN for one in streams), THICK)
        if len(streams) > 1:
            axes.plot([3.0, 3.0], [y, last], color=INK, linewidth=trunk, solid_capstyle="round")
        axes.plot([2.6, 3.0], [middle, middle], color=INK, linewidth=trunk)
        for one in streams:
            _arrow(axes, 3.0, 7.2, y, one.width)
            _over(axes, 3.15, y, one.flow, one.way)
            _box(axes, 7.2, y, 3.15, one.zone, one.room, one.short)
            y -= ROW
        drawn += len(streams)
    _more(figure, rows - drawn)
    _save(figure, stream)


def sea_line(lines: Sequence[SeaLine], title: str, stream: IO[bytes]) -> None:
    """From the sea through skin fitting, strainer and pump to every unit and overboard."""
    rows = sum(max(len(line.branches), 3) for line in lines)
    figure, axes, height = _sheet(min(rows, MOST_ROWS), title)
    y = height - HEAD - ROW / 2.0
    drawn = shown = 0
    for line in lines:
        branches = line.branches[: MOST_ROWS - drawn]
        if not branches:
            break
        taken = max(len(branches), 3)
        top, bottom = y, y - ROW * (taken - 1)
        middle = 0.5 * (top + bottom)
        for step, (name, text) in enumerate(
            (("pump, " + line.name, line.pump), ("strainer", line.strainer), ("from the sea", line.inlet))
        ):
            _box(axes, 0.25, middle + ROW * (1 - step), 2.45, shortened(name, 30), text)
        for step in (0, 1):  # up from the sea over the strainer to the pump
            style: dict[str, Any] = {"arrowstyle": "-|>", "color": INK, "linewidth": 2.4, "shrinkA": 0, "shrinkB": 0}
            axes.annotate("", (1.475, middle + ROW * step - ROW / 2.0 + 0.06),
                          (1.475, middle + ROW * (step - 1) + ROW / 2.0 - 0.06), arrowprops=style)  # fmt: skip
        axes.plot([2.7, 3.0], [middle + ROW, middle + ROW], color=INK, linewidth=3.2)
        first = y - ROW * (taken - len(branches)) / 2.0
        ends = [first, first - ROW * (len(branches) - 1)]
        axes.plot([3.0, 3.0], [max(ends[0], middle + ROW), min(ends[1], middle + ROW)], color=INK, linewidth=2.4)
        for i, one in enumerate(branches):
            at_ = first - ROW * i
            _arrow(axes, 3.0, 5.75, at_, one.width)
            _over(axes, 3.15, at_, one.flow, one.unit)
            _box(axes, 5.75, at_, 4.6, one.label, one.leaves, one.short)
        y -= ROW * taken
        drawn, shown = drawn + taken, shown + len(branches)
    _more(figure, sum(len(line.branches) for line in lines) - shown)
    _save(figure, stream)


def _sheet(rows: int, title: str) -> tuple[Figure, Axes, float]:
    """A picture whose axes count inches from its lower left corner."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    height = HEAD + ROW * rows + 0.35
    figure = Figure(figsize=(WIDTH, height), facecolor=PAPER)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, WIDTH)
    axes.set_ylim(0.0, height)
    axes.axis("off")
    axes.text(0.25, height - 0.48, title, fontsize=13, color=INK, weight="bold")
    axes.text(0.25, height - 0.74, "flows as they are with ducts, hoses and pumps as entered or assumed", fontsize=8.5,
              color=QUIET)  # fmt: skip
    return figure, axes, height


def _box(axes: Axes, x: float, y: float, width: float, name: str, text: str, short: bool = False) -> None:
    from matplotlib.patches import Rectangle

    half = ROW / 2.0 - 0.06
    colour = SHORTFALL if short else BOX
    axes.add_patch(Rectangle((x, y - half), width, 2.0 * half, facecolor=colour, edgecolor=INK, linewidth=0.8))
    if short:
        inner = {"facecolor": "none", "edgecolor": INK, "linewidth": 0.8}
        axes.add_patch(Rectangle((x + 0.05, y - half + 0.05), width - 0.1, 2.0 * half - 0.1, **inner))  # type: ignore[arg-type]
    most = int(13.2 * width)
    axes.text(x + 0.13, y + 0.05, shortened(name, most), fontsize=8.8, color=INK, weight="bold")
    axes.text(x + 0.13, y - 0.135, shortened(text, int(17.5 * width)), fontsize=7.6, color=INK)


def _arrow(axes: Axes, start: float, end: float, y: float, width: float) -> None:
    style: dict[str, Any] = {"arrowstyle": "-|>", "color": INK, "linewidth": width, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", (end, y), (start, y), arrowprops=style)


def _over(axes: Axes, x: float, y: float, above: str, below: str) -> None:
    axes.text(x, y + 0.075, above, fontsize=7.8, color=INK)
    axes.text(x, y - 0.205, below, fontsize=7.4, color=INK)


def _more(figure: Figure, left: int) -> None:
    if left > 0:
        figure.text(0.025, 0.01, f"and {left} more in the schedules", fontsize=8, color=INK)


def _save(figure: Figure, stream: IO[bytes]) -> None:
    figure.savefig(stream, format="png", dpi=130, pil_kwargs={"compress_level": 3})
