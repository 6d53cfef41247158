"""The pages as a browser shows them: headless Chromium opens them from disk, on a phone, on a desk and on A4 paper.

Chromium and its driver are Debian's packages `chromium` and `chromium-driver`, `pdftoppm` and `pdfinfo` are of `poppler-utils`; `.ci/run`
installs them. axe-core, which finds what keeps people from reading a page, is fetched from the npm registry.
"""

from __future__ import annotations

import base64
import html
import itertools
import json
import os
import re
import shutil
import subprocess
import sys
import tarfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import topend as te
from topend.measure import Deck
from topend.report import AssemblySheet, BenchCard
from topend.report.html import card_page, sheet_page, write_page

ROOT = Path(__file__).resolve().parent.parent
#: Of a phone that is not large, of a desk, and of A4 inside its margins at 96 dots per inch: 210 mm less 2 x 14 mm.
PHONE, DESK, PAPER = (360, 800), (1280, 900), (688, 1000)
AXE = "axe-core@4.14.1"

pytestmark = pytest.mark.filterwarnings("ignore::ResourceWarning")


def lacking(what: str) -> None:
    """Skip with a reason; where CI runs it is a failure, for `.ci/run` installs what these tests need."""
    if os.environ.get("CI") == "true":
        pytest.fail(f"{what}, though .ci/run should have installed it")
    pytest.skip(what)


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Pages by name: the shipped example, one with warnings and inches, one of least data, a blank sheet, and one that stopped."""
    folder = tmp_path_factory.mktemp("pages")
    job = te.load_job(ROOT / "docs" / "examples" / "fell50.toml")
    least = te.load_job(ROOT / "docs" / "examples" / "least.toml")
    card = BenchCard(job.top, title=job.title, file="fell50.toml", packs=tuple(pack.told for pack in job.packs))
    warned = BenchCard(job.top.replace({"head.band.angle": "4 deg", "head.recess_offset": "-1.2 mm"}), title="a build that is warned of")
    high = Deck(crown="below", readings=["2.06 mm", "2.09 mm"], nuts_down=True, gaskets_crushed=True)
    two = [te.Gasket(role="head", thickness="0.30 mm", opening="41 mm")] * 2
    base = [te.Gasket(role="base", thickness="0.50 mm")] * 2
    deck = te.DeckReading(clearance="0.5 mm")
    level = te.TopEnd(
        cylinder=te.Cylinder(bore="54 mm"),
        piston=te.Piston(crown=te.FlatCrown()),
        head=te.FlushHead(seal="o-ring", recess_offset="0.9 mm"),
        deck=te.DeckReading(clearance="0.01 mm ± 0.10 mm"),
    )
    kart = te.load_job(ROOT / "docs" / "examples" / "kart.toml")
    trials = te.load_job(ROOT / "docs" / "examples" / "trials.toml")
    second = BenchCard(warned.top.replace({"head.band.angle": "7 deg"}), title="a second wire")
    made = {
        "card": card_page(card),
        "warned": card_page(warned, inch=True),
        "inside": card_page(second),
        "inside sheet": sheet_page(AssemblySheet(second)),
        "level": card_page(BenchCard(level, title="limits on both sides of the deck"), inch=True),
        "kart": card_page(BenchCard(kart.top, title=kart.title)),
        "trials": card_page(BenchCard(trials.top, title=trials.title)),
        "two": card_page(BenchCard(job.top.replace({"head_gaskets": two, "base_gaskets": base}), title="two of each")),
        "bare": card_page(BenchCard(te.TopEnd(cylinder=te.Cylinder(bore="54 mm"), piston=te.Piston(), deck=deck), title="no crown")),
        "least": card_page(BenchCard(least.top, title=least.title)),
        "sheet": sheet_page(AssemblySheet(card), inch=True),
        "stopped": sheet_page(AssemblySheet(card, [high])),
    }
    return {name: write_page(page, folder / f"{name}.html") for name, page in made.items()}


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """One Chromium for all of these tests."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is of the extra 'test'")
    binary, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if binary is None or driver is None:
        lacking("Debian's packages chromium and chromium-driver are not installed")
    options = webdriver.ChromeOptions()
    options.binary_location = binary
    for one in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars"):
        options.add_argument(one)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    made = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
    try:
        yield made
    finally:
        made.quit()


