"""Files that reports write: pages, pictures, drawings. Written whole or not at all, and told by the name that was asked for."""

from __future__ import annotations

import os
from pathlib import Path

from topend.errors import ArgumentError

__all__ = ["file_to_write", "write_whole"]


def file_to_write(path: str | os.PathLike[str], *, such_as: str = "card.html") -> Path:
    """`path`, where a file can be written there: asked before any work is done. `such_as` is the name of a file for the example.

    Raises `ArgumentError` for a folder, for a folder that is not there, and for one that cannot be written in.

    >>> file_to_write("none/of/that/card.html")
    Traceback (most recent call last):
    topend.errors.ArgumentError: none/of/that/card.html: there is no folder none/of/that; make it first, or name one that is there
    """
    where = Path(path)
    if where.is_dir() or not where.name:
        raise ArgumentError(f"{where}: is a folder; name a file in it, such as {where / such_as}")
    if where.parent.exists() and not where.parent.is_dir():
        raise ArgumentError(f"{where}: {where.parent} is a file, not a folder; name a folder that is there")
    if not where.parent.exists():
        raise ArgumentError(f"{where}: there is no folder {where.parent}; make it first, or name one that is there")
    if not os.access(where.parent, os.W_OK | os.X_OK):
        raise ArgumentError(f"{where}: nothing may be written in the folder {where.parent}; name another, or have it allowed")
    return where


def write_whole(content: str | bytes, path: str | os.PathLike[str], *, such_as: str = "card.html") -> Path:
    """Write `content` to a file, text as UTF-8; whole or not at all. Returns the path.

    Raises `ArgumentError` where it cannot be written.
    """
    where = file_to_write(path, such_as=such_as)
    beside = where.with_name(f".{where.name}.part")
    try:
        beside.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        beside.replace(where)
    except OSError as error:
        # of the file that was asked for, not of the one it is made in
        raise ArgumentError(f"{where}: cannot be written: {error.strerror or error}") from None
    finally:
        beside.unlink(missing_ok=True)
    return where
