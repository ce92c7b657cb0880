"""Units against a general units library, and the rules of the closed list."""

import math

import pytest
from pydantic_core import PydanticCustomError

from heatsim.scenario.quantities import EXAMPLES, Quantity, parse, text, unit_list

# Spelling of each unit for pint (a general units library with its own definitions).
PINT = {
    "ft": "foot", "in": "inch", "m2": "m**2", "m²": "m**2", "cm2": "cm**2", "ft2": "ft**2", "ft²": "ft**2",
    "sq ft": "ft**2", "in2": "inch**2", "m3": "m**3", "m³": "m**3", "L": "liter", "ft3": "ft**3", "ft³": "ft**3",
    "cu ft": "ft**3", "Btu/h": "Btu_it/hour", "kBtu/h": "kiloBtu_it/hour", "MJ/h": "MJ/hour", "hp": "horsepower",
    "m3/s": "m**3/s", "m3/h": "m**3/hour", "m³/h": "m**3/hour", "L/s": "liter/s", "L/min": "liter/minute",
    "L/h": "liter/hour", "cfm": "ft**3/minute", "ft3/min": "ft**3/minute", "1/h": "1/hour", "ach": "1/hour",
    "1/s": "1/s", "W/m2": "W/m**2", "W/m²": "W/m**2", "W/ft2": "W/ft**2", "Btu/(h ft2)": "Btu_it/hour/ft**2",
    "W/(m2 K)": "W/m**2/K", "W/m2K": "W/m**2/K", "W/(m²·K)": "W/m**2/K",
    "Btu/(h ft2 degF)": "Btu_it/hour/ft**2/delta_degF", "m2 K/W": "m**2*K/W", "m2K/W": "m**2*K/W",
    "m²·K/W": "m**2*K/W", "h ft2 degF/Btu": "hour*ft**2*delta_degF/Btu_it", "W/(m K)": "W/m/K", "W/mK": "W/m/K",
    "W/(m·K)": "W/m/K", "Btu in/(h ft2 degF)": "Btu_it*inch/hour/ft**2/delta_degF", "kg/m3": "kg/m**3",
    "kg/m³": "kg/m**3", "lb/ft3": "lb/ft**3", "J/(kg K)": "J/kg/K", "J/kgK": "J/kg/K", "kJ/(kg K)": "kJ/kg/K",
    "Btu/(lb degF)": "Btu_it/lb/delta_degF", "kJ/(K m2)": "kJ/K/m**2", "kJ/(m2 K)": "kJ/K/m**2",
    "kJ/(K·m²)": "kJ/K/m**2", "J/(m2 K)": "J/K/m**2", "kJ/K": "kJ/K", "J/K": "J/K", "m/s": "m/s", "km/h": "km/hour",
    "kn": "knot", "fpm": "ft/minute", "s": "s", "min": "minute", "h": "hour", "kg/s": "kg/s", "kg/h": "kg/hour",
    "g/h": "g/hour", "lb/h": "lb/hour", "kg": "kg", "g": "g",
    "lb": "lb", "kWh": "kW*hour", "MJ": "MJ", "J": "J", "m": "m", "cm": "cm", "mm": "mm",
    "W": "W", "kW": "kW", "V": "V", "A": "A", "Hz": "Hz", "K": "delta_degC", "delta_degC": "delta_degC",
    "delta_degF": "delta_degF", "Pa": "Pa", "kPa": "kPa", "bar": "bar", "mbar": "mbar", "psi": "psi",
    "Ah": "A*hour", "mm2": "mm**2", "mm²": "mm**2",
    "in w.g.": "kg/liter*standard_gravity*inch", "inH2O": "kg/liter*standard_gravity*inch",
}  # fmt: skip
TEMPERATURES = {
    **dict.fromkeys(("degC", "°C", "deg C", "C"), "degC"),
    **dict.fromkeys(("degF", "°F", "deg F", "F"), "degF"),
}
NOT_IN_PINT = {
    "deg",
    "°",
    "%",
    "dB(A)",
    "dBA",
    "dB",
}  # degrees and decibels are kept, percent is a share: definitions, tested below


def test_every_unit_has_a_reference() -> None:
    units = {name for name, unit in unit_list().items() if not unit.question}
    assert units == set(PINT) | set(TEMPERATURES) | NOT_IN_PINT


@pytest.fixture(scope="module")
def registry():  # type: ignore[no-untyped-def]
    return pytest.importorskip("pint").UnitRegistry()


# Both sides are double precision and pint chains several factors: 1e-12 leaves room for their rounding only.
@pytest.mark.parametrize("name", PINT)
def test_factor_against_pint(registry, name: str) -> None:  # type: ignore[no-untyped-def]
    assert unit_list()[name].factor == pytest.approx(
        registry.Quantity(1.0, PINT[name]).to_base_units().magnitude, rel=1e-12
    )


