"""Scenarios written back as files, so that a boat built in Python can be kept, read and changed."""

from __future__ import annotations

import json
from typing import Any

from heatsim.scenario.model import Scenario
from heatsim.scenario.tree import plain_value


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
    import yaml

    class Writer(yaml.SafeDumper):
        """Quotes what our reader would take for something else than text; repeats rather than names."""

        def ignore_aliases(self, data: Any) -> bool:
            return True

    def as_text(writer: Writer, text: str) -> yaml.ScalarNode:
        style = None if isinstance(plain_value(text), str) else "'"
        return writer.represent_scalar("tag:yaml.org,2002:str", text, style=style)

    Writer.add_representer(str, as_text)
    content = json.loads(json.dumps(scenario.model_dump(mode="json", exclude_defaults=True, exclude_none=True)))
    # The order of the models is the order of the file.
    return yaml.dump(content, Dumper=Writer, sort_keys=False, allow_unicode=True, width=4096)
