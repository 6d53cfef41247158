"""The tutorial "your own barrel family", from an empty folder, as printed: files written, commands run, output compared."""

from __future__ import annotations

import doctest
import re
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "pack-tutorial.md"
FENCE = re.compile(r"^```(\w+)(?: file=(\S+))?\n(.*?)^```$", flags=re.MULTILINE | re.DOTALL)


def test_the_tutorial_is_executed_as_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, typed: Callable[[str, Path], str]) -> None:
    monkeypatch.chdir(tmp_path)
    text = PAGE.read_text(encoding="utf-8")
    printed, names, seen = "", {"__name__": "__page__"}, []
    for language, file, body in FENCE.findall(text):
        seen.append(language)
        if file:
            assert (tmp_path / file).parent.is_dir(), file
            (tmp_path / file).write_text(body, encoding="utf-8")
        elif language == "sh":
            printed = "".join(typed(line, tmp_path) for line in body.splitlines())
        elif language == "text":
            assert body in printed
        elif language == "python":
            heard: list[str] = []
            test = doctest.DocTestParser().get_doctest(body, names, PAGE.name, str(PAGE), 0)
            doctest.DocTestRunner().run(test, clear_globs=False, out=heard.append)
            assert not heard, "".join(heard)
        else:
            raise AssertionError(f"a block of {language} that nobody runs")
    assert len(FENCE.findall(text)) * 2 == text.count("```")
    assert [seen.count(language) for language in ("sh", "toml", "csv", "text", "python")] == [5, 4, 1, 2, 1]
    assert (tmp_path / "moorland-parts" / "src" / "moorland_parts" / "pack.toml").is_file()