def shown(browser: Any, page: Path, size: tuple[int, int], *, paper: bool = False) -> None:
    """Open a page at a width; `paper` shows it as it is printed."""
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride", {"width": size[0], "height": size[1], "deviceScaleFactor": 1, "mobile": size == PHONE}
    )
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print" if paper else "screen"})
    browser.get(page.as_uri())


# --- it opens from disk ----------------------------------------------------------------------------------------------


def test_it_opens_without_a_word_on_the_console_and_asks_for_nothing(browser: Any, pages: dict[str, Path]) -> None:
    for name, page in pages.items():
        browser.get_log("performance")
        shown(browser, page, DESK)
        assert browser.get_log("browser") == [], name
        sent = [json.loads(one["message"])["message"] for one in browser.get_log("performance")]
        asked = [one["params"]["request"]["url"] for one in sent if one["method"] == "Network.requestWillBeSent"]
        assert [one for one in asked if not one.startswith("data:")] == [page.as_uri()], name
        assert browser.title


def test_text_and_figures_are_there(browser: Any, pages: dict[str, Path]) -> None:
    shown(browser, pages["card"], DESK)
    text = browser.execute_script("return document.body.innerText")
    for words in ("Bench card: Rigg 50", "0.889 mm", "12.41", "186.1 deg", "12 o'clock", "Stop at any wire outside its limits.", "sha256"):
        assert words in text
    drawn = browser.execute_script(
        "return [...document.querySelectorAll('figure > svg')].map(s => {const r = s.getBoundingClientRect(); return [r.width, r.height]})"
    )
    assert len(drawn) == 3, "section, gap, and clearance over speed"
    assert all(width > 300 and height > 150 for width, height in drawn)
    # every drawing says in words what it shows
    named = browser.execute_script(
        "return [...document.querySelectorAll('figure > svg')].map(s => (s.closest('[role=img]') || s).getAttribute('aria-label')"
        " || [...s.querySelectorAll('title, desc')].map(t => t.textContent).join(' '))"
    )
    assert all(len(one) > 40 for one in named)


#: Boxes of words that lie over each other, where neither is in the other; words beside and under the edge of the page.
CLASHES = """
const boxes = [];
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const node = walk.currentNode;
  if (!node.textContent.trim() || node.parentElement.closest('title, desc, style')) continue;
  const range = document.createRange(); range.selectNodeContents(node);
  for (const r of range.getClientRects()) if (r.width > 1 && r.height > 1) boxes.push([node, r]);
}
const found = [];
boxes.sort((a, b) => a[1].top - b[1].top);
for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++) {
  const a = boxes[i][1], b = boxes[j][1];
  if (b.top > a.bottom) break;
  if (boxes[i][0] === boxes[j][0]) continue;
  const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left), high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
  if (wide > 2 && high > 0.35 * Math.min(a.height, b.height)) found.push([boxes[i][0].textContent.trim(), boxes[j][0].textContent.trim()]);
}
const page = document.documentElement.clientWidth;
const off = boxes.filter(b => (b[1].right > page + 1 || b[1].left < -1) && !b[0].parentElement.closest('.scroll'));
const wider = document.documentElement.scrollWidth - page;
return {clashes: found, outside: off.map(b => b[0].textContent.trim()), wider: wider, words: boxes.length};
"""


@pytest.mark.parametrize("size", [PHONE, DESK, PAPER], ids=["phone", "desk", "paper"])
def test_nothing_lies_over_anything_or_off_the_page(browser: Any, pages: dict[str, Path], size: tuple[int, int]) -> None:
    for name, page in pages.items():
        shown(browser, page, size, paper=size == PAPER)
        found = browser.execute_script(CLASHES)
        assert found["words"] > 50, name
        assert found["clashes"] == [], name
        assert found["outside"] == [], name
        assert found["wider"] <= 0, name


#: The height of a letter of `t` in a drawing [css px].
_HEIGHT = "parseFloat(getComputedStyle(t).fontSize) * t.getScreenCTM().d"
#: Heights of letters in drawings [css px], by their words.
LETTERS = """
return [...document.querySelectorAll('svg text')].map(
  t => [parseFloat(getComputedStyle(t).fontSize) * t.getScreenCTM().d, t.textContent.trim()])
"""


def test_words_in_drawings_can_be_read_on_a_phone(browser: Any, pages: dict[str, Path]) -> None:
    """11 css px at least: our own limit, a little less than the small print beside the drawings."""
    for name in ("card", "warned", "inside", "two", "bare"):
        shown(browser, pages[name], PHONE)
        letters = browser.execute_script(LETTERS)
        assert letters
        assert min(letters)[0] >= 11.0, (name, min(letters))
    browser.execute_script("document.querySelectorAll('svg text').forEach(t => t.style.fontSize = '12px')")
    assert min(browser.execute_script(LETTERS))[0] < 11.0


