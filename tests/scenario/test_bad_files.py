"""Bad files: each is refused with one clear fault that names where, what and what to do."""

import pytest
from small_boat import SMALL, changed

from heatsim.errors import HeatsimError
from heatsim.scenario.reading import read, read_text
from heatsim.scenario.resolve import resolve
from heatsim.scenario.tree import DEEPEST, LARGEST_FILE

BOMB = "format: 1\na: &a [x, x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{after}: &{after} [{', '.join(['*' + before] * 10)}]\n" for before, after in zip("abcdef", "bcdefg", strict=True)
)


def many_zones(count: int) -> str:
    """A file with nothing but empty zones."""
    return "format: 1\nzones: {" + ", ".join(f"z{i}: {{}}" for i in range(count)) + "}\n"


# name: (text, words of the rule, path, line); line 0 where the file as a whole is meant.
BAD = {
    "missing unit": (changed("area: 10 m2", "area: 10"), "area with its unit", "zones.saloon.faces[0].area", 24),
    "unit missing in text": (
        changed("height: 2 m\n", "height: '2'\n"),
        "length with its unit",
        "zones.saloon.height",
        20,
    ),
    "wrong kind of unit": (changed("area: 10 m2", "area: 10 m"), "unit of length", "zones.saloon.faces[0].area", 24),
    "difference for temperature": (
        changed("23 degC", "23 K"),
        "unit of temperature difference",
        "zones.saloon.setpoint",
        21,
    ),
    "unknown unit": (changed("area: 10 m2", "area: 10 sqm"), "not a known unit", "zones.saloon.faces[0].area", 24),
    "ton": (changed("setpoint: 23 degC", "cooling_limit: 2 ton"), "two ways", "zones.saloon.cooling_limit", 21),
    "power without its hour": (
        changed("setpoint: 23 degC", "cooling_limit: 9000 Btu"),
        "two ways",
        "zones.saloon.cooling_limit",
        21,
    ),
    "negative area": (changed("area: 10 m2", "area: -10 m2"), "must lie", "zones.saloon.faces[0].area", 24),
    "zero area": (changed("area: 10 m2", "area: 0 m2"), "must lie", "zones.saloon.faces[0].area", 24),
    "huge area": (changed("area: 10 m2", "area: 1e9 m2"), "must lie", "zones.saloon.faces[0].area", 24),
    "not a number": (changed("g_value: 0.75", "g_value: .nan"), "finite", "glazings.pane.g_value", 13),
    "infinite": (changed("g_value: 0.75", "g_value: .inf"), "finite", "glazings.pane.g_value", 13),
    "bool for a number": (changed("count: 4", "count: true"), "number", "zones.saloon.people[0].count", 22),
    "text for a number": (changed("count: 4", "count: four"), "number", "zones.saloon.people[0].count", 22),
    "negative count": (
        changed("count: 4", "count: -4"),
        "greater than or equal to 0",
        "zones.saloon.people[0].count",
        22,
    ),
    "half a person aboard": (changed("persons: 4", "persons: 4.5"), "whole number", "yacht.persons", 2),
    "unknown key": (changed("colour: white", "color: white"), "not a key", "zones.saloon.faces[2].color", 26),
    "unknown key at the top": (changed("flows:", "flow:"), "not a key", "flow", 34),
    "missing key": (changed("name: Wren, ", ""), "is missing", "yacht.name", 2),
    "unknown zone in a bulkhead": (
        changed("beyond: cabin", "beyond: cabn"),
        "does not exist",
        "zones.saloon.faces[3].beyond",
        27,
    ),
    "own zone beyond": (changed("beyond: cabin", "beyond: saloon"), "own zone", "zones.saloon.faces[3].beyond", 27),
    "unknown lay-up": (changed("lay_up: side", "lay_up: sides"), "does not exist", "zones.saloon.faces[0].lay_up", 24),
    "unknown glazing": (
        changed("glazing: pane", "glazing: pain"),
        "does not exist",
        "zones.saloon.faces[1].glazing",
        25,
    ),
    "unknown colour": (changed("colour: white", "colour: wite"), "does not exist", "zones.saloon.faces[2].colour", 26),
    "unknown material": (
        changed("material: plywood", "material: plyboard"),
        "does not exist",
        "lay_ups.side.layers[0].material",
        9,
    ),
    "unknown routine": (
        changed("routine: guests", "routine: guest"),
        "does not exist",
        "zones.saloon.people[0].routine",
        22,
    ),
    "unknown activity": (
        changed("seated at rest", "seatd at rest"),
        "does not exist",
        "zones.saloon.people[0].activity",
        22,
    ),
    "unknown use": (changed("use: saloon", "use: salon"), "does not exist", "zones.saloon.use", 18),
    "unknown region": (changed("region: CYC", "region: CYX"), "does not exist", "place.region", 4),
    "unknown flow end": (changed("source: cabin", "source: cabins"), "does not exist", "flows[0].source", 35),
    "unknown opening end": (changed("second: cabin", "second: cabins"), "does not exist", "openings[0].second", 37),
    "duplicate zone": (changed("  cabin:\n", "  saloon:\n"), "stands twice", "", 29),
    "zone and space of one name": (
        changed("  engine space: {", "  saloon: {use: locker, temperature: 30 degC}\n  engine space: {"),
        "share one set of names",
        "spaces.saloon",
        33,
    ),
    "bulkhead given twice": (
        changed("height: 2 m}\n", "height: 2 m}\n    faces: [{kind: bulkhead, area: 6 m2, beyond: saloon}]\n"),
        "listed from the other side",
        "zones.cabin.faces[0]",
        32,
    ),
    "two faces of one name": (
        changed("kind: deck, area", "kind: deck, name: port side, area"),
        "same name",
        "zones.saloon.faces[2].name",
        26,
    ),
    "unknown kind of face": (
        changed("kind: deck", "kind: roof"),
        "not a kind of face",
        "zones.saloon.faces[2].kind",
        26,
    ),
    "face without a kind": (changed("kind: deck, area", "area"), "needs its kind", "zones.saloon.faces[2]", 26),
    "house without a side": (
        changed("side: port, area: 10", "area: 10"),
        "needs its side",
        "zones.saloon.faces[0]",
        24,
    ),
    "heading of 400 degrees": (
        changed("month: 8", "month: 8\n  heading: 400 deg"),
        "between 0 deg and 360 deg",
        "place.heading",
        6,
    ),
    "humidity of 130 %": (
        changed("setpoint: 23 degC", "humidity_limit: 130 %"),
        "between 20 % and 100 %",
        "zones.saloon.humidity_limit",
        21,
    ),
    "month 13": (changed("month: 8", "month: 13"), "less than or equal to 12", "place.month", 5),
    "latitude alone": (changed("region: CYC", "latitude: 36 deg"), "go together", "place", 3),
    "latitude of 95 degrees": (
        changed("region: CYC", "latitude: 95 deg\n  longitude: 25 deg"),
        "between -90 deg and 90 deg",
        "place.latitude",
        4,
    ),
    "no place": (changed("region: CYC", "name: nowhere"), "needs a region", "place", 3),
    "time zone that does not exist": (
        changed("month: 8", "month: 8\n  timezone: Europe/Atlantis"),
        "time zone that does not exist",
        "place.timezone",
        6,
    ),
    "time zone far from the longitude": (
        changed("region: CYC", "latitude: 36 deg\n  longitude: 25 deg\n  timezone: America/New_York"),
        "does not fit the longitude",
        "place.timezone",
        6,
    ),
    "stretch over nothing": (changed("08:00-22:00", "08:00-08:00"), "last some time", "routines.guests", 15),
    "stretch off the quarter-hour": (changed("08:00-22:00", "08:05-22:00"), "quarter-hour", "routines.guests", 15),
    "stretch of 25 o'clock": (changed("08:00-22:00", "08:00-25:00"), "within 00:00-24:00", "routines.guests", 15),
    "overlapping stretches": (
        changed('"08:00-22:00": 1', '"08:00-22:00": 1, "21:00-23:00": 0.5'),
        "overlap at 21:00",
        "routines.guests",
        15,
    ),
    "share above 1": (changed('"08:00-22:00": 1', '"08:00-22:00": 2'), "between 0 % and 100 %", "routines.guests", 15),
    "setpoint that leaves hours out": (
        changed("setpoint: 23 degC", 'setpoint: {"08:00-22:00": 23 degC}'),
        "cover the whole day",
        "zones.saloon.setpoint",
        21,
    ),
    "two bridges in a lay-up": (
        changed(
            "    layers:\n",
            "    bridging_factor: 1.2\n"
            "    stringers: {material: plywood, spacing: 0.5 m, width: 50 mm, depth: 40 mm}\n"
            "    layers:\n",
        ),
        "one of frames",
        "lay_ups.side",
        7,
    ),
    "layer without thickness": (
        changed("material: plywood, thickness: 9 mm", "material: plywood"),
        "needs its thickness",
        "lay_ups.side.layers[0]",
        9,
    ),
    "glazing without U": (changed("u_value: 5.6 W/(m2 K), ", ""), "either u_value or resistance", "glazings.pane", 13),
    "door without height": (changed("height: 1.9 m, ", ""), "a door has width and height", "openings[0]", 37),
    "flow to itself": (changed("target: outdoors", "target: cabin"), "two different ends", "flows[0]", 35),
    "zone without faces": (
        changed("    quick: {deck: lower, length: 4 m, beam: 3 m, height: 2 m}\n", ""),
        "needs faces, or quick",
        "zones.cabin",
        29,
    ),
    "dew point above the dry bulb": (
        changed("lay_ups:\n", "climate: {hot: {dry_bulb_max: 30 degC, dew_point: 31 degC}}\nlay_ups:\n"),
        "dew point may not lie above",
        "climate.hot",
        6,
    ),
    "reserved name": (
        changed("  engine space: {", "  sea: {use: bilge, temperature: 20 degC}\n  engine space: {"),
        "word of the file format",
        "spaces.sea",
        33,
    ),
    "no format": (changed("format: 1\n", ""), "format is missing", "format", 1),
    "format of tomorrow": (changed("format: 1", "format: 2"), "not known", "format", 1),
    "format as text": (changed("format: 1", "format: '1'"), "not known", "format", 1),
    "empty file": ("", "is empty", "", 0),
    "only a comment": ("# nothing here\n", "is empty", "", 0),
    "a list": ("- 1\n- 2\n", "must be a mapping", "", 1),
    "a word": ("yacht\n", "must be a mapping", "", 1),
    "tab in the indentation": (changed("  month: 8", "\tmonth: 8"), "indented with a tab", "", 5),
    "unclosed bracket": (changed("beyond: cabin}", "beyond: cabin"), "not YAML", "", 28),
    "unclosed quote": (changed("name: Wren", 'name: "Wren'), "not YAML", "", 0),
    "second document": (SMALL + "---\nformat: 1\n", "one document", "", 38),
    "tag": (changed("count: 4", "count: !!int 4"), "may not use tags", "", 22),
    "object tag": (changed("count: 4", "count: !!python/object:os.system 4"), "may not use tags", "", 22),
    "merge key": (changed("  guests:", "  <<: {a: 1}\n  guests:"), "merge keys", "", 15),
    "undefined alias": (changed("count: 4", "count: *four"), "not defined above", "", 22),
    "alias inside itself": (changed("routines:\n", "routines: &r\n  self: *r\n"), "contains itself", "", 15),
    "alias bomb": (BOMB, "200,000 nodes", "", 7),
    "nested brackets": ("format: 1\na: " + "[" * (DEEPEST + 1) + "]" * (DEEPEST + 1), "nested deeper", "", 2),
    "nested indentation": ("\n".join(" " * i + "a:" for i in range(DEEPEST + 2)), "nested deeper", "", DEEPEST + 1),
    "many zones": (many_zones(1000), "at most 200", "zones", 2),
    "number of 400 digits": (changed("persons: 4", "persons: " + "9" * 400), "300 digits", "", 2),
}


