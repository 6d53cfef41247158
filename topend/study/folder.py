"""A study on disk: a folder of Parquet files, each a range of rows, that a stopped run goes on with.

A file comes into being under another name and is renamed when it is whole, so a file that is there is finished; its name
says which rows it holds, so a range that is worked out twice is there once. Needs the extra ``cluster`` (pyarrow).
"""

from __future__ import annotations

import json
import os
import uuid
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from topend.errors import StudyError
from topend.study.compiled import Compiled
from topend.study.description import description
from topend.study.table import arrow, arrow_arrays, arrow_schema, reason_counts
from topend.study.work import Ranges, chunks

__all__ = ["StudyFolder", "write", "write_part"]

#: What the study is; written first.
STUDY: Final = "_study.json"
#: What it came to; written last, when every file is there.
FINISHED: Final = "_finished.json"
_COUNTS: Final = b"topend.counts"
_DIGEST: Final = b"topend.study"


@dataclass(frozen=True)
class StudyFolder:
    """A study that is on disk, whole: where, how many rows the study has and how many of them were kept, and why others were refused.

    `reasons` counts all rows by status; `files` are there, `written` of them by this run.
    """

    folder: Path
    rows: int
    kept: int
    reasons: Mapping[str, int]
    files: int
    written: int

    def dataset(self) -> Any:
        """The files as one `pyarrow.dataset.Dataset`, to filter, scan or read."""
        arrow()
        import pyarrow.dataset

        return pyarrow.dataset.dataset(str(self.folder), format="parquet")


# --- one file --------------------------------------------------------------------------------------------------------


def _name(start: int, stop: int) -> str:
    return f"rows-{start:015d}-{stop:015d}.parquet"


def _counts_of(path: Path, digest: str) -> list[int] | None:
    """Counts of a file that is there: kept rows, then rows by status code; None where it is no whole file of this study."""
    _, parquet = arrow()
    try:
        told = parquet.read_metadata(path).metadata
        counts: list[int] = json.loads(told[_COUNTS])
        return counts if told[_DIGEST].decode() == digest else None
    except (OSError, KeyError, ValueError, TypeError):
        return None


def write_part(compiled: Compiled, folder: str, start: int, stop: int) -> tuple[list[int], bool]:
    """Work out rows `start` to `stop` and write them as one file, unless it is there; its counts, and whether it was written.

    Any number of these may write into one folder at once, the same range too: whoever is last puts the same file there.
    """
    pa, parquet = arrow()
    path = Path(folder) / _name(start, stop)
    known = _counts_of(path, compiled.digest)
    if known is not None:
        return known, False
    parts = [str(compiled.axes[place].kind) for place in compiled.choices]
    schema = arrow_schema(compiled.units, compiled.known, parts, compiled.version, compiled.digest)
    hidden = path.with_name(f".{path.name}.{uuid.uuid4().hex}")
    kept, codes = 0, np.zeros(0, dtype=np.int64)
    try:
        with parquet.ParquetWriter(
            hidden,
            schema,
            compression="zstd",
            use_dictionary=[*parts, "status"],
            use_byte_stream_split=list(compiled.units),
            column_encoding={"row": "DELTA_BINARY_PACKED"},
            write_statistics=True,
        ) as writer:
            for span in chunks(start, stop):
                block = compiled.block(*span)
                table = block.table(block.kept if compiled.study.limits else None)
                # a table at a time is a row group at a time: batches would be gathered until there is a million rows of them
                writer.write_table(pa.Table.from_arrays(arrow_arrays(table), schema=schema))
                kept += len(table)
                here = np.bincount(block.status, minlength=len(codes))
                here[: len(codes)] += codes
                codes = here
            counts = [kept, *codes.tolist()]
            writer.add_key_value_metadata({_COUNTS: json.dumps(counts)})
        _settle(hidden)
        os.replace(hidden, path)
    finally:
        hidden.unlink(missing_ok=True)
    return counts, True


