"""Every page that is saved, in a real browser: its layout on a phone and on a desk, on paper, for the keyboard and for
those who see less. Skipped, and said, where there is no Chromium.

Criteria after the World Wide Web Consortium, Web Content Accessibility Guidelines 2.1, 2018 (from memory): 1.1.1 texts
for pictures, 1.3.1 headings, 1.4.3 contrast 4.5 (large letters 3), 1.4.10 no scrolling in two directions down to 320
px, 2.1.1 keyboard, 2.4.7 visible focus, 3.1.1 the language is told. Paper: ISO 216 A4, ANSI Letter.
"""

from __future__ import annotations

import base64
import io
import json
import shutil
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from commands import fieldsim
from pages import HARMFUL, named
from pypdf import PdfReader
from season import BAKERY, PAGES
from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.support.ui import WebDriverWait

from fieldsim.cards.run.card import make_card
from fieldsim.cards.run.pages import card_file
from fieldsim.pages.saving import save
from fieldsim.report.origin import Origin
from fieldsim.studies.attempt import attempt

# Inches, and the CSS pixels (96 to an inch) between margins of half an inch.
PAPERS = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11.0)}

BINARY = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
DRIVER = shutil.which("chromedriver")
# The same pages are read without a browser, and quicker, in test_report.py and in tests/cards.
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not (BINARY and DRIVER), reason="no Chromium and chromedriver on this machine"),
]


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The pages, as the commands save them."""
    folder = tmp_path_factory.mktemp("pages")

    def save(name: str) -> Path:
        words = PAGES[name]
        out = folder / (f"{name}.html" if words[0] == "card" else name)
        done = fieldsim(*words, "--save", out, at=BAKERY)
        assert done.returncode in (0, 1), done.stderr
        return out if out.suffix == ".html" else out / "report.html"

    return {name: save(name) for name in PAGES}


@pytest.fixture(scope="module")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[webdriver.Chrome]:
    options = webdriver.ChromeOptions()
    options.binary_location = BINARY or ""
    # No name is found, so that nothing can be fetched without being noticed.
    for word in (
        "headless=new", "no-sandbox", "disable-dev-shm-usage", "disable-gpu", "force-device-scale-factor=1",
        "host-resolver-rules=MAP * ~NOTFOUND", "disable-background-networking", "hide-scrollbars",
        f"user-data-dir={tmp_path_factory.mktemp('chromium')}",
    ):  # fmt: skip
        options.add_argument(f"--{word}")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    try:
        driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    except WebDriverException as problem:
        pytest.skip(f"Chromium does not start here: {problem.msg}")
    yield driver
    driver.quit()


def opened(chromium: webdriver.Chrome, page: Path, width: int = 1280, height: int = 900, **features: str) -> None:
    """A page in a window so wide; ``features`` are what the system wishes, 'color_scheme' and so on."""
    chromium.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False},
    )
    chromium.execute_cdp_cmd(
        "Emulation.setEmulatedMedia",
        {
            "media": features.pop("media", ""),
            "features": [{"name": f"prefers-{k.replace('_', '-')}", "value": v} for k, v in features.items()],
        },
    )
    chromium.get(page.as_uri())


def run(chromium: webdriver.Chrome, script: str, *values: object) -> Any:
    return chromium.execute_script(script, *values)


# Elements that reach out of the page to the right, but for those inside a box of their own that scrolls.
TOO_WIDE = """
const wide = document.documentElement.clientWidth, out = [];
for (const each of document.body.querySelectorAll('*')) {
  if (each.closest('svg') && each.tagName.toLowerCase() !== 'svg') continue;
  const box = each.getBoundingClientRect();
  if (box.width === 0 || box.right <= wide + 0.5) continue;
  let scrolls = false;
  for (let up = each.parentElement; up; up = up.parentElement)
    if (['auto', 'scroll', 'hidden'].includes(getComputedStyle(up).overflowX) && up !== document.body) scrolls = true;
  if (!scrolls) out.push(each.tagName + ' ' + (each.textContent || '').trim().slice(0, 40));
}
return [document.documentElement.scrollWidth - wide, out];
"""


@pytest.mark.parametrize("name", PAGES)
def test_nothing_is_cut_off_or_scrolls_sideways(name: str, chromium: webdriver.Chrome, pages: dict[str, Path]) -> None:
    """A small phone, a phone, a desk at twice the size, a tablet, a desk."""
    for width in (320, 360, 640, 705, 768, 1280):
        opened(chromium, pages[name], width)
        assert run(chromium, TOO_WIDE) == [0, []], width


@pytest.mark.parametrize("name", PAGES)
def test_nothing_is_fetched_and_nothing_goes_wrong(
    name: str, chromium: webdriver.Chrome, pages: dict[str, Path]
) -> None:
    chromium.get_log("browser")
    chromium.get_log("performance")
    opened(chromium, pages[name])
    assert chromium.get_log("browser") == []
    heard = [json.loads(each["message"])["message"] for each in chromium.get_log("performance")]
    asked = [each["params"]["request"]["url"] for each in heard if each["method"] == "Network.requestWillBeSent"]
    assert pages[name].as_uri() in asked
    assert [url for url in asked if url != pages[name].as_uri() and not url.startswith("data:")] == []


# Texts that are hard to read: [contrast, text], of what is seen. A drawing has a ground of its own and is not asked.
FAINT = """
function rgba(text) { const m = text.match(/[\\d.]+/g).map(Number); return m.length < 4 ? [...m, 1] : m; }
function over(top, below) { return [0, 1, 2].map(k => top[k] * top[3] + below[k] * (1 - top[3])).concat(1); }
function ground(each) {
  const layers = [];
  for (let up = each; up; up = up.parentElement) layers.push(rgba(getComputedStyle(up).backgroundColor));
  const dark = matchMedia('(prefers-color-scheme: dark)').matches &&
    getComputedStyle(document.documentElement).colorScheme.includes('dark');
  return layers.reverse().reduce((below, top) => over(top, below), dark ? [18, 18, 18, 1] : [255, 255, 255, 1]);
}
function light(c) {
  const [r, g, b] = c.slice(0, 3).map(v => v / 255).map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
const out = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
let seen = 0;
while (walk.nextNode()) {
  const text = walk.currentNode.textContent.trim(), each = walk.currentNode.parentElement;
  if (!text || each.closest('svg') || !each.checkVisibility()) continue;
  seen += 1;
  const style = getComputedStyle(each), behind = ground(each), size = parseFloat(style.fontSize);
  const [a, b] = [light(over(rgba(style.color), behind)), light(behind)].sort((x, y) => x - y);
  const large = size >= 24 || (size >= 18.66 && parseInt(style.fontWeight) >= 700);
  const contrast = (b + 0.05) / (a + 0.05);
  if (contrast < (large ? 3 : 4.5)) out.push([contrast.toFixed(2), text.slice(0, 40)]);
  if (size < 11) out.push(['so small: ' + size, text.slice(0, 40)]);
}
return [seen, out];
"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", PAGES)
def test_all_texts_can_be_read(name: str, scheme: str, chromium: webdriver.Chrome, pages: dict[str, Path]) -> None:
    opened(chromium, pages[name], 360, color_scheme=scheme)
    seen, faint = run(chromium, FAINT)
    assert seen > 20
    assert faint == []


