"""A job file read: its parts, its sections, and what else stands in it."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from topend.assembly import TopEnd
from topend.errors import ArgumentError, JobError, Problem, did_you_mean
from topend.job.parts import short
from topend.job.requests import Job
from topend.job.sections import SectionsReader
from topend.packs import Catalogue
from topend.packs.pack_code import CODE_OF
from topend.packs.toml_file import TomlFile, read_toml

__all__ = ["load_job", "read_job"]

_OWN_KEYS: Final = ("format", "title", "packs", CODE_OF, "fit", "correct", "compare", "design", "swap")


def load_job(path: str | os.PathLike[str], catalogue: Catalogue | None = None) -> Job:
    """The job in the file at `path`.

    Parts named by id come from the packs whose folders the file names (relative to the file) and from `catalogue`. Raises
    `JobError` with everything that is wrong in the file, each with its key and line; `PackError` for a pack that is broken;
    `AssemblyError` where the parts do not go together.

    >>> import os, pathlib, tempfile
    >>> import topend as te
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "engine.toml")
    ...     length = file.write_text('format = 1' + os.linesep + 'crank = { stroke = "44 mm", rod_length = "90 mm" }')
    ...     job = te.load_job(file)
    >>> job.title, job.top.crank.stroke
    ('engine', <Quantity(44 mm)>)
    """
    if not isinstance(path, str | os.PathLike):
        raise ArgumentError(f"load_job: path must be the name of a file, such as 'my-job.toml'; got a {type(path).__name__}")
    return read_job(read_toml(Path(path), JobError), catalogue)


def read_job(file: TomlFile, catalogue: Catalogue | None = None) -> Job:
    """The job in the tables of `file`, as `load_job`; for those who keep more than a job in a file."""
    return _JobReader(file, catalogue or Catalogue()).job()


class _JobReader(SectionsReader):
    def job(self) -> Job:
        table = self._file.table
        self._refuse_other_format()
        if "readings" in table and not set(table) & set(TopEnd.model_fields):
            said = (
                "is a file of readings, not a job file; work it out with `topend measure`, or name the job first, then it: `topend verify`"
            )
            raise JobError(self._file.file, [Problem("", said)])
        if {"plan", "families"} & set(table) and not set(table) & set(TopEnd.model_fields):
            raise JobError(self._file.file, [Problem("", "is a plan file, not a job file; work it out with `topend range`")])
        title = table.get("title", self._path.stem)
        if not isinstance(title, str):
            self._refuse("title", f"must be a text; got {short(title)}")
        self._load_packs(table.get("packs", []))
        self._take_in_code(table)
        known = [*_OWN_KEYS, *TopEnd.model_fields]
        for key in table:
            if key == "outputs_of":
                self._refuse(key, f"is called {CODE_OF}: the findings of those packs come in with their outputs")
            elif key not in known:
                self._refuse(key, f"is not a key of a job file{did_you_mean(key, known) or '; it may have ' + ', '.join(known)}")
        fit = self._fit(table["fit"]) if "fit" in table else None
        corrections = self._correct(table["correct"]) if "correct" in table else None
        comparison = self._compare(table["compare"]) if "compare" in table else None
        design = self._design(table["design"]) if "design" in table else None
        swap = self._swap(table["swap"]) if "swap" in table else None
        top = self._top({key: value for key, value in table.items() if key in TopEnd.model_fields})
        self._stop()
        assert top is not None
        return Job(self._file.file, title, top, fit, self._used(), self._ids, corrections, comparison, design, swap)
