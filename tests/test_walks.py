"""Pages whose files, commands and code go together, run as printed: from an empty folder, or from the root of the repository.

A page with blocks that are files (```` ```toml file=name.toml ````) is walked from an empty folder; one without, that has
commands, from the root of a copy of the repository. A block of `text` is what the command above it prints: all of it, or the part
that is shown; a line `...` stands for lines left out. To see what the commands of a page print:

    python tests/test_walks.py docs/start.md
"""

from __future__ import annotations

import contextlib
import doctest
import io
import os
import re
import shlex
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

from topend import cli

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
FENCE = re.compile(r"^```(\w*)(?: file=(\S+))?\n(.*?)^```$", flags=re.MULTILINE | re.DOTALL)
#: Run elsewhere, or not to be run within a test: what is said of who runs it.
ELSEWHERE = {
    r"python3 -m venv": "the README's lines, by .ci/run",
    r"\.ci/run$": "itself",
    r"python -m pytest": "the tests themselves",
    r"python benchmarks/": "benchmarks, by hand",
    r"python -m mkdocs": "tests/test_site.py",
    r"python tests/": "helps for who writes a page",
    r"ruff|mypy|lint-imports": ".ci/run",
}


def pages_of_commands() -> list[Path]:
    """Pages that have files, or commands of topend. Those of README and DEVELOPERS are run by tests/test_docs.py and .ci/run."""
    pages = sorted(DOCS.rglob("*.md"))
    return [
        page for page in pages if any(language == "sh" or file for language, file, _ in FENCE.findall(page.read_text(encoding="utf-8")))
    ]


def commands(body: str) -> list[str]:
    """The command lines of a block, those that go on over a line's end put together, without comments."""
    lines = re.sub(r"\\\n\s*", " ", body).splitlines()
    return [line for line in (re.sub(r"\s+# .*$|^# .*$", "", one).strip() for one in lines) if line]


def run(line: str) -> tuple[int, str, str]:
    """Run a command line of `topend` in this process, with `> file` as a shell has it."""
    typed, redirected, file = line.partition(" > ")
    program, *arguments = shlex.split(typed)
    assert program == "topend", f"a command that nobody runs: {line}"
    # as into a pipe: plain, and able to take every sign
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="\n") for _ in range(2))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = cli.main(arguments)
    printed, heard = ([one.flush(), one.buffer.getvalue().decode("utf-8")][1] for one in (out, err))
    if redirected:
        Path(file.strip()).write_text(printed, encoding="utf-8")
        printed = ""
    return code, printed, heard


def lacking(body: str, printed: str) -> str | None:
    """What of a block does not stand in what was printed, in order; None where all does.

    `...` on a line of its own stands for lines left out. Blanks within a line count as one: how wide the columns of a table are depends
    on rows that are not shown.
    """
    has, at = _blanks(printed), 0
    for piece in re.split(r"(?m)^ *\.\.\.\n", body):
        found = has.find(_blanks(piece), at)
        if found < 0:
            return piece
        at = found + len(_blanks(piece))
    return None


def _blanks(text: str) -> str:
    return re.sub(r"(?<=\S) +", " ", text)


class Walk:
    """One page, walked in the working folder."""

    def __init__(self, page: Path, tell: Callable[[str], None] | None = None) -> None:
        self.page, self.tell = page, tell
        # the code of a page without files of its own is run by tests/test_docs.py, in a folder where no command has been
        self.alone = writes_files(page)
        self.printed = ""
        self.names: dict[str, object] = {"__name__": "__page__"}
        self.seen: list[str] = []

    def go(self) -> None:
        text = self.page.read_text(encoding="utf-8")
        for found in FENCE.finditer(text):
            language, file, body = found.groups()
            where = f"{self.page.name}, line {text.count(chr(10), 0, found.start()) + 1}"
            self.seen.append(language)
            if file:
                Path(file).parent.mkdir(parents=True, exist_ok=True)
                Path(file).write_text(body, encoding="utf-8")
            elif language == "sh":
                self.run(body, where)
            elif language == "text":
                gone = None if self.tell else lacking(body, self.printed)
                assert gone is None, (
                    f"{where}: this is not what is printed:\n{gone}\nto see what is: python tests/test_walks.py {self.page}"
                )
            elif language == "python" and self.alone:
                self.python(body, where)

    def run(self, body: str, where: str) -> None:
        self.printed = ""
        for line in commands(body):
            if any(re.match(rf"(?:{pattern})", line) for pattern in ELSEWHERE):
                continue
            code, printed, heard = run(line)
            if self.tell:
                self.tell(f"--- {where}: {line}\n{printed}{heard}")
            assert (code, heard) == (0, ""), f"{where}: {line}\n{printed}{heard}"
            self.printed += printed + heard

    def python(self, body: str, where: str) -> None:
        if not re.search(r"^\s*>>> ", body, flags=re.MULTILINE):
            exec(compile(body, where, "exec"), self.names)
            return
        heard: list[str] = []
        test = doctest.DocTestParser().get_doctest(body, self.names, where, str(self.page), 0)
        doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(test, clear_globs=False, out=heard.append)
        self.names = test.globs
        assert self.tell or not heard, "".join(heard)
        if self.tell and heard:
            self.tell("".join(heard))


