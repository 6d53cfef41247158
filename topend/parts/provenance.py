"""Where a part is from: the data pack that gave it, and how single figures of it came about. It goes where the part goes."""

from __future__ import annotations

from dataclasses import dataclass

from topend.quantities import Basis

__all__ = ["Origin", "Provenance"]


@dataclass(frozen=True, slots=True)
class Origin:
    """How one figure came about, and where it is from.

    >>> Origin(basis="measured", source="bench book 3, page 12").basis
    'measured'
    """

    basis: Basis | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Provenance:
    """The data pack that a part is from: the part's id, the pack's id and version, and the digest of the pack's content.

    `digest` is the SHA-256 of what the pack's files say, in hexadecimal. `changed` marks a part of which something was
    replaced after it was taken from the pack.

    >>> print(Provenance(part="fellside/rigg50-barrel", pack="fellside", version="1.0.0", digest="5f" * 32))
    fellside/rigg50-barrel (fellside 1.0.0, sha256 5f5f5f5f5f5f)
    """

    part: str
    pack: str
    version: str
    digest: str
    changed: bool = False

    def __str__(self) -> str:
        return f"{self.part} ({self.pack} {self.version}, sha256 {self.digest[:12]}{', changed' if self.changed else ''})"
