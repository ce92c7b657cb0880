"""Resolved scenarios against hand sums, conservation and stated rules; and the defaults that were taken."""

import math
from pathlib import Path

import pytest
from small_boat import SMALL, changed

from heatsim.errors import HeatsimError
from heatsim.scenario.courses import DAY, QUARTER, at
from heatsim.scenario.model import Scenario
from heatsim.scenario.occupancy import hourly_total
from heatsim.scenario.reading import read, read_text
from heatsim.scenario.resolve import resolve
from heatsim.scenario.resolved import Face, Resolved
from heatsim.scenario.writing import to_yaml

SCENARIOS = Path(__file__).parents[2] / "scenarios"
BOATS = ("tern-24", "dunlin-11", "skua-38")


@pytest.fixture(scope="module")
def boats() -> dict[str, Resolved]:
    return {name: resolve(read(SCENARIOS / f"{name}.yaml")) for name in BOATS}


def face(resolved: Resolved, name: str) -> Face:
    return next(face for face in resolved.faces if face.name == name)


def test_quick_zone_below_by_hand() -> None:
    """4 × 3 × 2 m, 60 % above water, 5 % glass of the dry side: every area by hand (double precision)."""
    boat = resolve(read_text(SMALL))
    side = 4 * 2 * 0.6
    assert face(boat, "cabin: port glass").area == pytest.approx(0.05 * side)
    assert face(boat, "cabin: port side").area == pytest.approx(0.95 * side)
    assert face(boat, "cabin: port below water").area == pytest.approx(4 * 2 * 0.4)
    assert face(boat, "cabin: overhead").area == pytest.approx(12)
    assert face(boat, "cabin: sole").beyond == "cabin bilge"
    assert face(boat, "cabin bilge: bottom").beyond == "sea"
    # Two ends of 3 × 2 m, less the 6 m² bulkhead that the saloon lists.
    assert face(boat, "cabin: inner partitions").area == pytest.approx(2 * 3 * 2 - 6)
    cabin = next(zone for zone in boat.zones if zone.name == "cabin")
    assert cabin.volume == pytest.approx(24)
    bilge = next(zone for zone in boat.zones if zone.name == "cabin bilge")
    assert bilge.is_space
    assert bilge.control is None


def test_quick_zone_on_the_main_deck_by_hand() -> None:
    text = changed(
        "quick: {deck: lower, length: 4 m, beam: 3 m, height: 2 m}",
        "quick: {deck: main, length: 4 m, beam: 3 m, height: 2 m, "
        "glass_share: 0.25, sides: [port, stern], below: saloon}",
    )
    boat = resolve(read_text(text))
    assert face(boat, "cabin: port glass").area == pytest.approx(0.25 * 8)
    assert face(boat, "cabin: stern side").area == pytest.approx(0.75 * 6)
    assert face(boat, "cabin: stern side").bearing == 180
    assert face(boat, "cabin: sole").beyond == "saloon"
    assert face(boat, "cabin: port side").kind == "house"
    assert not any(zone.name == "cabin bilge" for zone in boat.zones)


def test_glass_is_cut_from_its_wall() -> None:
    assert face(resolve(read_text(SMALL)), "saloon: port side").area == pytest.approx(7)


@pytest.mark.parametrize("name", BOATS)
def test_sun_shares_sum_to_one(boats: dict[str, Resolved], name: str) -> None:
    for zone in boats[name].zones:
        own = [face for face in boats[name].faces if face.zone == zone.name]
        if own:
            # A sum of at most twenty doubles near 1.
            assert sum(face.sun_share for face in own) + zone.furnishing_sun_share == pytest.approx(1, abs=1e-12)
        assert all(face.sun_share == 0 for face in own if face.kind == "glass")


def test_sun_shares_by_hand() -> None:
    """Sole 0.5, furnishings 0.3, the other 0.2 by area over port side 7, deck 20, bulkhead 6 m²."""
    boat = resolve(read_text(SMALL))
    assert face(boat, "saloon: sole 5").sun_share == pytest.approx(0.5)
    assert face(boat, "saloon: deck 3").sun_share == pytest.approx(0.2 * 20 / 33)


@pytest.mark.parametrize("name", BOATS)
def test_persons_are_conserved(boats: dict[str, Resolved], name: str) -> None:
    people = {zone.name: zone.people for zone in boats[name].zones}
    assert max(count for _, count in hourly_total(people)) <= boats[name].persons_aboard + 1e-9


