"""JSON Schema of the scenario file, generated from the models, for editors that complete and check as one types."""

from __future__ import annotations

from typing import Any

from heatsim.scenario.model import Scenario


def json_schema() -> dict[str, Any]:
    """The schema (draft 2020-12); quantities are text with a unit, as in the file."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **Scenario.model_json_schema(),
        "title": "heatsim scenario, format 1",
    }
