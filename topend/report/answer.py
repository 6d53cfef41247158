"""What the answers of solvers have in common on paper: whose they are, and JSON of their plain data."""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from typing import Any

from topend.report.layout import paragraph

__all__ = ["Answer"]


class Answer(ABC):
    """An answer as `text` for people, `to_dict` and `json` for programs.

    `title`, `file` and `packs` say whose job it is, what it was read from, and the packs that its parts are from, as on a card.
    """

    title: str | None
    file: str | None
    packs: tuple[str, ...]

    @abstractmethod
    def to_dict(self) -> dict[str, Any]:
        """The answer as plain data."""

    def json(self, *, ascii_only: bool = False) -> str:
        """`to_dict` as JSON text."""
        return json.dumps(self.to_dict(), indent=2, ensure_ascii=ascii_only, allow_nan=False)

    def whose(self) -> dict[str, Any]:
        """Title, file and packs as plain data."""
        return {"title": self.title, "file": self.file, "packs": list(self.packs)}

    def title_lines(self, what: str) -> list[str]:
        """`what` it is and of which job, with the file and the packs, as the text begins."""
        lines = paragraph(f"{what}: {self.title}" if self.title else what, rest="  ")
        if self.file:
            lines.append(f"from {self.file}")
        for pack in self.packs:
            lines += paragraph(pack, first="parts from ")
        return lines