def writes_files(page: Path) -> bool:
    """Whether the page makes what it needs, and so is walked from an empty folder."""
    return any(file for _, file, _ in FENCE.findall(page.read_text(encoding="utf-8")))


def prepare(page: Path, folder: Path) -> None:
    """What must be there before a page is walked: nothing, if it writes its own files; else the pages, their files and the packs."""
    if not writes_files(page):
        for name in ("docs", "datapacks"):
            shutil.copytree(ROOT / name, folder / name)


@pytest.mark.parametrize("page", pages_of_commands(), ids=lambda page: page.relative_to(ROOT).as_posix())
def test_the_steps_of_a_page_work_as_printed(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    prepare(page, tmp_path)
    monkeypatch.chdir(tmp_path)
    walk = Walk(page)
    walk.go()
    text = page.read_text(encoding="utf-8")
    assert len(FENCE.findall(text)) * 2 == len(re.findall(r"^```", text, flags=re.MULTILINE))


def test_a_step_that_does_not_work_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    page = tmp_path / "page.md"
    for text, said in (
        ("```sh\ntopend card nowhere.toml\n```\n", "nowhere.toml: is not there"),
        ("```sh\ntopend names\n```\n\n```text\nno such line\n```\n", "not what is printed"),
        ("```sh\nrm everything\n```\n", "a command that nobody runs"),
        ("```toml file=a.toml\n```\n\n```python\n>>> 1 + 1\n3\n```\n", "Expected"),
    ):
        page.write_text(text, encoding="utf-8")
        with pytest.raises(AssertionError, match=said):
            Walk(page).go()


def test_lines_left_out_are_in_order() -> None:
    assert lacking("a\n...\nc 1\n", "a\nb\nc    1\n") is None
    assert lacking("c\n...\na\n", "a\nb\nc\n") == "a\n"


def test_the_pack_tutorial_ends_with_a_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    walk = Walk(DOCS / "pack-tutorial.md")
    walk.go()
    assert [walk.seen.count(language) for language in ("sh", "toml", "csv", "text", "python")] == [5, 4, 1, 2, 4]
    assert (tmp_path / "moorland-parts" / "src" / "moorland_parts" / "pack.toml").is_file()


def test_from_an_empty_folder_the_pages_lead_through_the_whole_job() -> None:
    # job file, card, fit, measure, verify, study, pack: each is a step of a page that is walked from an empty folder
    walked = [page for page in pages_of_commands() if writes_files(page)]
    assert {DOCS / "start.md", DOCS / "a-whole-job.md", DOCS / "pack-tutorial.md"} <= set(walked)
    typed = {
        " ".join(line.split()[1:3] if line.split()[1] == "packs" else line.split()[1:2])
        for page in walked
        for language, file, body in FENCE.findall(page.read_text(encoding="utf-8"))
        if language == "sh" and not file
        for line in commands(body)
    }
    assert {"card", "fit", "measure", "verify", "study", "packs new", "packs check"} <= typed


if __name__ == "__main__":
    for name in sys.argv[1:]:
        page = Path(name).resolve()
        with tempfile.TemporaryDirectory() as folder:
            prepare(page, Path(folder))
            os.chdir(folder)
            Walk(page, print).go()
            os.chdir(ROOT)
