"""Does anything notice? Physics bent by 2 to 20 %, one piece at a time, and the checks that must object.

`python -m tests.validation.mutations` bends each piece in a fresh process, runs the files expected to see it until the
first failure, and lists what nothing saw. The written page is not consulted: only what others published may object.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import os
import pkgutil
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

FOLDER = Path(__file__).resolve().parent
TESTS = FOLDER.parent
WORKERS = 2


@dataclass(frozen=True)
class Mutation:
    """One bent piece: what, by how much, the test files expected to see it, and how to bend it."""

    name: str
    size: str
    files: tuple[str, ...]
    bend: Callable[[], None]


def modules() -> list[Any]:
    """Every module of the package, imported."""
    import heatsim

    found = [heatsim]
    for one in pkgutil.walk_packages(heatsim.__path__, "heatsim."):
        if one.name != "heatsim.__main__" and not one.name.endswith("derive_marine"):
            found.append(importlib.import_module(one.name))
    return found


def swap(old: Any, new: Any) -> None:
    """Put `new` wherever a module of the package holds `old` by name."""
    held = [(module, name) for module in modules() for name, value in vars(module).items() if value is old]
    if not held:
        raise LookupError(f"nothing holds {old!r}")
    for module, name in held:
        setattr(module, name, new)


def scaled(function: Callable[..., Any], factor: float) -> None:
    """Multiply what a function returns."""
    swap(function, lambda *given, **named: function(*given, **named) * factor)


def _films(name: str, factor: float) -> Callable[[], None]:
    def bend() -> None:
        from heatsim.physics import films

        scaled(getattr(films, name), factor)

    return bend


def _inside_films() -> None:
    for name in ("forced_inside_convection", "natural_inside_convection"):
        _films(name, 0.85)()


def _drivers(kind: str, factor: float) -> Callable[[], None]:
    """Scale the drivers of one kind."""

    def bend() -> None:
        from heatsim.network import drivers

        whole = drivers.heat_drivers

        def bent(network: Any, site: Any, sun: Any) -> Any:
            u = whole(network, site, sun)
            u[..., [i for i, driver in enumerate(network.drivers) if driver.kind == kind]] *= factor
            return u

        swap(whole, bent)

    return bend


def _sky() -> None:
    from heatsim.physics import sky

    for function in (sky.sky_temperature, sky.sky_temperature_of_radiation):
        swap(function, lambda *given, _whole=function: _whole(*given) - 3.0)


def _foreground() -> None:
    from heatsim.climate import views
    from heatsim.physics import sea_surface

    whole = views._reflectances
    swap(whole, lambda grounds: tuple(1.2 * part if i else part for i, part in enumerate(whole(grounds))))
    swap(sea_surface.DIFFUSE_REFLECTANCE, 1.2 * sea_surface.DIFFUSE_REFLECTANCE)


def _sun(change: Callable[[Any], Any]) -> Callable[[], None]:
    """Change what falls on and through the faces."""

    def bend() -> None:
        from heatsim.climate import sun

        whole = sun.sun_on_boat
        swap(whole, lambda *given, **named: change(whole(*given, **named)))

    return bend


def _less_through(sun: Any) -> Any:
    return replace(
        sun, transmitted=0.95 * sun.transmitted, outer_absorbed=0.95 * sun.outer_absorbed,
        inner_absorbed=0.95 * sun.inner_absorbed,
    )  # fmt: skip


def _flat_glass() -> None:
    """Glass that passes at every angle what it passes straight on."""
    from heatsim.climate import sun
    from heatsim.physics import glazing

    whole, table = sun._glass, glazing.tabulated

    def flat(*given: Any) -> Any:
        made = whole(*given)
        return made._replace(levels=np.repeat(made.levels[:, -1:], made.levels.shape[1], 1), slopes=0.0 * made.slopes)

    def flat_table(*given: Any, **named: Any) -> Any:
        made = table(*given, **named)
        return made._replace(transmittance=(made.transmittance[0],) * len(made.angles))

    swap(whole, flat)
    swap(table, flat_table)


def _label() -> None:
    from heatsim.climate import position

    whole = position.sun_position
    half = np.timedelta64(30, "m")
    swap(whole, lambda times, *given: whole(times + half, *given))


def _mirrored() -> None:
    from heatsim.climate import shade

    whole = shade.plane_axes
    swap(whole, lambda bearing, tilt: whole(-bearing, tilt))


def _heading() -> None:
    from heatsim.climate import sun

    whole = sun.sun_on_boat
    swap(whole, lambda resolved, weather, headings: whole(resolved, weather, -np.asarray(headings, dtype=float)))


def _furnishings() -> None:
    from heatsim.network import heat

    whole = heat.heat_network

    def bent(resolved: Any, *given: Any) -> Any:
        zones = tuple(replace(z, furnishing_capacity=0.8 * z.furnishing_capacity) for z in resolved.zones)
        return whole(replace(resolved, zones=zones), *given)

    swap(whole, bent)


def _walls(resistance: float, capacity: float) -> Callable[[], None]:
    def bend() -> None:
        from heatsim.physics import layers

        whole, steady = layers.cells, layers.resistance
        swap(whole, lambda given: tuple(f * part for f, part in zip((resistance, capacity), whole(given), strict=True)))
        if resistance != 1.0:
            swap(steady, lambda given: resistance * steady(given))

    return bend


def _latent_heat() -> None:
    from heatsim.network import drivers

    swap(drivers.EVAPORATION, 0.97 * drivers.EVAPORATION)


def _density() -> None:
    from heatsim.physics import moist_air

    scaled(moist_air.dry_air_density, 1.05)


def _sea() -> None:
    from heatsim.climate import days

    whole = days.design_weather

    def bent(*given: Any) -> Any:
        weather = whole(*given)
        return replace(weather, sea=weather.sea + 1.0)

    swap(whole, bent)


def _frames() -> None:
    from heatsim.physics import frames

    scaled(frames.frame_transmittance, 0.8)


def _dropped_path() -> None:
    from heatsim.loads import paths
    from heatsim.network.base import HEAT_PATHS

    whole = paths._gains

    def bent(network: Any, *given: Any) -> Any:
        gains = whole(network, *given)
        if network.paths == HEAT_PATHS:
            gains[..., network.paths.index("infiltration")] = 0.0
        return gains

    swap(whole, bent)


def _dropped_cause() -> None:
    from heatsim.loads import causes
    from heatsim.network.base import CAUSES

    whole = causes.split_days

    def bent(*given: Any) -> Any:
        splits = whole(*given)
        for one in splits:
            one.load[..., CAUSES.index("people")] = 0.0
        return splits

    swap(whole, bent)


MUTATIONS = (
    Mutation("outside film", "+10 %", ("test_films_and_sea.py",), _films("outside_convection", 1.10)),
    Mutation("inside film", "-15 %", ("test_films_and_sea.py", "test_layered_walls.py"), _inside_films),
    Mutation("radiant film", "-15 %", ("test_radiant_exchange.py",), _films("enclosure_exchange", 0.85)),
    Mutation("wall resistance", "+5 %", ("test_layered_walls.py", "test_closed_forms.py"), _walls(1.05, 1.0)),
    Mutation("wall capacity", "-10 %", ("test_periodic_walls.py", "test_conduction_cube.py"), _walls(1.0, 0.9)),
    Mutation("absorptance", "+20 %", ("test_trade_facts.py", "test_cells.py"), _drivers("outer_sun", 1.2)),
    Mutation("sky", "3 K colder", ("test_cells.py",), _sky),
    Mutation("foreground", "+20 %", ("test_sun_in_rooms.py",), _foreground),
    Mutation("solar factor", "-5 %", ("test_glass.py", "test_cells.py"), _sun(_less_through)),
    Mutation("angle law", "none", ("test_sun_and_sky.py",), _flat_glass),
    Mutation("hour label", "30 min", ("test_sun_and_sky.py", "test_measured_sun.py"), _label),
    Mutation("bearing mirrored", "all", ("test_cells.py", "test_sun_in_rooms.py", "test_measured_sun.py"), _mirrored),
    Mutation("heading sign", "all", ("test_sun_and_sky.py",), _heading),
    Mutation("furnishing capacity", "-20 %", ("test_sun_in_rooms.py", "test_closed_forms.py"), _furnishings),
    Mutation("latent heat", "-3 %", ("test_humid_air.py", "test_ship_standard.py"), _latent_heat),
    Mutation("outdoor-air density", "+5 %", ("test_humid_air.py", "test_ship_standard.py"), _density),
    Mutation("sea", "+1 K", ("test_closed_forms.py",), _sea),
    Mutation("frame bridging", "-20 %", ("test_metal_frames.py",), _frames),
    Mutation("awning temperature", "-20 % of its sun", ("test_trade_facts.py",), _drivers("awning_sun", 0.8)),
    Mutation("dropped path", "infiltration", ("../loads/test_identities.py",), _dropped_path),
    Mutation("dropped cause", "people", ("../loads/test_identities.py",), _dropped_cause),
)


def run_one(name: str, files: list[str]) -> int:
    """In this process: bend, then run files to the first failure; pytest's exit code."""
    import pytest

    next(m for m in MUTATIONS if m.name == name).bend()
    return int(pytest.main(["-x", "-q", "--no-header", "-p", "no:cacheprovider", "-p", "no:xdist", *files]))


