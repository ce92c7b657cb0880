"""Scenarios written back as files, so that a boat built in Python can be kept, read and changed."""

from __future__ import annotations

import json
from io import StringIO

from heatsim.scenario.model import Scenario


def to_yaml(scenario: Scenario) -> str:
    """Text of a scenario file that reads back to an equal scenario.

    Parameters
    ----------
    scenario : Scenario
        As read, or built in Python; what it leaves to defaults stays out.

    Notes
    -----
    Quantities are printed in metric units with fifteen digits.
    """
    from ruamel.yaml import YAML

    content = scenario.model_dump(mode="json", exclude_defaults=True, exclude_none=True)
    writer = YAML(typ="safe", pure=True)
    writer.default_flow_style = False
    writer.width = 4096
    writer.sort_base_mapping_type_on_output = False  # type: ignore[assignment]  # the order of the models is the order of the file
    stream = StringIO()
    writer.dump(json.loads(json.dumps(content)), stream)
    return stream.getvalue()
