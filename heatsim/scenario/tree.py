"""From bytes to plain values with line numbers, by the steps that keep a hostile or broken file out.

Order: size, UTF-8 without control characters, nesting, then parsing (one document, no tags, no duplicate keys, no
cycles), with the count of expanded nodes kept on the way. Scalars follow the core schema of YAML 1.2 (on, off, yes and
no are text; 22:00 is text).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from heatsim.errors import Fault, HeatsimError

LARGEST_FILE = 2_000_000
"""[bytes] A yacht of a hundred zones needs a tenth of this."""
DEEPEST = 40
LARGEST_TREE = 200_000
"""Nodes after every alias is written out."""
LONGEST_NUMBER = 300
"""[digits] Beyond this a whole number is a mistake, and slow to read."""

Key = str | int
Spot = tuple[Key, ...]

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\x80-\x84\x86-\x9f\ufffe\uffff]")
_INT = re.compile(r"[-+]?[0-9]+$|0o[0-7]+$|0x[0-9a-fA-F]+$")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?$")
_WORDS: dict[str, object] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
    **dict.fromkeys((".inf", ".Inf", ".INF", "+.inf"), float("inf")),
    **dict.fromkeys(("-.inf", "-.Inf", "-.INF"), float("-inf")),
    **dict.fromkeys((".nan", ".NaN", ".NAN"), float("nan")),
}


@dataclass
class Tree:
    """Plain values, and the line of every key and item by its path."""

    value: Any
    lines: dict[Spot, int]
    file: str

    def line(self, spot: Spot) -> int:
        """Line of the deepest known part of a path, 0 where nothing is known."""
        for end in range(len(spot), -1, -1):
            if spot[:end] in self.lines:
                return self.lines[spot[:end]]
        return 0


def path_text(spot: Spot) -> str:
    """A path as people write it: zones.saloon.faces[2].area."""
    out = ""
    for part in spot:
        out += f"[{part}]" if isinstance(part, int) else f".{part}" if out else str(part)
    return out


def load(path: str | Path) -> Tree:
    """Read a file by the steps of this module.

    Raises
    ------
    HeatsimError
        With the one fault that stops the reading.
    """
    place = Path(path)
    name = str(path)
    try:
        if place.is_dir():
            raise _fault("is a directory, not a scenario file", name)
        size = place.stat().st_size
        if size > LARGEST_FILE:
            raise _fault(
                "must be at most 2 MB", name, value=f"{size:,} bytes", remedy="Keep long tables in their own files"
            )
        content = place.read_bytes()
    except OSError as error:
        raise _fault(
            f"cannot be read ({(error.strerror or 'no such file').lower()})", name, remedy="Check the name"
        ) from None
    return parse(decode(content, name), name)


def decode(content: bytes, name: str) -> str:
    """Text of a file: UTF-8 (a byte-order mark is passed over), no control characters, no tabs in the indentation."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        value = f"byte 0x{content[error.start]:02x}"
        raise _fault("must be UTF-8 text", name, line, value=value, remedy="Save the file as UTF-8") from None
    odd = _CONTROL.search(text)
    if odd:
        line = text.count("\n", 0, odd.start()) + 1
        raise _fault("holds a control character: not a text file", name, line, value=f"U+{ord(odd.group()):04X}")
    for number, row in enumerate(text.splitlines(), 1):
        if re.match(r" *\t[ \t]*[^\s#]", row):
            raise _fault("is indented with a tab", name, number, remedy="Indent with spaces")
    return text


def parse(text: str, name: str) -> Tree:
    """Values and lines of a text; `name` stands for the file in messages."""
    _refuse_deep(text, name)
    import yaml

    # The compiled parser reads a boat in a tenth of the time; only its events are used, values are built here.
    parser = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    builder = _Builder(name)
    try:
        tree = builder.document(iter(yaml.parse(text, Loader=parser)))
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        problem = (error.problem or "cannot be understood").replace("\n", " ")
        raise _fault(
            f"is not YAML: {problem}", name, mark.line + 1 if mark else 0, remedy="Check quotes, colons and indentation"
        ) from None
    except yaml.YAMLError as error:
        raise _fault(f"is not YAML: {str(error).splitlines()[0]}", name) from None
    except RecursionError:
        raise _fault(f"is nested deeper than {DEEPEST} levels", name) from None
    return tree


def plain_value(text: str) -> object:
    """What a scalar without quotes stands for, by the core schema of YAML 1.2."""
    if text in _WORDS:
        return _WORDS[text]
    if _INT.match(text):
        return int(text, 0) if text[:2] in ("0o", "0x") else int(text)
    return float(text) if _FLOAT.match(text) else text


def _fault(rule: str, file: str, line: int = 0, path: str = "", value: str = "", remedy: str = "") -> HeatsimError:
    return HeatsimError(Fault(rule, file, line, path, value, remedy))