@pytest.mark.parametrize(("number", "name"), [(95, "degF"), (-40, "°F"), (35, "degC"), (0, "degF")])
def test_temperature_against_pint(registry, number: float, name: str) -> None:  # type: ignore[no-untyped-def]
    theirs = registry.Quantity(number, TEMPERATURES[name]).to("degC").magnitude
    # One rounding in each of two operations at numbers of about 100: 1e-10 K.
    assert parse(f"{number} {name}", "temperature") == pytest.approx(theirs, abs=1e-10)


# Values by definition or from NIST SP 811 appendix B.8; exact within double precision, hence rel 1e-12.
@pytest.mark.parametrize(
    ("given", "kind", "si"),
    [
        ("24 ft2", "area", 24 * 0.3048**2),
        ("7 m", "length", 7.0),
        ("95 degF", "temperature", 35.0),
        ("12 kBtu/h", "power", 12 * 293.07107017222),
        ("12,000 Btu/h", "power", 12 * 293.07107017222),
        ("8 L/s", "flow", 0.008),
        ("25 m3/h", "flow", 25 / 3600),
        ("5 W/m2", "power per area", 5.0),
        ("0.5 1/h", "air changes", 0.5 / 3600),
        ("55 %", "share", 0.55),
        ("55%", "share", 0.55),
        (0.55, "share", 0.55),
        ("0.55", "share", 0.55),
        ("45 dB(A)", "sound level", 45.0),
        ("45 dB", "sound level", 45.0),
        (45, "sound level", 45.0),
        ("90 deg", "angle", 90.0),
        ("4 K", "temperature difference", 4.0),
        ("9 delta_degF", "temperature difference", 5.0),
        ("1e-3 m3/s", "flow", 1e-3),
        ("-2.5 degC", "temperature", -2.5),
        # A field knows whether it is a temperature, so that the bare letter says all; no field is a charge in coulomb.
        ("22 C", "temperature", 22.0),
        ("22.5 deg C", "temperature", 22.5),
        ("77 F", "temperature", 25.0),
        ("75 mm", "length", 0.075),
    ],
)
def test_text_reads_as_si(given: object, kind: str, si: float) -> None:
    assert parse(given, kind) == pytest.approx(si, rel=1e-12)


@pytest.mark.parametrize(
    ("given", "kind", "words"),
    [
        (24, "area", "not a number without a unit"),
        ("24", "area", "not a number without a unit"),
        (True, "area", "must be an area"),
        (True, "share", "must be a share"),
        ("24 m", "area", '"m" is a unit of length'),
        ("4 K", "temperature", '"K" is a unit of temperature difference'),
        ("4 degC", "temperature difference", '"degC" is a unit of temperature'),
        ("28 C", "temperature difference", '"C" is a unit of temperature'),  # a basin warmer by 28 K, or at 28 degC?
        ("9 F", "temperature difference", '"F" is a unit of temperature'),
        ("24 squids", "area", '"squids" is not a known unit'),
        ("wide", "length", "a number and its unit"),
        ("1,5 m", "length", "a comma may only part thousands"),
        ("1e999 m", "length", "finite"),
        (math.inf, "share", "finite"),
        (math.nan, "share", "finite"),
        (None, "length", "must be a length"),
        ([1], "length", "must be a length"),
    ],
)
def test_refused(given: object, kind: str, words: str) -> None:
    with pytest.raises(PydanticCustomError) as caught:
        parse(given, kind)
    assert words in caught.value.message()


@pytest.mark.parametrize(
    ("given", "kind", "question"),
    [
        ("3 ton", "power", "cooling capacity"),
        ("2 tons", "power", "cooling capacity"),
        ("5 gallon", "volume", "US"),
        ("5 gpm", "flow", "US or imperial"),
        ("500 VA", "power", "power factor"),
        ("12000 Btu", "power", "Btu/h"),
    ],
)
def test_units_of_two_meanings_are_answered_with_a_question(given: str, kind: str, question: str) -> None:
    with pytest.raises(PydanticCustomError) as caught:
        parse(given, kind)
    assert "?" in caught.value.message()
    assert question in caught.value.message() + str((caught.value.context or {})["remedy"])


@pytest.mark.parametrize("kind", EXAMPLES)
def test_examples_read_and_print_back(kind: str) -> None:
    value = parse(EXAMPLES[kind], kind)
    # Fifteen digits are printed, so the last of a double's seventeen may differ: 1e-14.
    assert parse(text(value, kind, 15), kind) == pytest.approx(value, rel=1e-14)


def test_bounds_are_named_in_the_unit_people_use() -> None:
    with pytest.raises(PydanticCustomError) as caught:
        Quantity("share", least=0, most=1).read("130 %")
    assert caught.value.message() == "must lie between 0 % and 100 %"
