"""The resolved scenario: every default explicit, plain SI, frozen.

This is the one value that climate, network and loads read. Temperatures in °C, areas in m², powers in W, flows in
m³/s, angles in degrees. Bearings on the boat: 0 bow, 90 starboard, 180 stern, 270 port. Tilt: 0 faces up, 90 vertical,
180 faces down. Layers run from inside to outside. Names are unique within their kind; zone and space names share one
namespace.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from heatsim.scenario.electrics import NO_POWER, PowerAboard
from heatsim.scenario.terms import NO_TERMS, Terms

if TYPE_CHECKING:
    from heatsim.scenario.services import Services

FaceKind = Literal["hull", "bottom", "deck", "house", "glass", "bulkhead", "sole"]
DayKind = Literal["hot", "humid", "typical"]

Basis = Literal["hour by hour", "ship-standard-2002", "ship-standard-2002 by layers"]

HOUR_BY_HOUR: Basis = "hour by hour"
SHIP_STANDARD_BY_LAYERS: Basis = "ship-standard-2002 by layers"
OUTDOORS = "outdoors"
SEA = "sea"
ADIABATIC = "adiabatic"
GLASS_EMISSIVITY = 0.84
"""[-] Long-wave, of bare glass (EN 673: 0.837, from memory)."""


@dataclass(frozen=True)
class Routine:
    """A course over the clock day: `values[i]` holds from `minutes[i]` to the next edge; `minutes[0]` is 0."""

    name: str
    minutes: tuple[int, ...]
    values: tuple[float, ...]


@dataclass(frozen=True)
class Layer:
    """One homogeneous layer. A massless layer has density 0; its resistance is thickness ÷ conductivity."""

    material: str
    thickness: float
    conductivity: float
    density: float
    specific_heat: float


@dataclass(frozen=True)
class LayUp:
    """Layers from inside to outside, and what frames add in parallel from skin to skin [W/(m²·K)]."""

    name: str
    layers: tuple[Layer, ...]
    bridge: float = 0.0


@dataclass(frozen=True)
class Glazing:
    """A pane or pane set. `angles` in degrees (ascending, 0 first, 90 last); the tables are at those angles.

    `u_value` is with the standard films 25 (outside) and 7.7 W/(m²·K) (inside), EN 673, unless `resistance`
    (surface to surface, m²·K/W) is what was given. `transmittance + outer_absorptance + inner_absorptance
    + reflectance = 1`. `back_reflectance` is for sun returning from inside (diffuse); the rest of what meets the glass
    from inside goes out again.
    """

    name: str
    u_value: float
    resistance: float
    g_value: float
    angles: tuple[float, ...]
    transmittance: tuple[float, ...]
    outer_absorptance: tuple[float, ...]
    inner_absorptance: tuple[float, ...]
    diffuse_transmittance: float
    diffuse_outer_absorptance: float
    diffuse_inner_absorptance: float
    back_reflectance: float
    outside_emissivity: float = GLASS_EMISSIVITY
    inside_emissivity: float = GLASS_EMISSIVITY


@dataclass(frozen=True)
class Blind:
    """An inside blind: solar properties, and the routine that closes it (1 closed, 0 open)."""

    transmittance: float
    reflectance: float
    routine: Routine


@dataclass(frozen=True)
class Shade:
    """Overhang above and fins beside one opening, by geometry [m].

    `height` and `width` are the opening's; `overhang` its depth of projection and `overhang_gap` the height of its
    edge above the opening's head; `fin_left`, `fin_right` project beside the opening (seen from outside), with
    `fin_gap` between fin and opening.
    """

    height: float
    width: float
    overhang: float = 0.0
    overhang_gap: float = 0.0
    fin_left: float = 0.0
    fin_right: float = 0.0
    fin_gap: float = 0.0


@dataclass(frozen=True)
class Awning:
    """A sheet above faces, a layer with its own temperature: `transmittance` and `absorptance` for sun."""

    name: str
    transmittance: float
    absorptance: float
    emissivity: float
    open_gap: bool
    routine: Routine
    tilt: float = 0.0
    bearing: float = 0.0


@dataclass(frozen=True)
class Foreground:
    """What a face sees below the horizon: shares that sum to 1, and the solar reflectance of deck and quay."""

    sea: float
    deck: float
    quay: float
    deck_reflectance: float
    quay_reflectance: float


@dataclass(frozen=True)
class Face:
    """One plane that bounds a zone or space.

    `beyond` is "outdoors", "sea", "adiabatic", or the name of the zone or space on the other side. A face between two
    zones stands once, owned by one of them. `absorptance` and `emissivity` are of the outside skin,
    `inside_absorptance` of the inside skin, for sun.
    `inside_film` and `outside_film` [W/(m²·K)], where given, replace the convective laws.
    `sun_share` is the share of the zone's transmitted sun that its inside skin receives.
    """

    name: str
    zone: str
    kind: FaceKind
    area: float
    beyond: str
    bearing: float
    tilt: float
    lay_up: str | None
    glazing: str | None
    absorptance: float
    emissivity: float
    foreground: Foreground
    inside_absorptance: float = 0.6
    inside_emissivity: float = 0.9
    inside_film: float | None = None
    outside_film: float | None = None
    shade: Shade | None = None
    awning: str | None = None
    blind: Blind | None = None
    sun_share: float = 0.0


@dataclass(frozen=True)
class People:
    """Persons by activity: total and sensible heat of one at 24 °C [W]; `routine` multiplies `count`.

    Sensible heat falls by `sensible_slope` W per K of air temperature above 24 °C and latent heat makes up the total.
    """

    count: float
    activity: str
    total: float
    sensible: float
    sensible_slope: float
    radiant_share: float
    routine: Routine


@dataclass(frozen=True)
class Gain:
    """Lights or one item of equipment: power [W] at routine 1, and the shares of it radiant and latent."""

    name: str
    kind: Literal["lights", "equipment"]
    power: float
    radiant_share: float
    latent_share: float
    routine: Routine


@dataclass(frozen=True)
class Moisture:
    """A source of water vapour [kg/s] at routine 1: bilge, shower, galley."""

    name: str
    rate: float
    routine: Routine


@dataclass(frozen=True)
class Control:
    """What the zone's equipment may hold. Setpoints [°C]; limits [W], infinite where none; `on` routines 1 or 0.

    `controlled` is "air" or "operative". `humidity_limit` is relative humidity (0–1) at the cooling setpoint;
    above 1 means no limit.
    """

    controlled: Literal["air", "operative"]
    cooling_setpoint: Routine
    heating_setpoint: Routine
    cooling_on: Routine
    heating_on: Routine
    cooling_limit: float
    heating_limit: float
    humidity_limit: float
    dehumidifying_limit: float


@dataclass(frozen=True)
class Zone:
    """An air space with one air temperature; `control` None where nothing is held (a space, or unconditioned).

    `temperature`, where given, makes it a scheduled temperature instead of a simulated space (then it has no air of
    its own in the network). `air_capacity_factor` multiplies the heat capacity of the dry air (0: massless air).
    `moisture_factor` multiplies the mass of air for moisture. `furnishing_capacity` in J/K, `furnishing_area` in m².
    `fan_on` says whether forced inside convection applies.
    """

    name: str
    is_space: bool
    deck: str
    use: str
    floor_area: float
    height: float
    volume: float
    control: Control | None
    fan_on: Routine
    furnishing_capacity: float
    furnishing_area: float
    furnishing_sun_share: float
    moisture_factor: float
    people: tuple[People, ...] = ()
    gains: tuple[Gain, ...] = ()
    moisture: tuple[Moisture, ...] = ()
    temperature: Routine | None = None
    air_capacity_factor: float = 1.0


@dataclass(frozen=True)
class Flow:
    """Air moved at a steady volume rate [m³/s] times a routine, from `source` to `target`."""

    name: str
    kind: Literal["fresh_air", "infiltration", "transfer", "extract"]
    source: str
    target: str
    rate: float
    routine: Routine


@dataclass(frozen=True)
class Opening:
    """A door, hatch or stair between two air spaces (or to outdoors): exchange by buoyancy and, outdoors, wind.

    `routine` is the share of each hour it stands open. A horizontal opening (hatch, stair) has `height` 0.
    """

    name: str
    kind: Literal["door", "hatch", "stair"]
    first: str
    second: str
    width: float
    height: float
    length: float
    wind_coefficient: float
    routine: Routine


@dataclass(frozen=True)
class Obstruction:
    """Quay, shed or neighbour boat: blocks the sky below `elevation` between two bearings on the boat."""

    first_bearing: float
    last_bearing: float
    elevation: float


@dataclass(frozen=True)
class Day:
    """One day that is repeated until periodic.

    `dew_point` holds all day (capped at saturation each hour). `turbidity` None means the map's value for the place
    and month; `clearness` scales clear-sky beam (1 for design days) with diffuse made up by the climate model.
    """

    kind: DayKind
    month: int
    date: str
    dry_bulb_max: float
    daily_range: float
    dew_point: float
    wind: float
    sea: float
    turbidity: float | None
    clearness: float


@dataclass(frozen=True)
class WeatherYear:
    """A weather file: absolute path, its reader, and monthly sea temperature [°C] where the user gave it."""

    path: str
    reader: Literal["epw", "tmy3", "tmy2", "pvgis"]
    sea: tuple[float, ...]
    shelter: float


@dataclass(frozen=True)
class Place:
    """Where the boat lies. `headings` are the true bearings of the bow to be simulated; `heading_mode` says why.

    `weights` (same length, sum 1) say how long a swinging boat or a course spends on each.
    """

    name: str
    latitude: float
    longitude: float
    altitude: float
    timezone: str
    berth: str
    heading_mode: Literal["fixed", "worst", "swinging", "under way"]
    headings: tuple[float, ...]
    obstructions: tuple[Obstruction, ...] = ()


@dataclass(frozen=True)
class DefaultUsed:
    """A value the file did not give: where it would stand, what was taken (text with unit) and from which source.

    `low` and `high`, where known, are the range a survey might find (same text form).
    """

    path: str
    value: str
    source: str
    low: str = ""
    high: str = ""


@dataclass(frozen=True)
class Resolved:
    """The whole boat in its place."""

    name: str
    length: float
    persons_aboard: int
    place: Place
    days: tuple[Day, ...]
    weather_year: WeatherYear | None
    lay_ups: tuple[LayUp, ...]
    glazings: tuple[Glazing, ...]
    awnings: tuple[Awning, ...]
    zones: tuple[Zone, ...]
    faces: tuple[Face, ...]
    flows: tuple[Flow, ...]
    openings: tuple[Opening, ...]
    defaults: tuple[DefaultUsed, ...] = field(default=(), compare=False)
    catalogue: str | None = None
    basis: Basis = HOUR_BY_HOUR
    terms: Terms = NO_TERMS
    power: PowerAboard = NO_POWER
    services: Services | None = field(default=None, compare=False)
    """As read: SI and frozen already; what a schedule has to assume stands in its own list."""
