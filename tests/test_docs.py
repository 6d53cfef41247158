"""The pages: their code runs, their tables are those of the code, their links lead somewhere.

Made parts of pages stand between ``<!-- made: name -->`` and ``<!-- end -->``; rewrite them with

    python tests/test_docs.py
"""

from __future__ import annotations

import doctest
import json
import re
import shutil
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from topend.quantities import INPUTS, OUTPUTS, STATUS
from topend.units import KINDS
from topend.units.kinds import SPELLINGS

ROOT = Path(__file__).resolve().parent.parent
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
REWRITE = "python tests/test_docs.py"


def by_name(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


def fences(page: Path, language: str) -> list[tuple[int, str]]:
    """The fenced blocks of one language: line of their first line, and their text."""
    text = page.read_text(encoding="utf-8")
    pattern = re.compile(rf"^```{language}\n(.*?)^```$", flags=re.MULTILINE | re.DOTALL)
    return [(text.count("\n", 0, found.start(1)) + 1, found[1]) for found in pattern.finditer(text)]


def having(language: str) -> list[Path]:
    # a page with files of its own is run as a whole, in its order, by tests/test_walks.py
    return [
        page for page in PAGES if fences(page, language) and not re.search(r"^```\w+ file=", page.read_text(encoding="utf-8"), re.MULTILINE)
    ]


# --- what is shown is what happens -----------------------------------------------------------------------------------


@pytest.mark.parametrize("page", having("python"), ids=by_name)
def test_the_python_of_a_page_runs_and_prints_what_it_says(page: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    # one namespace a page, in the order of the page, from the root of a repository as a reader would be: a copy, to be written into
    for folder in ("datapacks", "docs"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {"__name__": "__page__"}
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE | doctest.REPORT_NDIFF)
    for line, text in fences(page, "python"):
        if re.search(r"^\s*>>> ", text, flags=re.MULTILINE):
            heard: list[str] = []
            test = doctest.DocTestParser().get_doctest(text, names, by_name(page), str(page), line - 1)
            runner.run(test, clear_globs=False, out=heard.append)
            names = test.globs
            assert not heard, "".join(heard)
        else:
            exec(compile("\n" * (line - 1) + text, str(page), "exec"), names)


@pytest.mark.parametrize("page", having("json"), ids=by_name)
def test_the_json_of_a_page_is_json(page: Path) -> None:
    for _, text in fences(page, "json"):
        json.loads(text)


@pytest.mark.parametrize("page", having("toml"), ids=by_name)
def test_the_toml_of_a_page_is_toml(page: Path) -> None:
    for _, text in fences(page, "toml"):
        tomllib.loads(text)


def readme_commands() -> list[str]:
    """The topend commands in the README's shell blocks, each as it would be typed."""
    found = []
    for _, text in fences(ROOT / "README.md", "sh"):
        for line in text.splitlines():
            found += [part.strip() for part in line.split("&&") if re.match(r"(\.venv/bin/)?topend ", part.strip())]
    return found


@pytest.mark.parametrize("command", readme_commands())
def test_the_commands_of_the_readme_run(command: str, typed: Callable[[str, Path], str]) -> None:
    assert typed(command, ROOT).strip()


# --- links -----------------------------------------------------------------------------------------------------------


def links(page: Path) -> list[str]:
    text = re.sub(r"^```.*?^```$", "", page.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
    return [target for target in re.findall(r"\]\(([^)\s]+)\)", text) if not re.match(r"[a-z]+:", target)]


def anchors(page: Path) -> set[str]:
    text = re.sub(r"^```.*?^```$", "", page.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
    titles = re.findall(r"^#+ (.*)$", text, flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}


@pytest.mark.parametrize("page", PAGES, ids=by_name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in links(page):
        file, _, anchor = target.partition("#")
        path = (page.parent / file).resolve() if file else page
        assert path.exists(), f"{by_name(page)} links to {target}"
        if anchor:
            assert anchor in anchors(path), f"{by_name(page)} links to {target}"


# --- sources ---------------------------------------------------------------------------------------------------------

#: A standard as it is named: its body, perhaps letters, and its number; parts and years are left out.
STANDARD = re.compile(r"\b(ISO|ASTM|JCGM|DIN|VDI|FED-STD|EN|ASME|SAE|NASA)(?:/TR)?[ -]((?:TM-|[A-Z]{1,2}(?=\d))?(?:H)?\d+)")


def standards(text: str) -> set[str]:
    return {f"{body} {number}" for body, number in STANDARD.findall(text)}


def test_every_standard_that_the_library_names_stands_on_the_page_of_sources() -> None:
    page = (ROOT / "docs" / "sources.md").read_text(encoding="utf-8")
    named: dict[str, set[str]] = {}
    for path in sorted((ROOT / "topend").rglob("*.py")):
        for one in standards(path.read_text(encoding="utf-8")):
            named.setdefault(one, set()).add(path.relative_to(ROOT).as_posix())
    assert {"JCGM 101", "ISO 385"} <= set(named)
    lacking = {one: sorted(files) for one, files in named.items() if one not in standards(page)}
    assert not lacking, f"docs/sources.md has no row for {lacking}"


# --- parts of pages that are made from the code ----------------------------------------------------------------------


def _table(*rows: tuple[str, ...]) -> str:
    lines = ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows]
    return "\n".join([lines[0], "|" + "---|" * len(rows[0]), *lines[1:]])


def made_outputs() -> str:
    rows = [(f"`{made.name}`", made.unit, made.meaning, made.source) for made in OUTPUTS.values()]
    return _table(("name", "shown in", "meaning", "from"), *rows)


def made_inputs() -> str:
    return _table(("path", "shown in", "meaning"), *((f"`{made.path}`", made.unit, made.meaning) for made in INPUTS.values()))


def made_refusals() -> str:
    return _table(("code", "reason", "what it says"), *((str(made.code), f"`{made.reason}`", made.meaning) for made in STATUS.values()))


def made_units() -> str:
    written = [kind for kind in KINDS.values() if any(made.unit == kind.shown for made in INPUTS.values())]
    rows = []
    for kind in written:
        # of a torque, with one of the ways to join two units: the page says that there are others
        others = [text for text, unit in SPELLINGS.items() if unit in kind.units and (kind.name != "torque" or "-" in text)]
        rows.append((kind.name, kind.shown, *(" ".join(f"`{unit}`" for unit in texts) for texts in (kind.units, others))))
    return _table(("kind", "shown in", "may be written in", "also read"), *rows)


MADE: dict[str, Callable[[], str]] = {"outputs": made_outputs, "inputs": made_inputs, "refusals": made_refusals, "units": made_units}
_MARKED = re.compile(r"(<!-- made: (\w+) -->\n).*?(<!-- end -->)", flags=re.DOTALL)


def remade(page: Path) -> str:
    """The text of a page with its made parts made anew."""
    text = page.read_text(encoding="utf-8")
    return _MARKED.sub(lambda found: f"{found[1]}\n{MADE[found[2]]()}\n\n{found[3]}", text)


@pytest.mark.parametrize("page", PAGES, ids=by_name)
def test_made_parts_of_pages_are_what_the_code_gives(page: Path) -> None:
    assert page.read_text(encoding="utf-8") == remade(page), f"{by_name(page)} is behind the code; rewrite it with `{REWRITE}`"


def test_every_made_part_stands_in_one_page() -> None:
    found = [name for page in PAGES for _, name, _ in _MARKED.findall(page.read_text(encoding="utf-8"))]
    assert sorted(found) == sorted(MADE)


if __name__ == "__main__":
    for one in PAGES:
        made = remade(one)
        if made != one.read_text(encoding="utf-8"):
            one.write_text(made, encoding="utf-8")
            print(f"rewritten: {by_name(one)}")