@pytest.mark.parametrize("name", BAD)
def test_one_clear_fault(name: str) -> None:
    content, words, path, line = BAD[name]
    with pytest.raises(HeatsimError) as caught:
        read_text(content, "bad.yaml")
    assert len(caught.value.faults) == 1, str(caught.value)
    fault = caught.value.faults[0]
    assert words in fault.rule + " " + fault.value
    assert fault.path == path
    assert fault.file == "bad.yaml"
    if line:
        assert fault.line == line
    assert "\n" not in str(fault)


# What only shows when the parts are put together: refused while resolving.
UNFIT = {
    "glass larger than its wall": (
        changed("area: 3 m2", "area: 12 m2"),
        "larger than the face it is cut from",
        "zones.saloon.faces[1].area",
    ),
    "glass cut from nothing": (
        changed("cut_from: port side", "cut_from: port"),
        "no opaque face",
        "zones.saloon.faces[1].cut_from",
    ),
    "timber frames": (
        changed(
            "    layers:\n", "    frames: {material: plywood, spacing: 500 mm, web: 6 mm, depth: 40 mm}\n    layers:\n"
        ),
        "made of metal",
        "lay_ups.side.frames.material",
    ),
    "metal by parallel area": (
        changed(
            "    layers:\n",
            "    stringers: {material: aluminium, spacing: 500 mm, width: 6 mm, depth: 40 mm}\n    layers:\n",
        ),
        "not taken by parallel area",
        "lay_ups.side.stringers.material",
    ),
    "weather file that does not exist": (
        changed("lay_ups:\n", "climate: {weather_file: none.epw}\nlay_ups:\n"),
        "does not exist",
        "climate.weather_file",
    ),
    "hot day in the open sea": (
        changed("region: CYC", "latitude: 36 deg\n  longitude: 25 deg").replace(
            "lay_ups:\n", "climate: {days: [hot]}\nlay_ups:\n", 1
        ),
        "needs your own maximum",
        "climate.hot",
    ),
}