def _settle(path: Path) -> None:
    """Have the system put a file on the disk, before its name says that it is whole."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _write_json(path: Path, table: Mapping[str, Any]) -> None:
    hidden = path.with_name(f".{path.name}.{uuid.uuid4().hex}")
    try:
        hidden.write_text(json.dumps(table, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
        _settle(hidden)
        os.replace(hidden, path)
    finally:
        hidden.unlink(missing_ok=True)


# --- the folder ------------------------------------------------------------------------------------------------------


def _claim(compiled: Compiled, folder: Path, file_rows: int) -> None:
    """Make the folder this study's, or refuse it."""
    own = {
        "digest": compiled.digest,
        "rows": compiled.rows,
        "file_rows": file_rows,
        "units": compiled.units,
        "study": description(compiled),
    }
    if folder.exists() and not folder.is_dir():
        raise StudyError(f"{folder} is a file; a study is written to a folder of its own")
    path = folder / STUDY
    if not path.exists():
        if folder.is_dir() and any(not name.startswith(".") for name in os.listdir(folder)):
            raise StudyError(f"{folder} holds other things; a study is written to a folder of its own, new or empty")
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StudyError(f"{folder}: this folder cannot be made: {error.strerror or error}; name another") from None
        _write_json(path, own)
        return
    try:
        there = json.loads(path.read_text(encoding="utf-8"))
        same = there["digest"] == own["digest"]
        differs = [key for key, value in description(compiled).items() if there["study"].get(key) != value]
        rows_there = there["file_rows"]
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise StudyError(f"{path} cannot be read as a study ({type(error).__name__}); choose another folder") from None
    if not same:
        raise StudyError(
            f"{folder} holds another study, which differs in {', '.join(differs) or 'its values'}; "
            "choose another folder, or take that one away"
        )
    if rows_there != file_rows:
        raise StudyError(f"{folder} holds this study in files of {rows_there} rows; go on with file_rows={rows_there}")


def write(
    compiled: Compiled,
    to: str | os.PathLike[str],
    *,
    over: Callable[..., Iterable[tuple[list[int], bool]]],
    progress: Callable[[int, int], None] | None,
    file_rows: int,
) -> StudyFolder:
    """Every row of a study in the folder `to`; what is there already stays as it is.

    `over` gives the work of every range in order, on threads or on a cluster, as in `work`.
    """
    arrow()
    for one in compiled.study.top.extra_outputs:
        if one.output.name in compiled.computed and not one.digest:
            raise StudyError(
                f"{one.output.name} is an output that belongs to no data pack: a folder could not tell later whether it is still "
                "worked out the same; bring it in a pack (docs/packs.md), or run without to="
            )
    # as workers are told it, who have folders of their own to be in
    folder = Path(to).absolute()
    _claim(compiled, folder, file_rows)
    ranges = Ranges(compiled.rows, file_rows)
    made = over(compiled, write_part, (str(folder),), ranges)
    kept = written = 0
    codes: dict[int, int] = {}
    for place, (counts, new) in enumerate(made):
        kept, written = kept + counts[0], written + new
        for code, count in enumerate(counts[1:]):
            codes[code] = codes.get(code, 0) + count
        if progress is not None:
            progress(ranges[place][1], compiled.rows)
    _refuse_gaps(folder, ranges)
    counted = reason_counts(codes)
    _write_json(
        folder / FINISHED, {"digest": compiled.digest, "rows": compiled.rows, "kept": kept, "reasons": counted, "files": len(ranges)}
    )
    return StudyFolder(folder, compiled.rows, kept, counted, len(ranges), written)


def _refuse_gaps(folder: Path, ranges: Ranges) -> None:
    """Every file must be where this process sees it; what a killed worker left half-written goes."""
    missing = len(ranges)
    left: list[Path] = []
    with os.scandir(folder) as listed:
        for entry in listed:
            if entry.name.startswith("rows-") and entry.name.endswith(".parquet"):
                missing -= 1
            elif entry.name.startswith(".rows-"):
                left.append(Path(entry.path))
    if missing:
        raise StudyError(f"{folder} lacks {missing} of {len(ranges)} files; is it a folder that every worker and this process reach?")
    for path in left:
        path.unlink(missing_ok=True)