def test_silent_zones_share_what_the_stated_leave() -> None:
    """Four aboard, all four stated in the saloon from 8 to 22: the cabin has none of them then, two berths by night."""
    boat = resolve(read_text(SMALL))
    cabin = next(zone for zone in boat.zones if zone.name == "cabin")
    night = next(group for group in cabin.people if group.activity == "asleep")
    assert night.count * at(night.routine, 0) == pytest.approx(2)
    for group in cabin.people:
        assert group.count * at(group.routine, 12 * 60) == 0


def test_fresh_air_is_25_m3_per_hour_and_person() -> None:
    """Flag code for large yachts: 25 m³/h a person; four in the saloon."""
    boat = resolve(read_text(SMALL))
    fresh = next(flow for flow in boat.flows if flow.name == "saloon: fresh air")
    assert fresh.rate == pytest.approx(100 / 3600)


@pytest.mark.parametrize(("setpoint", "heating"), [("23 degC", 21.0), ("20.5 degC", 19.5)])
def test_default_heating_stays_below_cooling(setpoint: str, heating: float) -> None:
    """Cooling and heating that overlap fight each other (common practice, no source)."""
    boat = resolve(read_text(changed("23 degC", setpoint)))
    saloon = next(zone for zone in boat.zones if zone.name == "saloon")
    assert saloon.control is not None
    assert saloon.control.heating_setpoint.values == (heating,)


def test_heading_modes() -> None:
    assert resolve(read_text(SMALL)).place.headings == tuple(15.0 * i for i in range(24))
    fixed = resolve(read_text(changed("month: 8", "month: 8\n  heading: 360 deg"))).place
    assert (fixed.heading_mode, fixed.headings) == ("fixed", (0.0,))
    swing = resolve(read_text(changed("month: 8", "month: 8\n  swing: {first: 345 deg, last: 30 deg}"))).place
    assert swing.headings == (345.0, 0.0, 15.0, 30.0)
    way = resolve(
        read_text(changed("month: 8", "month: 8\n  course: {bearing: 90 deg, speed: 10 kn}\n  berth: under way"))
    )
    assert way.place.headings == (90.0,)
    # True wind 4 m/s and own 5.144 m/s at right angles.
    assert way.days[0].wind == pytest.approx(math.hypot(4, 10 * 1852 / 3600))


def test_days_of_a_region_are_its_row() -> None:
    """Region table, Cyclades in August, read from the row itself; sea with the 1.5 K of a berth in a basin."""
    from heatsim.tables.loader import rows

    row = next(r for r in rows("regions") if r["region"] == "CYC" and r["month"] == "8")
    hot, humid, typical = resolve(read_text(SMALL)).days
    assert (hot.kind, humid.kind, typical.kind) == ("hot", "humid", "typical")
    assert hot.dry_bulb_max == float(row["design_db_C"])
    assert humid.dew_point == float(row["humid_dp_C"])
    assert typical.dry_bulb_max == float(row["tmax_mean_C"])
    assert hot.sea == pytest.approx(float(row["sst_max_C"]) + 1.5)
    assert (hot.wind, hot.clearness, typical.clearness) == (2.0, 1.0, 0.8)


def test_position_at_sea_gives_typical_days_only_and_a_nautical_clock() -> None:
    pytest.importorskip("heatsim.tables.marine")
    boat = resolve(read_text(changed("region: CYC", "latitude: 18 deg\n  longitude: -62 deg")))
    assert [day.kind for day in boat.days] == ["typical"]
    assert boat.place.timezone == "Etc/GMT+4"
    text = changed("region: CYC", "latitude: 18 deg\n  longitude: -62 deg")
    own = resolve(read_text(text.replace("lay_ups:\n", "climate: {hot: {correction: 6 K}}\nlay_ups:\n", 1)))
    assert [day.kind for day in own.days] == ["hot", "typical"]
    noted = next(default for default in own.defaults if default.path == "climate.hot.dry_bulb_max")
    assert "error about 2 K" in noted.source


@pytest.mark.parametrize("name", BOATS)
def test_defaults_name_value_and_source_and_most_can_be_set(boats: dict[str, Resolved], name: str) -> None:
    defaults = boats[name].defaults
    assert len({default.path for default in defaults}) == len(defaults)
    assert all(default.value and default.source for default in defaults)
    ranged = [default for default in defaults if default.low and not default.path.startswith("zones.")]
    assert ranged
    for end in ("value", "low", "high"):
        changes = [f"{default.path}={getattr(default, end)}" for default in ranged]
        left = {default.path for default in resolve(read(SCENARIOS / f"{name}.yaml", changes)).defaults}
        assert not left & {default.path for default in ranged}


