"""Files that are written: whole or not at all, and told by the name that was asked for."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

import topend as te
from topend.cli import main
from topend.report.html import write_page
from topend.report.pictures import picture, write_picture
from topend.report.written import file_to_write, write_whole

ROOT = Path(__file__).resolve().parent.parent
EXAMPLES = ROOT / "docs" / "examples"

#: Every option that names a file to write, with what the file is called.
WRITERS = {
    "card": ("card", "fell50.toml", "--html", "card.html"),
    "assemble": ("assemble", "fell50.toml", "--html", "sheet.html"),
    "picture": ("picture", "fell50.toml", "gap_over_radius", "--to", "gap.png"),
    "compare": ("compare", "compare.toml", "--picture", "heads.svg"),
    "design svg": ("design", "fell50-head.toml", "--draw", "head.svg"),
    "design dxf": ("design", "fell50-head.toml", "--draw", "head.dxf"),
    "fixture": ("fixture", "fixture-fell.toml", "--draw", "holes.svg"),
}


@pytest.mark.parametrize("command", WRITERS.values(), ids=WRITERS)
def test_a_folder_that_is_not_there_is_named_with_the_file_asked_for(
    command: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name, job, *options, file = command
    target = tmp_path / "no" / "such" / file
    assert main([name, str(EXAMPLES / job), *options, str(target)]) == 2
    told = capsys.readouterr().err
    assert told == f"topend: {target}: there is no folder {target.parent}; make it first, or name one that is there\n"
    assert not list(tmp_path.iterdir())
    # and a folder in the file's place
    assert main([name, str(EXAMPLES / job), *options, str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert ".part" not in told
    assert str(tmp_path) in told


def test_every_writer_of_the_library_says_the_same(tmp_path: Path) -> None:
    top = te.load_job(EXAMPLES / "fell50.toml").top
    missing = tmp_path / "none"
    writers: dict[str, Callable[[Path], object]] = {
        "page.html": lambda path: write_page("<p>", path),
        "gap.svg": lambda path: write_picture(picture(top, "gap_over_radius"), path),
        "any.bin": lambda path: write_whole(b"1", path),
    }
    for name, write in writers.items():
        with pytest.raises(te.ArgumentError, match=rf"^{missing / name}: there is no folder {missing}; make it first"):
            write(missing / name)
        (tmp_path / "file").write_text("")
        with pytest.raises(te.ArgumentError, match=r"file is a file, not a folder"):
            write(tmp_path / "file" / name)


def test_what_goes_wrong_on_the_way_is_told_of_the_file_and_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "card.html"
    target.write_text("before")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device", str(tmp_path / ".card.html.part"))

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(te.ArgumentError) as caught:
        write_whole("after", target)
    assert str(caught.value) == f"{target}: cannot be written: No space left on device"
    assert [one.name for one in tmp_path.iterdir()] == ["card.html"]
    assert target.read_text() == "before"


def test_a_folder_that_may_not_be_written_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(te.ArgumentError, match=rf"card\.html: nothing may be written in the folder {tmp_path}; name another"):
        file_to_write(tmp_path / "card.html")


def test_a_study_whose_folder_cannot_be_made_names_it(tmp_path: Path) -> None:
    pytest.importorskip("pyarrow")
    (tmp_path / "file").write_text("")
    study = te.Study(te.load_job(EXAMPLES / "fell50.toml").top)
    with pytest.raises(te.StudyError, match=rf"{tmp_path / 'file' / 'rows'}: this folder cannot be made: .*; name another"):
        study.run(["squish_min"], to=tmp_path / "file" / "rows")