@pytest.mark.parametrize("name", PAGES)
def test_who_does_not_see_is_told(name: str, chromium: webdriver.Chrome, pages: dict[str, Path]) -> None:
    opened(chromium, pages[name])
    assert run(chromium, "return document.documentElement.lang") == "en"
    assert len(run(chromium, "return document.title")) > 8
    # One first heading, and none that skips a level.
    levels = run(chromium, "return [...document.querySelectorAll('h1,h2,h3,h4')].map(h => +h.tagName[1])")
    assert levels[:1] == [1]
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))
    # What the accessibility tree, which a screen reader reads, calls pictures, boxes to tick and tables.
    tree = chromium.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    told = [
        (each["role"]["value"], each.get("name", {}).get("value", "").strip()) for each in tree if not each["ignored"]
    ]
    pictures = [text for role, text in told if role in ("image", "img", "graphics-document")]
    assert all(len(text) > 20 for text in pictures), pictures
    if name != "card for tests":
        assert pictures
    for role, text in told:
        if role in ("checkbox", "textbox", "table", "region", "link", "button"):
            assert text, role
    assert "main" in {role for role, _ in told}
    # Every cell of a table has a heading.
    assert (
        run(chromium, "return [...document.querySelectorAll('table')].filter(t => !t.querySelector('th')).length") == 0
    )


