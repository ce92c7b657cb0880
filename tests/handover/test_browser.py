"""The report in a headless browser: it opens alone and in silence, answers pointer and keys, and prints on paper.

One browser for all of it. Values shown are held against the data set of the same pack.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from chromium import Browser, find
from hostile import DEMO, Packed

import heatsim

pytestmark = pytest.mark.skipif(find() is None, reason="no Chromium here (Debian: apt-get install chromium)")

A4, LETTER = (210.0 / 25.4, 297.0 / 25.4), (8.5, 11.0)
"""[in] ISO 216; ANSI/ASME Y14.1."""
FEWEST, MOST = 8, 15
"""Pages that somebody reads (what the pack promises)."""
LEAST_CONTRAST = 4.5
"""Of text on its ground: WCAG 2.1, 1.4.3, level AA."""


@pytest.fixture(scope="module")
def browser(packed: Packed) -> Iterator[Browser]:
    """The report, open in the one browser."""
    program = find()
    assert program is not None
    with Browser(program) as one:
        one.open(packed.folder / "report.html")
        yield one


@pytest.fixture
def page(browser: Browser, packed: Packed) -> Browser:
    """The report as it opens."""
    browser.open(packed.folder / "report.html")
    return browser


def test_it_opens_without_a_word_and_asks_for_nothing(page: Browser, packed: Packed) -> None:
    loud = ("Log.entryAdded", "Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Page.javascriptDialogOpening")
    assert [event for event in page.events if event.get("method") in loud] == []
    asked = [e["params"]["request"]["url"] for e in page.events if e.get("method") == "Network.requestWillBeSent"]
    own = (packed.folder / "report.html").resolve().as_uri()
    assert own in asked
    assert [url for url in asked if url != own and not url.startswith("data:")] == []
    assert page.value("document.querySelectorAll('main section h2').length") >= 8


def test_the_check_hears_an_error(page: Browser) -> None:
    page.value("console.error('told'); 1")
    page.value("1")
    assert any(event.get("method") == "Runtime.consoleAPICalled" for event in page.events)


def test_a_script_from_elsewhere_may_not_run(page: Browser) -> None:
    """The policy at work: an inline script that is put in, and a picture from the network."""
    page.value(
        "(()=>{const s=document.createElement('script');s.textContent='window.hurt=1';document.body.append(s);"
        "const i=document.createElement('img');i.src='http://127.0.0.1:9/x.png';document.body.append(i)})()"
    )
    assert page.value("typeof window.hurt") == "undefined"
    asked = {e["params"]["requestId"] for e in page.events if e.get("method") == "Network.requestWillBeSent"
             and e["params"]["request"]["url"].startswith("http")}  # fmt: skip
    page.value("new Promise(done => setTimeout(done, 200))")
    failed = [e["params"] for e in page.events if e.get("method") == "Network.loadingFailed"]
    assert {one["requestId"] for one in failed if one.get("blockedReason") == "csp"} >= asked
    assert asked


def reading(page: Browser) -> tuple[str, dict[str, str]]:
    """What stands beside the day: its title, and the first value of every line."""
    title = page.value("document.querySelector('#reading caption').textContent")
    rows = page.value("[...document.querySelectorAll('#reading tr')].map(r => [...r.cells].map(c => c.textContent))")
    return str(title), {row[0]: row[1] for row in rows}


def block(packed: Packed, day: str) -> np.ndarray:
    """Total load of all cooled zones by hour at the heading of the block's peak. [kW]"""
    with xr.open_dataset(packed.folder / "loads.nc") as loads:
        cooled = loads.sel(zone=loads["conditioned"].values.astype(bool), day=day)
        total = (cooled["sensible_cooling"] + cooled["latent_cooling"]).sum("zone").transpose("heading", "time").values
    return np.asarray(total[np.unravel_index(int(total.argmax()), total.shape)[0]]) / 1e3


def test_pointing_at_an_hour_shows_its_loads(page: Browser, packed: Packed) -> None:
    page.value("document.getElementById('day').scrollIntoView({block: 'center'})")
    box = page.value("(()=>{const q=document.querySelector('#day .chart:not([hidden]) svg').getBoundingClientRect();"
                     "return [q.left,q.top,q.width,q.height]})()")  # fmt: skip
    inside, wide = page.value(
        "(()=>{const q=document.querySelector('#day .chart:not([hidden]) svg');"
        "return [q.dataset.box.split(' ').map(Number), q.viewBox.baseVal.width]})()"
    )
    expected = block(packed, "humid")
    for hour in (3, 14, 20):
        x = inside[0] + (hour + 0.5) / 24.0 * (inside[2] - inside[0])
        page.point(box[0] + x / wide * box[2], box[1] + 0.5 * box[3])
        title, values = reading(page)
        assert f"{hour:02d}:00" in title
        # Shown to 0.01 kW of whole watts; heating, none in these hours, would part load and data set.
        assert float(values["load"].split()[0]) == pytest.approx(expected[hour], abs=0.0056)
        parts = [float(text.split()[0]) for name, text in values.items() if name != "load"]
        # Each cause is rounded to 0.01 kW, and those under 0.4 % of the largest are not drawn.
        assert sum(parts) == pytest.approx(float(values["load"].split()[0]), abs=0.005 * len(parts) + 0.04)