def _seen(mutation: Mutation, all_files: bool) -> tuple[str, float]:
    """What objected first, empty where nothing did, and how long that took."""
    named = [str((FOLDER / file).resolve()) for file in mutation.files]
    files = [str(FOLDER)] if all_files else [file for file in named if Path(file).exists()]
    words = [sys.executable, "-m", "tests.validation.mutations", "--one", mutation.name, *files]
    began = time.monotonic()
    done = subprocess.run(words, capture_output=True, text=True, cwd=TESTS.parent, env={**os.environ, PAGE_OFF: "1"})
    failed = [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    if done.returncode != (1 if failed else 0):
        raise RuntimeError(f"{mutation.name}: the checks did not run\n{done.stdout[-800:]}{done.stderr[-800:]}")
    return (failed[0].split(" - ")[0] if failed else ""), time.monotonic() - began


PAGE_OFF = "HEATSIM_VALIDATION_RENEWING"
"""Environment variable that keeps rows from being held to the written page."""


def main() -> None:
    """Bend everything, print who saw it and what nobody saw."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--one")
    parser.add_argument("--name", action="append", help="Only these.")
    parser.add_argument("files", nargs="*")
    given = parser.parse_args()
    if given.one:
        sys.exit(run_one(given.one, given.files))
    chosen = [m for m in MUTATIONS if not given.name or m.name in given.name]
    gaps = []

    def look(mutation: Mutation) -> tuple[str, float, bool]:
        seen, took = _seen(mutation, all_files=False)
        if seen:
            return seen, took, True
        wider, more = _seen(mutation, all_files=True)
        return wider, took + more, False

    with ThreadPoolExecutor(WORKERS) as pool:
        for mutation, (seen, took, expected) in zip(chosen, pool.map(look, chosen), strict=True):
            where = "seen" if expected else "seen elsewhere" if seen else "NOT SEEN"
            print(f"{mutation.name:22s} {mutation.size:18s} {where:15s} {took:5.0f} s  {seen}", flush=True)
            if not seen:
                gaps.append(mutation.name)
    print(f"{len(chosen) - len(gaps)} of {len(chosen)} seen" + (f"; gaps: {', '.join(gaps)}" if gaps else ""))
    with contextlib.suppress(BrokenPipeError):
        sys.stdout.flush()
    sys.exit(1 if gaps else 0)


if __name__ == "__main__":
    main()
