"""Data packs: parts that other people keep as files, read from their folders into one catalogue."""

from topend.packs.catalogue import Catalogue
from topend.packs.folder import Pack
from topend.packs.manifest import Manifest, Source

__all__ = ["Catalogue", "Manifest", "Pack", "Source"]