def _refuse_deep(text: str, name: str) -> None:
    """Bound the nesting before the parser sees the text: brackets, indentation and dashes."""
    depth = 0
    indents: list[int] = []
    for number, row in enumerate(text.splitlines(), 1):
        body = row.lstrip(" ")
        if not body or body.startswith("#"):
            continue
        indent = len(row) - len(body)
        while indents and indents[-1] >= indent:
            indents.pop()
        indents.append(indent)
        dashes = re.match(r"(?:[-?] +)*", body)
        for mark in re.sub(r"\"(?:[^\"\\]|\\.)*\"|'[^']*'|\s#.*", "", body):
            depth += (mark in "[{") - (mark in "]}")
            depth = max(depth, 0)
            if depth > DEEPEST:
                raise _fault(f"is nested deeper than {DEEPEST} levels", name, number)
        if len(indents) + (len(dashes.group().split()) if dashes else 0) > DEEPEST:
            raise _fault(f"is nested deeper than {DEEPEST} levels", name, number)


@dataclass
class _Node:
    """A value with the lines below it (relative paths) and its size when written out."""

    value: Any
    lines: dict[Spot, int]
    size: int
    line: int


class _Builder:
    """Builds values from the parser's events; every rule of the file's form is checked here."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.anchors: dict[str, _Node | None] = {}

    def document(self, events: Iterator[Any]) -> Tree:
        """The tree of the only document."""
        root: _Node | None = None
        for event in events:
            kind = type(event).__name__
            if kind == "DocumentStartEvent":
                if root is not None:
                    raise self.fault("must hold one document", event, remedy="Remove the second ---")
                following = next(events)
                root = self.node(following, events, 1)
        if root is None or (root.value is None and not root.lines):
            raise _fault("is empty", self.name, remedy="Start from: heatsim new FILE")
        if not isinstance(root.value, dict):
            raise _fault(
                "must be a mapping of keys to values", self.name, root.line, remedy="Start from: heatsim new FILE"
            )
        return Tree(root.value, {(): root.line, **root.lines}, self.name)

    def fault(self, rule: str, event: Any, value: str = "", remedy: str = "") -> HeatsimError:
        return _fault(rule, self.name, event.start_mark.line + 1, value=value, remedy=remedy)

    def node(self, event: Any, events: Iterator[Any], depth: int) -> _Node:
        kind = type(event).__name__
        if kind == "AliasEvent":
            return self.alias(event)
        if event.tag is not None:
            raise self.fault("may not use tags", event, value=event.tag, remedy="Remove the tag")
        if depth > DEEPEST:
            raise self.fault(f"is nested deeper than {DEEPEST} levels", event)
        if event.anchor is not None:
            self.anchors[event.anchor] = None
        if kind == "ScalarEvent":
            node = _Node(self.scalar(event), {}, 1, event.start_mark.line + 1)
        elif kind == "SequenceStartEvent":
            node = self.sequence(event, events, depth)
        else:
            node = self.mapping(event, events, depth)
        if node.size > LARGEST_TREE:
            raise self.fault(f"holds more than {LARGEST_TREE:,} nodes once its aliases are written out", event)
        if event.anchor is not None:
            self.anchors[event.anchor] = node
        return node

    def alias(self, event: Any) -> _Node:
        if event.anchor not in self.anchors:
            raise self.fault("names an anchor that is not defined above it", event, value=f"*{event.anchor}")
        node = self.anchors[event.anchor]
        if node is None:
            raise self.fault("an alias contains itself", event, value=f"*{event.anchor}")
        return _Node(node.value, node.lines, node.size, event.start_mark.line + 1)

    def scalar(self, event: Any) -> object:
        text: str = event.value
        if event.style is not None and event.style != "":
            return text
        if len(text) > LONGEST_NUMBER and _INT.match(text):
            raise self.fault(f"holds a number of more than {LONGEST_NUMBER} digits", event)
        return plain_value(text)

    def sequence(self, event: Any, events: Iterator[Any], depth: int) -> _Node:
        out = _Node([], {}, 1, event.start_mark.line + 1)
        while type(item := next(events)).__name__ != "SequenceEndEvent":
            self.put(out, len(out.value), self.node(item, events, depth + 1), item.start_mark.line + 1, item)
        return out

    def mapping(self, event: Any, events: Iterator[Any], depth: int) -> _Node:
        out = _Node({}, {}, 1, event.start_mark.line + 1)
        while type(item := next(events)).__name__ != "MappingEndEvent":
            key = self.node(item, events, depth + 1).value
            if isinstance(key, bool) or not isinstance(key, (str, int)):
                raise self.fault("keys must be plain names", item, value=str(key)[:40])
            if key == "<<":
                raise self.fault(
                    "merge keys are not part of YAML 1.2", item, remedy="Repeat the alias under a key of its own"
                )
            if str(key) in out.value:
                raise self.fault("a key stands twice", item, value=str(key), remedy="Rename or remove one of them")
            self.put(out, str(key), self.node(next(events), events, depth + 1), item.start_mark.line + 1, item)
        return out

    def put(self, out: _Node, key: Key, child: _Node, line: int, event: Any) -> None:
        if isinstance(key, int):
            out.value.append(child.value)
        else:
            out.value[key] = child.value
        out.size += child.size
        if out.size > LARGEST_TREE:
            raise self.fault(f"holds more than {LARGEST_TREE:,} nodes once its aliases are written out", event)
        out.lines[(key,)] = line
        for spot, deeper in child.lines.items():
            out.lines[(key, *spot)] = deeper
