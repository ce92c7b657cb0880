"""The report page as text: nothing a user wrote becomes markup, nothing is loaded, every link leads somewhere."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from html.parser import HTMLParser

import pytest
from hostile import HOSTILE, ROOM, Packed

from heatsim.handover.page import policy, safe_json
from heatsim.handover.tables import decimals, table
from heatsim.services.schedule import POWER, Column, Schedule

ALLOWED = {
    "html", "head", "meta", "title", "style", "body", "a", "nav", "p", "ol", "li", "main", "section", "header", "h1",
    "h2", "h3", "bdi", "dl", "div", "dt", "dd", "strong", "span", "figure", "figcaption", "ul", "table", "thead",
    "tbody", "tr", "th", "td", "img", "label", "select", "option", "footer", "script", "svg", "defs", "pattern", "path",
    "rect", "text",
}  # fmt: skip
"""Elements of the page's own template."""


class Reader(HTMLParser):
    """What a page holds: elements, attributes, texts of scripts and styles, all other text."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.inside: list[str] = []
        self.raw: dict[str, list[str]] = {"script": [], "style": []}
        self.words: list[str] = []
        self.titles: list[str] = []
        self._open = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self._open = tag
        if tag in self.raw:
            self.raw[tag].append("")

    def handle_endtag(self, tag: str) -> None:
        self._open = ""

    def handle_data(self, data: str) -> None:
        if self._open in self.raw:
            self.raw[self._open][-1] += data
        else:
            self.words.append(data)
            if self._open == "title":
                self.titles.append(data)


@pytest.fixture(scope="module")
def page(packed: Packed) -> Reader:
    return Reader(packed.text("report.html"))


def test_only_the_template_has_elements(page: Reader) -> None:
    assert {tag for tag, _ in page.elements} <= ALLOWED
    assert sum(tag == "script" for tag, _ in page.elements) == 2
    assert sum(tag == "style" for tag, _ in page.elements) == 1


def test_a_script_of_a_title_would_be_seen() -> None:
    found = Reader(f"<p>{HOSTILE}</p>")
    assert {"script", "img"} <= {tag for tag, _ in found.elements}


def test_no_attribute_runs_or_loads(page: Reader) -> None:
    for tag, attributes in page.elements:
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            assert name != "style", tag
            if name in ("src", "href", "action", "data", "srcset", "xlink:href", "background", "poster"):
                assert (value or "").startswith(("#", "data:image/png;base64,")), (tag, name, value)


def test_the_title_stands_as_it_was_written(page: Reader) -> None:
    whole = "".join(page.words)
    assert HOSTILE in whole
    assert HOSTILE.strip() in page.titles[0]
    assert "<b>@SUM(A1)</b>" in whole
    assert ROOM in whole


def test_every_link_leads_to_one_place(page: Reader) -> None:
    names = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(set(names)) == len(names)
    linked = {str(attributes["href"])[1:] for tag, attributes in page.elements if tag == "a"}
    assert linked <= set(names)
    used = set(re.findall(r"url\(#([\w-]+)\)", " ".join(str(a.get("fill")) for _, a in page.elements)))
    assert used
    assert used <= set(names)


def test_the_policy_allows_nothing_but_the_page_itself(page: Reader) -> None:
    """By the sums of what stands in the page, made here (Content Security Policy Level 3, W3C, 2.3.1)."""
    said = next(
        a["content"] for t, a in page.elements if t == "meta" and a.get("http-equiv") == "Content-Security-Policy"
    )
    rules = dict(part.strip().split(" ", 1) for part in str(said).split(";"))

    def mark(text: str) -> str:
        return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"

    assert rules["default-src"] == "'none'"
    assert rules["img-src"] == "data:"
    assert rules["style-src"] == mark(page.raw["style"][0])
    assert rules["script-src"] == mark(page.raw["script"][1])
    assert (rules["base-uri"], rules["form-action"]) == ("'none'", "'none'")
    assert "unsafe" not in str(said)


def test_another_script_would_not_be_allowed() -> None:
    assert policy("a", "b") != policy("a", "c")


def test_the_numbers_are_json_that_ends_no_script(page: Reader, packed: Packed) -> None:
    text = page.raw["script"][0]
    found = json.loads(text)
    assert not set(text) & set("<>&")
    assert found["days"][0]["title"] == "block, humid day"
    assert any(ROOM in one["title"] for one in found["days"])


@pytest.mark.parametrize("text", ["</script><script>alert(1)</script>", "<!--", "]]>", "\u2028", "&lt;"])
def test_json_in_a_script(text: str) -> None:
    written = str(safe_json({text: [text]}))
    assert not set(written) & set("<>&\u2028")
    assert json.loads(written) == {text: [text]}


def test_the_first_page_answers(page: Reader) -> None:
    whole = "".join(page.words)
    for question in ("How much cooling, and when?", "With which plant?", "Does it hold?", "What causes most of it?",
                     "What would help most?"):  # fmt: skip
        assert question in whole


def test_every_part_has_its_heading_and_stands_in_the_contents(page: Reader) -> None:
    sections = [attributes["id"] for tag, attributes in page.elements if tag == "section"]
    linked = [str(attributes["href"])[1:] for tag, attributes in page.elements if tag == "a"]
    assert sections == [name for name in linked if name in sections][1:]  # the first link skips the contents
    assert sum(tag == "h2" for tag, _ in page.elements) == len(sections) - 1
    assert sum(tag == "h1" for tag, _ in page.elements) == 1


def test_every_picture_is_told_in_words(page: Reader) -> None:
    assert all(len(str(attributes.get("alt"))) > 10 for tag, attributes in page.elements if tag == "img")
    drawn = [attributes for tag, attributes in page.elements if tag == "svg"]
    assert all(one.get("aria-hidden") == "true" or len(str(one.get("aria-label"))) > 10 for one in drawn)


def test_both_systems_stand_in_the_page(page: Reader) -> None:
    whole = "".join(page.words)
    for unit in ("kW", "Btu/h", "°C", "°F", "L/s", "cfm"):
        assert unit in whole


def test_version_hashes_and_margins_stand_in_it(page: Reader, packed: Packed) -> None:
    whole = "".join(page.words)
    assert packed.record["scenario_hash"] in whole
    assert hashlib.sha256(packed.file.read_bytes()).hexdigest() in whole
    assert "Margins: none declared" in whole
    assert "heatsim " + packed.record["heatsim_version"] in whole


def test_long_tables_end_with_a_word_on_the_rest() -> None:
    rows = tuple((f"zone {i}", float(i)) for i in range(100))
    long = Schedule("loads", "Loads", (Column("zone"), Column("total", POWER)), rows)
    short = table(long, "both", most=10)
    assert (len(short.rows), short.left_out) == (10, 90)
    assert short.rows[1] == (("zone 1",), ("0.00", "0"))
    assert short.heads[1] == ("total", "kW · Btu/h")


@pytest.mark.parametrize(
    ("values", "digits"),
    [([0.95, 1.0], 3), ([5.3], 2), ([12.5, 3.0], 1), ([250.5], 0), ([2.0, 12.0], 0), ([2e-13], None), ([0.0], 0)],
)
def test_plain_numbers_show_three_figures(values: list[float], digits: int | None) -> None:
    assert decimals(values) == digits  # type: ignore[arg-type]