def test_setting_a_default_to_its_own_value_changes_nothing() -> None:
    plain = resolve(read_text(SMALL))
    for default in plain.defaults:
        if default.path.startswith(("faces ", "zones.cabin.quick.f", "zones.cabin.quick.m", "zones.cabin.quick.i")):
            continue  # geometry by kind and the cabin's own bilge have no place in the file
        if default.path.endswith((".people", "sea", "dry_bulb_max")) or default.path == "zones.cabin.quick.below":
            continue
        again = resolve(read_text(SMALL, overrides=[f"{default.path}={default.value}"]))
        assert again == plain, default


@pytest.mark.parametrize("name", BOATS)
def test_written_scenario_reads_back_the_same(name: str) -> None:
    scenario = read(SCENARIOS / f"{name}.yaml")
    again = read_text(to_yaml(scenario))
    assert again == scenario
    assert resolve(again) == resolve(scenario)


# YAML 1.2.2, section 10.3.2 (core schema): each of these stands for something else than text unless it is quoted.
@pytest.mark.parametrize("name", ["1e5", "0o17", "0x1F", "~", "true", "-.inf", "12", "no", "22:00", "a: b", "Küche #2"])
def test_written_text_stays_text(name: str) -> None:
    scenario = read_text(SMALL)
    named = scenario.model_copy(update={"yacht": scenario.yacht.model_copy(update={"name": name})})
    assert read_text(to_yaml(named)).yacht.name == name


def test_scenario_is_built_in_python_with_the_same_texts() -> None:
    """A plain box with films, layers, window table and ground of its own."""
    table = {
        "angles": ["0 deg", "60 deg", "90 deg"], "transmittance": [0.75, 0.68, 0.0],
        "outer_absorptance": [0.06, 0.06, 0.0], "inner_absorptance": [0.06, 0.06, 0.0], "diffuse_transmittance": 0.67,
        "diffuse_outer_absorptance": 0.06, "diffuse_inner_absorptance": 0.06, "back_reflectance": 0.14,
    }  # fmt: skip
    wall = {"kind": "house", "side": "stern", "area": "9.6 m2", "lay_up": "wall", "absorptance": 0.6,
            "inside_film": "3.16 W/(m2 K)", "outside_film": "24.7 W/(m2 K)",
            "foreground": {"quay": 1, "quay_reflectance": 0.2}}  # fmt: skip
    glass = {"kind": "glass", "side": "stern", "area": "12 m2", "glazing": "pane", "foreground": {"quay": 1}}
    box = Scenario.model_validate({
        "format": 1,
        "yacht": {"name": "Box", "length": "8 m", "persons": 0},
        "place": {"latitude": "39.8 deg", "longitude": "-104.9 deg", "timezone": "America/Denver", "altitude": "1609 m",
                  "heading": "0 deg", "month": 7, "ground_reflectance": 0.2},
        "climate": {"days": ["hot"], "hot": {"dry_bulb_max": "35 degC", "daily_range": "16 K", "dew_point": "10 degC",
                                             "sea": "15 degC", "wind": "3 m/s"}},
        "lay_ups": {"wall": {"layers": [
            {"conductivity": "0.16 W/(m K)", "thickness": "12 mm", "density": "950 kg/m3",
             "specific_heat": "840 J/(kg K)"},
            {"resistance": "1.65 m2 K/W"}]}},
        "glazings": {"pane": {"resistance": "0.16 m2 K/W", "table": table}},
        "zones": {"box": {"use": "saloon", "floor_area": "48 m2", "height": "2.7 m", "people": [], "equipment": [],
                          "lights": {"power": "0 W"}, "fresh_air": "0 m3/h", "furnishing_capacity": "0 kJ/(K m2)",
                          "sun_shares": {"sole": 0, "furnishings": 0}, "faces": [wall, glass]}},
    })  # fmt: skip
    boat = resolve(box)
    wall_face, glass_face = boat.faces
    assert (wall_face.inside_film, wall_face.outside_film, wall_face.bearing) == (3.16, 24.7, 180.0)
    assert wall_face.foreground.quay_reflectance == glass_face.foreground.quay_reflectance == 0.2
    assert boat.lay_ups[0].layers[1].density == 0
    assert boat.lay_ups[0].layers[1].thickness / boat.lay_ups[0].layers[1].conductivity == pytest.approx(1.65)
    assert boat.glazings[0].transmittance == (0.75, 0.68, 0.0)
    assert boat.zones[0].furnishing_capacity == 0
    assert wall_face.sun_share == 1.0


