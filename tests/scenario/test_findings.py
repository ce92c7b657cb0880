"""Each finding appears where it should and only there; the rules of thumb; schema, starters, lists."""

import json
from pathlib import Path

import pytest
from small_boat import SMALL, changed

from heatsim.errors import HeatsimError
from heatsim.scenario.listing import LISTS, rows
from heatsim.scenario.plausibility import findings
from heatsim.scenario.reading import read, read_text
from heatsim.scenario.resolve import resolve
from heatsim.scenario.schema import json_schema
from heatsim.scenario.starters import DEMOS, demo, starter, write_starter
from heatsim.scenario.thumb import area_rule, rules, volume_rule

SCENARIOS = Path(__file__).parents[2] / "scenarios"
WATT_PER_BTU_H = 0.29307107017222  # NIST SP 811 appendix B.8

CASES = {
    "dew-point-high": changed("lay_ups:\n", "climate: {hot: {dry_bulb_max: 40 degC, dew_point: 34 degC}}\nlay_ups:\n"),
    "wet-bulb-high": changed("lay_ups:\n", "climate: {hot: {dry_bulb_max: 46 degC, dew_point: 34 degC}}\nlay_ups:\n"),
    "too-many-persons": changed("persons: 4", "persons: 3"),
    "net-extract": changed("rate: 20 m3/h", "rate: 900 m3/h"),
    "air-from-machinery": changed("source: cabin, target: outdoors", "source: engine space, target: cabin"),
    "no-outdoor-air": changed(
        "    setpoint: 23 degC", "    setpoint: 23 degC\n    fresh_air: 0 m3/h\n    infiltration: 0 1/h"),
    "little-fresh-air": changed("    setpoint: 23 degC", "    setpoint: 23 degC\n    fresh_air: 50 m3/h"),
    "no-heating": changed("    setpoint: 23 degC", "    setpoint: 23 degC\n    heating: never"),
    "setpoint-low": changed("23 degC", "19 degC"),
    "setpoints-cross": changed("setpoint: 23 degC", "setpoint: 23 degC\n    heating_setpoint: 24 degC"),
    "open-enclosure": changed("    height: 2 m\n", "    height: 2 m\n    volume: 400 m3\n"),
    "volume-mismatch": changed("    height: 2 m\n", "    height: 2 m\n    volume: 60 m3\n"),
    "sole-too-large": changed("kind: sole, area: 21 m2", "kind: sole, area: 30 m2"),
    "glass-larger-than-wall": changed("area: 3 m2, cut_from: port side", "area: 45 m2"),
    "glass-gain-high": changed("g_value: 0.75", "g_value: 0.91"),
    # 20 m² of sole hold 26 persons at 0.75 m² each, and 10 kW of equipment at 500 W/m²
    "crowded": changed("count: 4", "count: 27"),
    "equipment-heavy": changed(
        "    setpoint: 23 degC", "    setpoint: 23 degC\n    equipment: [{name: oven, power: 10.1 kW}]"),
    "teak-light": changed("area: 20 m2, colour: white", "area: 20 m2, lay_up: teak on cored deck"),
    "plain-clock": changed("region: CYC", "latitude: 36 deg\n  longitude: 25 deg"),
    "machinery-cooled": changed("    use: cabin\n", "    use: engine space\n"),
    "sides-assumed": changed("length: 12 m", "length: 12 m, beam: 6.1 m"),
    "u-value-out-of-family": changed("thickness: 40 mm", "thickness: 400 mm"),
}  # fmt: skip


def codes(text: str) -> set[str]:
    return {finding.code for finding in findings(resolve(read_text(text)))}


@pytest.mark.parametrize("code", CASES)
def test_finding_appears_and_only_where_it_should(code: str) -> None:
    assert code not in codes(SMALL)
    assert code in codes(CASES[code])