def test_the_check_for_overlap_can_fail(browser: Any, pages: dict[str, Path]) -> None:
    shown(browser, pages["card"], DESK)
    browser.execute_script("document.querySelector('h1').style.marginBottom = '-1.4em'")
    assert browser.execute_script(CLASHES)["clashes"]
    browser.execute_script("document.querySelector('h1').style.marginLeft = '-9em'")
    assert browser.execute_script(CLASHES)["outside"]


def test_a_screenshot_at_each_width_shows_something(browser: Any, pages: dict[str, Path], tmp_path: Path) -> None:
    image = pytest.importorskip("PIL.Image")
    for size in (PHONE, DESK):
        shown(browser, pages["card"], size)
        whole = browser.execute_cdp_cmd("Page.captureScreenshot", {"format": "png", "captureBeyondViewport": True})
        file = tmp_path / f"{size[0]}.png"
        file.write_bytes(base64.b64decode(whole["data"]))
        seen = np.asarray(image.open(file).convert("L"))
        assert seen.shape[1] == size[0]
        dark = (seen < 128).mean()
        assert 0.005 < dark < 0.3
        # nothing runs into the right-hand edge
        assert (seen[:, -4:] > 240).all()


# --- on paper --------------------------------------------------------------------------------------------------------


def test_it_prints_on_a4_with_its_margins_white(browser: Any, pages: dict[str, Path], tmp_path: Path) -> None:
    image = pytest.importorskip("PIL.Image")
    if shutil.which("pdftoppm") is None:
        lacking("Debian's package poppler-utils is not installed")
    for name in ("card", "sheet"):
        shown(browser, pages[name], DESK)
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
        printed = browser.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True, "printBackground": False})
        file = tmp_path / f"{name}.pdf"
        file.write_bytes(base64.b64decode(printed["data"]))
        told = subprocess.run(["pdfinfo", file], capture_output=True, text=True, check=True).stdout
        wide, high = (float(one) for one in re.search(r"Page size: +([\d.]+) x ([\d.]+) pts", told).groups())  # type: ignore[union-attr]
        # ISO 216: 210 mm x 297 mm
        assert (wide / 72 * 25.4, high / 72 * 25.4) == pytest.approx((210.0, 297.0), abs=0.5)
        subprocess.run(["pdftoppm", "-r", "50", "-png", file, tmp_path / name], check=True)
        leaves = sorted(tmp_path.glob(f"{name}-*.png"))
        assert 3 <= len(leaves) <= 6
        margin = int(10.0 / 25.4 * 50)
        for leaf in leaves:
            seen = np.asarray(image.open(leaf).convert("L"))
            assert (seen < 128).any()
            for edge in (seen[:margin], seen[-margin:], seen[:, :margin], seen[:, -margin:]):
                assert (edge > 200).all(), f"{leaf.name} has something in its margin"


def printed_pages(browser: Any, page: Path) -> list[str]:
    """The words of each A4 page that a page prints on."""
    shown(browser, page, DESK)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    printed = browser.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True, "printBackground": False})
    file = page.with_suffix(".pdf")
    file.write_bytes(base64.b64decode(printed["data"]))
    told = subprocess.run(["pdftotext", "-layout", file, "-"], capture_output=True, text=True, check=True).stdout
    return told.split("\f")[:-1]


def test_no_page_is_printed_for_a_few_lines(browser: Any, pages: dict[str, Path]) -> None:
    if shutil.which("pdftotext") is None:
        lacking("Debian's package poppler-utils is not installed")
    for name, page in pages.items():
        printed = printed_pages(browser, page)
        lines = [sum(1 for line in one.splitlines() if line.strip()) for one in printed]
        # the least that an end may be: parts and provenance of a job of three parts, each whole
        assert min(lines) >= 7, (name, lines)
        if name in ("card", "kart", "trials"):
            assert len(printed) == 5, (name, lines)
    # what must not stand alone stands together: parts and where they are from
    last = printed_pages(browser, pages["kart"])[-1]
    assert "Parts, as stated" in last
    assert "Provenance" in last