def test_all_faults_at_once_in_the_order_of_the_file() -> None:
    text = (
        SMALL.replace("area: 10 m2", "area: 10")
        .replace("beyond: cabin", "beyond: cabn")
        .replace("length: 12 m", "lenght: 12 m")
    )
    with pytest.raises(HeatsimError) as caught:
        read_text(text, "boat.yaml")
    assert [fault.path for fault in caught.value.faults] == [
        "yacht.length", "yacht.lenght", "zones.saloon.faces[0].area", "zones.saloon.faces[3].beyond",
    ]  # fmt: skip
    assert 'Did you mean "length"?' in str(caught.value)
    assert 'Did you mean "cabin"?' in str(caught.value)


def test_overrides_are_validated_like_the_file() -> None:
    boat = resolve(
        read_text(SMALL, overrides=["zones.saloon.setpoint=24 degC", "zones.saloon.faces[port side].area=11 m2"])
    )
    saloon = boat.zones[0]
    assert saloon.control is not None
    assert saloon.control.cooling_setpoint.values == (24.0,)
    assert face(boat, "saloon: port side").area == pytest.approx(8)
    for change, words in (
        ("zones.saloon.setpoint=24", "with its unit"),
        ("zones.saloon.setpiont=24 degC", 'Did you mean "setpoint"?'),
        ("zones.saloon.faces[9].area=1 m2", "has no item 9"),
        ("zones.saloon", "must be PATH=VALUE"),
        ("zones.saloon.use.more=1", "has no keys"),
    ):
        with pytest.raises(HeatsimError, match="--set") as caught:
            read_text(SMALL, overrides=[change])
        assert words in str(caught.value)


@pytest.mark.parametrize(
    ("change", "path", "words"),
    [
        ("zones.saloonn.people=3", "zones.saloonn", 'no zone of this name. Did you mean "saloon"?'),
        ("zones.saloonn={use: saloon}", "zones.saloonn", 'no zone of this name. Did you mean "saloon"?'),
        ("spaces.engine spce.temperature=50 degC", "spaces.engine spce", 'Did you mean "engine space"?'),
        ("lay_ups.sid.layers=[]", "lay_ups.sid", 'no lay-up of this name. Did you mean "side"?'),
        ("glazings.pan.g_value=0.5", "glazings.pan", 'no glazing of this name. Did you mean "pane"?'),
        ("awnings.tent.gap=open", "awnings.tent", "no awning of this name. There are no awnings"),
        ("routines.guest={'08:00-22:00': 1}", "routines.guest", 'and nothing names a new one. Did you mean "guests"?'),
        ("zones.saloon.faces[1].film=silver flm", "zones.saloon.faces[1].film", 'Did you mean "silver film"?'),
        ("zones.saloon.faces[prt side].area=3 m2", "zones.saloon.faces[prt side].area", 'Did you mean "port side"?'),
    ],
)
def test_a_change_of_what_does_not_exist_is_refused_by_name(change: str, path: str, words: str) -> None:
    with pytest.raises(HeatsimError) as caught:
        read_text(SMALL, overrides=[change])
    (fault,) = caught.value.faults
    assert (fault.file, fault.path) == ("--set", path)
    assert words in str(fault)


def test_a_change_may_bring_a_new_entry_that_something_names() -> None:
    tent = ["awnings.tent={fabric: white canvas, gap: open}", "zones.saloon.faces[2].awning=tent"]
    assert [awning.name for awning in resolve(read_text(SMALL, overrides=tent)).awnings] == ["tent"]
    shipped = "routines.night={'22:00-06:00': 1}"  # a shipped routine may be given other hours
    assert read_text(SMALL, overrides=[shipped]).routines["night"].stretches == ((1320, 360, 1.0),)


def test_film_and_pane_in_front_make_a_glazing_of_their_own() -> None:
    film, front = "zones.saloon.faces[1].film=silver film", "glazing: clear vinyl curtain 1 mm, gap: 200 mm"
    bare, filmed, behind = (
        resolve(read_text(SMALL, overrides=changes)).glazings[0]
        for changes in ([], [film], [f"zones.saloon.faces[1].in_front={{{front}}}"])
    )
    assert (bare.name, filmed.name) == ("pane", "pane, silver film")
    assert behind.name == "pane, 200 mm behind clear vinyl curtain 1 mm"
    assert filmed.g_value < 0.5 * bare.g_value
    assert filmed.u_value == pytest.approx(bare.u_value)
    assert behind.transmittance[0] < bare.transmittance[0]
    # ISO 6946:2017 table 8: 0.18 for 200 mm of still air; EN 673: 1 mm of soft PVC with 0.16 W/(m·K), within the
    # two digits of its U-value.
    assert behind.resistance - bare.resistance == pytest.approx(0.18 + 0.00625, abs=0.002)