@pytest.mark.parametrize(
    ("code", "text"),
    [
        ("crowded", changed("count: 4", "count: 26")),
        ("equipment-heavy", changed(
            "    setpoint: 23 degC", "    setpoint: 23 degC\n    equipment: [{name: oven, power: 9.9 kW}]")),
        ("teak-light", changed("area: 20 m2, colour: white", "area: 20 m2, lay_up: teak on cored deck, colour: teak")),
        # the cabin is 3 m wide
        ("sides-assumed", changed("length: 12 m", "length: 12 m, beam: 6 m")),
        ("sides-assumed", changed("length: 12 m", "length: 12 m, beam: 8 m").replace(
            "{deck: lower,", "{deck: lower, sides: none,")),
        ("machinery-cooled", changed("    use: cabin\n", "    use: engine space\n    conditioned: false\n")),
        ("machinery-cooled", SMALL.replace("cabin", "engine control room").replace("use: engine c", "use: c").replace(
            "use: control room", "use: office")),
        ("plain-clock", changed("region: CYC", "latitude: 36 deg\n  longitude: 25 deg\n  timezone: Europe/Athens")),
        ("plain-clock", changed("region: CYC", "latitude: 36 deg\n  longitude: 25 deg\n  berth: under way\n"
                                               "  course: {bearing: 90 deg, speed: 8 kn}")),
    ],
)  # fmt: skip
def test_finding_stays_away_below_its_bound(code: str, text: str) -> None:
    assert code not in codes(text)


def test_the_plain_clock_stands_among_the_defaults() -> None:
    taken = {default.path: default for default in resolve(read_text(CASES["plain-clock"])).defaults}
    assert taken["place.timezone"].value == "Etc/GMT-2"  # 25° E is 1 h 40 min east of Greenwich, rounded to 2 h
    assert "no summer time" in taken["place.timezone"].source


def test_carbon_monoxide_is_named_where_air_is_short() -> None:
    found = findings(resolve(read_text(CASES["net-extract"])))
    assert "Carbon monoxide" in next(finding.message for finding in found if finding.code == "net-extract")


@pytest.mark.parametrize("name", DEMOS)
def test_demo_boats_raise_no_finding(name: str) -> None:
    assert findings(resolve(read(SCENARIOS / f"{name}.yaml"))) == ()


def test_volume_rule_of_200_cubic_feet() -> None:
    """Common practice, no source: 200 ft³ at 15 Btu/h·ft³ is 3,000 Btu/h; exact within double precision."""
    assert volume_rule(200 * 0.3048**3, 15) / WATT_PER_BTU_H == pytest.approx(3000, rel=1e-12)


# Trade guide, common practice: 14 Btu/h·ft³ is 145 W/m³, 60/90/120 Btu/h·ft² 189/284/379 W/m²; printed to 1 W.
@pytest.mark.parametrize(("factor", "watts"), [(14, 145), (10, 103), (12, 124), (16, 165), (19, 197)])
def test_volume_factors_in_si(factor: float, watts: float) -> None:
    assert volume_rule(1.0, factor) == pytest.approx(watts, abs=0.6)


@pytest.mark.parametrize(("factor", "watts"), [(60, 189), (90, 284), (120, 379)])
def test_area_factors_in_si(factor: float, watts: float) -> None:
    assert area_rule(1.0, factor) == pytest.approx(watts, abs=0.6)


def test_rules_of_the_boat_are_sums() -> None:
    *zones, boat = rules(resolve(read_text(SMALL)))
    assert [(rule.zone, rule.kind) for rule in zones] == [("saloon", "ordinary"), ("cabin", "after sunset")]
    assert boat.volume_high == pytest.approx(sum(rule.volume_high for rule in zones))


@pytest.mark.parametrize("name", DEMOS)
def test_demo_boats_fit_the_schema(name: str) -> None:
    jsonschema = pytest.importorskip("jsonschema")
    from heatsim.scenario.tree import load

    validator = jsonschema.Draft202012Validator(json_schema())
    validator.check_schema(json_schema())
    assert [error.message for error in validator.iter_errors(load(SCENARIOS / f"{name}.yaml").value)] == []


