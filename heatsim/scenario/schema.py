"""JSON Schema of the scenario file, generated from the models, for editors that complete and check as one types.

What a field means is said once, in the text below it in its model; the schema reads it there.
"""

from __future__ import annotations

import ast
import inspect
import itertools
import math
import sys
from collections.abc import Iterator
from functools import cache
from typing import Any, get_args, get_origin

from heatsim.scenario.courses import Course
from heatsim.scenario.fields import Part
from heatsim.scenario.model import Scenario
from heatsim.scenario.quantities import BARE, Quantity


def json_schema(root: type[Part] = Scenario, title: str = "heatsim scenario, format 1") -> dict[str, Any]:
    """The schema (draft 2020-12); quantities are text with a unit, as in the file.

    `root` is the model of the whole file. Every property has a description; that of a quantity ends with its kind and
    bounds, and has an example beside it.
    """
    schema = root.model_json_schema()
    models = {model.__name__: model for model in _below(Part)}
    for name, part in {root.__name__: schema, **schema.get("$defs", {})}.items():
        for key, form in part["properties"].items():
            form |= _explained(models[name], key)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": title,
    }


def _below(model: type[Part]) -> Iterator[type[Part]]:
    for kind in model.__subclasses__():
        yield kind
        yield from _below(kind)


def _explained(model: type[Part], key: str) -> dict[str, Any]:
    """Description and examples of one field."""
    told = field_text(model, key)
    field = model.model_fields[key]
    mark = next((m for m in _marks(field.annotation, *field.metadata) if isinstance(m, Quantity | Course)), None)
    if mark is None:
        return {"description": told}
    if _holds_several(field.annotation):
        return {"description": f"{told} Each is written as {_form(mark)}."}
    return {"description": f"{told} Written as {_form(mark)}.", "examples": _examples(mark)}


def _holds_several(annotation: Any) -> bool:
    """Whether a field, or one of its alternatives, is a list or a mapping of what it is marked with."""
    if get_origin(annotation) in (list, dict):
        return True
    parts = get_args(annotation)[:1] if hasattr(annotation, "__metadata__") else get_args(annotation)
    return any(_holds_several(part) for part in parts)


def field_text(model: type[Part], key: str) -> str:
    """What a field of the file means, as its model says below it."""
    return next(texts[key] for kind in model.__mro__ if key in (texts := _field_texts(kind)))


def _form(mark: Quantity | Course) -> str:
    """How a quantity or course is written, in words."""
    named = f"{'an' if mark.kind[0] in 'aeiou' else 'a'} {mark.kind}"
    if isinstance(mark, Course):
        return f"{named}, or {mark.kind}s by stretch of the clock"
    bounds = max(mark.above, mark.least), min(mark.below, mark.most)
    form = named if mark.kind in BARE else f"{named} with its unit"
    return f"{form}, {mark.range_text()}" if any(map(math.isfinite, bounds)) else form


def _examples(mark: Quantity | Course) -> list[Any]:
    if isinstance(mark, Course):
        return [mark.constant_example(), mark.stretch_example()]
    example = mark.example()
    return [example, mark.word] if mark.word else [example]


def _marks(annotation: Any, *metadata: object) -> Iterator[object]:
    """What is annotated on a type, its alternatives and its items."""
    yield from metadata
    yield from getattr(annotation, "__metadata__", ())
    for part in get_args(annotation):
        yield from _marks(part)


@cache
def _field_texts(model: type) -> dict[str, str]:
    """The text below each field in the source of a model's class."""
    if not issubclass(model, Part) or model is Part:
        return {}
    body = next(
        node.body
        for node in ast.parse(inspect.getsource(sys.modules[model.__module__])).body
        if isinstance(node, ast.ClassDef) and node.name == model.__name__
    )
    texts = {}
    for field, below in itertools.pairwise(body):
        match field, below:
            case ast.AnnAssign(target=ast.Name(id=name)), ast.Expr(value=ast.Constant(value=str(text))):
                texts[name] = inspect.cleandoc(text)
    return texts
