"""Whose job an answer is of, and what was asked of it, as the reports of answers take it."""

from typing import Any

__all__ = ["asked_and_whose"]


def asked_and_whose(read: Any, asked: Any) -> dict[str, Any]:
    """Targets, limits and the least gap that `asked` holds, with title, file and packs of the file that was `read`."""
    return {
        **{name: getattr(asked, name) for name in ("targets", "at_least", "at_most", "least_gap")},
        "title": read.title,
        "file": read.file,
        "packs": tuple(pack.told for pack in read.packs),
    }