@pytest.mark.parametrize(
    "text",
    [changed("colour: white", "color: white"), changed("month: 8", "month: 13"), changed("area: 10 m2", "area: 10")],
)
def test_schema_refuses_what_the_models_refuse(text: str) -> None:
    jsonschema = pytest.importorskip("jsonschema")
    from heatsim.scenario.tree import parse

    assert not jsonschema.Draft202012Validator(json_schema()).is_valid(parse(text, "x").value)


def test_every_property_of_the_schema_is_described() -> None:
    """In words, once for each field; a quantity with its kind and an example that the field itself can read."""
    schema = json_schema()
    parts = {"": schema, **schema["$defs"]}
    properties = {f"{name}.{key}": form for name, part in parts.items() for key, form in part["properties"].items()}
    assert len(properties) > 150
    for path, form in properties.items():
        assert form.get("description", "").endswith("."), path
        if "ritten as" in form["description"]:
            assert "examples" in str(form), path
    area = properties["GlassFace.area"]
    assert area["description"].startswith(
        "Area of the face in its own plane. Written as an area with its unit, between"
    )
    assert area["examples"] == ["24 ft2"]
    assert {"07:00-22:00": "24 degC", "22:00-07:00": "22.5 degC"} in properties["ZoneText.setpoint"]["examples"]
    assert "Each is written as an angle with its unit" in properties["AngleTable.angles"]["description"]


def test_schema_is_json() -> None:
    assert json.loads(json.dumps(json_schema()))["additionalProperties"] is False


@pytest.mark.parametrize("kind", ["motor", "sail", "multihull"])
@pytest.mark.parametrize("length", [7.0, 12.0, 20.0, 38.0])
def test_starter_resolves_without_findings(kind: str, length: float) -> None:
    text = starter(kind, length)
    boat = resolve(read_text(text))
    assert boat.length == length
    assert findings(boat) == ()
    assert text.count("#") > 8


def test_starter_refuses_what_it_cannot_draw(tmp_path) -> None:  # type: ignore[no-untyped-def]
    for kind, length in (("submarine", 20.0), ("motor", 200.0)):
        with pytest.raises(HeatsimError):
            starter(kind, length)
    file = tmp_path / "boat.yaml"
    write_starter(file, kind="motor", length="60 ft")
    before = file.read_text()
    with pytest.raises(HeatsimError, match="exists already"):
        write_starter(file, kind="sail", length="12 m")
    with pytest.raises(HeatsimError, match="with its unit"):
        write_starter(tmp_path / "other.yaml", kind="sail", length="12")
    assert file.read_text() == before
    write_starter(file, kind="sail", length="12 m", force=True)
    assert "kind: sail" in file.read_text()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["boat.yaml"]
    with pytest.raises(HeatsimError, match="is not a demo boat"):
        demo("gull-12")
    assert demo("tern-24") == (SCENARIOS / "tern-24.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("what", LISTS)
def test_lists_end_in_a_source(what: str) -> None:
    heads, lines = rows(what)
    assert heads[-1].startswith("source")
    assert lines
    assert all(len(line) == len(heads) and line[-1] for line in lines)
    word = lines[0][0]
    assert lines[0] in rows(what, word)[1]
    assert rows(what, "no such word")[1] == []


@pytest.mark.parametrize("use", ["engine space", "lazarette", "bilge", "tank", "locker"])
def test_spaces_that_nobody_lives_in_are_not_to_be_cooled(use: str) -> None:
    found = [
        f for f in findings(resolve(read_text(changed("    use: cabin\n", f"    use: {use}\n")))) if "cooled" in f.code
    ]
    assert [finding.path for finding in found] == ["zones.cabin.use"]
    assert "return air" in found[0].message
    assert "Carbon monoxide" in found[0].message


@pytest.mark.parametrize(
    "text",
    [
        SMALL.replace("cabin", "generator room").replace("use: generator room", "use: cabin"),
        changed("    use: cabin\n", "    use: cabin\n    equipment: [{name: petrol generator, power: 2 kW}]\n"),
    ],
)
def test_machinery_is_told_by_name_too(text: str) -> None:
    assert "machinery-cooled" in codes(text)