def test_arrow_keys_walk_the_hours(page: Browser) -> None:
    page.value("document.getElementById('day').focus()")
    first, _ = reading(page)
    page.press("ArrowRight")
    second, _ = reading(page)
    hours = [int(re.findall(r"(\d\d):00–", text)[0]) for text in (first, second)]
    assert (hours[1] - hours[0]) % 24 == 1
    page.press("ArrowLeft")
    assert reading(page)[0] == first


def test_choosing_a_zone_shows_its_day(page: Browser) -> None:
    titles = page.value("[...document.getElementById('which').options].map(o => o.textContent)")
    page.value("(()=>{const w=document.getElementById('which'); w.value='4'; w.dispatchEvent(new Event('change'))})()")
    assert reading(page)[0].startswith(titles[4])
    shown = page.value("[...document.querySelectorAll('#day .chart')].map(c => c.offsetHeight > 0)")
    assert shown == [i == 4 for i in range(len(titles))]


def test_everything_is_reached_by_the_keyboard(page: Browser) -> None:
    """Tab goes through links, choice, day and tables, in their order, and comes out again."""
    wanted = page.value("document.querySelectorAll('a[href], select, [tabindex=\"0\"]').length")
    order = []
    for _ in range(int(wanted) + 2):
        page.press("Tab")
        order.append(page.value(
            "(()=>{const a=document.activeElement; if(a===document.body) return -1;"
            "return [...document.querySelectorAll('a[href], select, [tabindex=\"0\"]')].indexOf(a)})()"
        ))  # fmt: skip
    reached = [place for place in order if place >= 0]
    assert reached[: int(wanted)] == list(range(int(wanted)))
    seen = page.value("getComputedStyle(document.querySelector('nav a')).outlineStyle !== undefined")
    assert seen


def test_focus_is_seen(page: Browser) -> None:
    page.press("Tab")
    assert page.value("getComputedStyle(document.activeElement).outlineStyle") == "solid"


CONTRAST = """
(() => {
  const parts = (text) => text.match(/[\\d.]+/g).map(Number);
  const linear = (c) => { c /= 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; };
  const luminance = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
  const ground = (e) => { for (; e; e = e.parentElement) { const c = parts(getComputedStyle(e).backgroundColor);
    if (c.length < 4 || c[3] === 1) return c; } return [255, 255, 255]; };
  const found = [];
  for (const e of document.querySelectorAll('body *')) {
    if (e.closest('script, style') || ![...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())) continue;
    const inside = e.closest('svg') ? e.getAttribute('fill') : null;
    const ink = inside ? [1, 3, 5].map(i => parseInt(inside.slice(i, i + 2), 16)) : parts(getComputedStyle(e).color);
    const [a, b] = [luminance(ink), luminance(ground(e))].sort((x, y) => y - x);
    found.push([(a + 0.05) / (b + 0.05), e.tagName + ' ' + e.className, e.textContent.slice(0, 30)]);
  }
  return found.sort((x, y) => x[0] - y[0]).slice(0, 3);
})()
"""
"""The three faintest texts, by the ratio of WCAG 2.1 (definitions of contrast ratio and relative luminance)."""


def test_text_stands_out_from_its_ground(page: Browser) -> None:
    faintest = page.value(CONTRAST)
    assert faintest[0][0] >= LEAST_CONTRAST, faintest


def test_the_contrast_check_sees_grey_on_white(page: Browser) -> None:
    page.value("document.querySelector('h1').setAttribute('class', 'x');"
               "document.querySelector('h1 bdi').style.color = '#999'; 1")  # fmt: skip
    assert page.value(CONTRAST)[0][0] < LEAST_CONTRAST


def test_a_narrow_screen_needs_no_sideways_scrolling(browser: Browser, packed: Packed) -> None:
    browser.open(packed.folder / "report.html", width=400)
    assert browser.value("document.documentElement.scrollWidth") <= 400


def pages(pdf: bytes) -> int:
    """Pages of a PDF (ISO 32000-1, 7.7.3.3: every one is an object of type Page)."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


@pytest.mark.parametrize(("name", "size"), [("A4", A4), ("Letter", LETTER)])
def test_it_prints_on_few_pages(page: Browser, name: str, size: tuple[float, float]) -> None:
    pdf = page.pdf(*size)
    assert FEWEST <= pages(pdf) <= MOST, name
    found = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", pdf)
    # Points of 1/72 in; the browser rounds the sheet up to whole ones.
    for sheet in found:
        assert [float(side) for side in sheet] == pytest.approx([72.0 * size[0], 72.0 * size[1]], abs=1.0)
    assert found


def test_without_script_the_page_is_whole(page: Browser, packed: Packed) -> None:
    """The block's day, all tables and the small days are there; what only a script can do is not."""
    page.ask("Emulation.setScriptExecutionDisabled", value=True)
    try:
        page.open(packed.folder / "report.html")
    finally:
        page.ask("Emulation.setScriptExecutionDisabled", value=False)
    assert page.value("document.querySelector('#day .chart').offsetHeight") > 100
    assert page.value("document.querySelector('.choose').hidden")
    assert page.value("document.querySelectorAll('.zones svg').length") == 3


@pytest.mark.slow
@pytest.mark.parametrize("name", ["tern-24", "dunlin-11", "skua-38"])
def test_every_demo_boat_prints_on_few_pages(browser: Browser, name: str, tmp_path: Path) -> None:
    heatsim.pack(DEMO / f"{name}.yaml", tmp_path / "out")
    browser.open(tmp_path / "out" / "report.html")
    for size in (A4, LETTER):
        assert FEWEST <= pages(browser.pdf(*size)) <= MOST, (name, size)