@pytest.mark.parametrize("name", UNFIT)
def test_parts_that_do_not_fit_are_refused_when_resolved(name: str) -> None:
    content, words, path = UNFIT[name]
    scenario = read_text(content)
    with pytest.raises(HeatsimError) as caught:
        resolve(scenario)
    (fault,) = caught.value.faults
    assert fault.path == path
    assert words in fault.rule
    known = content.splitlines()[fault.line - 1]  # the line of the path's deepest part that the file has
    assert fault.file == "scenario"
    assert fault.line > 0
    assert any(part in known for part in path.replace("[", ".").split(".")), known


def test_what_a_change_makes_unfit_is_the_changes_fault() -> None:
    scenario = read_text(SMALL, overrides=["climate.weather_file=none.epw"])
    with pytest.raises(HeatsimError) as caught:
        resolve(scenario)
    (fault,) = caught.value.faults
    assert (fault.file, fault.line, fault.path) == ("--set", 0, "climate.weather_file")


def test_there_are_enough_bad_files() -> None:
    assert len(BAD) + len(UNFIT) >= 40


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (SMALL.encode("utf-16"), "UTF-8"),
        (SMALL.replace("Wren", "Gräns").encode("latin-1"), "UTF-8"),
        (b"\x7fELF\x02\x01\x01\x00" + bytes(200), "control character"),
        (SMALL.encode() + b"\x00", "control character"),
        (b"#" * (LARGEST_FILE + 1), "2 MB"),
    ],
    ids=["utf-16", "latin-1", "binary", "zero byte", "too large"],
)
def test_bytes_that_are_no_scenario(tmp_path, content: bytes, words: str) -> None:  # type: ignore[no-untyped-def]
    file = tmp_path / "bad.yaml"
    file.write_bytes(content)
    with pytest.raises(HeatsimError, match=words) as caught:
        read(file)
    assert len(caught.value.faults) == 1


