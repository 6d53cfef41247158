"""The site: every page in its place, built with warnings as errors, complete, and reading nothing from elsewhere."""

from __future__ import annotations

import doctest
import importlib.util
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from types import ModuleType

import pytest

import topend

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
CONFIG = DOCS / "site" / "mkdocs.yml"


def load() -> ModuleType:
    spec = importlib.util.spec_from_file_location("site_pages", DOCS / "site" / "pages.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


PAGES = load()


# --- places ----------------------------------------------------------------------------------------------------------


def test_every_page_has_its_place() -> None:
    # says which page, and under which headings of docs/index.md it may go
    PAGES.navigation((DOCS / "index.md").read_text(encoding="utf-8"), PAGES.pages())


def test_a_page_without_a_place_is_refused_and_told_where_it_may_go() -> None:
    with pytest.raises(PAGES.MisplacedPageError) as caught:
        PAGES.navigation("## How to\n[a](a.md)\n", {"a.md", "new.md"})
    said = str(caught.value)
    assert said.startswith(
        "docs/new.md stands in no place of the site: add a line with a link to it to docs/index.md, under the heading that fits: "
    )
    for place in ("Start", "How to", "Explanation", "Reference", "For those who carry on"):
        assert f"{place} (" in said


def test_a_page_in_two_places_and_a_place_of_no_name_are_refused() -> None:
    with pytest.raises(PAGES.MisplacedPageError, match=r"docs/a\.md stands in two places"):
        PAGES.navigation("## How to\n[a](a.md)\n## Reference\n[a](a.md)\n", {"a.md"})
    with pytest.raises(PAGES.MisplacedPageError, match="has the heading 'Odds and ends'"):
        PAGES.navigation("## Odds and ends\n[a](a.md)\n", {"a.md"})


def test_the_examples_of_the_site_s_own_code() -> None:
    results = doctest.testmod(PAGES)
    assert results.attempted >= 3
    assert results.failed == 0


# --- the build -------------------------------------------------------------------------------------------------------


class Page(HTMLParser):
    """What a page loads, and its words."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.loads: list[str] = []
        self.anchors: set[str] = set()
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in ("script", "img", "iframe", "source") and given.get("src"):
            self.loads.append(str(given["src"]))
        if tag == "link" and given.get("rel") in ("stylesheet", "icon", "shortcut icon", "preload"):
            self.loads.append(str(given["href"]))
        if given.get("id"):
            self.anchors.add(str(given["id"]))

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def build(config: Path, *options: str) -> subprocess.CompletedProcess[str]:
    # not --quiet: then warnings are not counted, and --strict finds none
    command = [sys.executable, "-m", "mkdocs", "build", "--strict", "-f", str(config), *options]
    return subprocess.run(command, cwd=config.parent, capture_output=True, text=True, check=False, timeout=300)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("site")
    done = build(CONFIG, "-d", str(folder))
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


def test_the_site_holds_every_page_in_order_of_the_index(site: Path) -> None:
    for page in PAGES.pages():
        assert (site / page).with_suffix(".html").is_file(), page
    front = " ".join(Page((site / "index.html").read_text(encoding="utf-8")).words)
    places = [front.index(place) for place in PAGES.PLACES]
    assert places == sorted(places)


def test_the_site_reads_nothing_from_elsewhere(site: Path) -> None:
    pages = list(site.rglob("*.html"))
    assert len(pages) > len(PAGES.pages())
    for page in pages:
        for target in Page(page.read_text(encoding="utf-8")).loads:
            assert not re.match(r"[a-z]+:|//", target), f"{page.name} loads {target}"
            assert (page.parent / target.partition("?")[0]).resolve().exists() or target.startswith("/"), f"{page.name} loads {target}"


def test_every_public_name_has_its_entry_made_from_its_docstring(site: Path) -> None:
    made = Page((site / "library" / "topend.html").read_text(encoding="utf-8"))
    for name in topend.__all__:
        if callable(getattr(topend, name)):
            assert name.lower() in made.anchors, name
    words = " ".join(made.words)
    assert "Which head, base gaskets and head gaskets bring" in words
    assert "Twice the throw of the crank." in words
    readings = Page((site / "library" / "measure.html").read_text(encoding="utf-8"))
    assert "burette" in readings.anchors


def test_a_warning_stops_the_build(tmp_path: Path) -> None:
    # a link that leads nowhere, in a copy of the least of the site
    (tmp_path / "docs").mkdir()
    (tmp_path / "docs" / "index.md").write_text("# x\n\n[gone](gone.md)\n", encoding="utf-8")
    text = CONFIG.read_text(encoding="utf-8").replace("hooks: [pages.py]\n", "").replace("docs_dir: ..", "docs_dir: docs")
    (tmp_path / "mkdocs.yml").write_text(text.replace("../../build/site", "out"), encoding="utf-8")
    done = build(tmp_path / "mkdocs.yml")
    assert done.returncode != 0
    assert "gone.md" in done.stderr
