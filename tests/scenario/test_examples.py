"""Every example that a field's text gives is one the field takes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Annotated, Any

import pytest
from pydantic import TypeAdapter, ValidationError

from heatsim.equipment.catalogue import UnitText
from heatsim.scenario.fields import Part
from heatsim.scenario.model import Scenario
from heatsim.scenario.outlines import OutlineText
from heatsim.scenario.place import standard_offset
from heatsim.scenario.regions import find_region
from heatsim.scenario.schema import field_text, json_schema
from heatsim.scenario.tree import parse
from heatsim.study.file import Study
from heatsim.tables.loader import names

# Fields whose text is a name of a table, or of the file; the tables are what names.py looks them up in.
TABLES = {
    "material": "materials", "hull_colour": "colours", "house_colour": "colours", "deck_colour": "colours",
    "side_colour": "colours", "colour": "colours", "glazing": "glazings", "film": "films", "fabric": "awnings",
    "kind": "blinds", "activity": "activities", "use": "uses",
}  # fmt: skip
THINGS = {"GlassFace.in_front", "Scenario.spaces", "Shore.legs"}
"""Fields whose example is a thing aboard, not what is written."""


def models(kind: type[Part] = Part) -> Iterator[type[Part]]:
    for one in kind.__subclasses__():
        yield one
        yield from models(one)


def told() -> Iterator[tuple[type[Part], str, str]]:
    """Model, field and example after "such as" in its text."""
    for model in models():
        for key in model.model_fields:
            found = re.search(r"such as (\[[^\]]*\]|(?:[^,;:.()]|\.(?=\d))+)", field_text(model, key))
            if found and f"{model.__name__}.{key}" not in THINGS:
                yield model, key, re.split(r" (?:and|or|before|shares) ", found[1])[0].strip()


CASES = sorted({(model, key, example) for model, key, example in told()}, key=lambda case: (case[0].__name__, case[1]))


def test_there_are_examples() -> None:
    assert len(CASES) > 25


@pytest.mark.parametrize(("model", "key", "example"), CASES, ids=[f"{model.__name__}.{key}" for model, key, _ in CASES])
def test_what_the_text_of_a_field_gives_as_example(model: type[Part], key: str, example: str) -> None:
    value = parse(f"value: {example}", "example").value["value"]
    if (model, key) in {(OutlineText, "points"), (Study, "leave_out")}:  # the example is one item of the list
        value = [value] * 3
    takes(model, key, value)
    if key in TABLES and model.__name__ != "FrameText":
        assert example in names(TABLES[key])
    if key == "region":
        assert find_region(example) is not None
    if key == "timezone":
        assert standard_offset(example) is not None


@pytest.mark.parametrize("root", [Scenario, Study, UnitText])
def test_examples_of_the_schema(root: type[Part]) -> None:
    schema = json_schema(root)
    kinds = {model.__name__: model for model in models()}
    count = 0
    for name, part in {root.__name__: schema, **schema.get("$defs", {})}.items():
        for key, form in part["properties"].items():
            for example in form.get("examples", ()):
                takes(kinds[name], key, example)
                count += 1
    assert count or root is UnitText


def takes(model: type[Part], key: str, example: Any) -> None:
    """The field reads the example, or this fails."""
    field = model.model_fields[key]
    annotation: Any = field.annotation
    for mark in field.metadata:
        annotation = Annotated[annotation, mark]
    try:
        TypeAdapter(annotation).validate_python(example, strict=True)
    except ValidationError as error:
        pytest.fail(f"{model.__name__}.{key} refuses its example {example!r}: {error}")


def test_a_wrong_example_is_seen() -> None:
    with pytest.raises(pytest.fail.Exception):
        takes(Scenario, "format", 2)
