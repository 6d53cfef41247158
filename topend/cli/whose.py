"""Whose job an answer is of, what was asked of it, as the reports of answers take it; and whose an unknown name may be."""

from typing import Any

__all__ = ["asked_and_whose", "of_packs", "whose"]


def whose(read: Any) -> dict[str, Any]:
    """Title, file and packs of the file that was `read`."""
    return {"title": read.title, "file": read.file, "packs": tuple(pack.told for pack in read.packs)}


def asked_and_whose(read: Any, asked: Any) -> dict[str, Any]:
    """Targets, limits and the least gap that `asked` holds, with title, file and packs of the file that was `read`."""
    return {**{name: getattr(asked, name) for name in ("targets", "at_least", "at_most", "least_gap")}, **whose(read)}


def of_packs(name: str) -> str:
    """Which pack may add an output that nobody here has, and how a job takes it in, as the end of a sentence; runs no code of packs."""
    from topend.packs import Catalogue
    from topend.packs.pack_code import who_may_add

    return who_may_add(name, Catalogue.discover().packs)