def test_a_film_on_the_glazing_counts_wherever_it_is_used() -> None:
    on_glazing = resolve(read_text(SMALL, overrides=["glazings.pane.film=neutral film"])).glazings
    on_face = resolve(read_text(SMALL, overrides=["zones.saloon.faces[1].film=neutral film"])).glazings
    assert on_glazing == on_face
    quick = resolve(read_text(SMALL, overrides=["zones.cabin.quick.film=neutral film"])).glazings
    assert quick[1].name == "single clear 10 mm, neutral film"


def test_glazing_with_its_own_table_takes_no_film() -> None:
    table = ("{angles: [0 deg, 90 deg], transmittance: [0.5, 0], outer_absorptance: [0.2, 0], "
             "inner_absorptance: [0.2, 0], diffuse_transmittance: 0.4, diffuse_outer_absorptance: 0.2, "
             "diffuse_inner_absorptance: 0.2, back_reflectance: 0.2}")  # fmt: skip
    for film in ("zones.saloon.faces[1].film=neutral film", "glazings.pane.film=neutral film"):
        with pytest.raises(HeatsimError, match="table"):
            resolve(read_text(SMALL, overrides=[f"glazings.pane.table={table}", film]))


def test_routines_cover_the_day_in_quarter_hours(boats: dict[str, Resolved]) -> None:
    for boat in boats.values():
        for zone in boat.zones:
            for group in zone.people:
                assert group.routine.minutes[0] == 0
                assert all(minute % QUARTER == 0 and minute < DAY for minute in group.routine.minutes)


def test_demo_boats_have_what_they_promise(boats: dict[str, Resolved]) -> None:
    conditioned = {name: sum(zone.control is not None for zone in boat.zones) for name, boat in boats.items()}
    assert conditioned["tern-24"] >= 12
    assert conditioned["skua-38"] == 20
    assert {"engine space", "lazarette", "bilge"} <= {zone.name for zone in boats["tern-24"].zones}
    hot = boats["tern-24"].days[0]
    assert (hot.dry_bulb_max, hot.dew_point, hot.sea, hot.month) == (35.0, 22.0, 29.0, 8)
    for name in BOATS:
        assert "INVENTED" in (SCENARIOS / f"{name}.yaml").read_text(encoding="utf-8").splitlines()[0]


def test_weather_file_is_found_from_the_folder_of_the_scenario(tmp_path: Path) -> None:
    (tmp_path / "year.tm2").write_text("not read here")
    text = SMALL.replace("lay_ups:\n", "climate: {weather_file: year.tm2, shelter: 0.5}\nlay_ups:\n", 1)
    (tmp_path / "boat.yaml").write_text(text)
    boat = resolve(read(tmp_path / "boat.yaml"))
    assert boat.days == ()
    assert boat.weather_year is not None
    assert Path(boat.weather_year.path) == (tmp_path / "year.tm2").resolve()
    assert (boat.weather_year.reader, boat.weather_year.shelter) == ("tmy2", 0.5)


def test_reading_and_resolving_the_demo_boat_stays_quick() -> None:
    """In a process that is warm: half a second is what a person does not notice; the machine may be busy."""
    import time

    read(SCENARIOS / "tern-24.yaml")
    began = time.perf_counter()
    resolve(read(SCENARIOS / "tern-24.yaml"))
    assert time.perf_counter() - began < 1.0


@pytest.mark.parametrize("region", ["BAL", "CYC", "NEW", "KWT", "CRO"])
def test_the_humid_day_is_no_hotter_than_the_hot_one(region: str) -> None:
    """Nor colder than its dew point; its mean is the dry bulb that the table gives with the design dew point."""
    from heatsim.tables.loader import rows

    row = {int(r["month"]): r for r in rows("regions") if r["region"] == region}
    for month in row:
        days = resolve(read(SCENARIOS / "dunlin-11.yaml", [f"place.region={region}", f"place.month={month}"])).days
        hot, humid = (next(day for day in days if day.kind == kind) for kind in ("hot", "humid"))
        assert humid.dry_bulb_max <= max(hot.dry_bulb_max, float(row[month]["humid_db_C"])) + 1e-9
        assert humid.dry_bulb_max - humid.daily_range >= humid.dew_point - 1e-9
        mean = humid.dry_bulb_max - humid.daily_range / 2.0
        assert mean == pytest.approx(float(row[month]["humid_db_C"]), abs=1e-9)