def test_directory_and_missing_file(tmp_path) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(HeatsimError, match="is a directory"):
        read(tmp_path)
    with pytest.raises(HeatsimError, match="no such file"):
        read(tmp_path / "none.yaml")


def test_text_for_a_part_is_answered_with_its_keys() -> None:
    with pytest.raises(HeatsimError) as caught:
        read_text(SMALL + "supply: {shore: 230 V 50 Hz 32 A single phase}\n")
    (fault,) = caught.value.faults
    assert (fault.path, fault.line) == ("supply.shore", SMALL.count("\n") + 1)
    assert fault.remedy.startswith("Needed: voltage, current; possible: phases, ")


# Sixteen points of 360/16 degrees each, clockwise from north: the definition.
@pytest.mark.parametrize(
    ("written", "read"),
    [("north", "0 deg"), ("NE", "45 deg"), ("south-east", "135 deg"), ("West", "270 deg"), ("NNW", "337.5 deg"),
     ("south-south-west", "202.5 deg"), ("northeast", "45 deg"), ("12 deg", "12 deg"), ("worst", "worst")],
)  # fmt: skip
def test_headings_by_points_of_the_compass(written: str, read: str) -> None:
    assert read_text(changed("month: 8", f"month: 8\n  heading: {written}")).place.heading == read


@pytest.mark.parametrize("written", ["up", "north-south", "nirth", "E-E"])
def test_other_headings_are_refused_with_the_choice(written: str) -> None:
    with pytest.raises(HeatsimError, match="a point of the compass"):
        read_text(changed("month: 8", f"month: 8\n  heading: {written}"))


def test_names_may_hold_brackets_and_a_refused_one_hears_what_it_may_hold() -> None:
    renamed = SMALL.replace("cabin", "heads (2)").replace("use: heads (2)", "use: head")
    assert "heads (2)" in resolve(read_text(renamed)).zones[1].name
    with pytest.raises(HeatsimError, match=r"letters, digits, spaces and - ' & / \+ \( \)"):
        read_text(SMALL.replace("cabin", "heads*2"))
