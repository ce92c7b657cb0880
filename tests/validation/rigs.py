"""Plain boxes whose heat flow is known in closed form, carried by heatsim's own network and steps.

A rig is a scenario in resolved form (films and layers of its own, no sun, no sky, no long-wave exchange) whose network
is assembled as for any boat; only the courses of its drivers are set here instead of by a weather.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from boxes import NEVER, plain_box, plain_day, plain_face, plain_zone

from heatsim.climate.days import design_weather
from heatsim.loads.line import Line, make_line
from heatsim.scenario import resolved as r
from heatsim.solve.base import Advanced, Band
from heatsim.solve.forcing import force
from heatsim.solve.forms import Condensed
from heatsim.solve.operators import prepare
from heatsim.solve.stepping import advance

Array = npt.NDArray[np.float64]
Layers = Sequence[tuple[float, float, float, float]]
"""Thickness [m], conductivity [W/(m·K)], density [kg/m³], specific heat [J/(kg·K)], from inside to outside."""
STILL = plain_day(dry_bulb_max=0.0, daily_range=0.0, dew_point=-20.0, sea=0.0)
TIGHT = 1e9
"""[W/(m²·K)] A film that is no film."""


def massless(resistance: float) -> tuple[float, float, float, float]:
    """A layer that is a resistance only [m²·K/W]."""
    return (1.0, 1.0 / resistance, 0.0, 0.0)


def face(
    name: str, area: float, inside: float, outside: float, *, lay_up: str | None = None, **changes: object
) -> r.Face:
    """A wall in the dark with films of its own; its lay-up has its name."""
    plain: dict[str, object] = {
        "absorptance": 0.0, "emissivity": 0.0, "inside_emissivity": 0.0, "inside_film": inside, "outside_film": outside,
        "lay_up": lay_up or name,
    }  # fmt: skip
    return plain_face(name, "house", 90.0, 90.0, area, **(plain | changes))


def room(name: str = "room", air_factor: float = 0.0, **changes: object) -> r.Zone:
    """A zone of 24 m³ with nothing in it; its air is massless unless a factor is given."""
    empty = {"furnishing_capacity": 0.0, "fan_on": NEVER, "air_capacity_factor": air_factor}
    return plain_zone(name, **(empty | changes))


def lay_up(name: str, layers: Layers, bridge: float = 0.0) -> r.LayUp:
    return r.LayUp(name, tuple(r.Layer("", *layer) for layer in layers), bridge)


def boat(
    zones: Sequence[r.Zone], faces: Sequence[r.Face], lay_ups: Mapping[str, Layers], **changes: object
) -> r.Resolved:
    made = tuple(lay_up(name, layers) for name, layers in lay_ups.items())
    return plain_box(faces, zones=tuple(zones), lay_ups=made, **({"day": STILL} | changes))  # type: ignore[arg-type]


@dataclass(frozen=True)
class Rig:
    """A box and its network; `run` carries it from 0 °C."""

    resolved: r.Resolved

    @cached_property
    def line(self) -> Line:
        return make_line(self.resolved, (design_weather(self.resolved, self.resolved.days[0], 3600.0),))

    def run(
        self, step: float, steps: int, outdoors: Array | float = 0.0, gains: Mapping[int, float] | None = None,
        hold: bool = False,
    ) -> Course:  # fmt: skip
        """Carry the box over `steps` steps; `outdoors` (steps + 1,) runs straight between them, or jumps at once.

        `gains` are heat into the air of zones [W]. With `hold` every zone is held at 0 °C.
        """
        operators = prepare(self.line.heat_operators.system, step)
        network = self.line.heat
        air = np.broadcast_to(np.asarray(outdoors, dtype=float), steps + 1)
        u = np.zeros((2, 1, steps, len(network.drivers)))
        for column, driver in enumerate(network.drivers):
            if driver.kind == "air":
                u[:, 0, :, column] = np.stack([air[:-1], air[1:]])
            elif driver.kind == "gain" and gains is not None:
                u[..., column] = gains[driver.of[0]]
        n, zones = int(np.sum(network.capacity > 0.0)), len(network.zones)
        limit = np.full((1, steps, zones), np.inf if hold else 0.0)
        band = Band(np.zeros_like(limit), np.zeros_like(limit), limit, limit)
        number = np.zeros(steps, dtype=np.int64)
        done = advance(operators, np.zeros((1, n)), force(operators, u[0], u[1], number), number, band)
        return Course(network.nodes, operators.regimes[0].condensed, operators.regimes[0].from_modes, done, u)

    def response(self, period: float, zone_air: float, outdoors: float) -> dict[str, complex]:
        """Amplitude of every node of the network under sines of `period`, the zone's air given and massless."""
        system = self.line.heat_operators.system
        drivers = self.line.heat.drivers
        u = np.array([outdoors if driver.kind == "air" else 0.0 for driver in drivers], dtype=complex)
        K, B = system.K[0], system.B[0]
        free = [i for i, name in enumerate(system.nodes) if not name.endswith(" air")]
        held = [i for i in range(len(system.nodes)) if i not in free]
        matrix = 2j * np.pi / period * np.diag(system.capacity) - K
        right = (B @ u)[free] + K[np.ix_(free, held)] @ np.full(len(held), zone_air, dtype=complex)
        found = np.linalg.solve(matrix[np.ix_(free, free)], right)
        return {system.nodes[i]: complex(value) for i, value in zip(free, found, strict=True)}


@dataclass(frozen=True)
class Course:
    """What a run did, at the end of each of its steps."""

    nodes: tuple[str, ...]
    condensed: Condensed
    from_modes: Array
    done: Advanced
    u: Array

    def temperature(self, node: str) -> Array:
        """Of a node, massless ones too, at every step's end. [°C]"""
        i = self.nodes.index(node)
        state = np.concatenate([self.done.start[0, 1:] @ self.from_modes.T, self.done.end])
        c = self.condensed
        return np.asarray(state @ c.from_state[i] + self.u[1, 0] @ c.from_drivers[i] + self.heat() @ c.from_heat[i])

    def heat(self) -> Array:
        """Heat into each zone's air by its equipment at every step's end (step, zone). [W]"""
        return np.asarray(self.done.heat[0] + self.done.slope[0] / 2.0)
