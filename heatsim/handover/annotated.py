"""YAML with a remark beside a value, which the usual writers of YAML cannot: one value a line, block by block.

Texts are plain where they read back as themselves, else in double quotes; a remark is one line whatever it holds.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from heatsim.handover.explicit import Explicit
from heatsim.scenario.tree import Spot, plain_value

FORMAT = "default: as the file format has it"
HEAD = (
    "# The scenario with every default written out, by heatsim {version}, in SI units or those the trade says.",
    "# What the file did not give bears the remark `default` with its source.",
    "# Run again with this version it gives the same numbers: heatsim loads resolved.yaml",
)
_PLAIN = re.compile(r"[^\W_]([\w %/().,'°²³·+-]*[\w%/().'°²³])?$")
_BREAKS = re.compile("[\x85\u2028\u2029\ufeff]")


def to_text(found: Explicit, version: str) -> str:
    """The file."""
    remarks: dict[Spot, str] = {}
    content = _kept(found.scenario, found.scenario.model_dump(mode="json", exclude_none=True), (), remarks)
    remarks |= found.remarks
    lines = [line.format(version=version) for line in HEAD]
    for key, value in content.items():
        if isinstance(value, dict | list):
            lines.append("")
        lines += _entry(key, value, (key,), 0, remarks)
    return "\n".join(lines) + "\n"


def _kept(model: BaseModel, content: Mapping[str, Any], spot: Spot, remarks: dict[Spot, str] | None) -> dict[str, Any]:
    """The content without lists and parts that are empty because nobody gave them; what a model took by itself is
    remarked on, of a part that is missing as a whole once."""
    kept: dict[str, Any] = {}
    for name, value in content.items():
        given, here = name in model.model_fields_set, (*spot, name)
        inner = _inside(getattr(model, name), value, here, remarks if given else None)
        if not given and inner in ({}, []):
            continue
        kept[name] = inner
        if not given and remarks is not None:
            remarks[here] = FORMAT
    return kept


def _inside(child: Any, content: Any, spot: Spot, remarks: dict[Spot, str] | None) -> Any:
    if isinstance(child, BaseModel) and isinstance(content, dict):
        return _kept(child, content, spot, remarks)
    if isinstance(child, Mapping) and isinstance(content, dict):
        return {key: _inside(child.get(key), part, (*spot, key), remarks) for key, part in content.items()}
    if isinstance(child, list | tuple) and isinstance(content, list):
        pairs = enumerate(zip(child, content, strict=True))
        return [_inside(value, part, (*spot, i), remarks) for i, (value, part) in pairs]
    return content


def _entry(key: object, value: Any, spot: Spot, depth: int, remarks: Mapping[Spot, str]) -> Iterator[str]:
    """A key with its value, deeper parts below it."""
    yield from _valued(f"{'  ' * depth}{_scalar(key)}:", value, spot, depth, remarks)


def _valued(head: str, value: Any, spot: Spot, depth: int, remarks: Mapping[Spot, str]) -> Iterator[str]:
    remark = f"  # {_one_line(remarks[spot])}" if spot in remarks else ""
    if isinstance(value, dict) and value:
        yield head + remark
        for key, item in value.items():
            yield from _entry(key, item, (*spot, key), depth + 1, remarks)
    elif isinstance(value, list) and value:
        if all(not isinstance(item, dict | list) for item in value):
            yield f"{head} [{', '.join(_scalar(item, flow=True) for item in value)}]{remark}"
            return
        yield head + remark
        for i, item in enumerate(value):
            yield from _item(item, (*spot, i), depth + 1, remarks)
    else:
        empty = "{}" if isinstance(value, dict) else "[]" if isinstance(value, list) else _scalar(value)
        yield f"{head} {empty}{remark}"


def _item(value: Any, spot: Spot, depth: int, remarks: Mapping[Spot, str]) -> Iterator[str]:
    """One item of a list: its first key stands on the dash's line."""
    if not isinstance(value, dict) or not value:
        yield from _valued(f"{'  ' * depth}-", value, spot, depth, remarks)
        return
    lines = [line for key, part in value.items() for line in _entry(key, part, (*spot, key), depth + 1, remarks)]
    yield f"{'  ' * depth}- {lines[0].lstrip()}"
    yield from lines[1:]


def _scalar(value: Any, flow: bool = False) -> str:
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    text = str(value)
    if _PLAIN.match(text) and text.isascii() and plain_value(text) == text and not (flow and "," in text):
        return text
    quoted = json.dumps(text, ensure_ascii=False)
    return _BREAKS.sub(lambda found: f"\\u{ord(found[0]):04x}", quoted)


def _one_line(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)
