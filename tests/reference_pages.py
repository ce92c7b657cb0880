"""Writes docs/reference.md from the models of the files, docs/api.md from docstrings, the plan of a tutorial's boat.

Run it to renew them.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import heatsim
from heatsim.equipment.catalogue import UnitText
from heatsim.scenario.fields import Part
from heatsim.scenario.model import Scenario
from heatsim.scenario.schema import json_schema
from heatsim.study.file import Study

DOCS = Path(__file__).resolve().parents[1] / "docs"
SVG_GROUND = "#fbfaf6"
FONT = "'DejaVu Sans', 'Segoe UI', Arial, sans-serif"

HEAD = """\
# Keys of the files

Made from the models that read the files: `python tests/reference_pages.py` renews this page, a test holds it to them.
Amounts are text with a unit (`24 ft2`, `7 m`, `95 degF`); `heatsim list units` has the spellings. A key without a mark
may be left out: what is taken then, and from which source, `heatsim check` says. Unknown keys are refused with the
nearest known one. `NAME` is a name of your own.
"""
API_HEAD = """\
# From Python

Made from docstrings: `python tests/reference_pages.py` renews this page and a test holds it to them. Public names are
loaded on first use, so that `import heatsim` stays light; `help(heatsim.simulate)` shows a name in full.

```python
import heatsim

boat = heatsim.resolve(heatsim.read("scenarios/dunlin-11.yaml", ["zones.saloon.setpoint=24 degC"]))
loads = heatsim.simulate(boat)  # an xarray data set, units as attributes
print(heatsim.peaks(loads)[["total", "hour", "w_per_m2"]])
try:
    heatsim.read("scenarios/dunlin-11.yaml", ["zones.saloon.setpoint=24"])
except heatsim.HeatsimError as error:
    print(error.faults[0].path, error.faults[0].remedy)
```