def test_words_on_paper_are_no_smaller_than_they_were(browser: Any, pages: dict[str, Path]) -> None:
    """8.5 pt in the picture of the closing, which shares its line with a table; the same for what was assumed."""
    shown(browser, pages["kart"], PAPER, paper=True)
    letters = browser.execute_script("return [...document.querySelectorAll('.picture svg text')].map(t => " + _HEIGHT + ")")
    assert min(letters) >= 8.4 / 0.75
    assumed = browser.execute_script("return parseFloat(getComputedStyle(document.querySelector('.assumed li')).fontSize)")
    assert assumed >= 8.5 / 0.75 - 0.01


def test_it_can_be_read_without_colour(browser: Any, pages: dict[str, Path]) -> None:
    """What is a warning or a stop says so in words; in the drawing cut metal is told apart by its hatch."""
    shown(browser, pages["warned"], DESK)
    words = browser.execute_script("return [...document.querySelectorAll('.finding')].map(f => f.innerText)")
    assert words
    assert all(re.match(r"(WARNING|NOTE|REFUSAL)\b", one) for one in words)
    stops = browser.execute_script("return [...document.querySelectorAll('.stop')].map(f => f.innerText)")
    assert all(one.lower().startswith("stop") for one in stops)
    page = pages["warned"].read_text(encoding="utf-8")
    assert 'patternTransform="rotate(45)"' in page
    assert 'patternTransform="rotate(-45)"' in page


# --- for everybody ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The text of axe-core, from the npm registry by its ordinary client."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("npm is not installed, so axe-core cannot be had")
    folder = tmp_path_factory.mktemp("axe")
    done = subprocess.run([npm, "pack", AXE], cwd=folder, capture_output=True, text=True, check=False, timeout=120)
    packed = list(folder.glob("*.tgz"))
    if done.returncode != 0 or not packed:
        pytest.skip(f"axe-core cannot be had from the npm registry: {done.stderr.strip().splitlines()[-1:]}")
    with tarfile.open(packed[0]) as archive:
        member = archive.extractfile("package/axe.min.js")
        assert member is not None
        return member.read().decode("utf-8")


def violations(browser: Any, axe: str) -> list[str]:
    browser.execute_script(axe)
    found = browser.execute_async_script(
        "const done = arguments[arguments.length - 1]; axe.run().then(r => done(r.violations), e => done([String(e)]))"
    )
    return [f"{one['impact']} {one['id']}: {one['nodes'][0]['html'][:120]}" for one in found]


def test_axe_reports_nothing_serious(browser: Any, pages: dict[str, Path], axe: str) -> None:
    for name, size in (("card", PHONE), ("warned", DESK), ("stopped", DESK)):
        shown(browser, pages[name], size)
        assert [one for one in violations(browser, axe) if one.startswith(("serious", "critical"))] == [], name


def test_axe_reports_nothing_serious_on_the_site(browser: Any, axe: str, tmp_path: Path) -> None:
    """Links that are told from words by colour alone, faint words, and blocks that only a mouse can scroll are serious to it."""
    pytest.importorskip("mkdocs", reason="mkdocs is of the extra 'test'")
    built = [sys.executable, "-m", "mkdocs", "build", "-q", "-f", "docs/site/mkdocs.yml", "-d", str(tmp_path)]
    subprocess.run(built, cwd=ROOT, check=True, capture_output=True)
    for name, size in (("index", DESK), ("bench-card", DESK), ("bench-card", PHONE), ("a-whole-job", PHONE), ("findings", DESK)):
        shown(browser, tmp_path / f"{name}.html", size)
        assert [one for one in violations(browser, axe) if one.startswith(("serious", "critical"))] == [], name


def test_axe_would_tell(browser: Any, pages: dict[str, Path], axe: str) -> None:
    shown(browser, pages["card"], DESK)
    browser.execute_script("document.body.style.color = '#cccccc'; document.documentElement.removeAttribute('lang')")
    found = violations(browser, axe)
    assert any("color-contrast" in one for one in found)
    assert any("html-has-lang" in one for one in found)


def test_headings_go_down_one_at_a_time(pages: dict[str, Path]) -> None:
    for name, page in pages.items():
        levels = [int(one) for one in re.findall(r"<h([1-6])", page.read_text(encoding="utf-8"))]
        assert levels[0] == 1, name
        assert levels.count(1) == 1, name
        assert all(after <= before + 1 for before, after in itertools.pairwise(levels)), name
        assert html.unescape(re.search(r"<title>(.*?)</title>", page.read_text(encoding="utf-8"))[1])  # type: ignore[index]