# What a box that scrolls must be: reached by the keyboard, and named.
UNREACHED = """
return [...document.body.querySelectorAll('*')].filter(each => {
  const style = getComputedStyle(each);
  return ['auto', 'scroll'].includes(style.overflowX) && each.scrollWidth > each.clientWidth + 1 && each.tabIndex < 0;
}).map(each => each.tagName + ' ' + each.className);
"""


@pytest.mark.parametrize("name", PAGES)
def test_all_is_reached_by_the_keyboard_and_shows_it(
    name: str, chromium: webdriver.Chrome, pages: dict[str, Path]
) -> None:
    opened(chromium, pages[name], 360)
    assert run(chromium, UNREACHED) == []
    wanted = run(
        chromium,
        "return [...document.querySelectorAll('a[href], input, button, summary, [tabindex=\"0\"]')]"
        ".filter(each => each.checkVisibility()).length",
    )
    reached = 0
    for _ in range(wanted + 1):
        chromium.execute_cdp_cmd("Input.dispatchKeyEvent", {"type": "keyDown", "key": "Tab", "code": "Tab"})
        if run(chromium, "return document.activeElement === document.body"):
            break
        reached += 1
        outline = run(
            chromium,
            "const style = getComputedStyle(document.activeElement);"
            "return [style.outlineStyle, parseFloat(style.outlineWidth)]",
        )
        assert outline[0] != "none", outline
        assert outline[1] >= 1, outline
        if reached == wanted:
            break
    assert reached == wanted


def test_no_name_does_harm_where_it_is_shown(chromium: webdriver.Chrome, tmp_path: Path) -> None:
    """Names that would run, load, hide or show something are only read; the browser has nothing to forbid."""
    for turn in range(len(HARMFUL)):
        of = named(*HARMFUL[turn:], *HARMFUL[:turn])
        tried = attempt(of, trials=100, keep=100, threads=1)
        save(tmp_path, tried, Origin(f"fieldsim try '{HARMFUL[turn]}'"))
        (tmp_path / "card.html").write_bytes(card_file(of, make_card(tried, f"{HARMFUL[1]}.yaml"), "html"))
        for page in (tmp_path / "report.html", tmp_path / "card.html"):
            chromium.get_log("browser")
            opened(chromium, page)
            assert chromium.get_log("browser") == []
            # The page's own script, and what it plays.
            assert run(chromium, "return document.querySelectorAll('script').length") in (0, 2)
            assert run(chromium, "return document.querySelectorAll('iframe, img, b, i').length") == 0
            assert run(chromium, "return document.querySelectorAll('main h1, header h1')[0].checkVisibility()")
            assert chromium.title.startswith(of.name[:20].strip())
            opened(chromium, page, 320)
            assert run(chromium, TOO_WIDE) == [0, []]


# Colours of the canvas, as one number: another picture has another one.
SEEN = """
const canvas = document.querySelector('.driving canvas'), pen = canvas.getContext('2d');
const all = pen.getImageData(0, 0, canvas.width, canvas.height).data;
let sum = 0;
for (let k = 0; k < all.length; k += 4) sum = (sum * 31 + all[k] + 7 * all[k + 1] + 13 * all[k + 2]) % 1000003;
return [canvas.width, canvas.height, sum];
"""