`heatsim.run_study` and `heatsim.open_study` are told in [studies](studies.md), `heatsim.pack` in [the pack](pack.md);
variables and their units stand in the data set itself (`loads["heat_gain"].attrs`).
"""


def reference() -> str:
    """The page of keys."""
    parts = [HEAD]
    for title, root, named, told in (
        ("Scenario", Scenario, "heatsim scenario", "`boat.yaml`: one boat in one place."),
        ("Study", Study, "heatsim study", "`study.yaml`: one boat over what is varied; told in [studies](studies.md)."),
        (
            "Catalogue",
            UnitText,
            "heatsim catalogue",
            "One row a unit, CSV or .xlsx; told in [equipment](equipment.md).",
        ),
    ):
        parts.append(f"## {title}\n\n{told}\n")
        parts += _sections(root, named)
    return "\n".join(parts)


def _sections(root: type[Part], title: str) -> Iterator[str]:
    """A table for each part of a file, in the order in which the file reaches it."""
    schema = json_schema(root, title)
    waiting: list[tuple[str, str]] = [("", "")]
    seen: dict[str, str] = {}
    while waiting:
        path, name = waiting.pop(0)
        if name in seen:
            continue
        seen[name] = path
        part = schema["$defs"][name] if name else schema
        if path:
            yield f"### `{path}`\n\n{_first_line(part.get('description', ''))}\n"
        yield _table(part)
        for key, form in part["properties"].items():
            waiting += [(f"{path}.{key}{suffix}".lstrip("."), one) for one, suffix in _inside(form)]


def _inside(form: dict[str, Any], suffix: str = "") -> Iterator[tuple[str, str]]:
    """Parts that a key may hold, and how the path goes on into them."""
    if "$ref" in form:
        yield form["$ref"].rsplit("/", 1)[1], suffix
    for group in ("anyOf", "oneOf"):
        for one in form.get(group, ()):
            yield from _inside(one, suffix)
    if isinstance(form.get("items"), dict):
        yield from _inside(form["items"], suffix + "[ ]")
    if isinstance(form.get("additionalProperties"), dict):
        yield from _inside(form["additionalProperties"], suffix + ".NAME")


def _table(part: dict[str, Any]) -> str:
    rows = ["| key | meaning | for example |", "| --- | --- | --- |"]
    needed = part.get("required", ())
    for key, form in part["properties"].items():
        mark = " **needed**" if key in needed else ""
        choices = [str(value) for value in _choices(form)]
        told = form["description"].replace("|", "/").replace("\n", " ")
        if choices and not all(value in told for value in choices):
            told += f" One of: {', '.join(choices)}."
        examples = [f"`{_written(one)}`" for one in form.get("examples", ())]
        rows.append(f"| `{key}`{mark} | {told} | {' or '.join(examples)} |")
    return "\n".join(rows) + "\n"


def _choices(form: dict[str, Any]) -> list[object]:
    if "enum" in form:
        return list(form["enum"])
    if "const" in form:
        return [form["const"]]
    found: list[object] = [value for one in form.get("anyOf", ()) for value in _choices(one)]
    return found or (_choices(form["items"]) if isinstance(form.get("items"), dict) else [])


def _written(example: object) -> str:
    if isinstance(example, dict):
        return "{" + ", ".join(f'"{key}": {value}' for key, value in example.items()) + "}"
    return str(example)


def _first_line(text: str) -> str:
    return " ".join(text.strip().split("\n\n")[0].split())


def api() -> str:
    """The page of public names."""
    rows = ["| name | what it is |", "| --- | --- |"]
    for name in heatsim.__all__:
        if name != "__version__":
            rows.append(f"| `heatsim.{_call(name)}` | {_first_line(inspect.getdoc(getattr(heatsim, name)) or '')} |")
    parts = [API_HEAD, "\n".join(rows) + "\n"]
    for name in heatsim.__all__:
        found = getattr(heatsim, name)
        if inspect.isfunction(found):
            parts.append(f"## `heatsim.{name}`\n\n```text\n{name}{_signature(found)}\n\n{inspect.getdoc(found)}\n```\n")
    return "\n".join(parts)


def _call(name: str) -> str:
    return name + "()" if inspect.isfunction(getattr(heatsim, name)) else name


def _signature(found: Any) -> str:
    """As written, one name a line where it is long."""
    text = re.sub(r"<function (\w+) at 0x[0-9a-f]+>", r"\1", str(inspect.signature(found)).replace("'", ""))
    if len(text) <= 100:
        return text
    inside, _, after = text[1:].rpartition(")")
    return "(\n" + "".join(f"    {one},\n" for one in re.split(r", (?=[\w*]+(?::|$|,))", inside)) + ")" + after


def plan_of_the_tutorial() -> str:
    """Decks of the boat of docs/tutorial-designer.md as an SVG file."""
    from heatsim.handover.deck_places import decks
    from heatsim.handover.deck_plan import Load, drawing
    from heatsim.scenario.zone_sheets import from_sheet

    page = (DOCS / "tutorial-designer.md").read_text(encoding="utf-8")
    sheet = re.search(r"cat > zones.csv <<'END'\n(.*?)END\n", page, re.S)
    assert sheet is not None
    with TemporaryDirectory() as folder:
        file = Path(folder) / "zones.csv"
        file.write_text(sheet[1], encoding="utf-8")
        text = from_sheet(file, kind="motor", length="79 ft", region="NAP")
        (Path(folder) / "boat.yaml").write_text(text, encoding="utf-8")
        scenario = heatsim.read(Path(folder) / "boat.yaml")
    resolved = heatsim.resolve(scenario)
    frame: Any = heatsim.peaks(heatsim.simulate(resolved)).loc["humid"]
    plan = decks(scenario, resolved)
    loads = {str(zone): Load(float(row["w_per_m2"]), str(row["hour"])[11:16]) for zone, row in frame.iterrows()}
    shown = {room.name: loads.get(room.name, Load(None)) for deck in plan for room in deck.rooms}
    svg = str(drawing(plan, shown, "both", "humid"))
    high = re.search(r'viewBox="0 0 [\d.]+ ([\d.]+)"', svg)
    assert high is not None
    ground = f'<rect width="1860" height="{high[1]}" fill="{SVG_GROUND}"/>'
    svg = svg.replace("<svg ", f'<svg xmlns="http://www.w3.org/2000/svg" font-family="{FONT}" ', 1)
    return svg.replace("<defs>", ground + "<defs>", 1) + "\n"


PAGES = {"reference.md": reference, "api.md": api}


def renew() -> None:
    """Write both pages and the picture."""
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), encoding="utf-8")
    (DOCS / "pictures" / "lapwing-24-decks.svg").write_text(plan_of_the_tutorial(), encoding="utf-8")


if __name__ == "__main__":
    renew()