def test_the_run_plays_by_finger_on_a_phone(chromium: webdriver.Chrome, pages: dict[str, Path]) -> None:
    """Play and pause, the time by its slider, the trials of a cause one by one; all that is pressed is 44 px high."""
    chromium.get_log("browser")
    opened(chromium, pages["try"], 360)
    chromium.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", {"enabled": True})
    try:
        run(chromium, "document.querySelector('.driving').scrollIntoView()")
        high = run(
            chromium,
            "return [...document.querySelectorAll('.driving button, .driving select, .driving input')]"
            ".filter(each => each.checkVisibility()).map(each => each.getBoundingClientRect().height)",
        )
        assert len(high) >= 4
        assert min(high) >= 44

        def tap(selector: str) -> None:
            x, y = run(
                chromium,
                "const box = document.querySelector(arguments[0]).getBoundingClientRect();"
                "return [box.x + box.width / 2, box.y + box.height / 2]",
                selector,
            )
            for kind, points in (("touchStart", [{"x": x, "y": y}]), ("touchEnd", [])):
                chromium.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        before = run(chromium, SEEN)
        tap(".driving button")
        until(lambda: float(run(chromium, "return document.querySelector('.driving input').value")) > 0)
        tap(".driving button")
        assert run(chromium, SEEN) != before
        run(
            chromium,
            "const slider = document.querySelector('.driving input'); slider.value = slider.max / 2;"
            "slider.dispatchEvent(new Event('input'))",
        )
        half = run(chromium, SEEN)
        options = run(chromium, "return [...document.querySelectorAll('.driving select')[1].options].map(o => o.value)")
        assert options[:2] == ["all", "plan"]
        run(
            chromium,
            "const show = document.querySelectorAll('.driving select')[1]; show.value = '0';"
            "show.dispatchEvent(new Event('change'))",
        )
        assert run(chromium, SEEN) != half
        told = "return document.querySelector('.driving span').textContent"
        first = run(chromium, told)
        assert first
        tap(".driving .row + output + .row button:last-of-type")
        until(lambda: run(chromium, told) != first)
        assert chromium.get_log("browser") == []
    finally:
        chromium.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", {"enabled": False})


def until(true: Callable[[], bool]) -> None:
    """Waits for the browser, however slow the machine is."""
    WebDriverWait(None, 60).until(lambda _: true())


def printed(chromium: webdriver.Chrome, paper: str) -> PdfReader:
    """As the browser prints it without being told anything but the paper."""
    width, height = PAPERS[paper]
    made = chromium.execute_cdp_cmd(
        "Page.printToPDF", {"paperWidth": width, "paperHeight": height, "printBackground": False}
    )
    return PdfReader(io.BytesIO(base64.b64decode(made["data"])))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", PAGES)
def test_it_prints_on_both_papers(
    name: str, paper: str, chromium: webdriver.Chrome, pages: dict[str, Path], tmp_path: Path
) -> None:
    opened(chromium, pages[name], color_scheme="dark")
    made = printed(chromium, paper)
    counts = [len("".join(page.extract_text().split())) for page in made.pages]
    # A page with a few words left over is paper for nothing; a drawing's letters are outlines, so it counts as well.
    drawn = [len(page.get_contents().get_data()) for page in made.pages if page.get_contents() is not None]
    assert len(drawn) == len(counts)
    assert all(words > 150 or lines > 20_000 for words, lines in zip(counts, drawn, strict=True)), (counts, drawn)
    assert len(counts) <= 8
    # As wide as the paper between margins, nothing reaches out.
    opened(chromium, pages[name], round(96 * (PAPERS[paper][0] - 0.8)), media="print", color_scheme="dark")
    assert run(chromium, TOO_WIDE) == [0, []]
    seen, faint = run(chromium, FAINT)
    assert seen > 20
    assert [each for each in faint if not each[0].startswith("so small")] == []
